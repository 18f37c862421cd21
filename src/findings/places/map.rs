//! The map of a survey: places asked about, the best spots, where to walk next, and the same under assumptions.

use std::sync::Arc;

use super::second::Second;
use super::station::{self, StationDoubt};
use super::walked::{Walk, frame};
use crate::findings::assumptions::{Assumed, Assumption, Shift};
use crate::findings::reach::Reach;
use crate::findings::side::Side;
use crate::findings::usual_board::{FALLBACK_DBM, as_usual};
use crate::ground::local::{LocalPlane, Offset};
use crate::ground::{Position, separation};
use crate::stats::places::{
    Caveat, Class, Courses, Empty, Estimate, Exchange, Frame, Goal, GoalError, Leg, Model, NextWalk, Outage, Place,
    Receiver, STRONG, Sensitivity, Threshold, bin, next_walk, outages, spots,
};
use crate::survey::setup::{self, Setup};
use crate::units::{Degrees, Metres};

/// Factor by which the distance from what a spot has to spare to its 5 % point is widened: 1.19 makes a normal one that of the 2.5 %
/// point, the lower end of a 95 % interval as all others are; the rest is for the best of many places, whose levels were taken too
/// high. The 5 % point itself held 95.2 in 100 of 477 spots in plain worlds (92.6 of 121 with no exchange near) and 94.6 of 483 in
/// rough ones, seeds 30000 to 30079; widened by 1.15 it held in rough worlds 95.6 of 295, 95.0 of 279 and 89.0 of 282 (seeds 36000,
/// 37000 and 38000 on, 200 surveys each; spots of one survey share their fate), in plain ones 97.
const SPARE_WIDENED: f64 = 1.35;
/// Metres between places asked about.
const STEP_M: f64 = 5.0;
/// One spot is listed for every tile of this side, metres; the station stands in the middle of one.
const TILE_M: f64 = 40.0;
/// A spot nearer than this to a better one is no further choice, metres: tiles meet somewhere.
const SPOTS_APART_M: f64 = 20.0;
/// At most so many spots are listed.
const SPOTS: usize = 10;
/// With fewer exchanges nothing is said of any place: five in one spot are one fading sample, and a map of chances drawn from
/// them is the law assumed beforehand (a choice; as many as a place that is walked through takes before it is answered for).
const LEAST_EXCHANGES: usize = 20;
/// Doubt about the level of half delivery where a board's need is not known, one sigma in dB.
const UNKNOWN_NEED_SD_DB: f64 = 3.0;
/// Logistic scale of delivery against level where it is not known, dB: between the steep and the soft of the kind (common
/// practice).
const USUAL_SCALE_DB: f64 = 1.1;
/// The radio's waterfall, dB: that of the radios the method was measured with.
const WATERFALL_DB: f64 = 1.2;

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
    /// What was asked to be assumed and is not, each with its reason in words.
    pub not_assumed: Vec<String>,
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
    /// Where a second station or a relay might stand.
    pub second: Second,
    /// Whether the levels fit another place for the station much better.
    pub station_doubt: Option<StationDoubt>,
    /// Silences of the station that were left out.
    pub silences: Vec<Outage>,
    /// What a reader of the map should know.
    pub caveats: Vec<Caveat>,
    /// Exchanges it rests on.
    pub exchanges: usize,
    ground: Arc<Ground>,
}

/// What was walked, fitted once: the same whatever is asked of it.
#[derive(Debug)]
struct Ground {
    model: Model,
    goal: Goal,
    frame: Frame,
    last: (f64, f64),
    plane: LocalPlane,
    station: Position,
}

/// A spot worth a look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Where.
    pub position: Position,
    /// Metres east and north of the station.
    pub offset: (f64, f64),
    /// How far from the station.
    pub distance: Metres,
    /// Which way from the station, true.
    pub bearing: Option<Degrees>,
    /// Chance that a node there meets the goal, 0 to 1.
    pub chance: f64,
    /// dB to spare beyond the goal's own margin, the best guess.
    pub spare_db: f64,
    /// The lower end of its 95 % interval: what it has no less than 97.5 times in 100, to lose beyond the margin and still meet the
    /// goal; `None` where it is not so sure that any level is enough there.
    pub spare_low_db: Option<f64>,
    /// Exchanges within 15 m.
    pub exchanges: u32,
}

