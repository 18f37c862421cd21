//! The comma-separated fields of one sentence, read one by one.

use thiserror::Error;

use super::state::State;
use crate::{ground::Position, units::Degrees};

/// A knot in metres a second: 1852 m an hour (International Hydrographic Conference, 1929).
pub(super) const KNOT: f64 = 1852.0 / 3600.0;

/// A field that no receiver in order sends; its sentence is not used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{sentence} has `{value}` for its {field}")]
pub struct BadField {
    /// The sentence, by its three letters.
    pub sentence: &'static str,
    /// What the field should hold.
    pub field: &'static str,
    /// What it holds.
    pub value: String,
}

/// A time of day in UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DayTime {
    /// Milliseconds since midnight; 86 400 000 up to 86 400 999 in a leap second.
    pub ms: u32,
}

/// A calendar day in UTC: days since 1970-01-01.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(pub i64);

impl Day {
    /// The day of a date in the Gregorian calendar; `None` when there is no such date.
    pub fn from_civil(year: i16, month: i8, day: i8) -> Option<Self> {
        let date = jiff::civil::Date::new(year, month, day).ok()?;
        let midnight = jiff::tz::TimeZone::UTC.to_timestamp(date.at(0, 0, 0, 0)).ok()?;
        Some(Self(midnight.as_second().div_euclid(86_400)))
    }
}

/// A position as a sentence gives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Where.
    pub position: Position,
    /// Digits after the point of its minutes, the fewer of both angles.
    pub digits: usize,
}

/// The fields of a sentence after its address.
#[derive(Clone, Debug)]
pub struct Fields<'a> {
    sentence: &'static str,
    fields: Vec<&'a str>,
}

impl<'a> Fields<'a> {
    /// Splits what follows the address and its comma; blanks around a field are not part of it.
    pub fn new(sentence: &'static str, text: &'a str) -> Self {
        // The longest of the common sentences have so many.
        let mut fields = Vec::with_capacity(20);
        fields.extend(text.split(',').map(str::trim));
        Self { sentence, fields }
    }

    /// A field's text; a field left out is empty.
    pub fn text(&self, at: usize) -> &'a str {
        self.fields.get(at).copied().unwrap_or_default()
    }

    /// The one character of a field; `None` when empty.
    pub fn letter(&self, at: usize) -> Option<char> {
        self.text(at).chars().next()
    }

    /// Complains of a field.
    pub fn bad(&self, at: usize, field: &'static str) -> BadField {
        BadField {
            sentence: self.sentence,
            field,
            value: self.text(at).to_owned(),
        }
    }

    /// A decimal number: sign, digits, point, digits; no exponent, no `nan`. `None` when empty.
    ///
    /// # Errors
    /// When it is something else.
    pub fn number(&self, at: usize, field: &'static str) -> Result<Option<f64>, BadField> {
        match self.text(at) {
            "" => Ok(None),
            text => decimal(text).map(Some).ok_or_else(|| self.bad(at, field)),
        }
    }

    /// A decimal number that is not negative.
    ///
    /// # Errors
    /// When it is something else.
    pub fn amount(&self, at: usize, field: &'static str) -> Result<Option<f64>, BadField> {
        match self.number(at, field)? {
            Some(number) if number < 0.0 => Err(self.bad(at, field)),
            number => Ok(number),
        }
    }

    /// A decimal number where a bad one does not spoil the sentence.
    pub fn number_if_any(&self, at: usize) -> Option<f64> {
        decimal(self.text(at))
    }

    /// A whole number that is not negative.
    ///
    /// # Errors
    /// When it is something else.
    pub fn whole(&self, at: usize, field: &'static str) -> Result<Option<u32>, BadField> {
        match self.text(at) {
            "" => Ok(None),
            text => digits(text).map(Some).ok_or_else(|| self.bad(at, field)),
        }
    }

    /// A course, turned into 0 to below 360 degrees; `None` when beyond a full turn, which is some receivers' unknown.
    ///
    /// # Errors
    /// When it is no number.
    pub fn course(&self, at: usize) -> Result<Option<f64>, BadField> {
        let course = self.number(at, "course")?.filter(|course| course.abs() <= 360.0);
        Ok(course
            .and_then(|course| Degrees(course).normalised())
            .map(|course| course.0))
    }

    /// `hhmmss` with any number of decimals, rounded to the millisecond.
    ///
    /// # Errors
    /// When it is no time of day. Second 60 is one: leap seconds happen at the end of any month.
    pub fn time(&self, at: usize) -> Result<Option<DayTime>, BadField> {
        match self.text(at) {
            "" => Ok(None),
            text => day_time(text).map(Some).ok_or_else(|| self.bad(at, "time")),
        }
    }

    /// Latitude, its hemisphere, longitude and its hemisphere, from field `at` on; `None` when any of them is empty.
    ///
    /// # Errors
    /// When they are no position, in a sentence that vouches for it: what is sent without a fix is often a placeholder.
    pub fn place(&self, at: usize, state: State) -> Result<Option<Place>, BadField> {
        match self.position(at) {
            Err(bad) if state == State::Fix => Err(bad),
            place => Ok(place.unwrap_or_default()),
        }
    }

    fn position(&self, at: usize) -> Result<Option<Place>, BadField> {
        if (at..at + 4).any(|at| self.text(at).is_empty()) {
            return Ok(None);
        }
        let (lat, lat_digits) = angle(self.text(at)).ok_or_else(|| self.bad(at, "latitude"))?;
        let (lon, lon_digits) = angle(self.text(at + 2)).ok_or_else(|| self.bad(at + 2, "longitude"))?;
        let lat = match self.text(at + 1) {
            "N" => lat,
            "S" => -lat,
            _ => return Err(self.bad(at + 1, "hemisphere")),
        };
        let lon = match self.text(at + 3) {
            "E" => lon,
            "W" => -lon,
            _ => return Err(self.bad(at + 3, "hemisphere")),
        };
        let position = Position::new(Degrees(lat), Degrees(lon)).map_err(|_| {
            if lat.abs() > 90.0 {
                self.bad(at, "latitude")
            } else {
                self.bad(at + 2, "longitude")
            }
        })?;
        Ok(Some(Place {
            position,
            digits: lat_digits.min(lon_digits),
        }))
    }
}

