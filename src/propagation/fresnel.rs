//! Fresnel zones: how much room a path wants around it.

use super::Published;
use super::published::positive;
use crate::link::wavelength;
use crate::units::{Megahertz, Metres};

/// The formula and its source.
pub const PUBLISHED: Published = Published {
    formula: "r = sqrt(wavelength d1 d2 / (d1 + d2)), metres; clear of 0.6 r a path is as good as free space",
    source: "Rec. ITU-R P.526-15 (2019), 2",
};

/// The share of the first zone's radius that must be clear for a path to be as good as in free space.
pub const CLEAR_SHARE: f64 = 0.6;

/// Radius of the `zone`-th Fresnel zone at a place `d1` from one end and `d2` from the other, √(n λ d1 d2 / (d1 + d2)).
///
/// `None` for zone 0 or a distance that is not finite and above zero.
pub fn radius(frequency: Megahertz, d1: Metres, d2: Metres, zone: u32) -> Option<Metres> {
    let lambda = wavelength(frequency)?.0;
    let (d1, d2) = (positive(d1.0)?, positive(d2.0)?);
    // Dividing first keeps the product in range for any two finite lengths.
    (zone > 0).then(|| Metres((f64::from(zone) * lambda * (d1 / (d1 + d2)) * d2).sqrt()))
}

/// The room a path wants: [`CLEAR_SHARE`] of the first zone's radius.
pub fn clearance(frequency: Megahertz, d1: Metres, d2: Metres) -> Option<Metres> {
    radius(frequency, d1, d2, 1).map(|radius| Metres(CLEAR_SHARE * radius.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_is_no_zeroth_zone() {
        assert_eq!(radius(Megahertz(2437.0), Metres(10.0), Metres(10.0), 0), None);
        assert_eq!(radius(Megahertz(2437.0), Metres(0.0), Metres(10.0), 1), None);
        assert!(
            radius(Megahertz(2437.0), Metres(1e200), Metres(1e200), 1)
                .unwrap()
                .0
                .is_finite()
        );
    }
}
