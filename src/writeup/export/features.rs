//! What there is to hand on: the station, samples, points, places and spots, each with its figures in plain units.

use crate::findings::places::telling::STATION_DOUBTED;
use crate::findings::points::PointRow;
use crate::findings::stop::StopFigures;
use crate::ground::Position;
use crate::survey::sample::{Sample, Samples};
use crate::units::UtcMs;
use crate::writeup::compose::points::{level_limits, margin_limits};
use crate::writeup::number;
use crate::writeup::places::{PlacesPart, class_words};
use crate::writeup::private::{Teller, Told};
use crate::writeup::subject::Subject;

/// The columns every export shares, in order; which of them hold numbers.
pub const COLUMNS: [(&str, bool); 41] = [
    ("kind", false),
    ("name", false),
    ("time_utc", false),
    ("elapsed_s", true),
    ("board", false),
    ("boot", true),
    ("run", true),
    ("n", true),
    ("outcome", false),
    ("here_dbm", true),
    ("there_dbm", true),
    ("messages", true),
    ("delivered", true),
    ("rate", true),
    ("delivered_low", true),
    ("delivered_high", true),
    ("verdict", false),
    ("class", false),
    ("chance", true),
    ("spare_db", true),
    ("spare_low_db", true),
    ("alt_m", true),
    ("sigma_m", true),
    ("distance_m", true),
    ("bearing_deg", true),
    ("activity", false),
    ("point", false),
    ("pose", false),
    ("turn_deg", true),
    ("excluded", false),
    ("assumed", false),
    ("newly_served", true),
    ("caution", false),
    ("proven", true),
    ("level_dbm", true),
    ("level_low_dbm", true),
    ("level_high_dbm", true),
    ("margin_db", true),
    ("margin_low_db", true),
    ("margin_high_db", true),
    ("itself_in_reach", true),
];

/// What a feature is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The fixed end of the link.
    Station,
    /// One exchange.
    Sample,
    /// A run at a point, or a step of a sweep.
    Point,
    /// A place of the map of places.
    Place,
    /// A spot worth a look.
    Spot,
    /// A place where a second station or a relay might stand, to be tested by walking.
    Second,
}

impl Kind {
    /// The word in column `kind`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Station => "station",
            Self::Sample => "sample",
            Self::Point => "point",
            Self::Place => "place",
            Self::Spot => "spot",
            Self::Second => "second",
        }
    }
}

/// One thing to hand on.
#[derive(Clone, Debug)]
pub struct Feature {
    /// What it is.
    pub kind: Kind,
    /// Where; `None` where unknown or not to be told.
    pub place: Option<Told>,
    /// When.
    pub utc: Option<UtcMs>,
    /// Metres above mean sea level; never told with privacy.
    pub alt_m: Option<f64>,
    /// Which run it belongs to, for tracks.
    pub run: Option<u32>,
    /// A cell for each of [`COLUMNS`], empty where unknown.
    pub cells: Vec<String>,
}

impl Feature {
    /// The cell of a column; empty where there is none.
    pub fn cell(&self, column: &str) -> &str {
        let index = COLUMNS.iter().position(|(name, _)| *name == column);
        index.and_then(|index| self.cells.get(index)).map_or("", String::as_str)
    }
}

/// Hands every feature of a survey to `take`, in order: station, samples, points, places, spots, second places.
pub fn each(subject: &Subject, teller: &Teller, mut take: impl FnMut(&Feature)) {
    if let Some(position) = subject.setup.station.position {
        let name = subject.setup.station.name.clone().unwrap_or_default();
        take(&feature(
            Kind::Station,
            teller.tell(position),
            None,
            None,
            None,
            vec![
                ("name", name),
                (
                    "caution",
                    subject
                        .places
                        .as_ref()
                        .and_then(|places| places.station_doubted.clone())
                        .unwrap_or_default(),
                ),
            ],
        ));
    }
    for row in &subject.samples.rows {
        take(&sample(&subject.samples, row, teller));
    }
    for (row, figures) in &subject.estimates.points {
        take(&point(row, figures, teller));
    }
    if let (Some(places), Some(station)) = (&subject.places, subject.setup.station.position) {
        map(places, station, teller, &mut take);
    }
}

