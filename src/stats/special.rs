//! The few special functions and quantiles every estimate leans on.
//!
//! All are total: an argument outside a function's range gives `None` or a stated limit, never a panic.

use statrs::function::{erf, gamma};

/// Returns the standard normal distribution function at `z`, in 0 to 1 (relative error below 1e-10, in the lower tail too).
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erf::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// Returns the standard normal density at `z`.
pub fn normal_pdf(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// Returns the standard normal quantile of `p`; minus infinity at 0, plus infinity at 1, `None` outside.
pub fn normal_quantile(p: f64) -> Option<f64> {
    if !(0.0..=1.0).contains(&p) {
        return None;
    }
    if p == 0.0 {
        return Some(f64::NEG_INFINITY);
    }
    if p == 1.0 {
        return Some(f64::INFINITY);
    }
    Some(-std::f64::consts::SQRT_2 * erf::erfc_inv(2.0 * p))
}

/// Returns `1 / (1 + exp(-x))`.
pub fn logistic(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + (-x).exp())
    } else {
        let e = x.exp();
        e / (1.0 + e)
    }
}

/// Returns ln(p / (1 - p)), infinite at the ends; `None` outside 0 to 1.
pub fn logit(p: f64) -> Option<f64> {
    (0.0..=1.0).contains(&p).then(|| p.ln() - (-p).ln_1p())
}

/// Returns ln B(a, b), the logarithm of the complete beta function, for a, b > 0.
pub fn ln_beta(a: f64, b: f64) -> f64 {
    gamma::ln_gamma(a) + gamma::ln_gamma(b) - gamma::ln_gamma(a + b)
}

/// Both tails of a distribution at one place, each computed without subtracting the other from 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tails {
    /// Probability below.
    pub lower: f64,
    /// Probability above.
    pub upper: f64,
}

/// Returns the regularised incomplete beta function `I_x(a, b)` and its complement; `None` unless a, b lie in
/// 1e-8 to 1e8 and x in 0 to 1.
///
/// Continued fraction of Abramowitz & Stegun 1964, 26.5.8, evaluated by Lentz's method; the number of terms grows as the
/// square root of the larger parameter and is capped at 200,000.
pub fn beta_tails(a: f64, b: f64, x: f64) -> Option<Tails> {
    if !(beta_parameter(a) && beta_parameter(b) && (0.0..=1.0).contains(&x)) {
        return None;
    }
    Some(beta_tails_at(a, b, x, 1.0 - x))
}

fn beta_parameter(a: f64) -> bool {
    (1e-8..=1e8).contains(&a)
}

/// As [`beta_tails`], with `y` = 1 - `x` given apart so that neither end loses digits. Parameters are taken as checked.
fn beta_tails_at(a: f64, b: f64, x: f64, y: f64) -> Tails {
    if x <= 0.0 {
        return Tails { lower: 0.0, upper: 1.0 };
    }
    if y <= 0.0 {
        return Tails { lower: 1.0, upper: 0.0 };
    }
    let front = (a * x.ln() + b * y.ln() - ln_beta(a, b)).exp();
    if x < (a + 1.0) / (a + b + 2.0) {
        let lower = (front * beta_fraction(a, b, x) / a).clamp(0.0, 1.0);
        Tails {
            lower,
            upper: 1.0 - lower,
        }
    } else {
        let upper = (front * beta_fraction(b, a, y) / b).clamp(0.0, 1.0);
        Tails {
            lower: 1.0 - upper,
            upper,
        }
    }
}

fn beta_fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let guard = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / guard(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for i in 1..200_000 {
        let m = f64::from(i);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / guard(1.0 + even * d);
        c = guard(1.0 + even / c);
        value *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / guard(1.0 + odd * d);
        c = guard(1.0 + odd / c);
        let change = d * c;
        value *= change;
        if (change - 1.0).abs() < 1e-15 {
            break;
        }
    }
    value
}

/// A quantile of a distribution on 0 to 1, kept with its distance from 1 so that neither end loses digits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UnitQuantile {
    /// The quantile.
    pub x: f64,
    /// One minus the quantile.
    pub complement: f64,
}

