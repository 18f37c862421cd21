//! Shadowing over tens of metres: how local means scatter about the expected level.

use statrs::distribution::{ContinuousCDF, Normal};
use statrs::function::erf::erfc;

use super::Published;
use super::published::{not_negative, positive};
use crate::units::{Db, Metres};

/// The distribution and its source.
pub const PUBLISHED: Published = Published {
    formula: "local means in decibels scatter normally about the expected level with a given sigma",
    source: "Rec. ITU-R P.1057-7 (2022), 3",
};

/// How far the expected level must stand above a threshold so that the share `covered` of places reaches it: σ Q⁻¹(1 - p).
///
/// Negative below one half. `None` unless the share is above 0 and below 1 and `sigma` at least 0 dB.
pub fn margin(covered: f64, sigma: Db) -> Option<Db> {
    let sigma = not_negative(sigma.0)?;
    if !(covered > 0.0 && covered < 1.0) {
        return None;
    }
    Some(Db(sigma * Normal::standard().inverse_cdf(covered)))
}

/// The share of places whose local mean reaches the threshold, the expected level standing `margin` above it.
pub fn covered(margin: Db, sigma: Db) -> Option<f64> {
    let sigma = not_negative(sigma.0)?;
    if margin.0.is_nan() {
        return None;
    }
    if sigma == 0.0 {
        return Some(if margin.0 >= 0.0 { 1.0 } else { 0.0 });
    }
    Some(erfc(-margin.0 / sigma / std::f64::consts::SQRT_2) / 2.0)
}

/// The share of a whole disc that is covered when the share `at_edge` of its rim is, the level falling with `exponent` (W. C.
/// Jakes, Microwave Mobile Communications (1974), 2.5, after Reudink).
pub fn area_covered(at_edge: f64, sigma: Db, exponent: f64) -> Option<f64> {
    let sigma = positive(sigma.0)?;
    let exponent = positive(exponent)?;
    let a = -margin(at_edge, Db(sigma))?.0 / (sigma * std::f64::consts::SQRT_2);
    let b = 10.0 * exponent * std::f64::consts::LOG10_E / (sigma * std::f64::consts::SQRT_2);
    let within = (1.0 - 2.0 * a * b) / (b * b);
    Some(f64::midpoint(erfc(a), within.exp() * erfc((1.0 - a * b) / b)))
}

/// The distance over which shadowing falls to 1/e of its likeness, from a likeness `epsilon` found at `reference`
/// (M. Gudmundson 1991, Electronics Letters 27(23):2145-2146).
pub fn decorrelation_distance(epsilon: f64, reference: Metres) -> Option<Metres> {
    if !(epsilon > 0.0 && epsilon < 1.0) {
        return None;
    }
    Some(Metres(-positive(reference.0)? / epsilon.ln()))
}

/// How alike the shadowing is at two places `apart`: `exp(-d / d_c)` (same source).
pub fn correlation(decorrelation: Metres, apart: Metres) -> Option<f64> {
    Some((-not_negative(apart.0)? / positive(decorrelation.0)?).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn margin_undoes_covered() {
        for share in [0.01, 0.5, 0.9, 0.999] {
            let back = covered(margin(share, Db(6.0)).unwrap(), Db(6.0)).unwrap();
            assert!((back - share).abs() < 1e-9, "{share} {back}");
        }
        assert_eq!(covered(Db(1.0), Db(0.0)), Some(1.0));
        assert_eq!(margin(1.0, Db(6.0)), None);
        assert_eq!(margin(0.5, Db(-1.0)), None);
        assert_eq!(correlation(Metres(0.0), Metres(1.0)), None);
    }
}
