//! Handbook aerials: how much they radiate in each direction, how wide, and what crossed polarisations cost.
//!
//! Patterns are relative to the aerial's own strongest direction (0 dB there, negative elsewhere); directivities are
//! relative to an aerial radiating alike in all directions (dBi). Losses are positive. Balanis is C. A. Balanis,
//! *Antenna Theory*, 4th edition (2016).

use std::f64::consts::{FRAC_1_SQRT_2, PI};

use crate::units::{Db, Degrees};

/// An aerial with a published pattern.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Aerial {
    /// A thin straight centre-fed dipole, sinusoidal current (Balanis eq. 4-62). The angle is from its axis.
    Dipole(DipoleLength),
    /// A dipole far shorter than the wavelength, or by duality a small loop about its axis: U = sin²θ (Balanis sec. 4.2,
    /// 5.2). The angle is from the axis.
    Short,
    /// A directive element U = cosⁿθ over the forward half space, nothing behind (Balanis sec. 2.2). The angle is from
    /// the strongest direction.
    CosinePower(Exponent),
    /// The limaçon family, voltage a + (1 - a) cos φ: a = 1 round, ½ cardioid, ¼ hypercardioid, 0 figure of eight. The
    /// angle is from the strongest direction.
    Cardioid(RoundShare),
}

/// Length of a dipole in wavelengths, above 0 up to 1.25: beyond that the pattern splits and the broadside is no longer
/// the strongest direction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DipoleLength(f64);

/// The exponent n of a cosⁿ power pattern, above 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exponent(f64);

/// The round share a of a limaçon's voltage, 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundShare(f64);

impl DipoleLength {
    /// Half a wavelength, the usual resonant dipole.
    pub const HALF_WAVE: Self = Self(0.5);

    /// Checks a length in wavelengths; `None` outside its range.
    pub fn new(wavelengths: f64) -> Option<Self> {
        (wavelengths > 0.0 && wavelengths <= 1.25).then_some(Self(wavelengths))
    }
}

impl Exponent {
    /// Checks an exponent; `None` when it is not above 0 and finite.
    pub fn new(n: f64) -> Option<Self> {
        (n > 0.0 && n.is_finite()).then_some(Self(n))
    }
}

impl RoundShare {
    /// Half round, half figure of eight: nothing goes backwards.
    pub const CARDIOID: Self = Self(0.5);

    /// Checks a share; `None` outside 0 to 1.
    pub fn new(share: f64) -> Option<Self> {
        (0.0..=1.0).contains(&share).then_some(Self(share))
    }
}

impl Aerial {
    /// Power radiated towards an angle relative to the strongest direction: 0 dB there, negative infinity in a null.
    ///
    /// From which line the angle is counted is said with each aerial; any finite angle will do.
    pub fn relative_power(self, angle: Degrees) -> Db {
        Db(10.0 * self.intensity(angle.0.to_radians()).log10())
    }

    /// Width between the directions of half power (exactly ½, 3.0103 dB) either side of the strongest one, in the plane
    /// the angle lies in; `None` when the pattern never falls so far.
    pub fn half_power_beamwidth(self) -> Option<Degrees> {
        let half_width = match self {
            Self::Dipole(_) => PI / 2.0 - half_power_angle(|angle| self.intensity(angle)),
            Self::Short => PI / 4.0,
            Self::CosinePower(Exponent(n)) => 0.5_f64.powf(1.0 / n).acos(),
            Self::Cardioid(RoundShare(a)) => {
                let cosine = (FRAC_1_SQRT_2 - a) / (1.0 - a);
                // Rounder than a = 0.854 the back is within 3 dB of the front (a = 1 gives no number at all).
                let angle = cosine.acos();
                if angle.is_nan() {
                    return None;
                }
                angle
            }
        };
        Some(Degrees(2.0 * half_width.to_degrees()))
    }

    /// Greatest radiation over its average on the sphere, in dBi and free of loss.
    pub fn directivity(self) -> Db {
        let ratio = match self {
            Self::Dipole(_) => {
                // D = 2 / ∫ U sin θ dθ for a pattern round about its axis (Balanis eq. 2-22).
                2.0 / simpson(|angle| self.intensity(angle) * angle.sin(), 0.0, PI)
            }
            Self::Short => 1.5,
            Self::CosinePower(Exponent(n)) => 2.0 * (n + 1.0),
            Self::Cardioid(RoundShare(a)) => 1.0 / (a * a + (1.0 - a).powi(2) / 3.0),
        };
        Db(10.0 * ratio.log10())
    }

    /// Strongest radiation over that opposite: infinite for the aerials that radiate nothing backwards.
    ///
    /// IEEE Std 145-2013. A dipole or loop radiates alike on both sides of its axis: 0 dB.
    pub fn front_to_back(self) -> Db {
        match self {
            Self::Dipole(_) | Self::Short => Db(0.0),
            Self::CosinePower(_) | Self::Cardioid(_) => -self.relative_power(Degrees(180.0)),
        }
    }

