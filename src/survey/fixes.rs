//! From position epochs to fixes that can be believed, on the survey's clock.

use crate::ground::{Position, Vantage};
use crate::units::{Elapsed, UtcMs};
use crate::wire::{Epoch, EpochFix, SigmaFrom};

/// The fastest anybody is believed to move between fixes, metres a second.
const FASTEST_MPS: f64 = 100.0;
/// Fixes set aside become good when so many in a row agree.
const AGREE: usize = 3;
/// A delay that differs from the smallest by more than this, seconds, is a jump of one of the clocks.
const CLOCK_JUMP_S: f64 = 5.0;
/// Interpolation reaches across at most so many seconds.
const INTERPOLATE_S: f64 = 3.0;
/// A last fix serves for at most so many seconds.
const LAST_FIX_S: f64 = 2.0;

/// A fix that has been believed.
#[derive(Clone, Debug, PartialEq)]
pub struct Fix {
    /// When it was, on the survey's clock: its UTC plus the smallest delay seen so far.
    pub at: Elapsed,
    /// When it was, as the receiver says.
    pub utc: UtcMs,
    /// What the computer's clock said then, microseconds since 1970.
    pub wall_us: i64,
    /// Where it was.
    pub position: Position,
    /// What else the receiver said.
    pub facts: Facts,
}

/// What a receiver says of a fix besides where it is.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Facts {
    /// Above mean sea level, metres.
    pub alt_m: Option<f64>,
    /// One-sigma horizontal error per axis, metres, and where it is from.
    pub sigma: Option<(f64, SigmaFrom)>,
    /// GGA's quality number or its equal; never 0.
    pub quality: Option<u8>,
    /// Satellites used.
    pub sats: Option<u32>,
    /// Horizontal dilution of precision.
    pub hdop: Option<f64>,
    /// Over ground, metres a second.
    pub speed_mps: Option<f64>,
    /// True course over ground, degrees.
    pub course_deg: Option<f64>,
}

impl From<&EpochFix> for Facts {
    fn from(fix: &EpochFix) -> Self {
        Self {
            alt_m: fix.alt_m,
            sigma: fix.sigma,
            quality: fix.quality.filter(|quality| *quality != 0),
            sats: fix.sats,
            hdop: fix.hdop,
            speed_mps: fix.speed_mps,
            course_deg: fix.course_deg,
        }
    }
}

/// What an epoch did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// The fix stands (with those before it that it confirmed).
    Good,
    /// The fix waits for others to agree with it.
    SetAside,
    /// There is no fix.
    NoFix,
}

/// The fixes of a survey in order of time.
#[derive(Clone, Debug, Default)]
pub struct Fixes {
    good: Vec<Fix>,
    aside: Vec<Fix>,
    delays: Delays,
    /// Whether the last epoch had a fix that stands.
    fixed: bool,
    last_epoch: Option<Elapsed>,
    set_aside: u64,
}

/// A place for a moment, and the fix its other facts are from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Located {
    /// Where.
    pub position: Position,
    /// Index of the earlier fix used.
    pub fix: usize,
}

impl Fixes {
    /// All good fixes.
    pub fn good(&self) -> &[Fix] {
        &self.good
    }

    /// How many fixes were set aside as places nobody could have walked to.
    pub fn set_aside(&self) -> u64 {
        self.set_aside
    }

    /// When the last epoch came, fix or none.
    pub fn last_epoch(&self) -> Option<Elapsed> {
        self.last_epoch
    }

    /// Whether the last epoch had a fix that stands.
    pub fn is_fixed(&self) -> bool {
        self.fixed
    }

    /// Takes an epoch, and says from which moment on positions may have changed.
    pub fn take(&mut self, epoch: &Epoch) -> (Verdict, Option<Elapsed>) {
        self.last_epoch = Some(epoch.arrival);
        let Some(found) = &epoch.fix else {
            self.fixed = false;
            return (Verdict::NoFix, None);
        };
        let at = self.delays.place(epoch.utc, epoch.arrival);
        let lag_us = epoch.arrival.0.saturating_sub(at.0) as i64;
        let fix = Fix {
            at,
            utc: epoch.utc,
            wall_us: epoch.wall.0.saturating_mul(1000).saturating_sub(lag_us),
            position: found.position,
            facts: Facts::from(found),
        };
        let agrees = self.good.last().is_some_and(|last| walkable(last, &fix));
        if agrees {
            self.aside.clear();
            self.fixed = true;
            let from = self.keep(fix);
            return (Verdict::Good, Some(from));
        }
        let needed = if self.good.is_empty() { 2 } else { AGREE };
        if self.aside.last().is_some_and(|last| !walkable(last, &fix)) {
            self.aside.clear();
        }
        self.aside.push(fix);
        if self.aside.len() < needed {
            self.set_aside += u64::from(!self.good.is_empty());
            self.fixed = false;
            return (Verdict::SetAside, None);
        }
        self.fixed = true;
        let mut from = None;
        for fix in std::mem::take(&mut self.aside) {
            let changed = self.keep(fix);
            from.get_or_insert(changed);
        }
        (Verdict::Good, from)
    }

