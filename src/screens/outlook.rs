//! The slower estimates as the panels draw them: each with its interval, or not there at all.

use std::collections::BTreeMap;

use crate::findings::answer::Spare;
use crate::findings::assumptions::measured_boards;
use crate::findings::estimates::{BoardFigures, Estimates};
use crate::findings::places::telling;
use crate::findings::side::Side;
use crate::findings::sweeps::Sweep;
use crate::findings::words;
use crate::stats::boards::Effect;
use crate::stats::losses::Reason;
use crate::stats::margin::Margin;
use crate::stats::places::{Class, Place, Role};
use crate::stats::sweep::Printed;
use crate::stats::sweep::closure::ClosureMeaning;
use crate::stats::walk::inflation::Inflation;
use crate::units::{Degrees, Metres};

/// Points the fitted line is drawn through.
const LAW_POINTS: usize = 40;

/// A figure with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// The figure.
    pub value: f64,
    /// Where it may lie.
    pub low: f64,
    /// Where it may lie.
    pub high: f64,
}

/// The slower estimates, as far as they are known.
#[derive(Clone, Debug, Default)]
pub struct Outlook {
    /// How many rows they rest on.
    pub rows: usize,
    /// How much there is to spare here, dB above the level at which this board still delivers 90 %.
    pub margin: Option<Margin>,
    /// Why that is not known, in words.
    pub why_no_margin: Option<String>,
    /// The level at which this board still delivers 90 %, dBm, and where levels are read.
    pub needed: Option<f64>,
    /// Where levels are read.
    pub side: Option<Side>,
    /// Level by distance, metres and dBm: the fitted line with its band.
    pub law: Vec<(f64, Spread)>,
    /// How far the board reaches, in words.
    pub range: Option<String>,
    /// Why the last messages were lost.
    pub losses: Vec<Reason>,
    /// How each board compares with the reference, in words, by its name.
    pub against_reference: Vec<(String, String)>,
    /// The reference board.
    pub reference: Option<String>,
    /// The best spots, the best first.
    pub spots: Vec<Spot>,
    /// What a node may expect where, on the map.
    pub expected: Expected,
    /// Where to walk next and why.
    pub walk_next: Option<String>,
    /// Why there is no map of places.
    pub why_no_places: Option<String>,
    /// What the map assumes, what it does not though it was asked to, and what it must be read with; in sentences.
    pub read_with: ReadWith,
    /// Where a second station or a relay might stand, to be tested by walking.
    pub second: Vec<SecondList>,
    /// The board walked with and those that may be assumed in its place.
    pub boards: Vec<String>,
    /// What a sweep shows.
    pub patterns: Vec<Pattern>,
}

/// What a node may expect, by squares about the places asked about.
#[derive(Clone, Debug, Default)]
pub struct Expected {
    step_m: f64,
    first: (f64, f64),
    squares: BTreeMap<(i64, i64), Class>,
}

impl Expected {
    fn of(places: &[Place], step_m: f64) -> Self {
        let mut expected = Self {
            step_m: step_m.max(0.1),
            first: places.first().map_or((0.0, 0.0), |place| (place.x, place.y)),
            squares: BTreeMap::new(),
        };
        for place in places {
            expected
                .squares
                .insert(expected.square((place.x, place.y)), place.class);
        }
        expected
    }

    fn square(&self, (east, north): (f64, f64)) -> (i64, i64) {
        let index = |at: f64, first: f64| ((at - first) / self.step_m).round() as i64;
        (index(east, self.first.0), index(north, self.first.1))
    }

    /// Whether nothing is expected anywhere.
    pub fn is_empty(&self) -> bool {
        self.squares.is_empty()
    }

    /// What a node may expect at metres east and north of the station; `None` outside the map.
    pub fn at(&self, offset: (f64, f64)) -> Option<Class> {
        self.squares.get(&self.square(offset)).copied()
    }
}

