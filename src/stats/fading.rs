//! Rician and Rayleigh fading of received power, and what samples of it say.
//!
//! K is the steady over the scattered power, in dB; minus infinity is Rayleigh. Fades are in dB about the local mean power,
//! negative below it. Rec. ITU-R P.1057 sections 4 and 5 give the same distributions.

use statrs::function::gamma::{checked_gamma_lr, ln_gamma};

use super::proportions::Interval;
use super::special::chi_squared_quantile;

/// Returns the probability that power is more than `-fade_db` below (for a negative fade) its local mean.
///
/// A Poisson mixture of gamma distributions (the non-central chi-squared with two degrees of freedom): all terms positive.
/// Valid for K up to 30 dB; `None` for more, or for NaN.
pub fn rician_below(fade_db: f64, k_db: f64) -> Option<f64> {
    if fade_db.is_nan() || k_db.is_nan() || k_db > 30.0 {
        return None;
    }
    let k = 10_f64.powf(0.1 * k_db);
    let x = (1.0 + k) * 10_f64.powf(0.1 * fade_db);
    if x <= 0.0 {
        return Some(0.0);
    }
    if x > 1e6 {
        return Some(1.0);
    }
    if k == 0.0 {
        return Some(-(-x).exp_m1());
    }
    let last = (k + 12.0 * k.sqrt() + 30.0) as u32;
    // P(n + 1, x) for falling n: each step adds x^(n+1) e^-x / (n+1)!, so nothing cancels.
    let mut gamma = checked_gamma_lr(f64::from(last) + 1.0, x).ok()?;
    let mut sum = 0.0;
    for n in (0..=last).rev() {
        let n = f64::from(n);
        sum += (n * k.ln() - k - ln_gamma(n + 1.0)).exp() * gamma;
        gamma += (n * x.ln() - x - ln_gamma(n + 1.0)).exp();
    }
    Some(sum.min(1.0))
}

/// Returns the fade, dB about the mean power, that power stays below with probability `p`; `None` unless 0 < p < 1 and K is at
/// most 30 dB. Bisection between -300 and +30 dB to 1e-9 dB.
pub fn rician_fade(p: f64, k_db: f64) -> Option<f64> {
    if !(p > 0.0 && p < 1.0) {
        return None;
    }
    let (mut low, mut high) = (-300.0, 30.0);
    while high - low > 1e-9 {
        let middle = 0.5 * (low + high);
        if rician_below(middle, k_db)? < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// Returns the mean power of levels in dBm, averaged as power; `None` for none.
pub fn mean_power_dbm(levels_dbm: &[f64]) -> Option<f64> {
    if levels_dbm.is_empty() {
        return None;
    }
    let sum: f64 = levels_dbm.iter().map(|l| 10_f64.powf(0.1 * l)).sum();
    Some(10.0 * (sum / levels_dbm.len() as f64).log10())
}

/// Returns K (a ratio, not dB) from the mean and variance of received power, both in any one unit; 0 where the power varies as
/// much as Rayleigh or more, `None` where it does not vary at all or the mean is not positive.
///
/// Greenstein, Michelson & Erceg 1999, IEEE Communications Letters 3:175-176. For levels all received and independent; near
/// sensitivity use [`super::level`], which counts losses.
pub fn k_by_moments(mean: f64, variance: f64) -> Option<f64> {
    if !(mean > 0.0 && variance > 0.0 && variance.is_finite()) {
        return None;
    }
    let steady = (mean * mean - variance).max(0.0).sqrt();
    let k = steady / (mean - steady);
    k.is_finite().then_some(k)
}

/// Returns K (a ratio) from received powers, their variance with divisor n; conditions as for [`k_by_moments`].
pub fn k_of_powers(powers: &[f64]) -> Option<f64> {
    let n = powers.len() as f64;
    let mean = powers.iter().sum::<f64>() / n;
    let variance = powers.iter().map(|p| (p - mean).powi(2)).sum::<f64>() / n;
    k_by_moments(mean, variance)
}

/// Returns where the mean of `fades` independent Rayleigh powers lies about the true mean power, dB, with `confidence`; `None`
/// unless fades >= 1 and 0 < confidence < 1. The mean of n exponential powers is chi-squared with 2 n degrees over 2 n.
pub fn local_mean_error(fades: u32, confidence: f64) -> Option<Interval> {
    if !(fades >= 1 && confidence > 0.0 && confidence < 1.0) {
        return None;
    }
    let degrees = 2.0 * f64::from(fades);
    let at = |p: f64| Some(10.0 * (chi_squared_quantile(p, degrees)? / degrees).log10());
    Some(Interval {
        low: at(0.5 - 0.5 * confidence)?,
        high: at(0.5 + 0.5 * confidence)?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_of_the_distribution() {
        assert_eq!(rician_below(f64::NEG_INFINITY, 6.0), Some(0.0));
        assert_eq!(rician_below(80.0, 6.0), Some(1.0));
        assert_eq!(rician_below(0.0, f64::NAN), None);
        assert_eq!(rician_below(0.0, 31.0), None);
        assert!((rician_below(0.0, f64::NEG_INFINITY).unwrap() - (1.0 - (-1.0_f64).exp())).abs() < 1e-15);
        // A steady wave hardly varies: half its power lies near the mean.
        assert!((rician_fade(0.5, 30.0).unwrap()).abs() < 0.01);
        assert_eq!(rician_fade(1.0, 6.0), None);
    }

    #[test]
    fn small_k_meets_rayleigh() {
        for fade in [-30.0, -10.0, 0.0, 5.0] {
            let (a, b) = (
                rician_below(fade, -60.0).unwrap(),
                rician_below(fade, f64::NEG_INFINITY).unwrap(),
            );
            assert!((a - b).abs() < 1e-5 * b, "{fade}: {a} {b}");
        }
    }

    #[test]
    fn samples_that_say_nothing() {
        assert_eq!(k_of_powers(&[]), None);
        assert_eq!(k_of_powers(&[1.0, 1.0]), None);
        assert_eq!(mean_power_dbm(&[]), None);
        assert_eq!(local_mean_error(0, 0.9), None);
    }
}
