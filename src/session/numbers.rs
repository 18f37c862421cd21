//! How numbers are written in the files: a dot for decimals, empty for unknown, never `-0`, NaN or infinity.

use std::fmt::Write as _;

use crate::units::Elapsed;

/// Writes a number with so many decimals; nothing where it is unknown or not finite.
pub fn fixed(out: &mut String, number: Option<f64>, decimals: usize) {
    let Some(number) = number.filter(|number| number.is_finite()) else {
        return;
    };
    let from = out.len();
    let _ = write!(out, "{number:.decimals$}");
    if out[from..].starts_with('-') && out[from + 1..].chars().all(|digit| digit == '0' || digit == '.') {
        out.remove(from);
    }
}

/// Writes an angle with so many decimals in 0 up to but not including 360, also where rounding would reach it.
pub fn angle(out: &mut String, degrees: Option<f64>, decimals: usize) {
    let scale = 10f64.powi(decimals as i32);
    let rounded = degrees.filter(|degrees| degrees.is_finite()).map(|degrees| {
        let steps = (degrees.rem_euclid(360.0) * scale).round();
        if steps >= 360.0 * scale { 0.0 } else { steps / scale }
    });
    fixed(out, rounded, decimals);
}

/// Writes a number in as few digits as tell it apart.
pub fn shortest(out: &mut String, number: Option<f64>) {
    if let Some(number) = number.filter(|number| number.is_finite()) {
        let _ = write!(out, "{}", if number == 0.0 { 0.0 } else { number });
    }
}

/// Writes a level in as few digits as tell it apart.
pub fn level(out: &mut String, dbm: Option<f32>) {
    if let Some(dbm) = dbm.filter(|dbm| dbm.is_finite()) {
        let _ = write!(out, "{}", if dbm == 0.0 { 0.0 } else { dbm });
    }
}

/// Writes a whole number.
pub fn whole(out: &mut String, number: Option<u64>) {
    if let Some(number) = number {
        let _ = write!(out, "{number}");
    }
}

/// Writes a moment of the survey's clock in seconds with six decimals.
pub fn seconds_6(out: &mut String, at: Elapsed) {
    let _ = write!(out, "{}.{:06}", at.0 / 1_000_000, at.0 % 1_000_000);
}

/// Writes a moment of the survey's clock in seconds with three decimals, rounded half up.
pub fn seconds_3(out: &mut String, at: Elapsed) {
    let ms = at.0.saturating_add(500) / 1000;
    let _ = write!(out, "{}.{:03}", ms / 1000, ms % 1000);
}

/// Reads seconds with any number of decimals, to the microsecond; `None` when they are none or negative.
pub fn read_seconds(text: &str) -> Option<Elapsed> {
    let text = text.trim();
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if digits(whole) && (part.is_empty() || digits(part)) {
        let mut micros: u64 = 0;
        for index in 0..6 {
            micros = micros * 10 + u64::from(part.as_bytes().get(index).map_or(0, |digit| digit - b'0'));
        }
        micros += u64::from(part.as_bytes().get(6).is_some_and(|digit| *digit >= b'5'));
        return whole
            .parse::<u64>()
            .ok()?
            .checked_mul(1_000_000)?
            .checked_add(micros)
            .map(Elapsed);
    }
    let seconds: f64 = text.parse().ok()?;
    (0.0..1e12).contains(&seconds).then(|| Elapsed::from_seconds(seconds))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(write: impl Fn(&mut String)) -> String {
        let mut out = String::new();
        write(&mut out);
        out
    }

    #[test]
    fn unknown_and_not_finite_are_empty() {
        assert_eq!(written(|out| fixed(out, None, 2)), "");
        assert_eq!(written(|out| fixed(out, Some(f64::NAN), 2)), "");
        assert_eq!(written(|out| shortest(out, Some(f64::INFINITY))), "");
    }

    #[test]
    fn zero_has_no_sign() {
        assert_eq!(written(|out| fixed(out, Some(-0.001), 2)), "0.00");
        assert_eq!(written(|out| level(out, Some(-0.0))), "0");
        assert_eq!(written(|out| fixed(out, Some(-0.01), 2)), "-0.01");
    }

    #[test]
    fn angles_never_read_360() {
        assert_eq!(written(|out| angle(out, Some(359.96), 1)), "0.0");
        assert_eq!(written(|out| angle(out, Some(359.94), 1)), "359.9");
        assert_eq!(written(|out| angle(out, Some(-90.0), 1)), "270.0");
    }

    #[test]
    fn seconds_survive_writing_and_reading() {
        for micros in [0, 1, 999_999, 1_000_000, 12_345_678_901] {
            assert_eq!(
                read_seconds(&written(|out| seconds_6(out, Elapsed(micros)))),
                Some(Elapsed(micros))
            );
        }
        assert_eq!(read_seconds("12.5"), Some(Elapsed(12_500_000)));
        assert_eq!(read_seconds("-1"), None);
        assert_eq!(read_seconds("NaN"), None);
        assert_eq!(read_seconds(""), None);
        assert_eq!(written(|out| seconds_3(out, Elapsed(1_999_500))), "2.000");
    }
}