fn feature(
    kind: Kind,
    place: Option<Told>,
    utc: Option<UtcMs>,
    alt_m: Option<f64>,
    run: Option<u32>,
    set: Vec<(&str, String)>,
) -> Feature {
    let mut cells = vec![String::new(); COLUMNS.len()];
    kind.word().clone_into(&mut cells[0]);
    for (column, value) in set {
        if let Some(index) = COLUMNS.iter().position(|(name, _)| *name == column) {
            cells[index] = value;
        }
    }
    Feature {
        kind,
        place,
        utc,
        alt_m,
        run,
        cells,
    }
}

fn sample(samples: &Samples, row: &Sample, teller: &Teller) -> Feature {
    let boot = &samples.boots[row.boot as usize];
    let facts = row.place.map(|place| samples.facts(&place));
    let alt_m = facts.and_then(|facts| facts.alt_m).filter(|_| !teller.is_private());
    let ms = row.at.0.saturating_add(500) / 1000;
    let turn = match row.activity {
        crate::survey::Activity::Sweep { turn, .. } => turn,
        _ => None,
    };
    feature(
        Kind::Sample,
        row.place.and_then(|place| teller.tell(place.position)),
        Some(row.utc),
        alt_m,
        Some(row.run),
        vec![
            ("time_utc", row.utc.rfc3339().unwrap_or_default()),
            ("elapsed_s", format!("{}.{:03}", ms / 1000, ms % 1000)),
            ("board", boot.board.clone()),
            ("boot", boot.boot.to_string()),
            ("run", row.run.to_string()),
            ("n", row.n.to_string()),
            ("outcome", if row.delivered() { "echo" } else { "lost" }.to_owned()),
            ("here_dbm", row.here().map_or_else(String::new, |dbm| dbm.to_string())),
            ("there_dbm", row.there().map_or_else(String::new, |dbm| dbm.to_string())),
            ("alt_m", number::fixed(alt_m, 2)),
            (
                "sigma_m",
                number::fixed(facts.and_then(|facts| facts.sigma).map(|(sigma, _)| sigma), 3),
            ),
            ("distance_m", number::fixed(row.distance().map(|metres| metres.0), 2)),
            (
                "bearing_deg",
                number::direction(row.place.and_then(|place| place.bearing).map(|bearing| bearing.0), 1),
            ),
            ("activity", row.activity.word().to_owned()),
            ("point", samples.point(row).unwrap_or_default().to_owned()),
            ("pose", samples.pose(row).unwrap_or_default().to_owned()),
            (
                "turn_deg",
                turn.map_or_else(String::new, |turn| number::fixed(Some(turn.0), 1)),
            ),
            (
                "excluded",
                row.excluded.map_or_else(String::new, |reason| reason.word().to_owned()),
            ),
        ],
    )
}