/// Returns the quantile of the Beta(a, b) distribution at probability `p`; `None` unless a, b lie in 1e-8 to
/// 1e8 and p in 0 to 1.
///
/// Newton's method on ln x (or on ln(1 - x), whichever end is nearer), kept inside a shrinking bracket: at most 200
/// evaluations, relative error below 1e-9 (that of `ln_gamma` beneath it). A quantile below 1e-300 is given as 0.
pub fn beta_quantile(a: f64, b: f64, p: f64) -> Option<UnitQuantile> {
    if !(beta_parameter(a) && beta_parameter(b) && (0.0..=1.0).contains(&p)) {
        return None;
    }
    if p == 0.0 || p == 1.0 {
        return Some(UnitQuantile {
            x: p,
            complement: 1.0 - p,
        });
    }
    let half = beta_tails_at(a, b, 0.5, 0.5);
    Some(if p <= half.lower {
        let x = small_beta_quantile(a, b, p);
        UnitQuantile { x, complement: 1.0 - x }
    } else {
        let y = small_beta_quantile(b, a, 1.0 - p);
        UnitQuantile {
            x: 1.0 - y,
            complement: y,
        }
    })
}

/// The quantile known to lie in 0 to 1/2.
fn small_beta_quantile(a: f64, b: f64, p: f64) -> f64 {
    let (mut low, mut high) = (1e-300_f64.ln(), 0.5_f64.ln());
    let constant = ln_beta(a, b);
    // Near zero I_x is x^a / (a B(a, b)): a first guess that is exact for tiny quantiles.
    let mut t = ((p.ln() + a.ln() + constant) / a).clamp(low, high);
    for _ in 0..200 {
        let x = t.exp();
        let y = 1.0 - x;
        let miss = beta_tails_at(a, b, x, y).lower - p;
        if miss > 0.0 {
            high = t;
        } else {
            low = t;
        }
        let slope = (a * t + (b - 1.0) * y.ln() - constant).exp();
        let newton = t - miss / slope;
        let next = if newton > low && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
        if (next - t).abs() < 1e-14 * t.abs().max(1.0) {
            t = next;
            break;
        }
        t = next;
    }
    if t <= 1e-299_f64.ln() { 0.0 } else { t.exp() }
}

/// Returns the t such that a Student variable with `df` degrees of freedom (any positive number) lies below it with
/// probability `p`; `None` unless df >= 2e-8 and 0 < p < 1. Infinite `df` gives the normal quantile.
pub fn student_t_quantile(p: f64, df: f64) -> Option<f64> {
    if df.is_nan() || df <= 0.0 || !(p > 0.0 && p < 1.0) {
        return None;
    }
    if df > 1e7 {
        // Abramowitz & Stegun 1964, 26.7.5: the next term is below 1e-13 here.
        let z = normal_quantile(p)?;
        return Some(z + (z.powi(3) + z) / (4.0 * df));
    }
    let inside = (2.0 * p - 1.0).abs();
    let q = beta_quantile(0.5, 0.5 * df, inside)?;
    let t = (df * q.x / q.complement).sqrt();
    Some(if p < 0.5 { -t } else { t })
}

/// Returns the quantile of chi-squared with `df` degrees of freedom at probability `p`; `None` unless df > 0 and
/// 0 < p < 1. Bisection, relative error about 1e-11.
pub fn chi_squared_quantile(p: f64, df: f64) -> Option<f64> {
    if !(df > 0.0 && df.is_finite() && p > 0.0 && p < 1.0) {
        return None;
    }
    let a = 0.5 * df;
    // Wilson & Hilferty 1931 gives the neighbourhood; the bracket is opened until it holds the quantile.
    let z = normal_quantile(p)?;
    let h = 2.0 / (9.0 * df);
    let guess = (df * (1.0 - h + z * h.sqrt()).powi(3)).max(1e-3 * df);
    if df > 1e6 {
        // Wilson & Hilferty's error is below 1e-9 of the quantile from here on.
        return Some(guess);
    }
    let below = |x: f64| gamma::checked_gamma_lr(a, 0.5 * x).unwrap_or(0.0) < p;
    let (mut low, mut high) = (guess, guess);
    for _ in 0..1000 {
        if below(low) || low < 1e-290 {
            break;
        }
        low *= 0.5;
    }
    for _ in 0..1000 {
        if !below(high) {
            break;
        }
        high *= 2.0;
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if below(middle) {
            low = middle;
        } else {
            high = middle;
        }
        if high - low <= 1e-15 * high {
            break;
        }
    }
    Some(0.5 * (low + high))
}

