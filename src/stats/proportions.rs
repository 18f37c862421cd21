//! Intervals for a delivery rate, and for the difference of two.
//!
//! Counts here are taken as independent; [`super::burst`] brings counts that come in bursts to this form first. An interval
//! is given on the rate itself, 0 to 1.

use super::special::{beta_quantile, normal_quantile};

/// A lower and an upper limit, in the unit of what they bound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

impl Interval {
    /// The distance from the lower to the upper limit.
    pub fn width(self) -> f64 {
        self.high - self.low
    }

    /// Whether `value` lies between the limits or on one.
    pub fn holds(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }
}

/// Returns the normal quantile that leaves half of 1 - `confidence` above it; `None` unless 0 < confidence < 1.
pub fn two_sided_z(confidence: f64) -> Option<f64> {
    if confidence > 0.0 && confidence < 1.0 {
        normal_quantile(0.5 + 0.5 * confidence)
    } else {
        None
    }
}

/// Returns the score interval for `k` of `n` (Wilson 1927, J. American Statistical Association 22:209-212).
///
/// `None` unless 0 <= k <= n, n >= 1 and 0 < confidence < 1. At k = 0 the lower limit is exactly 0, at k = n the upper is 1.
pub fn wilson(k: u64, n: u64, confidence: f64) -> Option<Interval> {
    let z = two_sided_z(confidence)?;
    if n == 0 || k > n {
        return None;
    }
    wilson_at(k as f64, n as f64, z)
}

/// Returns the score interval on counts that need not be whole, with the quantile `z` given: for effective counts.
///
/// `None` unless 0 <= k <= n, n > 0 and z >= 0 are finite.
pub fn wilson_at(k: f64, n: f64, z: f64) -> Option<Interval> {
    if !(n > 0.0 && n.is_finite() && (0.0..=n).contains(&k) && z >= 0.0 && z.is_finite()) {
        return None;
    }
    let p = k / n;
    let z2n = z * z / n;
    let centre = (p + 0.5 * z2n) / (1.0 + z2n);
    let half = z / (1.0 + z2n) * (p * (1.0 - p) / n + 0.25 * z2n / n).sqrt();
    Some(Interval {
        low: if k == 0.0 { 0.0 } else { (centre - half).max(0.0) },
        high: if k == n { 1.0 } else { (centre + half).min(1.0) },
    })
}

/// Returns the exact interval (Clopper & Pearson 1934, Biometrika 26:404-413): never below its nominal coverage.
///
/// Conditions as for [`wilson`].
pub fn clopper_pearson(k: u64, n: u64, confidence: f64) -> Option<Interval> {
    let tail = tail_of(k, n, confidence)?;
    let (kept, lost) = (k as f64, (n - k) as f64);
    Some(Interval {
        low: if k == 0 {
            0.0
        } else {
            beta_quantile(kept, lost + 1.0, tail)?.x
        },
        high: if k == n {
            1.0
        } else {
            beta_quantile(lost, kept + 1.0, tail)?.complement
        },
    })
}

/// Returns the equal-tailed interval under the prior Beta(1/2, 1/2) (Brown and others 2001, Statistical Science
/// 16:101-133, section 3.1.3), as plain quantiles: not widened to 0 or 1 at k = 0 or n.
///
/// Conditions as for [`wilson`].
pub fn jeffreys(k: u64, n: u64, confidence: f64) -> Option<Interval> {
    let tail = tail_of(k, n, confidence)?;
    let (a, b) = (k as f64 + 0.5, (n - k) as f64 + 0.5);
    Some(Interval {
        low: beta_quantile(a, b, tail)?.x,
        high: beta_quantile(b, a, tail)?.complement,
    })
}

/// Returns the adjusted normal interval with z squared added trials, half of them kept (Agresti & Coull 1998, The American
/// Statistician 52:119-126, in the form of Brown and others 2001), cut to 0 and 1.
///
/// Conditions as for [`wilson`].
pub fn agresti_coull(k: u64, n: u64, confidence: f64) -> Option<Interval> {
    let z = two_sided_z(confidence)?;
    tail_of(k, n, confidence)?;
    let trials = n as f64 + z * z;
    let p = (k as f64 + 0.5 * z * z) / trials;
    let half = z * (p * (1.0 - p) / trials).sqrt();
    Some(Interval {
        low: (p - half).max(0.0),
        high: (p + half).min(1.0),
    })
}

/// Returns the interval of p1 - p2 from two score intervals (Newcombe 1998, Statistics in Medicine 17:873-890, method 10).
///
/// Conditions for each pair as for [`wilson`]. The limits lie in -1 to 1; positive: the first delivers more.
pub fn newcombe_difference(first: (u64, u64), second: (u64, u64), confidence: f64) -> Option<Interval> {
    let (a, b) = (
        wilson(first.0, first.1, confidence)?,
        wilson(second.0, second.1, confidence)?,
    );
    let p1 = first.0 as f64 / first.1 as f64;
    let p2 = second.0 as f64 / second.1 as f64;
    let difference = p1 - p2;
    Some(Interval {
        low: difference - (p1 - a.low).hypot(b.high - p2),
        high: difference + (a.high - p1).hypot(p2 - b.low),
    })
}

/// Returns how many independent observations `n` correlated ones are worth: `n / (1 + 2 sum (1 - k/n) rho_k)`.
///
/// `correlations` are those at lag 1, 2, ...; those from lag `n` on are not used. Bartlett 1935, J. Royal Statistical Society
/// 98:536-543. `None` for n <= 0 or when the sum is not positive. Negative correlations
/// give more than `n`.
pub fn effective_count(n: f64, correlations: impl IntoIterator<Item = f64>) -> Option<f64> {
    if !(n > 0.0 && n.is_finite()) {
        return None;
    }
    let mut inflation = 1.0;
    let mut lag = 0.0;
    for rho in correlations {
        lag += 1.0;
        if lag >= n {
            break;
        }
        inflation += 2.0 * rho * (1.0 - lag / n);
    }
    (inflation > 0.0).then(|| n / inflation)
}

fn tail_of(k: u64, n: u64, confidence: f64) -> Option<f64> {
    (n > 0 && k <= n && confidence > 0.0 && confidence < 1.0).then_some(0.5 - 0.5 * confidence)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_exact_and_nonsense_is_none() {
        assert_eq!(wilson(0, 7, 0.95).unwrap().low, 0.0);
        assert_eq!(wilson(7, 7, 0.95).unwrap().high, 1.0);
        assert_eq!(wilson(0, 0, 0.95), None);
        assert_eq!(wilson(8, 7, 0.95), None);
        assert_eq!(wilson(3, 7, 1.0), None);
        assert_eq!(wilson(3, 7, f64::NAN), None);
        assert_eq!(wilson_at(f64::NAN, 7.0, 1.0), None);
        assert_eq!(clopper_pearson(1, 0, 0.95), None);
    }

    #[test]
    fn a_million_exchanges_give_a_narrow_interval() {
        for interval in [
            wilson(950_000, 1_000_000, 0.95).unwrap(),
            clopper_pearson(950_000, 1_000_000, 0.95).unwrap(),
            jeffreys(950_000, 1_000_000, 0.95).unwrap(),
        ] {
            assert!(interval.holds(0.95));
            // 2 * 1.96 * sqrt(0.95 * 0.05 / 1e6), to the 1 % by which the methods differ.
            assert!((interval.width() - 8.543e-4).abs() < 1e-5, "{}", interval.width());
        }
    }
}
