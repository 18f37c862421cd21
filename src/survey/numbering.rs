//! Where a printed ping number belongs: unwrapping, jumps and steps back.

use crate::units::Elapsed;

/// The rate taken until a boot has told or shown its own, pings a second (common practice).
const RATE_UNTIL_KNOWN: f64 = 10.0;
/// The fastest rate believed, pings a second: it bounds how many pings one damaged line can claim to be missing.
const RATE_LIMIT: f64 = 2_000.0;
/// The modulus taken when a number falls back by more than half of it and no `wrap` was named.
const USUAL_WRAP: u64 = 65_536;
/// Lines over which a pace is measured.
const PACE_LINES: usize = 256;
/// A pace is known once the lines span this long, seconds; half of that suffices for a fast board's many lines.
const PACE_SPAN_S: f64 = 1.0;
/// So many lines are many.
const PACE_MANY: usize = 32;
/// The longest run of numbers that one line may leave open.
pub const LONGEST_GAP: u64 = 2_000_000;

/// How fast a boot pings: what its hello says, else what its last lines show.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pace {
    told: Option<f64>,
    /// What was measured before the source was last broken off.
    kept: Option<f64>,
    seen: std::collections::VecDeque<(u64, Elapsed)>,
}

impl Pace {
    /// Takes the rate of a hello line, pings a second.
    pub fn tell(&mut self, rate: f64) {
        self.told = Some(rate.clamp(0.001, RATE_LIMIT));
    }

    /// Takes number `n`, higher than any before it, that arrived at `at`.
    pub fn see(&mut self, n: u64, at: Elapsed) {
        if self.seen.len() == PACE_LINES {
            self.seen.pop_front();
        }
        self.seen.push_back((n, at));
    }

    /// Forgets what was seen: the source was not being read in between.
    pub fn interrupt(&mut self) {
        self.kept = self.measured().or(self.kept);
        self.seen.clear();
    }

    /// Pings a second: told, else the mean over the last lines, else what was measured before a break, else ten.
    pub fn rate(&self) -> f64 {
        self.told
            .or_else(|| self.measured())
            .or(self.kept)
            .unwrap_or(RATE_UNTIL_KNOWN)
    }

    /// Whether the rate is known and not merely taken.
    pub fn is_known(&self) -> bool {
        self.told.or_else(|| self.measured()).or(self.kept).is_some()
    }

    fn measured(&self) -> Option<f64> {
        let ((n0, t0), (n1, t1)) = self.seen.front().zip(self.seen.back())?;
        let seconds = t1.since(*t0);
        let long = seconds >= PACE_SPAN_S || (self.seen.len() >= PACE_MANY && seconds >= PACE_SPAN_S / 2.0);
        (long && n1 > n0).then(|| ((n1 - n0) as f64 / seconds).clamp(0.001, RATE_LIMIT))
    }

    /// The usual time between two pings, seconds.
    pub fn interval(&self) -> f64 {
        1.0 / self.rate()
    }

    /// The silence after which a source counts as broken off, seconds: three intervals, at least two seconds.
    pub fn break_after(&self) -> f64 {
        (3.0 * self.interval()).max(2.0)
    }

    /// How far back a number may lie and still be a late line of the same boot: 20 + 2 s of pings.
    pub fn late_reach(&self) -> u64 {
        (20.0 + 2.0 * self.rate()).floor() as u64
    }
}

/// Where a printed number belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Placed {
    /// It is this number of the boot, unwrapped.
    Number(u64),
    /// It lies so far back that only a new start of the board explains it.
    Restart,
    /// It lies so far ahead that the line must be damaged.
    Jump,
}