/// Returns exp(-z) I0(z), the scaled modified Bessel function of order zero, for z >= 0.
///
/// Power series below 20 (all terms positive), the asymptotic expansion above (Abramowitz & Stegun 1964, 9.6.12 and
/// 9.7.1); both reach double precision there.
pub fn bessel_i0_scaled(z: f64) -> f64 {
    let z = z.abs();
    if z < 20.0 {
        let q = 0.25 * z * z;
        let (mut term, mut sum) = (1.0, 1.0);
        for k in 1..100 {
            term *= q / f64::from(k * k);
            sum += term;
            if term < 1e-17 * sum {
                break;
            }
        }
        sum * (-z).exp()
    } else {
        let (mut term, mut sum) = (1.0, 1.0);
        for k in 1..40 {
            let odd = f64::from(2 * k - 1);
            term *= odd * odd / (8.0 * f64::from(k) * z);
            sum += term;
            if term < 1e-17 * sum {
                break;
            }
        }
        sum / (2.0 * std::f64::consts::PI * z).sqrt()
    }
}

/// Returns the value at `x` of the broken line through (`xs`, `ys`), level beyond its ends; `xs` must not decrease.
/// `None` for an empty line.
pub fn interpolate(x: f64, xs: &[f64], ys: &[f64]) -> Option<f64> {
    let n = xs.len().min(ys.len());
    let (first, last) = (*ys.first()?, *ys.get(n.checked_sub(1)?)?);
    let above = xs[..n].partition_point(|&v| v <= x);
    if above == 0 {
        return Some(first);
    }
    if above == n {
        return Some(last);
    }
    let (x0, x1, y0, y1) = (xs[above - 1], xs[above], ys[above - 1], ys[above]);
    Some(y0 + (y1 - y0) * (x - x0) / (x1 - x0))
}

