//! What the map says of a place.

use super::goal::{Goal, Threshold};
use super::kriging::Field;
use super::model::{Empty, Model, POSITION_BLUR};
use super::tails::STUDENT4_90;
use super::trouble::clean;

/// From this chance on a place is good.
pub(super) const GOOD: f64 = 0.90;
/// Up to this chance a place is poor.
const POOR: f64 = 0.10;
/// A place whose records resolve less than this share of the field is unwalked.
pub(super) const RESOLVED: f64 = 0.25;

/// The verdict on a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Class {
    /// A chance of 90 % or more.
    Good,
    /// Anything between.
    Marginal,
    /// A chance of 10 % or less.
    Poor,
    /// Too far from every record to say more than the trend.
    Unwalked,
}

/// A place with its verdict.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Metres east.
    pub x: f64,
    /// Metres north.
    pub y: f64,
    /// The verdict.
    pub class: Class,
    /// The numbers behind it; `None` without any record. For unwalked ground they are the trend's alone.
    pub estimate: Option<Estimate>,
}

/// The numbers behind a verdict.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Chance that a node here meets the goal, 0 to 1.
    pub chance: f64,
    /// Local mean level in dBm with nobody in the way, as the walked node would measure it.
    pub level: f64,
    /// Its standard deviation in dB.
    pub sd: f64,
    /// Whether the level reaches the half-delivery level. Where it does not, nearly all was lost: the level is drawn from
    /// the trend and from what losses allow, and only its upper end is to be believed.
    pub heard: bool,
    /// Exchanges within 15 m.
    pub exchanges: u32,
    /// Share of the field's variance that records resolve, 0 to 1.
    pub resolved: f64,
    /// What the nearest record alone would resolve were it free of noise, 0 to 1; keeps walked dead ground walked.
    pub near: f64,
    /// Chance that no local trouble (interference) spoils the place, 0 to 1; already in `chance`.
    pub clean: f64,
    /// How far the level lies above what the goal needs, in dB; `None` when no level is enough.
    pub spare: Option<f64>,
    /// The spare margin's 95 % lower bound in dB; `None` likewise.
    pub spare_low: Option<f64>,
    /// Distance to the nearest record in metres.
    pub nearest: f64,
}

impl Estimate {
    /// The 90 % interval of the level in dBm, low and high: 2.13 standard deviations either way.
    ///
    /// Without a low end where the level is not heard. There truth lies in the full interval half the time only, for a loss
    /// says that a level is too low but not by how much; "at most the high end" holds.
    pub fn interval(&self) -> (Option<f64>, f64) {
        let half = STUDENT4_90 * self.sd;
        (self.heard.then_some(self.level - half), self.level + half)
    }

    /// Whether records, not the trend alone, carry this estimate.
    pub fn is_resolved(&self) -> bool {
        self.resolved >= RESOLVED
    }

    /// The verdict these numbers give.
    pub fn class(&self) -> Class {
        if self.resolved.max(self.near) < RESOLVED {
            Class::Unwalked
        } else if self.chance <= POOR {
            Class::Poor
        } else if self.chance >= GOOD {
            Class::Good
        } else {
            Class::Marginal
        }
    }
}

impl Model {
    /// Answers `goal` for places at metres (x, y), in their order. A place that is not finite is unwalked, without numbers.
    pub fn answer(&self, goal: &Goal, places: &[(f64, f64)]) -> Vec<Place> {
        let field = self.field();
        let needed = self.threshold(goal);
        places
            .iter()
            .map(|(x, y)| {
                let estimate =
                    (x.is_finite() && y.is_finite()).then(|| self.estimate(&field, goal, needed.as_ref(), *x, *y));
                Place {
                    x: *x,
                    y: *y,
                    class: estimate.map_or(Class::Unwalked, |estimate| estimate.class()),
                    estimate,
                }
            })
            .collect()
    }

    fn estimate(&self, field: &Field<'_>, goal: &Goal, needed: Option<&Threshold>, x: f64, y: f64) -> Estimate {
        let (told, near) = self.told(field, x, y);
        let (clean, exchanges) = clean(self, goal, x, y);
        let nearest = near.first().map_or(f64::INFINITY, |neighbour| neighbour.distance);
        let lift = goal.lift((x - self.station.0).hypot(y - self.station.1));
        let spare = needed.map(|needed| told.mean + lift.gain - needed.level);
        let spread = needed.map_or(0.0, |needed| {
            (told.variance + needed.sd * needed.sd + lift.sd * lift.sd).sqrt()
        });
        Estimate {
            chance: needed.map_or(0.0, |needed| needed.reached(told.mean, told.variance, lift)) * clean,
            level: told.mean,
            sd: told.variance.sqrt(),
            heard: told.mean >= self.half_level,
            exchanges,
            resolved: told.resolved,
            near: (-2.0 * nearest.hypot(POSITION_BLUR) / self.covariance.length()).exp(),
            clean,
            spare,
            spare_low: spare.map(|spare| spare - STUDENT4_90 * spread),
            nearest,
        }
    }
}

/// A map that may be empty.
#[derive(Clone, Debug)]
pub enum Map {
    /// No map, and why.
    Empty(Empty),
    /// A fitted map.
    Fitted(Box<Model>),
}

impl From<Result<Model, Empty>> for Map {
    fn from(built: Result<Model, Empty>) -> Self {
        match built {
            Ok(model) => Self::Fitted(Box::new(model)),
            Err(empty) => Self::Empty(empty),
        }
    }
}

impl Map {
    /// Answers `goal` for places at metres (x, y): all unwalked, without numbers, when the map is empty.
    pub fn answer(&self, goal: &Goal, places: &[(f64, f64)]) -> Vec<Place> {
        match self {
            Self::Fitted(model) => model.answer(goal, places),
            Self::Empty(_) => places
                .iter()
                .map(|(x, y)| Place {
                    x: *x,
                    y: *y,
                    class: Class::Unwalked,
                    estimate: None,
                })
                .collect(),
        }
    }
}
