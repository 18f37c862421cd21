//! Where a node can go: the map of a survey, its best spots, and where to walk next.

use super::reach::Reach;
use super::side::Side;
use crate::ground::local::{LocalPlane, Offset};
use crate::ground::{Position, separation};
use crate::stats::places::{
    Caveat, Change, Class, Empty, Exchange, Frame, Goal, GoalError, Leg, Model, NextWalk, Outage, Place, Receiver,
    Threshold, bin, next_walk, outages, spots,
};
use crate::survey::sample::{Activity, Sample, Samples};
use crate::survey::setup::Setup;
use crate::units::{Degrees, Metres};

/// Metres between places asked about.
const STEP_M: f64 = 5.0;
/// The map reaches so many metres beyond what was walked.
const AROUND_M: f64 = 40.0;
/// One spot is listed for every tile of this side, metres.
const TILE_M: f64 = 40.0;
/// At most so many spots are listed.
const SPOTS: usize = 10;
/// Doubt about the level of half delivery where a board's need is not known, one sigma in dB.
const UNKNOWN_NEED_SD_DB: f64 = 3.0;
/// The radio's waterfall, dB: that of the radios the method was measured with.
const WATERFALL_DB: f64 = 1.2;

/// What a node that will stand there differs by from the one walked with; each is an assumption and named as one.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumption {
    /// In words, such as `in leaf: 3 dB more loss`.
    pub words: String,
    /// dB by which it is stronger; negative when weaker.
    pub gain_db: f64,
    /// How well that is known, one sigma in dB.
    pub sd_db: f64,
}

/// The map of a survey.
#[derive(Clone, Debug)]
pub struct Places {
    /// The board it was walked with.
    pub board: String,
    /// Where levels were read.
    pub side: Side,
    /// Delivery a place must give.
    pub delivery: f64,
    /// dB it must have to spare.
    pub margin_db: f64,
    /// What was assumed of the node that will stand there.
    pub assumptions: Vec<Assumption>,
    /// The local mean level a place needs; `None` where losses that no level explains break the goal by themselves.
    pub needed: Option<Threshold>,
    /// Metres between the places asked about.
    pub step_m: f64,
    /// The places asked about, row by row from the south-west, in metres east and north of the station.
    pub places: Vec<Place>,
    /// The best spots, best first.
    pub spots: Vec<Spot>,
    /// Where to walk next from the last place, best first.
    pub legs: Vec<Leg>,
    /// The doubt there is: the sum of P(1-P) over places weighed.
    pub doubt: f64,
    /// Silences of the station that were left out.
    pub silences: Vec<Outage>,
    /// What a reader of the map should know.
    pub caveats: Vec<Caveat>,
    /// Exchanges it rests on.
    pub exchanges: usize,
    plane: LocalPlane,
}

/// A spot worth a look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Where.
    pub position: Position,
    /// How far from the station.
    pub distance: Metres,
    /// Which way from the station, true.
    pub bearing: Option<Degrees>,
    /// Chance that a node there meets the goal, 0 to 1.
    pub chance: f64,
    /// dB to spare beyond the goal's own margin, the best guess.
    pub spare_db: f64,
    /// Its lower end, 95 %.
    pub spare_low_db: f64,
    /// Exchanges within 15 m.
    pub exchanges: u32,
}

/// Why there is no map.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoPlaces {
    /// The station's position is not known.
    NoStation,
    /// No level was read.
    NoLevels,
    /// The goal is none.
    Goal(GoalError),
    /// There is nothing to map.
    Empty(Empty),
}

impl Places {
    /// The place on the globe of metres east and north of the station.
    pub fn position(&self, x: f64, y: f64) -> Option<Position> {
        self.plane.position(Offset {
            east: Metres(x),
            north: Metres(y),
        })
    }

    /// How many places are of a class.
    pub fn count(&self, class: Class) -> usize {
        self.places.iter().filter(|place| place.class == class).count()
    }
}