/// Returns running sums of `weights` divided by their total; empty when the total is not a positive number.
pub fn cumulative(weights: &[f64]) -> Vec<f64> {
    let total: f64 = weights.iter().sum();
    if !(total > 0.0 && total.is_finite()) {
        return Vec::new();
    }
    let mut sum = 0.0;
    weights
        .iter()
        .map(|w| {
            sum += w / total;
            sum
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64, relative: f64) {
        assert!((a - b).abs() <= relative * b.abs(), "{a} is not {b}");
    }

    #[test]
    fn normal_values() {
        // Abramowitz & Stegun 1964, table 26.1, and the usual percentage points.
        close(normal_cdf(1.0), 0.841_344_746_068_543, 1e-10);
        close(normal_cdf(-6.0), 9.865_876_450_376_98e-10, 1e-10);
        close(normal_quantile(0.975).unwrap(), 1.959_963_984_540_054, 1e-10);
        close(normal_quantile(0.05).unwrap(), -1.644_853_626_951_472, 1e-10);
        assert_eq!(normal_quantile(0.0), Some(f64::NEG_INFINITY));
        assert_eq!(normal_quantile(1.1), None);
    }

    #[test]
    fn incomplete_beta_against_closed_forms() {
        // I_x(1, b) = 1 - (1 - x)^b and I_x(a, 1) = x^a; I_x(1/2, 1/2) = (2/pi) asin sqrt x.
        close(beta_tails(1.0, 7.5, 0.2).unwrap().lower, 1.0 - 0.8_f64.powf(7.5), 1e-13);
        close(beta_tails(40.0, 1.0, 0.2).unwrap().lower, 0.2_f64.powi(40), 1e-12);
        close(
            beta_tails(0.5, 0.5, 0.95).unwrap().upper,
            1.0 - 2.0 / std::f64::consts::PI * 0.95_f64.sqrt().asin(),
            1e-12,
        );
        assert_eq!(beta_tails(0.0, 1.0, 0.5), None);
        assert_eq!(beta_tails(1.0, 1.0, f64::NAN), None);
    }

    #[test]
    fn incomplete_beta_converges_for_a_million() {
        // Symmetric parameters at the middle: exactly a half.
        close(beta_tails(1e6, 1e6, 0.5).unwrap().lower, 0.5, 1e-8);
        // Normal approximation far inside its range: mean 0.9, sd sqrt(0.09/1e6).
        let sd = (0.09_f64 / 1e6).sqrt();
        let t = beta_tails(900_000.0, 100_000.0, 0.9 - sd).unwrap();
        close(t.lower, normal_cdf(-1.0), 2e-3);
    }

    #[test]
    fn beta_quantiles_return_to_their_probability() {
        for &(a, b) in &[(0.5, 0.5), (0.16, 7.84), (5.0, 95.5), (3000.0, 20.0), (1e6, 3e5)] {
            for &p in &[1e-6, 0.025, 0.3, 0.5, 0.9, 0.975, 1.0 - 1e-6] {
                let q = beta_quantile(a, b, p).unwrap();
                let back = beta_tails_at(a, b, q.x, q.complement);
                let (got, wanted) = if p > 0.5 {
                    (back.upper, 1.0 - p)
                } else {
                    (back.lower, p)
                };
                close(got, wanted, 1e-7);
            }
        }
        close(beta_quantile(2.0, 1.0, 0.25).unwrap().x, 0.5, 1e-13);
    }

    #[test]
    fn student_values() {
        // Fisher & Yates' table of t: 1 df 12.706, 10 df 2.2281, 30 df 2.0423 (two-sided 5 %).
        close(student_t_quantile(0.975, 1.0).unwrap(), 12.706_204_736_174_7, 1e-10);
        close(student_t_quantile(0.975, 10.0).unwrap(), 2.228_138_851_964_94, 1e-10);
        close(student_t_quantile(0.025, 30.0).unwrap(), -2.042_272_456_301_24, 1e-10);
        assert_eq!(student_t_quantile(0.975, 0.0), None);
    }

    #[test]
    fn chi_squared_values() {
        // 95 % points: 1 df 3.841459, 10 df 18.307038; 2 df is -2 ln(1 - p).
        close(chi_squared_quantile(0.95, 1.0).unwrap(), 3.841_458_820_694_12, 1e-11);
        close(chi_squared_quantile(0.95, 10.0).unwrap(), 18.307_038_053_275_1, 1e-11);
        close(
            chi_squared_quantile(0.0125, 2.0).unwrap(),
            -2.0 * (0.9875_f64).ln(),
            1e-11,
        );
    }

    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig::with_cases(64))]
        #[test]
        fn any_number_gives_a_value_in_range_or_none(
            a in proptest::num::f64::ANY, b in proptest::num::f64::ANY, p in proptest::num::f64::ANY, q in 0.0..=1.0_f64,
        ) {
            for (a, b) in [(a, b), (a.abs() % 1e9, b.abs() % 1e9), (a.abs() % 10.0, b.abs() % 1e3)] {
                for p in [p, q] {
                    if let Some(t) = beta_tails(a, b, p) {
                        assert!((0.0..=1.0).contains(&t.lower) && (0.0..=1.0).contains(&t.upper), "{a} {b} {p}: {t:?}");
                    }
                    if let Some(x) = beta_quantile(a, b, p) {
                        assert!((0.0..=1.0).contains(&x.x) && (0.0..=1.0).contains(&x.complement), "{a} {b} {p}: {x:?}");
                    }
                    assert!(student_t_quantile(p, a).is_none_or(|t| !t.is_nan()), "{p} {a}");
                    assert!(chi_squared_quantile(p, a).is_none_or(|x| x >= 0.0), "{p} {a}");
                    assert!(normal_quantile(p).is_none_or(|x| !x.is_nan()), "{p}");
                }
            }
        }
    }

    #[test]
    fn bessel_values() {
        // I0(1) and I0(10) from the defining series in exact rationals; both branches meet at 20.
        close(bessel_i0_scaled(1.0) * 1.0_f64.exp(), 1.266_065_877_752_008, 1e-14);
        close(bessel_i0_scaled(10.0) * 10.0_f64.exp(), 2_815.716_628_466_254, 1e-14);
        close(bessel_i0_scaled(20.0 - 1e-9), bessel_i0_scaled(20.0), 1e-10);
    }

    #[test]
    fn broken_line() {
        let (x, y) = ([0.0, 1.0, 1.0, 2.0], [0.0, 10.0, 20.0, 30.0]);
        assert_eq!(interpolate(-1.0, &x, &y), Some(0.0));
        assert_eq!(interpolate(0.5, &x, &y), Some(5.0));
        assert_eq!(interpolate(9.0, &x, &y), Some(30.0));
        assert_eq!(interpolate(0.0, &[], &[]), None);
        assert_eq!(cumulative(&[1.0, 3.0]), vec![0.25, 1.0]);
        assert!(cumulative(&[0.0]).is_empty());
    }
}
