//! Numbers as files have them: a dot for decimals, empty for unknown, never negative zero, NaN or infinity.

use super::document::Cell;

/// A number with so many decimals; nothing where it is unknown or not finite.
pub fn fixed(value: Option<f64>, decimals: usize) -> String {
    let Some(value) = value.filter(|value| value.is_finite()) else {
        return String::new();
    };
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(plain) if plain.chars().all(|digit| digit == '0' || digit == '.') => plain.to_owned(),
        _ => text,
    }
}

/// The same as a cell.
pub fn cell(value: Option<f64>, decimals: usize) -> Cell {
    Cell::Number(fixed(value, decimals))
}

/// A direction with so many decimals, 0 up to but not including 360 also where rounding would reach it.
pub fn direction(degrees: Option<f64>, decimals: usize) -> String {
    let scale = 10_f64.powi(decimals as i32);
    fixed(
        degrees.filter(|degrees| degrees.is_finite()).map(|degrees| {
            let steps = (degrees.rem_euclid(360.0) * scale).round();
            if steps >= 360.0 * scale { 0.0 } else { steps / scale }
        }),
        decimals,
    )
}

/// A whole number as a cell.
pub fn whole(value: Option<u64>) -> Cell {
    Cell::Number(value.map_or_else(String::new, |value| value.to_string()))
}

/// Words as a cell.
pub fn words(text: &str) -> Cell {
    Cell::Text(text.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_is_empty_and_zero_has_no_sign() {
        assert_eq!(fixed(None, 1), "");
        assert_eq!(fixed(Some(f64::NAN), 1), "");
        assert_eq!(fixed(Some(-0.04), 1), "0.0");
        assert_eq!(fixed(Some(-71.25), 1), "-71.2");
        assert_eq!(direction(Some(359.97), 1), "0.0");
        assert_eq!(direction(Some(-0.04), 1), "0.0");
    }
}