/// Places the printed number `raw`, arriving at `now`, after the boot's highest number `last` that came at `last_at`.
///
/// A number is unwrapped to the value nearest to `last + rate × time passed`: modulo `wrap` where the board named one,
/// else modulo 65,536 when it falls back by more than half of that. More than 3 × rate × time passed + 100 ahead is a
/// jump. Back by more than 20 + 2 s of pings is a restart.
pub fn place(raw: u64, now: Elapsed, last: u64, last_at: Elapsed, pace: &Pace, wrap: Option<u64>) -> Placed {
    let passed = now.since(last_at).max(0.0);
    let run_on = pace.rate() * passed;
    let limit = (3.0 * run_on + 100.0).min(LONGEST_GAP as f64) as u64;
    let wraps = wrap.is_some() || last.saturating_sub(raw) > USUAL_WRAP / 2;
    if wraps {
        let modulus = wrap.unwrap_or(USUAL_WRAP).max(2);
        let near = nearest(raw, modulus, last as f64 + run_on);
        if near > last && near - last <= limit {
            return Placed::Number(near);
        }
        if near <= last && last - near <= pace.late_reach() {
            return Placed::Number(near);
        }
    }
    if raw > last {
        return if raw - last <= limit {
            Placed::Number(raw)
        } else {
            Placed::Jump
        };
    }
    if last - raw > pace.late_reach() {
        Placed::Restart
    } else {
        Placed::Number(raw)
    }
}

/// The number congruent to `raw` that lies nearest to `expected`; the lower of two equally near.
fn nearest(raw: u64, modulus: u64, expected: f64) -> u64 {
    let rest = raw % modulus;
    let turns = ((expected - rest as f64) / modulus as f64).max(0.0);
    let below = rest.saturating_add((turns.floor() as u64).saturating_mul(modulus));
    let above = below.saturating_add(modulus);
    if (above as f64 - expected).abs() < (expected - below as f64).abs() {
        above
    } else {
        below
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pace(rate: f64) -> Pace {
        let mut pace = Pace::default();
        pace.tell(rate);
        pace
    }

    fn at(seconds: f64) -> Elapsed {
        Elapsed::from_seconds(seconds)
    }

    #[test]
    fn a_named_wrap_runs_on_past_its_end() {
        let placed = place(3, at(1.0), 998, at(0.5), &pace(10.0), Some(1000));
        assert_eq!(placed, Placed::Number(1003));
        assert_eq!(
            place(997, at(1.0), 1003, at(0.9), &pace(10.0), Some(1000)),
            Placed::Number(997)
        );
    }

    #[test]
    fn sixteen_bits_wrap_unasked() {
        assert_eq!(
            place(2, at(0.1), 65_535, at(0.0), &pace(10.0), None),
            Placed::Number(65_538)
        );
        assert_eq!(
            place(65_534, at(0.1), 131_073, at(0.0), &pace(10.0), None),
            Placed::Number(131_070)
        );
    }

    #[test]
    fn far_ahead_is_a_jump_and_far_back_a_restart() {
        assert_eq!(place(205, at(0.1), 100, at(0.0), &pace(10.0), None), Placed::Jump);
        assert_eq!(
            place(203, at(0.1), 100, at(0.0), &pace(10.0), None),
            Placed::Number(203)
        );
        assert_eq!(place(60, at(0.1), 100, at(0.0), &pace(10.0), None), Placed::Number(60));
        assert_eq!(place(59, at(0.1), 100, at(0.0), &pace(10.0), None), Placed::Restart);
        assert_eq!(
            place(12, at(0.1), 40_000, at(0.0), &pace(10.0), Some(65_536)),
            Placed::Restart
        );
    }

    #[test]
    fn the_pace_is_seen_where_it_is_not_told() {
        let mut seen = Pace::default();
        for n in 0..50 {
            seen.see(n, at(n as f64 / 25.0));
        }
        assert!((seen.rate() - 25.0).abs() < 1e-9);
        assert!(seen.is_known());
        assert!(!Pace::default().is_known());
    }

    #[test]
    fn numbers_at_the_end_of_the_range_do_not_overflow() {
        for raw in [0, 1, u64::MAX / 2, i64::MAX as u64] {
            for last in [0, 70_000, i64::MAX as u64] {
                for wrap in [None, Some(2), Some(u64::MAX), Some(i64::MAX as u64)] {
                    let _ = place(raw, at(1e9), last, at(0.0), &pace(1e9), wrap);
                }
            }
        }
    }
}
