//! Least-squares Fourier series through levels measured at any turns, evenly spaced or not.
//!
//! y(φ) = a0 + Σ (ak cos kφ + bk sin kφ), k = 1 … order. With even spacing these are the discrete Fourier coefficients.
//! This is the plain picture of a sampled pattern; [`crate::stats::sweep`] fits measured steps, where messages were lost
//! and the readings scatter.

use std::fmt;

use nalgebra::{DMatrix, DVector};
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

use super::circular::{normalised, reduced_radians};

/// A fitted series with what it leaves unexplained.
#[derive(Clone, Debug, PartialEq)]
pub struct FourierFit {
    /// Coefficients a0, a1, b1, a2, b2 …, in the unit of the levels (dB).
    pub coefficients: Vec<f64>,
    /// How many levels were fitted.
    pub count: usize,
    /// Sum of squared residuals, dB².
    pub residual_sum_squares: f64,
    /// Ratio of the largest to the smallest singular value of the design: 1.41 with even spacing, large where the
    /// turns leave a gap and the higher terms rest on guesswork.
    pub condition_number: f64,
    /// Test of the first harmonic in a series of order one (F with 2 and count - 3 degrees of freedom); `None` without
    /// degrees of freedom left or a residual.
    pub first_harmonic: Option<HarmonicTest>,
}

/// An F test and its probability under "no such harmonic".
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HarmonicTest {
    /// The F statistic, without unit.
    pub f: f64,
    /// Probability of an F as large when the harmonic is absent and the noise is normal.
    pub p: f64,
}

/// Why a series could not be fitted.
#[derive(Clone, Debug, PartialEq)]
pub enum FourierError {
    /// The turns and the levels are not equally many.
    Unpaired {
        /// How many turns.
        turns: usize,
        /// How many levels.
        levels: usize,
    },
    /// A turn or a level is not finite.
    NotFinite {
        /// Its place, counted from 0.
        index: usize,
    },
    /// Fewer different turns than the 2 · order + 1 terms, or turns at which two terms look the same.
    Underdetermined {
        /// How many levels.
        count: usize,
        /// The order asked for.
        order: usize,
    },
}

impl fmt::Display for FourierError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unpaired { turns, levels } => write!(f, "{turns} turns but {levels} levels: give one level a turn"),
            Self::NotFinite { index } => write!(f, "value {index} is not a finite number: leave that step out"),
            Self::Underdetermined { count, order } => write!(
                f,
                "{count} levels cannot settle the {} terms of order {order}: lower the order or measure more turns",
                2 * order + 1
            ),
        }
    }
}

impl std::error::Error for FourierError {}

/// The row 1, cos φ, sin φ, cos 2φ … of the series for a turn in degrees.
pub fn terms(turn_deg: f64, order: usize) -> Vec<f64> {
    let angle = reduced_radians(turn_deg);
    let mut row = Vec::with_capacity(2 * order + 1);
    row.push(1.0);
    for k in 1..=order {
        let (sine, cosine) = (k as f64 * angle).sin_cos();
        row.push(cosine);
        row.push(sine);
    }
    row
}

/// Fits a series of the given order to levels (dB) at turns (degrees).
///
/// # Errors
/// See [`FourierError`]; a design whose condition number passes 10^8 counts as underdetermined.
pub fn fit(turns_deg: &[f64], levels_db: &[f64], order: usize) -> Result<FourierFit, FourierError> {
    if turns_deg.len() != levels_db.len() {
        return Err(FourierError::Unpaired {
            turns: turns_deg.len(),
            levels: levels_db.len(),
        });
    }
    if let Some(index) = turns_deg
        .iter()
        .zip(levels_db)
        .position(|(turn, level)| !turn.is_finite() || !level.is_finite())
    {
        return Err(FourierError::NotFinite { index });
    }
    let (count, columns) = (turns_deg.len(), 2 * order + 1);
    let underdetermined = FourierError::Underdetermined { count, order };
    if count < columns {
        return Err(underdetermined);
    }
    let rows: Vec<f64> = turns_deg.iter().flat_map(|turn| terms(*turn, order)).collect();
    let design = DMatrix::from_row_slice(count, columns, &rows);
    let levels = DVector::from_column_slice(levels_db);
    let decomposition = design.clone().svd(true, true);
    let condition_number = decomposition.singular_values.max() / decomposition.singular_values.min();
    if condition_number.is_nan() || condition_number >= 1e8 {
        return Err(underdetermined);
    }
    let Ok(solution) = decomposition.solve(&levels, 0.0) else {
        return Err(underdetermined);
    };
    let residual_sum_squares = (&levels - &design * &solution).norm_squared();
    let mean = levels.mean();
    let about_mean = levels.iter().map(|level| (level - mean).powi(2)).sum();
    Ok(FourierFit {
        coefficients: solution.iter().copied().collect(),
        count,
        residual_sum_squares,
        condition_number,
        first_harmonic: (order == 1)
            .then(|| first_harmonic_test(about_mean, residual_sum_squares, count))
            .flatten(),
    })
}

/// The F test of the first harmonic against a constant, from the sums of squares about each.
fn first_harmonic_test(about_mean: f64, about_series: f64, count: usize) -> Option<HarmonicTest> {
    let freedom = count.checked_sub(3).filter(|freedom| *freedom > 0)? as f64;
    if about_series <= 0.0 {
        return None;
    }
    let f = ((about_mean - about_series).max(0.0) / 2.0) / (about_series / freedom);
    let p = FisherSnedecor::new(2.0, freedom).ok()?.sf(f);
    Some(HarmonicTest { f, p })
}

