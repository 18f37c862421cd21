//! Flat, open ground: the direct ray and the one reflected from the ground.

use std::f64::consts::PI;

use super::Published;
use super::published::positive;
use crate::link::wavelength;
use crate::units::{Db, Megahertz, Metres};

/// The plane-earth formula and its source.
pub const PLANE_EARTH: Published = Published {
    formula: "L = 40 log10 d - 20 log10(h1 h2) dB, metres; beyond 4 pi h1 h2 / wavelength, free space before",
    source: "W. C. Jakes, Microwave Mobile Communications (1974), ch. 2",
};

/// The formula of both rays and its source.
pub const TWO_RAYS: Published = Published {
    formula: "L = -20 log10(wavelength / (4 pi) |1/r1 - exp(-j k (r2 - r1)) / r2|) dB, r1 the direct ray, r2 the reflected one",
    source: "W. C. Jakes, Microwave Mobile Communications (1974), ch. 2",
};

/// The reflection coefficient of any ground at grazing incidence, for either polarisation.
pub const GRAZING: f64 = -1.0;

/// Loss of the direct and the ground-reflected ray together, isotropic aerials (Jakes 1974, ch. 2).
///
/// `distance` is along the ground. `reflection` is the real reflection coefficient, -1 to 1; [`GRAZING`] is a fair value
/// from some ten times the greater height on. Where the rays cancel entirely the loss has no bound: `None`.
pub fn loss(frequency: Megahertz, h1: Metres, h2: Metres, distance: Metres, reflection: f64) -> Option<Db> {
    let lambda = wavelength(frequency)?.0;
    let (h1, h2, d) = (positive(h1.0)?, positive(h2.0)?, positive(distance.0)?);
    if !(-1.0..=1.0).contains(&reflection) {
        return None;
    }
    let direct = d.hypot(h1 - h2);
    let reflected = d.hypot(h1 + h2);
    // The difference of two nearly equal lengths, written so that it keeps its digits far out.
    let longer_by = 4.0 * h1 * h2 / (direct + reflected);
    let phase = 2.0 * PI * longer_by / lambda;
    let real = 1.0 / direct + reflection * phase.cos() / reflected;
    let imaginary = -reflection * phase.sin() / reflected;
    let amplitude = lambda / (4.0 * PI) * real.hypot(imaginary);
    positive(amplitude).map(|amplitude| Db(-20.0 * amplitude.log10()))
}

/// The far end of [`loss`], which no longer depends on frequency: 40 log10 d - 20 log10(h1 h2).
///
/// Only beyond [`crossover`]; nearer it would promise more than free space.
pub fn plane_earth_loss(h1: Metres, h2: Metres, distance: Metres) -> Option<Db> {
    let (h1, h2, d) = (positive(h1.0)?, positive(h2.0)?, positive(distance.0)?);
    Some(Db(40.0 * d.log10() - 20.0 * (h1 * h2).log10()))
}

/// Where the slope changes, 4 h1 h2 / λ: the first zone touches the ground (Rec. ITU-R P.1411-12 (2023), 4.1.2).
pub fn break_point(frequency: Megahertz, h1: Metres, h2: Metres) -> Option<Metres> {
    Some(Metres(
        4.0 * positive(h1.0)? * positive(h2.0)? / wavelength(frequency)?.0,
    ))
}

/// Where [`plane_earth_loss`] equals free space, 4 π h1 h2 / λ: π times [`break_point`], and often confused with it.
pub fn crossover(frequency: Megahertz, h1: Metres, h2: Metres) -> Option<Metres> {
    break_point(frequency, h1, h2).map(|point| Metres(PI * point.0))
}

/// The smooth course under the ripples of [`loss`]: free space out to [`crossover`], [`plane_earth_loss`] beyond.
pub fn smooth_loss(frequency: Megahertz, h1: Metres, h2: Metres, distance: Metres) -> Option<Db> {
    let free = super::free_space::loss(frequency, distance)?;
    let plane = plane_earth_loss(h1, h2, distance)?;
    Some(Db(free.0.max(plane.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    const F: Megahertz = Megahertz(2437.0);

    #[test]
    fn the_smooth_course_has_no_step_at_the_crossover() {
        let (h1, h2) = (Metres(6.0), Metres(1.2));
        let there = crossover(F, h1, h2).unwrap().0;
        let near = smooth_loss(F, h1, h2, Metres(there * (1.0 - 1e-9))).unwrap().0;
        let far = smooth_loss(F, h1, h2, Metres(there * (1.0 + 1e-9))).unwrap().0;
        assert!((near - far).abs() < 1e-6, "{near} {far}");
    }

    #[test]
    fn without_a_reflection_it_is_free_space() {
        let loss = loss(F, Metres(2.0), Metres(2.0), Metres(80.0), 0.0).unwrap();
        let free = super::super::free_space::loss(F, Metres(80.0)).unwrap();
        assert!((loss.0 - free.0).abs() < 1e-9);
    }

    #[test]
    fn aerials_on_the_ground_have_no_answer() {
        assert_eq!(loss(F, Metres(0.0), Metres(1.0), Metres(10.0), GRAZING), None);
        assert_eq!(loss(F, Metres(1.0), Metres(1.0), Metres(10.0), 1.5), None);
        assert_eq!(plane_earth_loss(Metres(1.0), Metres(f64::NAN), Metres(10.0)), None);
    }
}