/// Why there is no map.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoPlaces {
    /// The station's position is not known.
    NoStation,
    /// The station is noted farther from all that was walked than any link goes.
    StationFar(Metres),
    /// No level was read.
    NoLevels,
    /// There are too few exchanges with a position.
    FewExchanges {
        /// So many there are.
        exchanges: usize,
        /// So many there must be.
        needed: usize,
    },
    /// The goal is none.
    Goal(GoalError),
    /// There is nothing to map.
    Empty(Empty),
}

/// A walk that a map can rest on: silences of the station left out, and what the board's need is taken for.
#[derive(Debug)]
pub struct Cleared {
    board: String,
    side: Side,
    wanted: setup::Goal,
    plane: LocalPlane,
    station: Position,
    exchanges: Vec<Exchange>,
    silences: Vec<Outage>,
    receiver: Receiver,
    sensitivity: Sensitivity,
    goal: Goal,
}

impl Cleared {
    /// Clears a walk.
    ///
    /// # Errors
    /// When there is nothing a map could be made of.
    pub fn of(setup: &Setup, reach: &Reach, walk: Walk) -> Result<Self, NoPlaces> {
        let mut exchanges = walk.exchanges;
        if exchanges.is_empty() {
            return Err(NoPlaces::Empty(Empty::NoExchanges));
        }
        if exchanges.len() < LEAST_EXCHANGES {
            return Err(NoPlaces::FewExchanges {
                exchanges: exchanges.len(),
                needed: LEAST_EXCHANGES,
            });
        }
        // Where the need is not known, a usual board's stands for it, or the weakest level heard where that is lower still. What
        // is called strong, and a silence abrupt, goes by the weakest level heard, but no board of this kind stands above the
        // highest such need: readings that are all strong say nothing of a limit.
        let (guess, cautious) = reach.need.map_or_else(
            || {
                let weakest = weakest_delivered(&exchanges).unwrap_or(FALLBACK_DBM);
                let guess = weakest.min(FALLBACK_DBM);
                (guess, as_usual(weakest))
            },
            |need| (need.curve.m_dbm(), need.curve.m_dbm()),
        );
        let goal = Goal::new(setup.goal.delivery, setup.goal.margin_db).map_err(NoPlaces::Goal)?;
        let silences = outages(&exchanges, cautious);
        let silent = |index: usize| {
            let begun = silences.partition_point(|silence| silence.first <= index);
            begun > 0 && index < silences[begun - 1].past
        };
        let mut index = 0;
        exchanges.retain(|_| {
            index += 1;
            !silent(index - 1)
        });
        let sensitivity = sensitivity(reach, guess, cautious);
        Ok(Self {
            board: reach.board.clone(),
            side: reach.side,
            wanted: setup.goal,
            plane: walk.plane,
            station: walk.station,
            exchanges,
            silences,
            receiver: Receiver {
                half_level: guess,
                half_level_sd: sensitivity.half_level_sd,
                waterfall: WATERFALL_DB,
                strong: cautious + STRONG,
            },
            sensitivity,
            goal,
        })
    }

    /// Whether the levels fit another place for the station much better.
    pub fn station_doubt(&self) -> Option<StationDoubt> {
        station::doubt(&Courses::gather(&self.exchanges), self.receiver.half_level)
    }

    /// Makes the map for the board walked with, nothing assumed and the station not doubted.
    ///
    /// # Errors
    /// When there is nothing a map could be made of.
    pub fn map(&self) -> Result<Places, NoPlaces> {
        let kept = &self.exchanges;
        let model = Model::build(&bin(kept, (0.0, 0.0)), (0.0, 0.0), self.receiver).map_err(NoPlaces::Empty)?;
        let need = model.need(self.goal.share(), &self.sensitivity);
        let goal = need.map_or(self.goal, |need| self.goal.needing(need));
        let ground = Ground {
            model,
            goal,
            frame: frame(kept),
            last: kept.last().map_or((0.0, 0.0), |exchange| (exchange.x, exchange.y)),
            plane: self.plane,
            station: self.station,
        };
        let heading = Heading {
            station_doubt: None,
            board: self.board.clone(),
            side: self.side,
            wanted: self.wanted,
            silences: self.silences.clone(),
            exchanges: kept.len(),
        };
        Ok(answer(Arc::new(ground), goal, heading, Assumed::default()))
    }
}

