//! The clocks: the survey's own, which never steps back, and the computer's.

#![expect(clippy::disallowed_methods, reason = "this is where the clock is read")]

use std::time::{Instant, SystemTime, UNIX_EPOCH};

use crate::sources::{Clock, Stamp};
use crate::units::{Elapsed, UtcMs};

/// A survey's clock: microseconds since it began, going on where an earlier sitting left it.
#[derive(Clone, Copy, Debug)]
pub struct SurveyClock {
    started: Instant,
    begun_at: Elapsed,
}

impl SurveyClock {
    /// A clock that begins now at `begun_at`.
    pub fn starting_at(begun_at: Elapsed) -> Self {
        Self { started: Instant::now(), begun_at }
    }

    /// The moment now.
    pub fn elapsed(&self) -> Elapsed {
        Elapsed(self.begun_at.0 + self.started.elapsed().as_micros() as u64)
    }
}

impl Clock for SurveyClock {
    fn now(&self) -> Stamp {
        Stamp { elapsed_us: self.elapsed().0, utc_ms: wall().0 }
    }
}

/// The computer's clock.
pub fn wall() -> UtcMs {
    match SystemTime::now().duration_since(UNIX_EPOCH) {
        Ok(since) => UtcMs(since.as_millis() as i64),
        Err(before) => UtcMs(-(before.duration().as_millis() as i64)),
    }
}

/// Local date and time as a survey's folder is named: `YYYY-MM-DD-hhmm`.
pub fn local_minute() -> String {
    jiff::ZonedDateTime::now().strftime("%Y-%m-%d-%H%M").to_string()
}
