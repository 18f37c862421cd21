//! Quantities with their units, so that a level is never taken for a distance.
//!
//! Each is a thin wrapper over one number. Formulas and [`crate::stats`] work on the bare number; whatever crosses a
//! module border carries its unit.

use std::ops::{Add, Neg, Sub};

use jiff::tz::Offset;
use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The bare number, in this quantity's unit.
            pub const fn get(self) -> f64 {
                self.0
            }
        }
    };
}

quantity!(
    /// A power level in decibels above one milliwatt; negative for everything a small receiver hears.
    Dbm
);
quantity!(
    /// A ratio of powers in decibels: a gain is positive, a loss given as a loss is positive too and says so by its name.
    Db
);
quantity!(
    /// A length in metres.
    Metres
);
quantity!(
    /// An angle in degrees. Bearings and turns run clockwise from above, 0 up to but not including 360.
    Degrees
);
quantity!(
    /// A frequency in megahertz.
    Megahertz
);
quantity!(
    /// A span of time in seconds.
    Seconds
);
quantity!(
    /// A speed in metres a second.
    MetresPerSecond
);

impl Sub for Dbm {
    type Output = Db;
    fn sub(self, other: Self) -> Db {
        Db(self.0 - other.0)
    }
}

impl Add<Db> for Dbm {
    type Output = Self;
    fn add(self, gain: Db) -> Self {
        Self(self.0 + gain.0)
    }
}

impl Sub<Db> for Dbm {
    type Output = Self;
    fn sub(self, loss: Db) -> Self {
        Self(self.0 - loss.0)
    }
}

impl Add for Db {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl Sub for Db {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Db {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Degrees {
    /// The same direction in 0 up to but not including 360; `None` when it is not finite.
    pub fn normalised(self) -> Option<Self> {
        if !self.0.is_finite() {
            return None;
        }
        let turned = self.0.rem_euclid(360.0);
        Some(Self(if turned >= 360.0 { 0.0 } else { turned }))
    }

    /// The shortest turn from `self` to `other`, in -180 (exclusive) to +180 (inclusive), clockwise positive.
    pub fn turn_to(self, other: Self) -> Self {
        let turned = (other.0 - self.0).rem_euclid(360.0);
        Self(if turned > 180.0 { turned - 360.0 } else { turned })
    }
}

/// A moment on the survey's own clock: microseconds since it began. Monotonic, never negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Elapsed(pub u64);

impl Elapsed {
    /// From seconds since the beginning, rounded to the microsecond; below zero becomes zero.
    pub fn from_seconds(seconds: f64) -> Self {
        Self((seconds * 1e6).round().max(0.0) as u64)
    }

    /// Seconds since the survey began.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// Seconds from `earlier` to here; negative when `earlier` is later.
    pub fn since(self, earlier: Self) -> f64 {
        let apart = self.0.abs_diff(earlier.0) as f64;
        if self < earlier { -apart / 1e6 } else { apart / 1e6 }
    }
}

/// A moment of coordinated universal time: milliseconds since 1970-01-01T00:00:00Z, leap seconds not counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UtcMs(pub i64);

impl UtcMs {
    /// Milliseconds in a day.
    pub const DAY: i64 = 86_400_000;

    /// RFC 3339 with three decimals and `Z`; `None` outside the years -9999 to 9999.
    pub fn rfc3339(self) -> Option<String> {
        let mut text = String::with_capacity(24);
        self.push_rfc3339(&mut text)?;
        Some(text)
    }

    /// Appends it as [`Self::rfc3339`] writes it.
    pub fn push_rfc3339(self, out: &mut String) -> Option<()> {
        let moment = jiff::Timestamp::from_millisecond(self.0).ok()?;
        let civil = Offset::UTC.to_datetime(moment);
        let Ok(year @ 0..=9999) = u16::try_from(civil.year()) else {
            out.push_str(&format!("{moment:.3}"));
            return Some(());
        };
        let digit = |number: u16, place: u16| char::from(b'0' + (number / place % 10) as u8);
        let mut push = |number: u16, places: &[u16], after: char| {
            out.extend(places.iter().map(|place| digit(number, *place)));
            out.push(after);
        };
        let two = |number: i8| u16::from(number.unsigned_abs());
        push(year, &[1000, 100, 10, 1], '-');
        push(two(civil.month()), &[10, 1], '-');
        push(two(civil.day()), &[10, 1], 'T');
        push(two(civil.hour()), &[10, 1], ':');
        push(two(civil.minute()), &[10, 1], ':');
        push(two(civil.second()), &[10, 1], '.');
        push(self.0.rem_euclid(1000) as u16, &[100, 10, 1], 'Z');
        Some(())
    }