/// How well the board's need is known, for the level a place needs.
fn sensitivity(reach: &Reach, guess: f64, cautious: f64) -> Sensitivity {
    Sensitivity {
        half_level: guess,
        half_level_sd: reach.need.map_or(UNKNOWN_NEED_SD_DB, |need| need.m_sd_db()),
        cautious,
        scale: reach.need.map_or(USUAL_SCALE_DB, |need| need.curve.s_db()),
        learned: reach.need.is_some(),
        least_lost: reach.least_interference().unwrap_or(0.0),
    }
}

/// The level that one delivered exchange in fifty lies below, dBm.
fn weakest_delivered(exchanges: &[Exchange]) -> Option<f64> {
    let mut levels: Vec<f64> = exchanges.iter().filter_map(|exchange| exchange.level).collect();
    let at = levels.len() / 50;
    (!levels.is_empty()).then(|| *levels.select_nth_unstable_by(at, f64::total_cmp).1)
}

/// What stands above a map.
struct Heading {
    station_doubt: Option<StationDoubt>,
    board: String,
    side: Side,
    wanted: setup::Goal,
    silences: Vec<Outage>,
    exchanges: usize,
}

fn answer(ground: Arc<Ground>, goal: Goal, heading: Heading, assumed: Assumed) -> Places {
    let step_m = ground.frame.affordable(STEP_M);
    let found = ground.model.answer(&goal, &ground.frame.grid(step_m));
    let NextWalk { legs, doubt, .. } = next_walk(&ground.model, &goal, ground.last, &ground.frame, |_, _| 1.0);
    let spots = best_spots(&ground, &goal, &found);
    Places {
        board: heading.board,
        side: heading.side,
        delivery: heading.wanted.delivery,
        margin_db: heading.wanted.margin_db,
        assumptions: assumed.assumptions,
        not_assumed: assumed.not_assumed,
        needed: ground.model.threshold(&goal),
        step_m,
        places: found,
        spots,
        legs,
        doubt,
        second: Second::of(&ground.model, &goal, &ground.frame, &ground.plane, ground.station),
        station_doubt: heading.station_doubt,
        silences: heading.silences,
        caveats: ground.model.caveats(&goal),
        exchanges: heading.exchanges,
        ground,
    }
}

/// The best spots, those told poor left out: a list of them is no advice.
fn best_spots(ground: &Ground, goal: &Goal, found: &[Place]) -> Vec<Spot> {
    // Tiles are counted from the station's own, so that its neighbourhood fills one line of the list and not four.
    let shifted: Vec<Place> = found
        .iter()
        .map(|place| Place {
            x: place.x + TILE_M / 2.0,
            y: place.y + TILE_M / 2.0,
            ..*place
        })
        .collect();
    let needed = ground.model.threshold(goal);
    let mut kept: Vec<Spot> = Vec::new();
    for spot in spots(&shifted, TILE_M, usize::MAX) {
        let place = &found[spot.index];
        let apart = |other: &Spot| (other.offset.0 - place.x).hypot(other.offset.1 - place.y) >= SPOTS_APART_M;
        if kept.len() == SPOTS || place.class == Class::Poor || !kept.iter().all(apart) {
            continue;
        }
        let (Some(position), Some(spare_db)) = (ground.position(place.x, place.y), spot.estimate.spare) else {
            continue;
        };
        let way = separation(ground.station, position);
        kept.push(Spot {
            position,
            offset: (place.x, place.y),
            distance: way.distance,
            bearing: way.bearing,
            chance: spot.estimate.chance,
            spare_db,
            spare_low_db: spare_low(needed, &spot.estimate),
            exchanges: spot.estimate.exchanges,
        });
    }
    kept
}

/// How sure it must be that some level is enough at a place before it is said what its own has to spare at least.
const ENOUGH_SURELY: f64 = 0.95;