fn point(row: &PointRow, figures: &StopFigures, teller: &Teller) -> Feature {
    let [level, level_low, level_high] = level_limits(figures);
    let [margin, margin_low, margin_high] = margin_limits(figures);
    feature(
        Kind::Point,
        row.position.and_then(|position| teller.tell(position)),
        Some(row.begin),
        None,
        Some(row.run),
        vec![
            ("name", row.point.clone()),
            ("time_utc", row.begin.rfc3339().unwrap_or_default()),
            ("board", row.board.clone()),
            ("boot", row.boot.to_string()),
            ("run", row.run.to_string()),
            ("here_dbm", number::fixed(row.here_dbm, 1)),
            ("there_dbm", number::fixed(row.there_dbm, 1)),
            ("messages", row.messages.to_string()),
            ("delivered", row.delivered.to_string()),
            ("rate", number::fixed(row.standing.delivery.rate, 4)),
            (
                "delivered_low",
                number::fixed(Some(row.standing.delivery.interval.low), 4),
            ),
            (
                "delivered_high",
                number::fixed(Some(row.standing.delivery.interval.high), 4),
            ),
            ("proven", number::fixed(row.standing.judgement.proven, 4)),
            ("level_dbm", number::fixed(level, 2)),
            ("level_low_dbm", number::fixed(level_low, 2)),
            ("level_high_dbm", number::fixed(level_high, 2)),
            ("margin_db", number::fixed(margin, 2)),
            ("margin_low_db", number::fixed(margin_low, 2)),
            ("margin_high_db", number::fixed(margin_high, 2)),
            ("verdict", row.standing.word().to_owned()),
            ("sigma_m", number::fixed(row.sigma.map(|sigma| sigma.0), 3)),
            ("distance_m", number::fixed(row.distance.map(|metres| metres.0), 2)),
            (
                "bearing_deg",
                number::direction(row.bearing.map(|bearing| bearing.0), 1),
            ),
            ("activity", row.activity.to_owned()),
            ("point", row.point.clone()),
            ("pose", row.pose.clone().unwrap_or_default()),
            ("turn_deg", number::fixed(row.turn.map(|turn| turn.0), 1)),
        ],
    )
}

fn map(places: &PlacesPart, station: Position, teller: &Teller, take: &mut impl FnMut(&Feature)) {
    use crate::ground::local::{LocalPlane, Offset};
    use crate::units::Metres;
    let plane = LocalPlane::about(station);
    let doubted = places.station_doubted.as_ref().map(|_| STATION_DOUBTED.to_owned());
    let caution = doubted.unwrap_or_default();
    for cell in &places.cells {
        let offset = Offset {
            east: Metres(cell.x),
            north: Metres(cell.y),
        };
        take(&feature(
            Kind::Place,
            plane.position(offset).and_then(|position| teller.tell(position)),
            None,
            None,
            None,
            vec![
                ("board", places.board.clone()),
                ("class", class_words(cell.class).to_owned()),
                (
                    "chance",
                    number::fixed(cell.estimate.map(|estimate| estimate.chance), 4),
                ),
                ("assumed", places.assumed_briefly.clone()),
                ("caution", caution.clone()),
                ("distance_m", number::fixed(Some(offset.distance().0), 2)),
            ],
        ));
    }
    for (index, spot) in places.spots.iter().enumerate() {
        take(&feature(
            Kind::Spot,
            teller.tell(spot.position),
            None,
            None,
            None,
            vec![
                ("name", format!("spot {}", index + 1)),
                ("board", places.board.clone()),
                ("chance", number::fixed(Some(spot.chance), 4)),
                ("assumed", places.assumed_briefly.clone()),
                ("caution", caution.clone()),
                ("spare_db", number::fixed(Some(spot.spare_db), 2)),
                ("spare_low_db", number::fixed(spot.spare_low_db, 2)),
                ("distance_m", number::fixed(Some(spot.distance.0), 2)),
                (
                    "bearing_deg",
                    number::direction(spot.bearing.map(|bearing| bearing.0 + 180.0), 1),
                ),
            ],
        ));
    }
    for list in &places.second {
        for (index, place) in list.rows.iter().enumerate() {
            let promise = &place.promise;
            take(&feature(
                Kind::Second,
                teller.tell(place.position),
                None,
                None,
                None,
                vec![
                    ("name", format!("{} {}, to test by walking", list.what, index + 1)),
                    ("board", places.board.clone()),
                    (
                        "itself_in_reach",
                        number::fixed((list.what == "relay").then_some(promise.served), 4),
                    ),
                    ("assumed", places.assumed_briefly.clone()),
                    ("caution", caution.clone()),
                    ("newly_served", number::fixed(Some(promise.score), 4)),
                    ("distance_m", number::fixed(Some(place.distance.0), 2)),
                    (
                        "bearing_deg",
                        number::direction(place.bearing.map(|bearing| bearing.0 + 180.0), 1),
                    ),
                ],
            ));
        }
    }
}
