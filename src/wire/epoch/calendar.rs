//! The date that goes with a receiver's time of day.

use crate::{
    units::UtcMs,
    wire::nmea::fields::{Day, DayTime},
};

/// Milliseconds after which GPS week numbers of ten bits begin anew: 1024 weeks.
const ROLLOVER: i128 = 1024 * 7 * DAY;

/// What is known of the date: the last good moment with the computer's clock at that time, and a date not believed yet.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Calendar {
    last: Option<(UtcMs, UtcMs)>,
    /// Whether any date so far was the receiver's own, not the computer's.
    known: bool,
    doubted: Option<i128>,
}

/// A moment, whether its date is the receiver's own, and how far from what was expected its own date would have put it,
/// in milliseconds, where that date is not believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Dated {
    pub(super) utc: UtcMs,
    named: bool,
    doubted: Option<i128>,
}

impl Calendar {
    /// The moment of a time of day, `wall` being the computer's clock at its arrival.
    ///
    /// With dates named beside it, the one nearest to what is expected, brought back when 1024 weeks off. With none,
    /// the day that puts it nearest to what is expected: the last good moment plus the time passed since, else the
    /// computer's clock. So a midnight between two sentences needs no date of its own. A checksum lets some damage
    /// through, so a date that leaps by more than half a day is believed only when the next one says the same.
    pub(super) fn moment(&self, time: DayTime, days: &[Day], wall: UtcMs) -> Dated {
        let expected = match self.last {
            Some((utc, then)) => i128::from(utc.0) + i128::from(wall.0) - i128::from(then.0),
            None => i128::from(wall.0),
        };
        let time = i128::from(time.ms);
        let today = expected.div_euclid(DAY);
        let near = [today - 1, today, today + 1].map(|number| number * DAY + time);
        let named = days
            .iter()
            .map(|named| rolled_back(i128::from(named.0) * DAY + time, wall));
        let nearest = |moments: &mut dyn Iterator<Item = i128>| moments.min_by_key(|moment| (moment - expected).abs());
        let named = nearest(&mut named.into_iter());
        let leap = named
            .map(|named| named - expected)
            .filter(|&leap| self.known && !self.believes(leap));
        let believed = named.filter(|_| leap.is_none());
        let moment = believed.or_else(|| nearest(&mut near.into_iter())).unwrap_or(expected);
        Dated {
            utc: clamped(moment),
            named: believed.is_some(),
            doubted: leap,
        }
    }

    /// A moment that names its own date, brought back when 1024 weeks off.
    pub(super) fn dated(utc: UtcMs, wall: UtcMs) -> UtcMs {
        clamped(rolled_back(utc.0.into(), wall))
    }

    /// Keeps a moment at which there was a fix: before its first, a receiver may tell any date.
    pub(super) fn keep(&mut self, moment: Dated, wall: UtcMs) {
        self.last = Some((moment.utc, wall));
        self.known |= moment.named;
        self.doubted = moment.doubted;
    }

    fn believes(&self, leap: i128) -> bool {
        leap.abs() <= DAY / 2 || self.doubted.is_some_and(|doubted| (doubted - leap).abs() <= DAY / 2)
    }
}

impl Dated {
    /// A moment whose date is beyond doubt.
    pub(super) const fn sure(utc: UtcMs) -> Self {
        Self {
            utc,
            named: true,
            doubted: None,
        }
    }
}

/// Milliseconds in a day.
const DAY: i128 = UtcMs::DAY as i128;

fn clamped(moment: i128) -> UtcMs {
    UtcMs(moment.clamp(i64::MIN.into(), i64::MAX.into()) as i64)
}

