//! One ping and what became of it.

use crate::units::{Elapsed, UtcMs};

/// One exchange of a boot, as far as it is known now.
#[derive(Clone, Debug, PartialEq)]
pub struct Exchange {
    /// When it was, on the survey's clock.
    pub at: Elapsed,
    /// The computer's clock then.
    pub wall: UtcMs,
    /// When it was settled that it was lost: the `lost` line, or the next higher number. Equal to `at` for an echo.
    pub settled: Elapsed,
    /// The ordinal of its journal line; `None` for one that was inferred.
    pub line: Option<u32>,
    /// What became of it.
    pub fate: Fate,
    /// The channel its line named.
    pub channel: Option<u32>,
}

/// What became of a ping.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fate {
    /// It was answered.
    Echo(Heard),
    /// Its line says that it was lost.
    Lost,
    /// No line tells of it, though the source was being read.
    Missing,
    /// No line tells of it, and the source was not being read.
    Unread,
}

/// What an echo carried.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Heard {
    /// The station as the board heard it, dBm.
    pub here: Option<f32>,
    /// The board as the station heard it, dBm.
    pub there: Option<f32>,
    /// Round trip, microseconds.
    pub rtt_us: Option<u64>,
    /// Pings of this boot that the station has heard so far.
    pub heard: Option<u64>,
}

/// How long after a ping was given up its echo may still come.
pub const LATE_S: f64 = 2.0;

impl Exchange {
    /// Whether an echo that arrives at `now` still counts for this one.
    pub fn may_be_corrected(&self, now: Elapsed) -> bool {
        !matches!(self.fate, Fate::Echo(_)) && now.since(self.settled) <= LATE_S
    }
}
