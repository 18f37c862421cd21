//! Line of sight among things that stand beside the path: bounds and median.

use std::f64::consts::PI;

use super::Published;
use super::published::positive;
use super::two_ray::break_point;
use crate::link::wavelength;
use crate::units::{Db, Megahertz, Metres};

/// The formula and its source.
pub const PUBLISHED: Published = Published {
    formula: "R = 4 h1 h2 / wavelength, Lbp = |20 log10(wavelength^2 / (8 pi h1 h2))|; median Lbp + 6 + 20 log10(d/R) up to R, \
              + 40 log10(d/R) beyond; lower bound 6 dB less, upper bound Lbp + 20 + 25 log10(d/R), then + 40 log10(d/R)",
    source: "Rec. ITU-R P.1411-12 (2023), 4.1.2: streets, 300 MHz to 3 GHz",
};

/// Losses at one distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// As little as is to be expected.
    pub lower: Db,
    /// Half of the places lose less.
    pub median: Db,
    /// As much as is to be expected in line of sight.
    pub upper: Db,
}

/// Lower bound, median and upper bound of the line-of-sight loss between isotropic aerials at heights `h1` and `h2` above
/// the ground they stand on (Rec. ITU-R P.1411-12 (2023), Annex 1, 4.1.2).
///
/// Published for street canyons between 300 MHz and 3 GHz; elsewhere it is a likeness. `None` where an argument is not finite
/// and above zero.
pub fn loss(frequency: Megahertz, h1: Metres, h2: Metres, distance: Metres) -> Option<Bounds> {
    let point = break_point(frequency, h1, h2)?.0;
    let at_point = loss_at_break_point(frequency, h1, h2)?.0;
    let decades = (positive(distance.0)? / point).log10();
    let beyond = decades > 0.0;
    let slope = if beyond { 40.0 } else { 20.0 };
    let upper_slope = if beyond { 40.0 } else { 25.0 };
    Some(Bounds {
        lower: Db(at_point + slope * decades),
        median: Db(at_point + 6.0 + slope * decades),
        upper: Db(at_point + 20.0 + upper_slope * decades),
    })
}

/// The loss the bounds hang on, |20 log10(λ² / (8 π h1 h2))|.
pub fn loss_at_break_point(frequency: Megahertz, h1: Metres, h2: Metres) -> Option<Db> {
    let lambda = wavelength(frequency)?.0;
    let heights = positive(h1.0)? * positive(h2.0)?;
    Some(Db((20.0 * (lambda * lambda / (8.0 * PI * heights)).log10()).abs()))
}

/// What to add to the median so that `share` (above 0, below 1) of places lose no more, for places in line of sight with a
/// spread of `sigma`: 1.5624 σ (√(-2 ln(1 - p)) - 1.1774) (Rec. ITU-R P.1411-12 (2023), 4.3.1, which takes σ = 7 dB).
pub fn location_correction(share: f64, sigma: Db) -> Option<Db> {
    let within = share > 0.0 && share < 1.0 && sigma.0.is_finite();
    within.then(|| Db(1.5624 * sigma.0 * ((-2.0 * (1.0 - share).ln()).sqrt() - 1.1774)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bounds_stay_in_order_from_a_metre_to_ten_kilometres() {
        for step in 0..=40 {
            let distance = Metres(10f64.powf(f64::from(step) / 10.0));
            let bounds = loss(Megahertz(2437.0), Metres(6.0), Metres(1.2), distance).unwrap();
            assert!(bounds.lower < bounds.median, "{distance:?}");
            if distance.0 >= 3.0 {
                assert!(bounds.median < bounds.upper, "{distance:?} {bounds:?}");
            }
        }
    }

    #[test]
    fn outside_the_domain_there_is_no_answer() {
        assert_eq!(loss(Megahertz(2437.0), Metres(0.0), Metres(1.0), Metres(10.0)), None);
        assert_eq!(location_correction(1.0, Db(7.0)), None);
        assert_eq!(location_correction(f64::NAN, Db(7.0)), None);
    }
}
