//! Powers: milliwatts and decibels, and what an aerial makes of them.

use crate::units::{Db, Dbm};

/// Gain of a half-wave dipole over an isotropic aerial in decibels (ITU Radio Regulations 1.162: 2.15 dB, rounded).
pub const HALF_WAVE_DIPOLE: Db = Db(2.15);

/// The power in milliwatts, 10^(P/10) (Rec. ITU-R V.574-5, 2015).
pub fn milliwatts(level: Dbm) -> f64 {
    10f64.powf(level.0 / 10.0)
}

/// The level of a power in milliwatts, 10 log10 P (Rec. ITU-R V.574-5, 2015); `None` unless it is finite and above zero.
pub fn level_of(milliwatts: f64) -> Option<Dbm> {
    (milliwatts.is_finite() && milliwatts > 0.0).then(|| Dbm(10.0 * milliwatts.log10()))
}

/// The power radiated in the best direction, compared with an isotropic aerial: transmit power plus gain, less feeder loss
/// (ITU Radio Regulations 1.161). `gain` is over isotropic; `loss` is positive.
pub fn eirp(transmit: Dbm, gain: Db, loss: Db) -> Dbm {
    transmit + gain - loss
}

/// The same power compared with a half-wave dipole (ITU Radio Regulations 1.162).
pub fn erp(eirp: Dbm) -> Dbm {
    eirp - HALF_WAVE_DIPOLE
}

/// A gain over a half-wave dipole, from one over isotropic (ITU Radio Regulations 1.160).
pub fn gain_over_dipole(over_isotropic: Db) -> Db {
    over_isotropic - HALF_WAVE_DIPOLE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_power_has_no_level() {
        assert_eq!(level_of(0.0), None);
        assert_eq!(level_of(-1.0), None);
        assert_eq!(level_of(f64::NAN), None);
    }
}
