//! A straight line over the logarithm of distance.

use super::Published;
use super::published::positive;
use crate::units::{Db, Metres};

/// The formula and its source.
pub const PUBLISHED: Published = Published {
    formula: "L = L0 + 10 n log10(d / d0) dB",
    source: "notation of Rec. ITU-R P.1238 and P.1411 (2023)",
};

/// Loss at `distance` from the loss `at_reference` found at `reference`, losing 10 `exponent` decibels a decade.
pub fn loss(exponent: f64, at_reference: Db, reference: Metres, distance: Metres) -> Option<Db> {
    if !exponent.is_finite() {
        return None;
    }
    let decades = (positive(distance.0)? / positive(reference.0)?).log10();
    Some(Db(at_reference.0 + 10.0 * exponent * decades))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_comes_of_no_distance() {
        assert_eq!(loss(2.0, Db(40.0), Metres(1.0), Metres(0.0)), None);
        assert_eq!(loss(f64::NAN, Db(40.0), Metres(1.0), Metres(5.0)), None);
    }
}