    /// Reads RFC 3339 in any offset; `None` when it is none.
    pub fn parse(text: &str) -> Option<Self> {
        Self::parse_as_written(text.as_bytes()).or_else(|| {
            text.parse::<jiff::Timestamp>()
                .ok()
                .map(|moment| Self(moment.as_millisecond()))
        })
    }

    /// Reads the one form that [`Self::rfc3339`] writes, ten times quicker; `None` when it is another, or no date.
    fn parse_as_written(text: &[u8]) -> Option<Self> {
        let text: &[u8; 24] = text.try_into().ok()?;
        let form = b"0000-00-00T00:00:00.000Z";
        let fits = |(byte, like): (&u8, &u8)| {
            if *like == b'0' {
                byte.is_ascii_digit()
            } else {
                byte == like
            }
        };
        // All are looked at, whatever the first is: processors do that for many bytes at once.
        if !text.iter().zip(form).fold(true, |all, pair| all & fits(pair)) {
            return None;
        }
        let number = |from: usize, to: usize| {
            let digits = text[from..to].iter();
            digits.fold(0_i16, |number, digit| number * 10 + i16::from(digit - b'0'))
        };
        let small = |from: usize| number(from, from + 2) as i8;
        let date = jiff::civil::Date::new(number(0, 4), small(5), small(8)).ok()?;
        let (hours, minutes, seconds) = (small(11), small(14), small(17));
        if hours > 23 || minutes > 59 || seconds > 59 {
            return None;
        }
        let minutes = (days_from_1970(date) * 24 + i64::from(hours)) * 60 + i64::from(minutes);
        let ms = (minutes * 60 + i64::from(seconds)) * 1000 + i64::from(number(20, 23));
        // The calendar ends a day before its last year does.
        jiff::Timestamp::from_millisecond(ms).is_ok().then_some(Self(ms))
    }
}

/// Days from 1970-01-01 to a date of the Gregorian calendar, negative before it (H. Hinnant, chrono-compatible low-level date
/// algorithms, 2013; from memory).
fn days_from_1970(date: jiff::civil::Date) -> i64 {
    // Years that begin with March have their leap day at the end.
    let month = (i64::from(date.month()) + 9) % 12;
    let year = i64::from(date.year()) - i64::from(month >= 10);
    let (era, of_era) = (year.div_euclid(400), year.rem_euclid(400));
    let day = (153 * month + 2) / 5 + i64::from(date.day()) - 1;
    era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + day - 719_468
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_and_ratios_keep_apart() {
        assert_eq!(Dbm(-71.0) - Dbm(-91.0), Db(20.0));
        assert_eq!(Dbm(-71.0) + Db(3.0), Dbm(-68.0));
    }

    #[test]
    fn directions_wrap_once() {
        assert_eq!(Degrees(-10.0).normalised(), Some(Degrees(350.0)));
        assert_eq!(Degrees(-1e-14).normalised(), Some(Degrees(0.0)));
        assert_eq!(Degrees(f64::NAN).normalised(), None);
        assert_eq!(Degrees(350.0).turn_to(Degrees(10.0)), Degrees(20.0));
        assert_eq!(Degrees(10.0).turn_to(Degrees(350.0)), Degrees(-20.0));
    }

    #[test]
    fn moments_are_written_with_three_decimals() {
        let moment = UtcMs::parse("2026-05-02T19:41:01.5Z").unwrap();
        assert_eq!(moment.rfc3339().unwrap(), "2026-05-02T19:41:01.500Z");
        assert_eq!(UtcMs(i64::MAX).rfc3339(), None);
    }

    /// Against the calendar's own writer and reader.
    #[test]
    fn moments_are_written_and_read_as_the_calendar_does() {
        let own = |moment: UtcMs| format!("{:.3}", jiff::Timestamp::from_millisecond(moment.0).unwrap());
        for step in -400..320_i64 {
            let moment = UtcMs(step * 789_012_345_678 + step);
            assert_eq!(moment.rfc3339().unwrap(), own(moment));
            assert_eq!(UtcMs::parse(&own(moment)), Some(moment));
        }
        for text in [
            "2024-02-29T23:59:59.999Z",
            "2023-02-29T00:00:00.000Z",
            "2024-13-01T00:00:00.000Z",
            "2024-01-01T24:00:00.000Z",
            "2024-01-01T23:59:60.000Z",
            "2024-01-01t23:59:59.000z",
            "2024-01-01T23:59:59.000+02:00",
            "9999-12-31T23:59:59.999Z",
        ] {
            let own = text.parse::<jiff::Timestamp>().ok();
            assert_eq!(UtcMs::parse(text), own.map(|own| UtcMs(own.as_millisecond())), "{text}");
        }
    }
}
