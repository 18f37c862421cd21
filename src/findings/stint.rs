//! What rows are reckoned together as "here": a run, or one step of a sweep.

use crate::survey::sample::{Activity, Sample};

/// A run, or one step of a sweep; figures of one say nothing about another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stint {
    run: u32,
    /// 0 outside sweeps, and while turning.
    step: u32,
}

impl Stint {
    /// The one a row belongs to.
    pub const fn of(row: &Sample) -> Self {
        let step = match row.activity {
            Activity::Sweep { step, .. } => step,
            Activity::Walk | Activity::Point(_) => 0,
        };
        Self { run: row.run, step }
    }
}