    /// Adds a good fix; positions change from the good fix before it on.
    fn keep(&mut self, mut fix: Fix) -> Elapsed {
        let before = self.good.last().map(|last| last.at);
        if let Some(last) = before
            && fix.at <= last
        {
            fix.at = Elapsed(last.0 + 1);
        }
        self.good.push(fix);
        before.unwrap_or_default()
    }

    /// Where something was at `at`: between the fixes on either side where they are at most 3 s apart, else at the
    /// last fix if that is at most 2 s old.
    pub fn locate(&self, at: Elapsed) -> Option<Located> {
        self.locate_by(self.after(at, 0), at)
    }

    /// How many good fixes lie at or before `at`; `guess` is where to look first.
    pub fn after(&self, at: Elapsed, guess: usize) -> usize {
        let ends_there = self.good.get(guess).is_none_or(|next| next.at > at);
        let begins_there = guess
            .checked_sub(1)
            .is_some_and(|last| self.good.get(last).is_some_and(|fix| fix.at <= at));
        if begins_there && ends_there {
            return guess;
        }
        self.good.partition_point(|fix| fix.at <= at)
    }

    /// As [`Self::locate`], with what [`Self::after`] says of the moment.
    pub fn locate_by(&self, after: usize, at: Elapsed) -> Option<Located> {
        let index = after.checked_sub(1)?;
        let earlier = &self.good[index];
        if let Some(later) = self.good.get(after) {
            let apart = later.at.since(earlier.at);
            if apart <= INTERPOLATE_S {
                let share = if apart > 0.0 { at.since(earlier.at) / apart } else { 0.0 };
                return Some(Located {
                    position: earlier.position.between(later.position, share),
                    fix: index,
                });
            }
        }
        (at.since(earlier.at) <= LAST_FIX_S).then_some(Located {
            position: earlier.position,
            fix: index,
        })
    }

    /// The UTC of a moment at which the computer's clock said `wall`, microseconds.
    ///
    /// While there is a fix it runs on from that; through a loss of fix it is the computer's clock corrected by the
    /// last known difference, before the first fix by the first, and without any fix the computer's clock.
    ///
    /// `after` is what [`Self::after`] says of the moment.
    pub fn utc_us(&self, after: usize, at: Elapsed, wall: UtcMs) -> i64 {
        let wall_us = wall.0.saturating_mul(1000);
        let Some(first) = self.good.first() else { return wall_us };
        let fix = if after == 0 { first } else { &self.good[after - 1] };
        if after > 0 && at.since(fix.at) <= INTERPOLATE_S {
            return fix.utc.0.saturating_mul(1000).saturating_add((at.0 - fix.at.0) as i64);
        }
        wall_us.saturating_add(fix.utc.0.saturating_mul(1000).saturating_sub(fix.wall_us))
    }
}

/// Whether somebody could have come from one fix to the other.
fn walkable(earlier: &Fix, later: &Fix) -> bool {
    let by_receiver = (later.utc.0 - earlier.utc.0) as f64 / 1000.0;
    // A receiver whose time stands still or steps back says nothing about how long the way took.
    let seconds = if by_receiver > 0.0 {
        by_receiver
    } else {
        later.at.since(earlier.at).max(0.1)
    };
    Vantage::at(earlier.position).from(later.position).distance.0 <= FASTEST_MPS * seconds
}

/// The smallest delay between UTC and arrival, and the guard against clocks that jump.
#[derive(Clone, Debug, Default)]
struct Delays {
    /// The smallest arrival minus UTC so far, microseconds.
    least: Option<i64>,
    /// A differing one, and how many in a row agreed with it.
    other: Option<(i64, u32)>,
}