/// The lower end of what a spot has to spare, widened as measured; `None` where it is not sure that any level is enough.
fn spare_low(needed: Option<Threshold>, estimate: &Estimate) -> Option<f64> {
    let (spare, low) = (estimate.spare?, estimate.spare_low?);
    let sure = needed?.possible * estimate.clean >= ENOUGH_SURELY;
    sure.then_some(spare - SPARE_WIDENED * (spare - low))
}

impl Ground {
    fn position(&self, x: f64, y: f64) -> Option<Position> {
        self.plane.position(Offset {
            east: Metres(x),
            north: Metres(y),
        })
    }
}

impl Places {
    /// The same, with what is to be said of the station's place.
    #[must_use]
    pub fn doubting(self, station_doubt: Option<StationDoubt>) -> Self {
        Self { station_doubt, ..self }
    }

    /// The place on the globe of metres east and north of the station.
    pub fn position(&self, x: f64, y: f64) -> Option<Position> {
        self.ground.position(x, y)
    }

    /// The level of 50 % delivery the map goes by, dBm.
    pub fn half_level(&self) -> f64 {
        self.ground.model.half_level()
    }

    /// How many places are of a class.
    pub fn count(&self, class: Class) -> usize {
        self.places.iter().filter(|place| place.class == class).count()
    }

    /// The same ground for another node: what was walked is not fitted again.
    ///
    /// # Errors
    /// When an assumption is none, such as one of no finite gain.
    pub fn under(&self, assumed: Assumed) -> Result<Self, GoalError> {
        let mut goal = self.ground.goal;
        for assumption in &assumed.assumptions {
            goal = match assumption.shift {
                Shift::Everywhere(change) => goal.with(change)?,
                Shift::ByDistance(lift) => goal.mounted(lift)?,
            };
        }
        let heading = Heading {
            station_doubt: self.station_doubt,
            board: self.board.clone(),
            side: self.side,
            wanted: setup::Goal {
                delivery: self.delivery,
                margin_db: self.margin_db,
                ..setup::Goal::default()
            },
            silences: self.silences.clone(),
            exchanges: self.exchanges,
        };
        Ok(answer(Arc::clone(&self.ground), goal, heading, assumed))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::reach::NoReach;

    /// A board that stood in one place 70 m away, heard at -61 dBm with slight fades, and of whose need nothing is known.
    fn stood(sent: usize, lost_every: usize) -> Places {
        let fade = |index: usize| [0.0, 2.0, -2.0, 1.0, -4.0, 3.0, -1.0, 1.0][index % 8];
        let exchange = |index: usize| {
            let lost = (index + 1).is_multiple_of(lost_every);
            Exchange {
                x: 70.0,
                y: 0.1 * (index % 7) as f64,
                t: 0.1 * index as f64,
                level: (!lost).then(|| -61.0 + fade(index)),
                lost,
                speed: Some(0.0),
                course: None,
            }
        };
        let station = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        let walk = Walk {
            board: "fern".to_owned(),
            side: Side::There,
            plane: LocalPlane::about(station),
            station,
            exchanges: (0..sent).map(exchange).collect(),
        };
        let reach = Reach {
            board: "fern".to_owned(),
            side: Side::There,
            exchanges: 0,
            too_far: 0,
            fit: Err(NoReach::NoPlaces),
            ranges: Vec::new(),
            need: None,
            own: None,
            at_points: None,
        };
        Cleared::of(&Setup::default(), &reach, walk).unwrap().map().unwrap()
    }

    /// The count of such a point refutes a goal of 95 %; the map must not recommend it.
    #[test]
    fn losses_at_a_strong_level_tell_against_a_place_though_the_need_is_not_known() {
        let chance = |places: &Places| {
            let here = places.places.iter().min_by(|one, other| {
                let away = |place: &Place| (place.x - 70.0).hypot(place.y);
                away(one).total_cmp(&away(other))
            });
            here.and_then(|place| place.estimate)
                .map(|estimate| estimate.chance)
                .unwrap()
        };
        let (losing, clean) = (stood(600, 10), stood(600, 1000));
        assert!(chance(&losing) < 0.3, "{}", chance(&losing));
        assert!(chance(&clean) > 0.7, "{}", chance(&clean));
        assert!(losing.spots.is_empty());
    }
}
