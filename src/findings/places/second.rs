//! Where a second station, or a relay, might stand: a shortlist to test by walking, never a promise.

use crate::ground::local::{LocalPlane, Offset};
use crate::ground::{Position, separation};
use crate::stats::places::{Frame, Goal, Model, Promise, Role, second_places, shortlist};
use crate::units::{Degrees, Metres};

/// Metres between places where something might stand, and between pieces of ground it might serve.
const STEPS_M: (f64, f64) = (20.0, 10.0);
/// At most so many places where something might stand, and pieces of ground: more are spread wider.
const MOST: (f64, f64) = (250.0, 1200.0);
/// Two of a list stand at least so many metres apart.
const APART_M: f64 = 40.0;
/// How many are listed.
const LISTED: usize = 5;
/// A place that newly serves less than this share of the ground is not worth a walk.
const WORTH: f64 = 0.01;

/// Where something further might stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Second {
    /// A second station that stands on its own, the best first.
    pub stations: Result<Vec<SecondPlace>, NoSecond>,
    /// A relay that must itself reach the station, the best first.
    pub relays: Result<Vec<SecondPlace>, NoSecond>,
}

/// A place to test by walking.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SecondPlace {
    /// Where.
    pub position: Position,
    /// Metres east and north of the station.
    pub offset: (f64, f64),
    /// How far from the station.
    pub distance: Metres,
    /// Which way from the station, true.
    pub bearing: Option<Degrees>,
    /// What it might newly serve.
    pub promise: Promise,
}

/// Why no place is listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoSecond {
    /// Losses that no level explains break the goal wherever the station stands.
    NoLevelIsEnough,
    /// Nowhere would it newly serve a hundredth of the ground.
    NothingToGain,
    /// Nowhere on walked ground would a relay likely reach the station.
    NowhereInReach,
}

impl Second {
    /// The list for one or the other.
    pub const fn of_role(&self, role: Role) -> &Result<Vec<SecondPlace>, NoSecond> {
        match role {
            Role::SecondStation => &self.stations,
            Role::Relay => &self.relays,
        }
    }

    /// Weighs places all over `frame` about the station at `station`.
    pub fn of(model: &Model, goal: &Goal, frame: &Frame, plane: &LocalPlane, station: Position) -> Self {
        if model.threshold(goal).is_none() {
            return Self {
                stations: Err(NoSecond::NoLevelIsEnough),
                relays: Err(NoSecond::NoLevelIsEnough),
            };
        }
        let grid = |step: f64, most: f64| {
            let area = (frame.east - frame.west) * (frame.north - frame.south);
            frame.grid(step.max((area / most).sqrt()))
        };
        let candidates = grid(STEPS_M.0, MOST.0);
        let ground: Vec<((f64, f64), f64)> = grid(STEPS_M.1, MOST.1).into_iter().map(|place| (place, 1.0)).collect();
        let listed = |role| {
            let promises = second_places(model, goal, role, &candidates, &ground);
            if promises.iter().all(|promise| promise.served <= 0.0) {
                return Err(NoSecond::NowhereInReach);
            }
            let kept = shortlist(&candidates, &promises, APART_M, WORTH, LISTED);
            let told = kept.into_iter().filter_map(|index| {
                let ((x, y), promise) = (candidates[index], promises[index]);
                let position = plane.position(Offset {
                    east: Metres(x),
                    north: Metres(y),
                })?;
                let way = separation(station, position);
                Some(SecondPlace {
                    position,
                    offset: (x, y),
                    distance: way.distance,
                    bearing: way.bearing,
                    promise,
                })
            });
            let told: Vec<SecondPlace> = told.collect();
            if told.is_empty() {
                Err(NoSecond::NothingToGain)
            } else {
                Ok(told)
            }
        };
        Self {
            stations: listed(Role::SecondStation),
            relays: listed(Role::Relay),
        }
    }
}
