//! How much further one board reaches than another.

use super::proportions::Interval;
use super::special::{normal_quantile, student_t_quantile};

/// How many times as far one board reaches as another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RangeRatio {
    /// The estimate.
    pub ratio: f64,
    /// Its limits.
    pub interval: Interval,
}

/// Returns the ratio of ranges 10^(difference / (10 n)) for boards `estimate_db` +- `standard_error_db` apart (with
/// `degrees` of freedom) where level falls with 10 n dB a decade of distance, n being `exponent` +- `exponent_sd`.
///
/// Limits after Fieller 1954, J. Royal Statistical Society B 16:175-185: Student's quantile for the difference, the normal
/// for n. `None` when n is not clearly above 0 at this confidence, or an argument is out of range.
pub fn range_ratio(
    estimate_db: f64,
    standard_error_db: f64,
    degrees: f64,
    exponent: f64,
    exponent_sd: f64,
    confidence: f64,
) -> Option<RangeRatio> {
    if !(confidence > 0.0 && confidence < 1.0 && standard_error_db >= 0.0 && exponent_sd >= 0.0) {
        return None;
    }
    let upper = 0.5 + 0.5 * confidence;
    let reach = student_t_quantile(upper, degrees)? * standard_error_db;
    let slack = normal_quantile(upper)? * exponent_sd;
    // (d - r n)^2 = reach^2 + r^2 slack^2, r being the tenfold logarithm of the ratio.
    let a = exponent * exponent - slack * slack;
    if !(a > 0.0 && exponent > 0.0) {
        return None;
    }
    let b = estimate_db * exponent;
    let root = (b * b - a * (estimate_db * estimate_db - reach * reach))
        .max(0.0)
        .sqrt();
    let ratio = |r: f64| 10_f64.powf(0.1 * r);
    let result = RangeRatio {
        ratio: ratio(estimate_db / exponent),
        interval: Interval {
            low: ratio((b - root) / a),
            high: ratio((b + root) / a),
        },
    };
    (result.ratio.is_finite() && result.interval.high.is_finite()).then_some(result)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn six_db_at_square_law_doubles_the_range() {
        let r = range_ratio(20.0 * 2_f64.log10(), 1.0, 20.0, 2.0, 0.0, 0.95).unwrap();
        assert!((r.ratio - 2.0).abs() < 1e-12);
        // Without doubt about n the limits are those of the difference.
        let t = student_t_quantile(0.975, 20.0).unwrap();
        assert!((r.interval.high / 2.0 - 10_f64.powf(t / 20.0)).abs() < 1e-12);
        assert!((r.interval.low / 2.0 - 10_f64.powf(-t / 20.0)).abs() < 1e-12);
        let wide = range_ratio(6.0, 1.0, 20.0, 2.9, 0.5, 0.95).unwrap();
        assert!(wide.interval.low < wide.ratio && wide.ratio < wide.interval.high);
        assert_eq!(range_ratio(6.0, 1.0, 20.0, 2.0, 1.1, 0.95), None);
        assert_eq!(range_ratio(6.0, f64::NAN, 20.0, 2.0, 0.1, 0.95), None);
    }
}
