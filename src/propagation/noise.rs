//! The noise every receiver has, and the weakest level it can read above it.

use super::Published;
use super::published::positive;
use crate::units::{Db, Dbm};

/// The formula and its source.
pub const PUBLISHED: Published = Published {
    formula: "S = 10 log10(k T B / 1 mW) + noise figure + signal over noise, T = 290 K",
    source: "k exact (SI Brochure, 2019); reference temperature of Rec. ITU-R P.372",
};

/// Boltzmann's constant, joules a kelvin; exact (SI Brochure, 9th edition, 2019).
pub const BOLTZMANN: f64 = 1.380_649e-23;

/// The temperature receivers are compared at, kelvins (Rec. ITU-R P.372).
pub const REFERENCE_KELVIN: f64 = 290.0;

/// Thermal noise in a bandwidth, k T B; -173.975 dBm in one hertz at [`REFERENCE_KELVIN`].
pub fn thermal(kelvin: f64, bandwidth_hz: f64) -> Option<Dbm> {
    let watts = BOLTZMANN * positive(kelvin)? * positive(bandwidth_hz)?;
    positive(watts).map(|watts| Dbm(10.0 * watts.log10() + 30.0))
}

/// The weakest level a receiver reads: thermal noise, plus what its own circuits add, plus the signal-to-noise ratio it wants.
pub fn sensitivity(thermal: Dbm, noise_figure: Db, wanted_ratio: Db) -> Dbm {
    thermal + noise_figure + wanted_ratio
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_bandwidth_has_no_level() {
        assert_eq!(thermal(290.0, 0.0), None);
        assert_eq!(thermal(-1.0, 1e6), None);
        assert_eq!(thermal(290.0, f64::NAN), None);
    }
}