/// A moment within a day of a whole number of rollovers from the computer's clock, less those rollovers; any other
/// stays.
fn rolled_back(moment: i128, wall: UtcMs) -> i128 {
    let off = moment - i128::from(wall.0);
    let rollovers = (off + ROLLOVER / 2).div_euclid(ROLLOVER);
    if (off - rollovers * ROLLOVER).abs() <= DAY {
        moment - rollovers * ROLLOVER
    } else {
        moment
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn utc(text: &str) -> UtcMs {
        UtcMs::parse(text).unwrap()
    }

    fn at(text: &str) -> DayTime {
        DayTime {
            ms: (utc(&format!("1970-01-01T{text}Z")).0) as u32,
        }
    }

    #[test]
    fn without_a_date_the_clock_decides() {
        let calendar = Calendar::default();
        let wall = utc("2026-12-31T23:59:58Z");
        assert_eq!(
            calendar.moment(at("00:00:01"), &[], wall).utc,
            utc("2027-01-01T00:00:01Z")
        );
        assert_eq!(
            calendar.moment(at("23:59:01"), &[], wall).utc,
            utc("2026-12-31T23:59:01Z")
        );
        let wall = utc("2027-01-01T00:00:02Z");
        assert_eq!(
            calendar.moment(at("23:59:59"), &[], wall).utc,
            utc("2026-12-31T23:59:59Z")
        );
    }

    #[test]
    fn midnight_rolls_the_last_good_date() {
        // Published as a check value: after 2026-12-31 23:59:59.5 a time of 00:00:00.5 is that of 2027-01-01.
        let mut calendar = Calendar::default();
        let wrong_clock = utc("2026-03-01T12:00:00Z");
        calendar.keep(Dated::sure(utc("2026-12-31T23:59:59.5Z")), wrong_clock);
        assert_eq!(
            calendar.moment(at("00:00:00.5"), &[], wrong_clock).utc,
            utc("2027-01-01T00:00:00.5Z")
        );
        // A leap second is the last of its day, and counts as the first of the next.
        assert_eq!(
            calendar.moment(DayTime { ms: 86_400_250 }, &[], wrong_clock).utc,
            utc("2027-01-01T00:00:00.25Z")
        );
    }

    #[test]
    fn a_date_1024_weeks_off_is_brought_back_and_no_other() {
        let calendar = Calendar::default();
        let wall = utc("2026-11-21T10:00:00Z");
        let moment = |year, month, day| {
            calendar
                .moment(at("09:59:58"), &[Day::from_civil(year, month, day).unwrap()], wall)
                .utc
        };
        // Published as a check value: a receiver that says 2007-04-07 on 2026-11-21.
        assert_eq!(moment(2007, 4, 7), utc("2026-11-21T09:59:58Z"));
        assert_eq!(moment(1987, 8, 22), utc("2026-11-21T09:59:58Z"));
        assert_eq!(moment(2007, 4, 8), utc("2026-11-22T09:59:58Z"));
        assert_eq!(moment(2007, 4, 9), utc("2007-04-09T09:59:58Z"));
        assert_eq!(moment(2026, 11, 20), utc("2026-11-20T09:59:58Z"));
        assert_eq!(moment(2026, 1, 1), utc("2026-01-01T09:59:58Z"));
    }

    #[test]
    fn of_two_dates_the_expected_one_stands() {
        let calendar = Calendar::default();
        let days = [
            Day::from_civil(2030, 1, 1).unwrap(),
            Day::from_civil(2026, 5, 2).unwrap(),
        ];
        let wall = utc("2026-05-02T10:00:00Z");
        assert_eq!(
            calendar.moment(at("10:00:00"), &days, wall).utc,
            utc("2026-05-02T10:00:00Z")
        );
    }

    #[test]
    fn a_date_that_leaps_needs_a_second_to_be_believed() {
        let mut calendar = Calendar::default();
        let wall = |seconds: i64| UtcMs(utc("2026-05-02T10:00:00Z").0 + seconds * 1000);
        let day = |month, day| [Day::from_civil(2026, month, day).unwrap()];
        calendar.keep(calendar.moment(at("10:00:00"), &day(5, 2), wall(0)), wall(0));
        // One damaged date changes nothing.
        let damaged = calendar.moment(at("10:00:01"), &day(4, 2), wall(1));
        assert_eq!(damaged.utc, utc("2026-05-02T10:00:01Z"));
        calendar.keep(damaged, wall(1));
        let next = calendar.moment(at("10:00:02"), &day(5, 2), wall(2));
        assert_eq!(next, Dated::sure(utc("2026-05-02T10:00:02Z")));
        calendar.keep(next, wall(2));
        // Two that agree do.
        calendar.keep(calendar.moment(at("10:00:03"), &day(6, 9), wall(3)), wall(3));
        let leapt = calendar.moment(at("10:00:04"), &day(6, 9), wall(4));
        assert_eq!(leapt, Dated::sure(utc("2026-06-09T10:00:04Z")));
    }

    #[test]
    fn no_clock_is_too_far_off() {
        for wall in [UtcMs(i64::MIN), UtcMs(i64::MAX)] {
            let mut calendar = Calendar::default();
            let _ = calendar.moment(at("10:00:00"), &[], wall);
            calendar.keep(Dated::sure(UtcMs(i64::MAX)), wall);
            let _ = calendar.moment(at("10:00:00"), &[Day(i64::from(i32::MAX))], UtcMs(0));
        }
    }
}
