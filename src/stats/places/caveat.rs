//! What a map must be read with.

use super::answer::GOOD;
use super::goal::Goal;
use super::model::{FIT_FROM, Model};

/// A chance below this that any level is enough is worth a word: no place can then be good, and by how much its level lies
/// above what is needed does not say why.
const DOUBTED: f64 = GOOD;

/// A body's loss known no better than this, as a standard deviation in dB, is not known.
const BODY_VAGUE: f64 = 2.5;

/// A reason to read the map's answers with care, holding the numbers that make it one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Caveat {
    /// Fewer records than a covariance can be fitted to: common values stand in, nearly all ground is unwalked.
    FewRecords {
        /// Records there are.
        records: usize,
        /// Records from which it is fitted.
        needed: usize,
    },
    /// Nothing was delivered anywhere: the map knows only that walked ground is dead.
    NothingDelivered,
    /// What the receiver needs was not learned: its half-delivery level is taken, and every chance rests on it.
    LimitTaken {
        /// That level in dBm, as far as what arrived and was lost agrees with it.
        half_level: f64,
        /// Whether anything was lost at all: where nothing was, no loss has tested it.
        tested: bool,
    },
    /// No record could tell the fading, so a common value stands in.
    FadingAssumed {
        /// That value in dB.
        sd: f64,
    },
    /// Too few records could be told from other ground for the map to check itself.
    Unchecked {
        /// Records that could.
        checked: usize,
    },
    /// Left-out records fell outside their intervals too often, so all intervals were widened.
    Widened {
        /// What standard deviations were multiplied by.
        by: f64,
        /// Share of left-out records inside their 90 % interval before.
        inside: f64,
    },
    /// The course, and with it the body's loss, is unknown for most of the walk.
    CourseUnknown {
        /// Share of exchanges without a course.
        share: f64,
    },
    /// The body's loss cannot be told from the distance: the walk went one way only.
    BodyVague {
        /// Its standard deviation in dB.
        sd: f64,
    },
    /// The trend says facing the station was worse: the node was carried behind the body.
    CarriedBehind,
    /// There was more ground than one map holds at 5 m, so cells are larger.
    CoarseCells {
        /// Their side in metres.
        cell: f64,
    },
    /// Loss that no level explains may already break the goal: then no place can meet it.
    BackgroundDoubt {
        /// The chance that some level is enough, 0 to 1.
        possible: f64,
    },
    /// Loss that no level explains already breaks the goal: no place can meet it.
    BackgroundLoss {
        /// The share lost whatever the level.
        share: f64,
    },
}

pub(super) fn caveats(model: &Model, goal: &Goal) -> Vec<Caveat> {
    let records = model.records();
    let sum = |count: fn(&super::record::Record) -> f64| records.iter().map(count).sum::<f64>();
    let (sent, received) = (sum(|r| f64::from(r.sent)), sum(|r| f64::from(r.received)));
    let unknown = sum(|r| r.unknown * f64::from(r.sent)) / sent.max(1.0);
    let check = model.hold_out();
    let mut found = Vec::new();
    if records.len() < FIT_FROM {
        found.push(Caveat::FewRecords {
            records: records.len(),
            needed: FIT_FROM,
        });
    }
    if received == 0.0 {
        found.push(Caveat::NothingDelivered);
    } else if !goal.limit_learned().unwrap_or(sent > received) {
        found.push(Caveat::LimitTaken {
            half_level: model.half_level(),
            tested: sent > received,
        });
    }
    if !model.summary.fading_known {
        found.push(Caveat::FadingAssumed { sd: model.fading_sd() });
    }
    match check.inside {
        None => found.push(Caveat::Unchecked { checked: check.checked }),
        Some(inside) if check.widening > 1.0 => found.push(Caveat::Widened {
            by: check.widening,
            inside,
        }),
        Some(_) => {}
    }
    if unknown > 0.5 {
        found.push(Caveat::CourseUnknown { share: unknown });
    }
    let body = model.trend().covariance[(2, 2)].max(0.0).sqrt();
    if body > BODY_VAGUE && received > 0.0 {
        found.push(Caveat::BodyVague { sd: body });
    }
    if model.trend().clear_facing() > 0.0 {
        found.push(Caveat::CarriedBehind);
    }
    if model.cell() > super::record::CELL {
        found.push(Caveat::CoarseCells { cell: model.cell() });
    }
    match model.threshold(goal) {
        None => found.push(Caveat::BackgroundLoss {
            share: goal.background().unwrap_or(model.background_loss()),
        }),
        Some(needed) if needed.possible < DOUBTED => found.push(Caveat::BackgroundDoubt {
            possible: needed.possible,
        }),
        Some(_) => {}
    }
    found
}