impl Delays {
    /// Places a UTC that arrived at `arrival` on the survey's clock; never later than it arrived.
    fn place(&mut self, utc: UtcMs, arrival: Elapsed) -> Elapsed {
        let utc_us = utc.0.saturating_mul(1000);
        let arrival_us = i64::try_from(arrival.0).unwrap_or(i64::MAX);
        let delay = arrival_us.saturating_sub(utc_us);
        let Some(least) = self.least else {
            self.least = Some(delay);
            return arrival;
        };
        let jump = (delay.saturating_sub(least) as f64 / 1e6).abs() > CLOCK_JUMP_S;
        if jump {
            let agreed = match self.other {
                Some((other, count)) if delay.abs_diff(other) <= 500_000 => count + 1,
                _ => 1,
            };
            self.other = Some((delay, agreed));
            if agreed as usize >= AGREE {
                self.least = Some(delay);
                self.other = None;
            }
            return arrival;
        }
        self.other = None;
        let least = least.min(delay);
        self.least = Some(least);
        Elapsed(utc_us.saturating_add(least).clamp(0, arrival_us) as u64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Degrees;

    fn epoch(seconds: f64, lat: f64) -> Epoch {
        Epoch {
            utc: UtcMs(1_777_000_000_000 + (seconds * 1000.0) as i64),
            arrival: Elapsed::from_seconds(seconds + 0.25),
            wall: UtcMs(1_777_000_000_250 + (seconds * 1000.0) as i64),
            fix: Some(EpochFix {
                position: Position::new(Degrees(lat), Degrees(-2.9)).unwrap(),
                alt_m: None,
                sigma: None,
                quality: Some(1),
                sats: None,
                hdop: None,
                speed_mps: None,
                course_deg: None,
                three_d: None,
            }),
            refused: None,
        }
    }

    #[test]
    fn the_first_fix_is_good_when_the_next_agrees() {
        let mut fixes = Fixes::default();
        assert_eq!(fixes.take(&epoch(1.0, 52.1)).0, Verdict::SetAside);
        assert!(fixes.good().is_empty());
        assert_eq!(fixes.take(&epoch(2.0, 52.100_01)).0, Verdict::Good);
        assert_eq!(fixes.good().len(), 2);
    }

    #[test]
    fn a_place_nobody_could_walk_to_waits_until_three_agree() {
        let mut fixes = Fixes::default();
        for second in 1..=3 {
            fixes.take(&epoch(f64::from(second), 52.1));
        }
        assert_eq!(fixes.take(&epoch(4.0, 52.2)).0, Verdict::SetAside);
        assert_eq!(
            fixes.take(&epoch(5.0, 52.1)).0,
            Verdict::Good,
            "back where it was: the outlier is gone"
        );
        assert_eq!(fixes.good().len(), 4);
        for second in 6..=7 {
            assert_eq!(fixes.take(&epoch(f64::from(second), 52.2)).0, Verdict::SetAside);
        }
        assert_eq!(fixes.take(&epoch(8.0, 52.2)).0, Verdict::Good);
        assert_eq!(fixes.good().len(), 7, "all three count once they agree");
    }

    #[test]
    fn a_slow_line_does_not_shift_positions() {
        let mut fixes = Fixes::default();
        for second in 1..=3 {
            fixes.take(&epoch(f64::from(second), 52.1));
        }
        let mut slow = epoch(4.0, 52.1);
        slow.arrival = Elapsed::from_seconds(5.1);
        fixes.take(&slow);
        assert_eq!(fixes.good()[3].at, Elapsed::from_seconds(4.25));
    }

    #[test]
    fn a_clock_that_steps_back_is_followed_once_three_agree() {
        let mut delays = Delays::default();
        let place = |delays: &mut Delays, utc: i64, arrival: f64| {
            delays.place(UtcMs(utc), Elapsed::from_seconds(arrival)).seconds()
        };
        assert!((place(&mut delays, 100_000, 1.0) - 1.0).abs() < 1e-9);
        for step in 1..=3 {
            let arrival = 1.0 + f64::from(step);
            assert!((place(&mut delays, 82_000 + i64::from(step) * 1000, arrival) - arrival).abs() < 1e-9);
        }
        assert!((place(&mut delays, 86_000, 5.4) - 5.0).abs() < 1e-9);
    }

    #[test]
    fn times_beyond_all_bounds_are_times_like_others() {
        let mut delays = Delays::default();
        for arrival in [1, u64::MAX, i64::MAX as u64 + 1, 7] {
            for utc in [i64::MIN, 0, i64::MAX] {
                assert!(delays.place(UtcMs(utc), Elapsed(arrival)) <= Elapsed(arrival));
            }
        }
    }

    #[test]
    fn positions_lie_between_the_fixes_on_either_side() {
        let mut fixes = Fixes::default();
        for second in 1..=3 {
            fixes.take(&epoch(f64::from(second), 52.1 + f64::from(second) * 1e-5));
        }
        let middle = fixes.locate(Elapsed::from_seconds(1.75)).unwrap();
        assert!((middle.position.lat().0 - 52.100_015).abs() < 1e-9);
        assert_eq!(middle.fix, 0);
        assert!(
            fixes.locate(Elapsed::from_seconds(5.25)).is_some(),
            "the last fix serves for two seconds"
        );
        assert!(fixes.locate(Elapsed::from_seconds(5.3)).is_none());
        assert!(
            fixes.locate(Elapsed::from_seconds(1.0)).is_none(),
            "nothing before the first"
        );
    }
}
