//! One edge across the path: a wall, a roof ridge, the brow of a hill.

use std::f64::consts::{FRAC_PI_2, PI, SQRT_2};

use nalgebra::Complex;

use super::Published;
use super::published::positive;
use crate::link::wavelength;
use crate::units::{Db, Megahertz, Metres};

/// The formula and its source.
pub const PUBLISHED: Published = Published {
    formula: "v = h sqrt(2 (1/d1 + 1/d2) / wavelength); J(v) = -20 log10(|(1 - C - S, C - S)| / 2) dB, C and S the Fresnel \
              integrals of v",
    source: "Rec. ITU-R P.526-15 (2019), 4.1",
};

/// The edge's height over the line of sight as a number without unit, v = h √(2 (1/d1 + 1/d2) / λ).
///
/// `height` is positive where the edge stands above the line between the aerials; `d1` and `d2` are its distances from them.
pub fn parameter(frequency: Megahertz, height: Metres, d1: Metres, d2: Metres) -> Option<f64> {
    let lambda = wavelength(frequency)?.0;
    let (d1, d2) = (positive(d1.0)?, positive(d2.0)?);
    let v = height.0 * (2.0 / lambda * (1.0 / d1 + 1.0 / d2)).sqrt();
    v.is_finite().then_some(v)
}

/// The loss an edge adds, from Fresnel's integrals: exact for a half plane across the path.
///
/// Negative (a gain, of 1.4 dB at most) where the edge leaves a whole zone clear and its wave falls in step. `None` when `v`
/// is not finite.
pub fn loss(v: f64) -> Option<Db> {
    if !v.is_finite() {
        return None;
    }
    // (1 - C - S)² + (C - S)² = 2 [(½ - C)² + (½ - S)²], which does not cancel far behind the edge.
    Some(Db(-20.0 * (shadow(v).norm() / SQRT_2).log10()))
}

/// The usual approximation, 6.9 + 20 log10(√((v - 0.1)² + 1) + v - 0.1) for v above -0.78, 0 dB below (same source, same
/// section). Within 0.13 dB of [`loss`] from -0.5 to 5; it leaves out the ripples of a clear path.
pub fn approximate_loss(v: f64) -> Option<Db> {
    if !v.is_finite() {
        return None;
    }
    if v <= -0.78 {
        return Some(Db(0.0));
    }
    let w = v - 0.1;
    Some(Db(6.9 + 20.0 * (w.hypot(1.0) + w).log10()))
}

/// An older approximation in five pieces (W. C. Y. Lee, Mobile Communications Engineering, 1982), kept for comparison with
/// figures that were worked out by it.
pub fn lee_loss(v: f64) -> Option<Db> {
    if !v.is_finite() {
        return None;
    }
    let amplitude = if v <= -1.0 {
        1.0
    } else if v <= 0.0 {
        0.5 - 0.62 * v
    } else if v <= 1.0 {
        0.5 * (-0.95 * v).exp()
    } else if v <= 2.4 {
        0.4 - (0.1184 - (0.38 - 0.1 * v).powi(2)).sqrt()
    } else {
        0.225 / v
    };
    Some(Db(-20.0 * amplitude.log10()))
}

/// What is left of the two Fresnel integrals beyond `v`: (½ - C(v)) + i (½ - S(v)).
fn shadow(v: f64) -> Complex<f64> {
    const SERIES_UP_TO: f64 = 2.0;
    if v < -SERIES_UP_TO {
        Complex::new(1.0, 1.0) - tail(-v)
    } else if v <= SERIES_UP_TO {
        Complex::new(0.5, 0.5) - near(v)
    } else {
        tail(v)
    }
}

/// C(v) + i S(v) = Σ (i π/2)ⁿ v^(2n+1) / (n! (2n+1)); for |v| up to 2 the largest term is below 100, so some fourteen digits
/// are left.
fn near(v: f64) -> Complex<f64> {
    let step = Complex::new(0.0, FRAC_PI_2 * v * v);
    let mut power = Complex::new(v, 0.0);
    let mut sum = power;
    for n in 1..60u32 {
        power = power * step / f64::from(n);
        sum += power / f64::from(2 * n + 1);
    }
    sum
}

/// (½ - C) + i (½ - S) for v above 2, by the continued fraction of the complementary error function (Lentz's way of going
/// along it; W. H. Press et al., Numerical Recipes (2007), 6.8).
fn tail(v: f64) -> Complex<f64> {
    const TINY: f64 = 1e-300;
    let square = PI * v * v;
    if !square.is_finite() {
        return Complex::new(1.0 / (PI * v), 0.0);
    }
    let mut b = Complex::new(1.0, -square);
    let mut c = Complex::new(1.0 / TINY, 0.0);
    let mut d = b.inv();
    let mut h = d;
    let mut n = -1.0;
    for _ in 0..200 {
        n += 2.0;
        let a = -n * (n + 1.0);
        b += Complex::new(4.0, 0.0);
        d = (d * a + b).inv();
        c = b + c.inv() * a;
        let change = c * d;
        h *= change;
        if (change - Complex::new(1.0, 0.0)).norm() < 1e-15 {
            break;
        }
    }
    let half = square / 2.0;
    Complex::new(0.5, 0.5) * Complex::new(half.cos(), half.sin()) * (h * Complex::new(v, -v))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn series_and_fraction_meet() {
        let series = Complex::new(0.5, 0.5) - near(2.0);
        assert!((series - tail(2.0)).norm() < 1e-13, "{series} {}", tail(2.0));
    }

    #[test]
    fn the_approximation_and_the_ripples_keep_to_what_is_said_of_them() {
        for step in 0..=550 {
            let v = f64::from(step) / 100.0 - 0.5;
            let off = loss(v).unwrap().0 - approximate_loss(v).unwrap().0;
            assert!(off.abs() < 0.13, "{v}: {off}");
        }
        let most = (0..1000)
            .map(|step| -loss(-f64::from(step) / 100.0).unwrap().0)
            .fold(0.0, f64::max);
        assert!((1.3..1.4).contains(&most), "{most}");
    }

    #[test]
    fn far_behind_the_edge_each_doubling_costs_six_decibels() {
        let step = loss(2e6).unwrap().0 - loss(1e6).unwrap().0;
        assert!((step - 20.0 * 2f64.log10()).abs() < 1e-6, "{step}");
        assert!(loss(1e200).unwrap().0.is_finite());
        assert!(loss(-1e200).unwrap().0.abs() < 1e-9);
    }

    #[test]
    fn a_grazing_edge_takes_half_the_field() {
        assert!((loss(0.0).unwrap().0 - 20.0 * 2f64.log10()).abs() < 1e-12);
        assert_eq!(loss(f64::NAN), None);
        assert_eq!(approximate_loss(f64::INFINITY), None);
    }
}
