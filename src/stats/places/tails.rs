//! The two bell curves of the map: the normal for fading, Student's t with four degrees of freedom for the answer.

use statrs::function::erf::{erfc, erfc_inv};

/// The two-sided 90 % point of Student's t with four degrees of freedom.
pub const STUDENT4_90: f64 = 2.131_847;

/// The share of a standard normal variable that lies below `x` (no unit).
pub fn normal_below(x: f64) -> f64 {
    0.5 * erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

/// The standard normal value below which the share `p` lies; `None` unless 0 < `p` < 1.
pub fn normal_quantile(p: f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0) {
        return None;
    }
    let rough = -std::f64::consts::SQRT_2 * erfc_inv(2.0 * p);
    // The inverse is good to ten digits; one Newton step makes it as good as the share itself.
    let density = (-0.5 * rough * rough).exp() / std::f64::consts::TAU.sqrt();
    let step = (normal_below(rough) - p) / density;
    Some(if step.is_finite() { rough - step } else { rough })
}

/// The share of Student's t with four degrees of freedom below `x`, not rescaled to unit variance.
///
/// Closed form of the t distribution for four degrees of freedom (Abramowitz & Stegun 1964, 26.7.4, common practice).
/// Walls make the residuals of a survey heavy-tailed; four degrees of freedom keep 90 % intervals honest there.
pub fn student4_below(x: f64) -> f64 {
    if x.is_infinite() {
        return if x > 0.0 { 1.0 } else { 0.0 };
    }
    let a = 1.0 + x * x / 4.0;
    0.5 + 0.375 * x / a.sqrt() * (1.0 - x * x / (12.0 * a))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn student_tail_points_are_those_of_the_tables() {
        // Abramowitz & Stegun 1964, table 26.10, nu = 4 (from memory): 2.132 at 0.95, 2.776 at 0.975, 4.604 at 0.995.
        for (x, share) in [(2.132, 0.95), (2.776, 0.975), (4.604, 0.995)] {
            assert!((student4_below(x) - share).abs() < 2e-5, "{x}");
            assert!((student4_below(-x) - (1.0 - share)).abs() < 2e-5, "{x}");
        }
        assert!((student4_below(STUDENT4_90) - 0.95).abs() < 2e-8);
        assert_eq!(student4_below(f64::INFINITY), 1.0);
    }

    #[test]
    fn normal_quantile_undoes_the_share_below() {
        for p in [1e-9, 0.01, 0.5, 0.95, 0.999_999] {
            let x = normal_quantile(p).unwrap();
            assert!((normal_below(x) - p).abs() < 1e-14 + 1e-12 * p, "{p}");
        }
        // Abramowitz & Stegun 1964, table 26.5 (from memory).
        assert!((normal_quantile(0.975).unwrap() - 1.959_963_984_540_054).abs() < 1e-9);
        assert_eq!(normal_quantile(0.0), None);
        assert_eq!(normal_quantile(1.0), None);
        assert_eq!(normal_quantile(f64::NAN), None);
    }
}