/// A spot where a node may go.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// From the station.
    pub distance: Metres,
    /// From the station, true.
    pub bearing: Option<Degrees>,
    /// dB to spare beyond the goal's own margin, the best guess and its lower end.
    pub spare_db: (f64, f64),
    /// How sure it is that the goal is met, 0 to 1.
    pub sure: f64,
    /// Metres east and north of the station.
    pub offset: (f64, f64),
}

/// What a map of places must be read with, in sentences.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReadWith {
    /// What it assumes of the node, briefly; `None` for the node as walked with.
    pub assumed: Option<String>,
    /// What it was asked to assume and does not.
    pub not_assumed: Vec<String>,
    /// What else to know.
    pub notes: Vec<String>,
}

/// A shortlist to test by walking.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondList {
    /// What might stand there, and why there is no list where there is none.
    pub head: String,
    /// Each place, in a line, with metres east and north of the station.
    pub places: Vec<(String, (f64, f64))>,
}

/// What a sweep shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pattern {
    /// Board, name and pose, as the polar plot calls it.
    pub name: String,
    /// The interval of the fitted curve at each whole degree, dBm.
    pub band: Vec<(f64, f64)>,
    /// In words.
    pub words: String,
}

impl Outlook {
    /// Takes from the estimates what the panels draw, for the board in hand.
    pub fn of(estimates: &Estimates, board: Option<&str>) -> Self {
        let figures = estimates
            .boards
            .iter()
            .find(|figures| Some(figures.name.as_str()) == board);
        let reach = figures.and_then(|figures| figures.reach.as_ref());
        let fit = reach.and_then(|reach| reach.fit.as_ref().ok());
        let margin = estimates.here.as_ref().and_then(|here| here.margin);
        let mut outlook = Self {
            rows: estimates.rows,
            margin,
            why_no_margin: if margin.is_none() { why_no_margin(figures) } else { None },
            needed: reach.and_then(|reach| reach.need).map(|need| need.curve.level90_dbm()),
            side: figures.and_then(|figures| figures.side),
            ..Self::default()
        };
        if let Some(fit) = fit {
            let (near, far) = (fit.extent.nearest_m.max(1.0), fit.extent.farthest_m.max(2.0));
            let distances: Vec<f64> = (0..=LAW_POINTS)
                .map(|index| near * (far / near).powf(index as f64 / LAW_POINTS as f64))
                .collect();
            let law = fit.law(&distances, &Inflation::MEASURED).into_iter();
            outlook.law = law
                .map(|point| {
                    let level = point.level_dbm;
                    (
                        point.distance_m,
                        Spread {
                            value: level.median,
                            low: level.low,
                            high: level.high,
                        },
                    )
                })
                .collect();
            let wanted = reach.and_then(|reach| reach.ranges.iter().find(|(share, _)| (*share - 0.9).abs() < 1e-9));
            outlook.range = wanted.map(|(_, range)| format!("90 %: {}", words::range(range)));
        }
        if let Some(losses) = estimates.here.as_ref().and_then(|here| here.losses.as_ref()) {
            outlook.losses.clone_from(&losses.reasons);
        }
        outlook.reference = estimates
            .boards
            .iter()
            .find(|board| board.reference)
            .map(|board| board.name.clone());
        if let Some(boards) = &estimates.comparison
            && let Ok(comparison) = &boards.comparison
        {
            for effect in &comparison.boards {
                if let Some(name) = boards.names.get(effect.board) {
                    outlook
                        .against_reference
                        .push((name.clone(), effect_words(&effect.effect)));
                }
            }
        }
        outlook.take_places(estimates);
        outlook.patterns = estimates.sweeps.iter().map(pattern).collect();
        outlook
    }

