//! Free space: nothing but distance.

use std::f64::consts::PI;

use super::Published;
use super::published::positive;
use crate::link::wavelength;
use crate::units::{Db, Dbm, Megahertz, Metres};

/// The formula and its source.
pub const PUBLISHED: Published = Published {
    formula: "L = 20 log10(4 pi d / wavelength) dB, both in metres",
    source: "Rec. ITU-R P.525-5 (2024)",
};

/// Free-space basic transmission loss between isotropic aerials; never below 0 dB in use, as it holds from a few
/// wavelengths on (see [`far_field`]). `None` unless frequency and distance are finite and above zero.
pub fn loss(frequency: Megahertz, distance: Metres) -> Option<Db> {
    let lambda = wavelength(frequency)?.0;
    Some(Db(20.0 * (4.0 * PI * positive(distance.0)? / lambda).log10()))
}

/// The distance at which free space alone costs `allowed`: the inverse of [`loss`].
pub fn range(frequency: Megahertz, allowed: Db) -> Option<Metres> {
    let lambda = wavelength(frequency)?.0;
    positive(lambda / (4.0 * PI) * 10f64.powf(allowed.0 / 20.0)).map(Metres)
}

/// The level at the far end (Friis 1946, Proc. IRE 34:254-256): transmit power plus both gains, less free space and `excess`.
pub fn received(transmit: Dbm, gains: Db, frequency: Megahertz, distance: Metres, excess: Db) -> Option<Dbm> {
    Some(transmit + gains - loss(frequency, distance)? - excess)
}

/// Field strength in decibels above one microvolt a metre, from E = sqrt(30 P) / d with P the radiated power in watts
/// (Rec. ITU-R P.525, conversion relations).
pub fn field_strength_dbuv_per_m(eirp: Dbm, distance: Metres) -> Option<f64> {
    let watts = 10f64.powf((eirp.0 - 30.0) / 10.0);
    let volts_per_metre = (30.0 * watts).sqrt() / positive(distance.0)?;
    Some(20.0 * (volts_per_metre * 1e6).log10())
}

/// The nearest distance at which an aerial of this largest dimension may be measured, 2 D² / λ (IEEE Std 145-2013).
pub fn far_field(frequency: Megahertz, dimension: Metres) -> Option<Metres> {
    Some(Metres(2.0 * positive(dimension.0)?.powi(2) / wavelength(frequency)?.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn range_undoes_loss() {
        let there = Metres(137.0);
        let back = range(Megahertz(2437.0), loss(Megahertz(2437.0), there).unwrap()).unwrap();
        assert!((back.0 - there.0).abs() < 1e-9, "{back:?}");
    }

    #[test]
    fn no_distance_has_no_loss() {
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(loss(Megahertz(2437.0), Metres(bad)), None);
        }
        assert_eq!(range(Megahertz(2437.0), Db(f64::INFINITY)), None);
    }
}
