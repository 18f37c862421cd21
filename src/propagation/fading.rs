//! Fading over a few centimetres: how far below the local mean a level dips, and how often.

use statrs::function::gamma::gamma_lr;

use super::Published;
use super::published::not_negative;
use crate::units::Db;

/// The distribution and its source.
pub const PUBLISHED: Published = Published {
    formula: "level about its local mean follows Rice, K the steady over the scattered power; Rayleigh where K is 0",
    source: "Rec. ITU-R P.1057-7 (2022), 4 and 5; S. O. Rice (1945)",
};

/// Ratios of steady to scattered power beyond this are taken as this: a dip of 1 dB is then a matter of one in 10^20.
const STEADIEST: f64 = 10_000.0;

/// The share of places or moments whose power is below the local mean by more than `margin` (negative: above it).
///
/// `k` is steady over scattered power as a plain ratio, 0 for none (Rayleigh). `None` when it is negative or anything is not a
/// number.
pub fn outage(k: f64, margin: Db) -> Option<f64> {
    let k = not_negative(k)?.min(STEADIEST);
    if margin.0.is_nan() {
        return None;
    }
    let threshold = (1.0 + k) * 10f64.powf(-margin.0 / 10.0);
    if threshold.is_infinite() {
        return Some(1.0);
    }
    if threshold < f64::MIN_POSITIVE {
        return Some(0.0);
    }
    if k == 0.0 {
        return Some(-(-threshold).exp_m1());
    }
    // A noncentral chi-square as a Poisson mixture of gamma laws; the Poisson weights beyond ten deviations are below 1e-20.
    let reach = 10.0 * k.sqrt() + 20.0;
    let first = (k - reach).max(0.0).floor();
    let last = (k + reach).ceil();
    let mut sum = 0.0;
    let mut weight = (first * k.ln() - k - statrs::function::gamma::ln_gamma(first + 1.0)).exp();
    let mut j = first;
    while j <= last {
        sum += weight * gamma_lr(j + 1.0, threshold);
        j += 1.0;
        weight *= k / j;
    }
    Some(sum.clamp(0.0, 1.0))
}

/// How far the local mean must stand above a threshold so that the level is below it only the share `outage` of the time.
///
/// `outage` is above 0 and below 1. By bisection between -40 and 200 dB to 1e-9 dB; `None` where the answer lies outside.
pub fn margin(k: f64, share: f64) -> Option<Db> {
    if !(share > 0.0 && share < 1.0) {
        return None;
    }
    let (mut low, mut high) = (-40.0, 200.0);
    if outage(k, Db(low))? < share || outage(k, Db(high))? > share {
        return None;
    }
    while high - low > 1e-9 {
        let middle = f64::midpoint(low, high);
        if outage(k, Db(middle))? > share {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(Db(f64::midpoint(low, high)))
}

/// The same above the median instead of the mean.
pub fn margin_over_median(k: f64, share: f64) -> Option<Db> {
    Some(margin(k, share)? - margin(k, 0.5)?)
}

/// A ratio given in decibels as a plain one; minus infinity means none.
pub fn ratio(k: Db) -> f64 {
    10f64.powf(k.0 / 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_signal_hardly_dips() {
        assert!(outage(1e6, Db(1.0)).unwrap() < 1e-12);
        assert!(outage(1e6, Db(-1.0)).unwrap() > 1.0 - 1e-9);
    }

    #[test]
    fn the_ends_of_the_scale() {
        assert_eq!(outage(2.0, Db(f64::INFINITY)), Some(0.0));
        assert_eq!(outage(2.0, Db(f64::NEG_INFINITY)), Some(1.0));
        assert_eq!(outage(-1.0, Db(3.0)), None);
        assert_eq!(outage(2.0, Db(f64::NAN)), None);
        assert_eq!(margin(2.0, 0.0), None);
        assert_eq!(margin(2.0, 1.0), None);
    }

    #[test]
    fn margin_undoes_outage() {
        for k in [0.0, 1.0, 4.0, 30.0, 100.0] {
            let share = outage(k, margin(k, 0.05).unwrap()).unwrap();
            assert!((share - 0.05).abs() < 1e-9, "{k}: {share}");
        }
    }
}