    /// Radiation intensity towards an angle in radians, 1 in the strongest direction.
    fn intensity(self, angle: f64) -> f64 {
        match self {
            Self::Dipole(DipoleLength(length)) => {
                let sine = angle.sin();
                // On the axis numerator and denominator vanish together, the numerator faster.
                if sine.abs() < 1e-9 {
                    return 0.0;
                }
                let half = PI * length;
                ((half * angle.cos()).cos() - half.cos()).powi(2) / (sine * (1.0 - half.cos())).powi(2)
            }
            Self::Short => angle.sin().powi(2),
            Self::CosinePower(Exponent(n)) => angle.cos().max(0.0).powf(n),
            Self::Cardioid(RoundShare(a)) => {
                let voltage = a + (1.0 - a) * angle.cos();
                // The cardioid's null comes out as a rounding error otherwise.
                if voltage.abs() < 1e-15 { 0.0 } else { voltage * voltage }
            }
        }
    }
}

/// Directivity of a quarter-wave whip over an endless conducting plane: that of the half-wave dipole and 3.01 dB, since it
/// fills half the space (Balanis sec. 4.7.4).
pub fn quarter_wave_monopole_directivity() -> Db {
    Aerial::Dipole(DipoleLength::HALF_WAVE).directivity() + Db(10.0 * 2.0_f64.log10())
}

/// Directivity of a limaçon within one cut through its axis: greatest over mean power on the circle.
pub fn cardioid_cut_directivity(RoundShare(a): RoundShare) -> Db {
    Db(-10.0 * (a * a + (1.0 - a).powi(2) / 2.0).log10())
}

/// Loss between two linearly polarised aerials turned by an angle about the line between them (Balanis eq. 2-71,
/// -20 lg |cos ψ|): 0 dB aligned, infinite at a right angle.
pub fn polarisation_loss(angle: Degrees) -> Db {
    polarisation_loss_with(angle, None)
}

/// The same where one aerial also receives the crossed polarisation, by `discrimination` (dB, positive) less than its own.
///
/// The crossed share adds in power: |cos ψ|² + 10^(-discrimination/10) |sin ψ|². A real aerial's null is bounded so; 10 to
/// 20 dB is common for small boards (common practice).
pub fn polarisation_loss_with(angle: Degrees, discrimination: Option<Db>) -> Db {
    let turned = angle.0.rem_euclid(180.0);
    // cos 90° is 6e-17 in floating point, which would bound the null at 324 dB.
    let (sine, cosine) = if turned == 90.0 {
        (1.0, 0.0)
    } else {
        turned.to_radians().sin_cos()
    };
    let crossed = discrimination.map_or(0.0, |discrimination| 10_f64.powf(-discrimination.0 / 10.0));
    // `+ 0.0` turns the negative zero of full alignment into zero.
    Db(-10.0 * (cosine * cosine + crossed * sine * sine).log10() + 0.0)
}

/// Loss between a linearly and a circularly polarised aerial: half the power (Balanis sec. 2.12.2).
pub fn polarisation_loss_linear_to_circular() -> Db {
    Db(10.0 * 2.0_f64.log10())
}

/// The angle between 0 and π/2 where a rising pattern reaches one half, by bisection to rounding.
fn half_power_angle(intensity: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, PI / 2.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if intensity(middle) < 0.5 {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// Integral of a smooth function by Simpson's rule on 2000 intervals: error below 1e-10 for the patterns here.
fn simpson(function: impl Fn(f64) -> f64, from: f64, to: f64) -> f64 {
    const INTERVALS: usize = 2000;
    let step = (to - from) / INTERVALS as f64;
    let inside: f64 = (1..INTERVALS)
        .map(|i| function(from + i as f64 * step) * if i % 2 == 1 { 4.0 } else { 2.0 })
        .sum();
    (function(from) + inside + function(to)) * step / 3.0
}

#[cfg(test)]
#[expect(dead_code, reason = "lists of numbers are read by other tests")]
#[expect(
    clippy::duplicate_mod,
    reason = "the tests of `stats` read the same tables, and neither folder may import the other"
)]
#[path = "../../tests/reference/rows.rs"]
mod reference;

#[cfg(test)]
mod tests {
    use super::reference::{Row, rows, sampled_curve};
    use super::*;

    fn linear(ratio: Db) -> f64 {
        10_f64.powf(ratio.0 / 10.0)
    }

    fn cosine(row: &Row) -> Aerial {
        Aerial::CosinePower(Exponent::new(row.number("n")).unwrap())
    }

