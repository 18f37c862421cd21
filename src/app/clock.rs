//! The clocks: the survey's own, which never steps back, and the computer's.

#![expect(clippy::disallowed_methods, reason = "this is where the clock is read")]

use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use crate::sources::{Clock, Stamp};
use crate::units::{Elapsed, UtcMs};

/// A survey's clock: microseconds since it began, going on where an earlier sitting left it.
#[derive(Clone, Copy, Debug)]
pub struct SurveyClock {
    started: Instant,
    begun_at: Elapsed,
    /// A rehearsal's clocks run so many times faster than life, and its computer's clock begins here.
    invented: Option<(f64, UtcMs)>,
}

impl SurveyClock {
    /// A clock that begins now at `begun_at`.
    pub fn starting_at(begun_at: Elapsed) -> Self {
        Self {
            started: Instant::now(),
            begun_at,
            invented: None,
        }
    }

    /// The clock of a rehearsal: `speed` times faster than life, from an invented morning on.
    pub fn rehearsing(speed: f64, begins: UtcMs) -> Self {
        Self {
            started: Instant::now(),
            begun_at: Elapsed(0),
            invented: Some((speed, begins)),
        }
    }

    /// The moment now.
    pub fn elapsed(&self) -> Elapsed {
        let real = self.started.elapsed();
        let passed = match self.invented {
            Some((speed, _)) => (real.as_secs_f64() * speed * 1e6) as u64,
            None => real.as_micros() as u64,
        };
        Elapsed(self.begun_at.0 + passed)
    }

    /// How long to wait, by a watch, until a moment of this clock.
    pub fn wait_until(&self, at: Elapsed) -> Duration {
        let left = at.since(self.elapsed()).max(0.0);
        Duration::from_secs_f64(left / self.invented.map_or(1.0, |(speed, _)| speed))
    }
}

impl Clock for SurveyClock {
    fn now(&self) -> Stamp {
        let elapsed = self.elapsed();
        let utc = match self.invented {
            Some((_, begins)) => UtcMs(begins.0 + (elapsed.0 / 1000) as i64),
            None => wall(),
        };
        Stamp {
            elapsed_us: elapsed.0,
            utc_ms: utc.0,
        }
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