/// Makes the map for the board walked with.
///
/// # Errors
/// When there is nothing a map could be made of.
pub fn places(
    samples: &Samples,
    setup: &Setup,
    reach: &Reach,
    half_level_dbm: f64,
    assumptions: &[Assumption],
) -> Result<Places, NoPlaces> {
    let station = setup.station.position.ok_or(NoPlaces::NoStation)?;
    let plane = LocalPlane::about(station);
    let exchanges = exchanges(samples, &plane, &reach.board, reach.side);
    if exchanges.is_empty() {
        return Err(NoPlaces::Empty(Empty::NoExchanges));
    }
    let receiver = Receiver {
        half_level: reach.need.map_or(half_level_dbm, |need| need.curve.m_dbm()),
        half_level_sd: reach.need.map_or(UNKNOWN_NEED_SD_DB, |need| need.m_sd_db()),
        waterfall: WATERFALL_DB,
    };
    let mut goal = Goal::new(setup.goal.delivery, setup.goal.margin_db).map_err(NoPlaces::Goal)?;
    for assumption in assumptions {
        goal = goal
            .with(Change {
                gain: assumption.gain_db,
                sd: assumption.sd_db,
            })
            .map_err(NoPlaces::Goal)?;
    }
    let silences = outages(&exchanges, receiver.half_level);
    let silent = |index: usize| {
        silences
            .iter()
            .any(|silence| (silence.first..silence.past).contains(&index))
    };
    let kept: Vec<Exchange> = exchanges
        .iter()
        .enumerate()
        .filter(|(index, _)| !silent(*index))
        .map(|(_, exchange)| *exchange)
        .collect();
    let model = Model::build(&bin(&kept, (0.0, 0.0)), (0.0, 0.0), receiver).map_err(NoPlaces::Empty)?;
    let frame = frame(&kept);
    let step_m = frame.affordable(STEP_M);
    let found = model.answer(&goal, &frame.grid(step_m));
    let last = kept.last().map_or((0.0, 0.0), |exchange| (exchange.x, exchange.y));
    let NextWalk { legs, doubt, .. } = next_walk(&model, &goal, last, &frame, |_, _| 1.0);
    let spots = spots(&found, TILE_M, SPOTS)
        .into_iter()
        .filter_map(|spot| {
            let place = &found[spot.index];
            let position = plane.position(Offset {
                east: Metres(place.x),
                north: Metres(place.y),
            })?;
            let way = separation(station, position);
            Some(Spot {
                position,
                distance: way.distance,
                bearing: way.bearing,
                chance: spot.estimate.chance,
                spare_db: spot.estimate.spare?,
                spare_low_db: spot.estimate.spare_low?,
                exchanges: spot.estimate.exchanges,
            })
        })
        .collect();
    Ok(Places {
        board: reach.board.clone(),
        side: reach.side,
        delivery: setup.goal.delivery,
        margin_db: setup.goal.margin_db,
        assumptions: assumptions.to_vec(),
        needed: model.threshold(&goal),
        step_m,
        places: found,
        spots,
        legs,
        doubt,
        silences,
        caveats: model.caveats(&goal),
        exchanges: kept.len(),
        plane,
    })
}

/// Exchanges of one board that count and have a place, save those of sweeps, where the board was held otherwise.
fn exchanges(samples: &Samples, plane: &LocalPlane, board: &str, side: Side) -> Vec<Exchange> {
    let usable =
        |row: &&Sample| row.counts() && !matches!(row.activity, Activity::Sweep { .. }) && samples.board(row) == board;
    let mut exchanges: Vec<Exchange> = Vec::new();
    let mut facts_before = None;
    for row in samples.rows.iter().filter(usable) {
        let Some(place) = row.place else { continue };
        let offset = plane.offset(place.position);
        let facts = samples.facts(&place);
        let (x, y, t) = (offset.east.0, offset.north.0, row.at.seconds());
        // A receiver that tells no speed still tells where it was: from fix to fix.
        let (speed, course) = match (facts.speed_mps, exchanges.last()) {
            (Some(speed), _) => (Some(speed), facts.course_deg),
            (None, Some(before)) if facts_before == Some(place.facts) => (before.speed, before.course),
            (None, Some(before)) if t > before.t && t - before.t <= 3.0 => {
                let (east, north) = (x - before.x, y - before.y);
                (
                    Some(east.hypot(north) / (t - before.t)),
                    Some(east.atan2(north).to_degrees().rem_euclid(360.0)),
                )
            }
            _ => (None, None),
        };
        facts_before = Some(place.facts);
        exchanges.push(Exchange {
            x,
            y,
            t,
            level: side.level(row).map(f64::from),
            lost: !row.delivered(),
            speed,
            course,
        });
    }
    exchanges
}

fn frame(exchanges: &[Exchange]) -> Frame {
    let edge = |pick: fn(&Exchange) -> f64, choose: fn(f64, f64) -> f64, from: f64| {
        exchanges.iter().map(pick).fold(from, choose)
    };
    Frame {
        west: edge(|e| e.x, f64::min, f64::INFINITY) - AROUND_M,
        south: edge(|e| e.y, f64::min, f64::INFINITY) - AROUND_M,
        east: edge(|e| e.x, f64::max, f64::NEG_INFINITY) + AROUND_M,
        north: edge(|e| e.y, f64::max, f64::NEG_INFINITY) + AROUND_M,
    }
}