    fn cardioid(row: &Row) -> RoundShare {
        // The table writes the formula first, itself with an equals sign; the share is a pair of its own.
        RoundShare::new(row.number("a")).unwrap()
    }

    #[test]
    fn agrees_with_the_handbook() {
        let half_wave = Aerial::Dipole(DipoleLength::HALF_WAVE);
        let mut seen = 0;
        for row in rows(include_str!("../../tests/reference/antenna.csv")) {
            let dipole = || Aerial::Dipole(DipoleLength::new(row.number("L_over_lambda")).unwrap());
            let got = match row.quantity.as_str() {
                "half_wave_dipole_directivity" => linear(half_wave.directivity()),
                "half_wave_dipole_directivity_dBi" => half_wave.directivity().0,
                "short_dipole_directivity" | "small_loop_directivity" => linear(Aerial::Short.directivity()),
                "short_dipole_directivity_dBi" => Aerial::Short.directivity().0,
                "short_dipole_HPBW" | "small_loop_HPBW" => Aerial::Short.half_power_beamwidth().unwrap().0,
                "dipole_HPBW" => dipole().half_power_beamwidth().unwrap().0,
                "dipole_directivity" => linear(dipole().directivity()),
                "quarter_wave_monopole_directivity_dBi" => quarter_wave_monopole_directivity().0,
                "cos_n_power_HPBW" => cosine(&row).half_power_beamwidth().unwrap().0,
                "cos_n_power_directivity" => linear(cosine(&row).directivity()),
                "cardioid_family_front_to_back" => Aerial::Cardioid(cardioid(&row)).front_to_back().0,
                "cardioid_family_HPBW" => Aerial::Cardioid(cardioid(&row)).half_power_beamwidth().unwrap().0,
                "cardioid_family_3D_directivity" => linear(Aerial::Cardioid(cardioid(&row)).directivity()),
                "cardioid_family_2D_cut_directivity" => linear(cardioid_cut_directivity(cardioid(&row))),
                "polarization_loss_factor_linear" => polarisation_loss(Degrees(row.number("angle_deg"))).0,
                "polarization_loss_linear_to_circular" => polarisation_loss_linear_to_circular().0,
                "polarization_loss_finite_xpd" => polarisation_loss_with(Degrees(90.0), Some(Db(20.0))).0,
                _ => continue,
            };
            row.assert_near(got);
            seen += 1;
        }
        assert_eq!(seen, 48, "rows read");
    }

    #[test]
    fn the_half_wave_dipole_is_78_degrees_wide() {
        // Printed as 78° in Balanis sec. 4.6; the thin-wire method of moments gives 77.6° for a real radius.
        let width = Aerial::Dipole(DipoleLength::HALF_WAVE).half_power_beamwidth().unwrap();
        assert!((width.0 - 78.08).abs() < 0.01, "{width:?}");
    }

    #[test]
    fn the_closed_form_curves_agree() {
        // Voltage 0.55 + 0.45 cos φ falls to -20 dB behind.
        let aerial = Aerial::Cardioid(RoundShare::new(0.55).unwrap());
        let (turns, gains) = sampled_curve("h_pattern_cardioid_floor.csv");
        for (turn, gain) in turns.into_iter().zip(gains) {
            assert!(
                (aerial.relative_power(Degrees(turn)).0 - gain).abs() < 1e-6,
                "at {turn}"
            );
        }
    }

    #[test]
    fn nulls_are_infinite_and_full_agreement_is_zero() {
        assert_eq!(Aerial::Short.relative_power(Degrees(0.0)).0, f64::NEG_INFINITY);
        assert_eq!(
            Aerial::Dipole(DipoleLength::HALF_WAVE).relative_power(Degrees(180.0)).0,
            f64::NEG_INFINITY
        );
        assert_eq!(
            Aerial::Cardioid(RoundShare::CARDIOID).relative_power(Degrees(180.0)).0,
            f64::NEG_INFINITY
        );
        assert_eq!(
            Aerial::Cardioid(RoundShare::CARDIOID).relative_power(Degrees(0.0)),
            Db(0.0)
        );
        assert_eq!(polarisation_loss(Degrees(180.0)).0, 0.0);
    }

    #[test]
    fn impossible_aerials_are_refused() {
        assert_eq!(DipoleLength::new(0.0), None);
        assert_eq!(DipoleLength::new(1.3), None);
        assert_eq!(Exponent::new(f64::INFINITY), None);
        assert_eq!(RoundShare::new(f64::NAN), None);
        assert_eq!(
            Aerial::Cardioid(RoundShare::new(1.0).unwrap()).half_power_beamwidth(),
            None
        );
        assert_eq!(
            Aerial::Cardioid(RoundShare::new(0.9).unwrap()).half_power_beamwidth(),
            None
        );
    }
}