    fn take_places(&mut self, estimates: &Estimates) {
        match &estimates.places {
            Some(Ok(places)) => {
                self.spots = places
                    .spots
                    .iter()
                    .map(|spot| Spot {
                        distance: spot.distance,
                        bearing: spot.bearing,
                        spare_db: (spot.spare_db, spot.spare_low_db),
                        sure: spot.chance,
                        offset: spot.offset,
                    })
                    .collect();
                self.expected = Expected::of(&places.places, places.step_m);
                let sources = places.assumptions.iter().map(telling::assumption);
                self.read_with = ReadWith {
                    assumed: telling::assumed(&places.assumptions),
                    not_assumed: places.not_assumed.iter().map(|why| telling::not_assumed(why)).collect(),
                    notes: sources.chain(telling::place_notes(places)).collect(),
                };
                self.second = [Role::SecondStation, Role::Relay]
                    .map(|role| {
                        let found = places.second.of_role(role);
                        SecondList {
                            head: telling::second_head(role, found.as_ref().err().copied()),
                            places: found
                                .as_ref()
                                .map_or(&[][..], Vec::as_slice)
                                .iter()
                                .map(|place| (telling::second_place(role, place), place.offset))
                                .collect(),
                        }
                    })
                    .into();
                self.boards = std::iter::once(places.board.clone())
                    .chain(measured_boards(estimates, &places.board))
                    .collect();
                self.walk_next = telling::walk_next(places);
            }
            Some(Err(why)) => self.why_no_places = Some(words::no_places(why)),
            None => {}
        }
    }

    /// What there is to spare, as far as the answer needs it, dB.
    pub fn spare(&self) -> Option<Spare> {
        self.margin.map(|margin| match margin {
            Margin::Between { estimate_db, .. } => Spare::About(estimate_db),
            Margin::AtMost { high_db } => Spare::AtMost(high_db),
            Margin::AtLeast { low_db } => Spare::AtLeast(low_db),
        })
    }
}

fn why_no_margin(figures: Option<&BoardFigures>) -> Option<String> {
    let figures = figures?;
    if figures.side.is_none() {
        return Some("no levels: the board does not print them".to_owned());
    }
    let reach = figures.reach.as_ref()?;
    match (&reach.need, &reach.fit) {
        (None, Err(why)) => Some(format!("not known yet: {why}")),
        (None, Ok(_)) => Some("not known yet: node in front, walk out until messages get lost, then back".to_owned()),
        (Some(_), _) => None,
    }
}

fn effect_words(effect: &Effect) -> String {
    match effect {
        Effect::Measured {
            estimate_db,
            simultaneous,
            ..
        } => format!(
            "{} ({} {})",
            words::decibels(*estimate_db),
            words::signed(simultaneous.low, 0),
            words::signed(simultaneous.high, 0)
        ),
        Effect::OpenEnded { low_db: Some(low), .. } => format!("≥ {}", words::decibels(*low)),
        Effect::OpenEnded {
            high_db: Some(high), ..
        } => format!("≤ {}", words::decibels(*high)),
        Effect::OpenEnded { .. } => "–".to_owned(),
    }
}

fn pattern(sweep: &Sweep) -> Pattern {
    let pose = sweep.pose.as_deref().unwrap_or("no pose");
    let figures = &sweep.figures;
    let band = figures.pattern.as_ref().map_or_else(
        |_| Vec::new(),
        |pattern| {
            pattern
                .low_dbm
                .iter()
                .copied()
                .zip(pattern.high_dbm.iter().copied())
                .collect()
        },
    );
    let mut said = Vec::new();
    match &figures.strongest {
        Printed::NotPrinted(why) => said.push(format!("Strongest turn: – ({why}).")),
        strongest => said.push(format!("Strongest at {}.", words::turn(strongest))),
    }
    match &figures.front_to_back_db {
        Printed::NotPrinted(_) => {}
        ratio => said.push(format!("Front to back {}.", words::printed(ratio, "dB", 0))),
    }
    if let Ok(closure) = &figures.closure {
        let by = words::decibels(closure.difference_db);
        said.push(match closure.meaning() {
            ClosureMeaning::Closes => format!("The first turn again: {by}, within its interval."),
            ClosureMeaning::Stronger => {
                format!("The first turn again: {by}. The link grew stronger meanwhile; late turns look too strong.")
            }
            ClosureMeaning::Weaker => {
                format!("The first turn again: {by}. The link grew weaker meanwhile; late turns look too weak.")
            }
        });
    }
    Pattern {
        name: format!("{} {}, {pose}", sweep.board, sweep.name),
        band,
        words: said.join(" "),
    }
}
