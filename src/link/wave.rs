//! Frequency and wavelength.

use crate::units::{Megahertz, Metres};

/// The speed of light in vacuum, metres a second; exact (SI Brochure, 9th edition, 2019).
pub const SPEED_OF_LIGHT_MPS: f64 = 299_792_458.0;

/// The wavelength in vacuum, λ = c / f; `None` unless the frequency is finite and above zero.
///
/// Air shortens it by 0.03 %, which nothing here resolves.
pub fn wavelength(frequency: Megahertz) -> Option<Metres> {
    (frequency.0.is_finite() && frequency.0 > 0.0).then(|| Metres(SPEED_OF_LIGHT_MPS / (frequency.0 * 1e6)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_frequency_has_no_wavelength() {
        for bad in [0.0, -2437.0, f64::NAN, f64::INFINITY] {
            assert_eq!(wavelength(Megahertz(bad)), None, "{bad}");
        }
    }
}