impl FourierFit {
    /// The order of the series.
    pub fn order(&self) -> usize {
        self.coefficients.len() / 2
    }

    /// The series at a turn in degrees, dB.
    pub fn at(&self, turn_deg: f64) -> f64 {
        terms(turn_deg, self.order())
            .iter()
            .zip(&self.coefficients)
            .map(|(term, coefficient)| term * coefficient)
            .sum()
    }

    /// Root mean square of the residuals, dB (divisor: the number of levels).
    pub fn residual_rms(&self) -> f64 {
        (self.residual_sum_squares / self.count as f64).sqrt()
    }

    /// Residual standard deviation, dB (divisor: levels less terms); `None` when as many terms as levels were fitted.
    pub fn residual_sd(&self) -> Option<f64> {
        let freedom = self.count - self.coefficients.len();
        (freedom > 0).then(|| (self.residual_sum_squares / freedom as f64).sqrt())
    }

    /// Amplitude (dB) of harmonic `k` and the turn (degrees, 0 to below 360 / k) of its crest; `None` beyond the order.
    pub fn harmonic(&self, k: usize) -> Option<(f64, f64)> {
        if k == 0 || k > self.order() {
            return None;
        }
        let (a, b) = (self.coefficients[2 * k - 1], self.coefficients[2 * k]);
        Some((a.hypot(b), normalised(b.atan2(a).to_degrees()) / k as f64))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::reference::{rows, sampled_curve};

    #[test]
    fn agrees_with_two_other_least_squares_programs() {
        let mut seen = 0;
        for row in rows(include_str!("../../tests/reference/circular.csv")) {
            if !row.quantity.starts_with("fourier_") || row.quantity == "fourier_underdetermined" {
                continue;
            }
            let (turns, levels) = sampled_curve(row.text("file"));
            let fit = fit(&turns, &levels, row.number("order") as usize).unwrap();
            match row.quantity.as_str() {
                "fourier_coefficients" => row.assert_all_near(&fit.coefficients),
                "fourier_residual_rms" => row.assert_near(fit.residual_rms()),
                "fourier_residual_sd" => row.assert_near(fit.residual_sd().unwrap()),
                "fourier_design_condition_number" => row.assert_near(fit.condition_number),
                "fourier_first_harmonic_amplitude" => row.assert_near(fit.harmonic(1).unwrap().0),
                "fourier_first_harmonic_peak_direction" => row.assert_near(fit.harmonic(1).unwrap().1),
                "fourier_first_harmonic_F" => row.assert_near(fit.first_harmonic.unwrap().f),
                other => panic!("{}: {other} is not read", row.id),
            }
            seen += 1;
        }
        assert_eq!(seen, 32, "rows read");
    }

    #[test]
    fn agrees_on_the_wire_model_patterns() {
        let mut seen = 0;
        for row in rows(include_str!("../../tests/reference/antenna.csv")) {
            if !row.quantity.starts_with("pattern_fourier") {
                continue;
            }
            let (turns, levels) = sampled_curve(row.text("file"));
            let fit = fit(&turns, &levels, row.number("order") as usize).unwrap();
            match row.quantity.as_str() {
                "pattern_fourier_dB" => row.assert_all_near(&fit.coefficients),
                _ => row.assert_near(fit.residual_rms()),
            }
            seen += 1;
        }
        assert_eq!(seen, 13, "rows read");
    }

    #[test]
    fn too_few_or_indistinguishable_turns_are_refused() {
        // Check CIR0109: at four right angles sin 2φ is zero everywhere, and five terms exceed four levels.
        let refused = fit(&[0.0, 90.0, 180.0, 270.0], &[1.0, 2.0, 3.0, 4.0], 2).unwrap_err();
        assert_eq!(refused, FourierError::Underdetermined { count: 4, order: 2 });
        assert!(refused.to_string().contains("lower the order"));
        let repeated = fit(&[0.0, 0.0, 90.0, 90.0], &[1.0, 1.0, 2.0, 2.0], 1);
        assert_eq!(repeated, Err(FourierError::Underdetermined { count: 4, order: 1 }));
        assert_eq!(
            fit(&[], &[], 0),
            Err(FourierError::Underdetermined { count: 0, order: 0 })
        );
        assert_eq!(fit(&[0.0], &[f64::NAN], 0), Err(FourierError::NotFinite { index: 0 }));
        assert_eq!(fit(&[0.0], &[], 0), Err(FourierError::Unpaired { turns: 1, levels: 0 }));
    }

    #[test]
    fn a_series_returns_itself() {
        let truth =
            |turn: f64| -80.0 + 4.0 * (turn - 30.0).to_radians().cos() + (2.0 * (turn - 70.0)).to_radians().cos();
        let turns = [3.0, 51.0, 99.0, 160.0, 222.0, 270.0, 333.0];
        let levels: Vec<f64> = turns.iter().map(|turn| truth(*turn)).collect();
        let fit = fit(&turns, &levels, 2).unwrap();
        assert!((fit.at(17.0) - truth(17.0)).abs() < 1e-12);
        let (amplitude, crest) = fit.harmonic(2).unwrap();
        assert!((amplitude - 1.0).abs() < 1e-12 && (crest - 70.0).abs() < 1e-9);
        assert_eq!(fit.harmonic(3), None);
        assert_eq!(fit.harmonic(0), None);
    }
}
