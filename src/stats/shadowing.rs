//! Log-normal shadowing: margins, covered areas, and how fast it changes along a walk.

use statrs::function::erf::erfc;

use super::special::normal_quantile;

/// Returns the margin over the median level, dB, that makes a share `coverage` of places of one kind good, their levels
/// scattering with `sigma_db`; negative below one half. `None` unless 0 < coverage < 1 and sigma >= 0.
pub fn shadow_margin_db(coverage: f64, sigma_db: f64) -> Option<f64> {
    (coverage > 0.0 && coverage < 1.0 && sigma_db >= 0.0)
        .then(|| normal_quantile(coverage).map(|z| z * sigma_db))
        .flatten()
}

/// Returns the share of a disc's area that is good when a share `edge` of its rim is, level falling with 10 n dB a decade and
/// scattering with `sigma_db`; `None` unless 0 < edge < 1, sigma > 0 and n > 0.
///
/// Reudink in Jakes (ed.) 1974, Microwave Mobile Communications, section 2.5.
pub fn area_from_edge(edge: f64, sigma_db: f64, exponent: f64) -> Option<f64> {
    if !(edge > 0.0 && edge < 1.0 && sigma_db > 0.0 && exponent > 0.0) {
        return None;
    }
    // a = -z / sqrt 2: the margin at the rim; b: the fall of level over one e-fold of distance, both over sigma sqrt 2.
    let a = -normal_quantile(edge)? / std::f64::consts::SQRT_2;
    let b = 10.0 * exponent * std::f64::consts::LOG10_E / (sigma_db * std::f64::consts::SQRT_2);
    // The usual 1 - erf(...) as erfc, which keeps its digits when multiplied by a large exponential.
    Some(0.5 * (erfc(a) + ((1.0 - 2.0 * a * b) / (b * b)).exp() * erfc((1.0 - a * b) / b)))
}

/// Returns the correlation of shadowing at two places `apart_m` from each other, exp(-distance / `decorrelation_m`); `None`
/// unless the first is at least 0 and the second above 0.
///
/// Gudmundson 1991, Electronics Letters 27:2145-2146.
pub fn shadow_correlation(apart_m: f64, decorrelation_m: f64) -> Option<f64> {
    (apart_m >= 0.0 && decorrelation_m > 0.0).then(|| (-apart_m / decorrelation_m).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_area_is_better_than_its_rim() {
        for edge in [0.1, 0.5, 0.9, 0.99] {
            let area = area_from_edge(edge, 6.0, 3.0).unwrap();
            assert!(area > edge && area < 1.0, "{edge}: {area}");
        }
        assert_eq!(area_from_edge(1.0, 6.0, 3.0), None);
        assert_eq!(shadow_margin_db(0.9, f64::NAN), None);
        assert_eq!(shadow_correlation(-1.0, 10.0), None);
    }
}