/// Whether a text is a sign, digits, a point and digits, with at least one digit.
fn decimal(text: &str) -> Option<f64> {
    let unsigned = text.strip_prefix(['+', '-']).unwrap_or(text);
    let plain = unsigned.chars().all(|c| c.is_ascii_digit() || c == '.');
    if plain && unsigned.contains(|c: char| c.is_ascii_digit()) {
        text.parse().ok()
    } else {
        None
    }
}

fn digits(text: &str) -> Option<u32> {
    if text.chars().all(|c| c.is_ascii_digit()) {
        text.parse().ok()
    } else {
        None
    }
}

fn day_time(text: &str) -> Option<DayTime> {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    if whole.len() != 6 || !fraction.chars().all(|c| c.is_ascii_digit()) {
        return None;
    }
    let part = |range: std::ops::Range<usize>| whole.get(range).and_then(digits);
    let (hours, minutes, seconds) = (part(0..2)?, part(2..4)?, part(4..6)?);
    if hours > 23 || minutes > 59 || seconds > 60 {
        return None;
    }
    let ms = match fraction.len() {
        // Nearly always it is in whole milliseconds.
        places @ 0..=3 => {
            fraction.bytes().fold(0, |ms, digit| ms * 10 + u32::from(digit - b'0')) * [1000, 100, 10, 1][places]
        }
        _ => (format!("0.{fraction}").parse::<f64>().ok()? * 1000.0).round() as u32,
    };
    Some(DayTime {
        ms: ((hours * 60 + minutes) * 60 + seconds) * 1000 + ms,
    })
}

/// Degrees from `dddmm.mmm`, and how many digits follow the point. Minutes are below 60.
fn angle(text: &str) -> Option<(f64, usize)> {
    let point = text.find('.').unwrap_or(text.len());
    let degrees = digits(text.get(..point.checked_sub(2)?)?)?;
    let minutes = text.get(point - 2..)?;
    let minutes = decimal(minutes).filter(|minutes| minutes.is_sign_positive() && *minutes < 60.0)?;
    let after = text.len() - point;
    Some((f64::from(degrees) + minutes / 60.0, after.saturating_sub(1)))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn numbers_are_plain_decimals() {
        for (text, value) in [
            ("5", 5.0),
            ("+0.5", 0.5),
            ("-33.9", -33.9),
            (".5", 0.5),
            ("5.", 5.0),
            ("00460.0", 460.0),
        ] {
            assert_eq!(decimal(text), Some(value), "{text}");
        }
        for text in ["", ".", "-", "nan", "inf", "9e-1", "1.2.3", "0x1", "1,5", "--1"] {
            assert_eq!(decimal(text), None, "{text}");
        }
    }

    #[test]
    fn times_of_day_end_before_24_hours() {
        assert_eq!(day_time("123519"), Some(DayTime { ms: 45_319_000 }));
        assert_eq!(day_time("184353.07"), Some(DayTime { ms: 67_433_070 }));
        assert_eq!(day_time("235960.5"), Some(DayTime { ms: 86_400_500 }));
        assert_eq!(day_time("000000.9999"), Some(DayTime { ms: 1000 }));
        for text in [
            "240000", "126000", "123561", "12351", "1235190", "12:35:19", "123519.x", "1235é",
        ] {
            assert_eq!(day_time(text), None, "{text}");
        }
    }

    #[test]
    fn angles_keep_every_digit() {
        assert_eq!(angle("5206.12345678"), Some((52.0 + 6.123_456_78 / 60.0, 8)));
        assert_eq!(angle("00254"), Some((2.9, 0)));
        assert_eq!(angle("00054."), Some((0.9, 0)));
        for text in [
            "",
            "5",
            "54",
            "5260.0",
            "52.5.1",
            "520-1.0",
            "é206.0",
            "8960.000000",
            "99999999999906.0",
        ] {
            assert_eq!(angle(text), None, "{text}");
        }
    }

    #[test]
    fn days_count_from_1970() {
        assert_eq!(Day::from_civil(1970, 1, 1), Some(Day(0)));
        assert_eq!(Day::from_civil(2026, 5, 2), Some(Day(20_575)));
        assert_eq!(Day::from_civil(2026, 2, 31), None);
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in any::<String>()) {
            let fields = Fields::new("GGA", &text);
            let _ = (fields.time(0), fields.place(0, State::Fix), fields.course(0));
            let _ = (fields.number(0, "x"), fields.whole(0, "x"));
        }
    }
}
