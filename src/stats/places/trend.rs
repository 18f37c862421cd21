//! The trend of level with distance and with the walker's body, and what is believed of it beforehand.

use nalgebra::{Matrix4, Vector4};

/// Distance in metres at which the reference level is taken.
const REFERENCE: f64 = 30.0;
/// Distances below this, in metres, count as this.
const NEAREST: f64 = 3.0;
/// Distance in metres from which the extra slope counts.
const BREAK: f64 = 60.0;

/// Prior means: reference level relative to the records' median level (dB), path-loss exponent, loss behind the body
/// (dB), extra exponent past 60 m.
pub const PRIOR_MEAN: [f64; 4] = [0.0, 2.8, 8.0, 1.0];
/// Prior standard deviations, in the same order and units.
pub const PRIOR_SD: [f64; 4] = [20.0, 0.8, 5.0, 1.0];

/// Variance in dB² that an unknown facing adds: a facing uniform over a turn has variance 1/8, times the body loss squared.
pub(super) const UNKNOWN_FACING: f64 = 0.125 * PRIOR_MEAN[2] * PRIOR_MEAN[2];

/// What the four coefficients multiply at a place: 1, -10 log10(d/30), -facing, -10 log10(max(d/60, 1)).
///
/// `d` is the distance in metres to `station`, at least 3; `facing` 0 to 1.
pub(super) fn basis(x: f64, y: f64, facing: f64, station: (f64, f64)) -> [f64; 4] {
    let distance = (x - station.0).hypot(y - station.1).max(NEAREST);
    [
        1.0,
        -10.0 * (distance / REFERENCE).log10(),
        -facing,
        -10.0 * (distance / BREAK).max(1.0).log10(),
    ]
}

/// The prior mean with the reference level in dBm, from the records' `level` in dBm.
pub(super) fn prior_mean(level: f64) -> [f64; 4] {
    let mut mean = PRIOR_MEAN;
    mean[0] += level;
    mean
}

/// The prior precision: one over the squared prior standard deviations.
pub(super) fn prior_precision() -> Matrix4<f64> {
    Matrix4::from_diagonal(&Vector4::from(PRIOR_SD.map(|sd| 1.0 / (sd * sd))))
}

/// The trend's coefficients with their covariance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// Reference level at 30 m (dBm), exponent, loss behind the body (dB), extra exponent past 60 m.
    pub coefficients: [f64; 4],
    /// Their posterior covariance, in the products of those units.
    pub covariance: Matrix4<f64>,
}

impl Trend {
    /// The trend as believed before any record, around the records' `level` in dBm.
    pub(super) fn prior(level: f64) -> Self {
        Self {
            coefficients: prior_mean(level),
            covariance: Matrix4::from_diagonal(&Vector4::from(PRIOR_SD.map(|sd| sd * sd))),
        }
    }

    /// The trend's level in dBm for a row of [`basis`].
    pub(super) fn level(&self, row: &[f64; 4]) -> f64 {
        dot(row, &self.coefficients)
    }

    /// The variance in dB² that the doubt about the coefficients leaves for a row of [`basis`].
    pub(super) fn variance(&self, row: &[f64; 4]) -> f64 {
        let row = Vector4::from(*row);
        row.dot(&(self.covariance * row))
    }

    /// The facing of a node with nobody in the way: 0, or 1 when it was evidently carried behind the body.
    pub(super) fn clear_facing(&self) -> f64 {
        if self.coefficients[2] < 0.0 { 1.0 } else { 0.0 }
    }
}

pub(super) fn dot(a: &[f64; 4], b: &[f64; 4]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2] + a[3] * b[3]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_basis_at_its_reference_points() {
        assert_eq!(basis(30.0, 0.0, 0.5, (0.0, 0.0)), [1.0, 0.0, -0.5, 0.0]);
        let far = basis(0.0, 600.0, 0.0, (0.0, 0.0));
        assert!((far[3] + 10.0).abs() < 1e-12);
        assert!((basis(0.0, 0.0, 0.0, (0.0, 0.0))[1] - 10.0).abs() < 1e-12);
    }

    #[test]
    fn the_prior_is_wide_but_proper() {
        let prior = Trend::prior(-80.0);
        assert_eq!(prior.coefficients[0], -80.0);
        assert!((prior.variance(&[1.0, 0.0, 0.0, 0.0]) - 400.0).abs() < 1e-9);
    }
}
