//! A linear model of cell mean powers, fitted through the cells' own likelihoods.
//!
//! `mu_j = x_j'β + e_j` with `e_j ~ N(0, τ²)`: what differs between cells beyond the model (multipath frozen at each step) has
//! the standard deviation τ. The data enter only as log likelihoods on the grid of mean powers, so losses, all-lost
//! cells, rounding and fading all count. Fitted by expectation-maximisation with the restricted-likelihood correction
//! (Patterson and Thompson 1971, Biometrika 58); information by Louis (1982, J. R. Statist. Soc. B 44:226).

use nalgebra::{DMatrix, DVector};

use crate::stats::cells::{MEAN_MIN_DBM, MEAN_STEP_DB, MEANS, mean_at};

/// Smallest τ, dB: steps never repeat exactly.
const TAU_MIN_DB: f64 = 0.3;
/// τ at the start, dB.
const TAU_START_DB: f64 = 2.0;
/// Largest change of a coefficient in one round, dB.
const STEP_MAX_DB: f64 = 6.0;
/// Rounds are capped here, and end when coefficients and τ together move less than [`TOLERANCE_DB`].
const ROUNDS: usize = 300;
const TOLERANCE_DB: f64 = 1e-4;
/// Share of its information a cell must keep to count as a degree of freedom.
const INFORMATIVE: f64 = 0.3;

/// What is believed before the data.
#[derive(Clone, Debug, PartialEq)]
pub struct Priors {
    /// Degrees of freedom of the scaled inverse chi-squared prior of τ².
    pub tau_freedom: f64,
    /// Its scale, dB.
    pub tau_scale_db: f64,
    /// Precision 1/variance (1/dB²) of the normal prior of each coefficient about zero; 0 for none.
    pub precision: Vec<f64>,
    /// Whether τ is corrected for the fitted coefficients; not so for likelihood ratios.
    pub restricted: bool,
}

/// A fitted model.
#[derive(Clone, Debug, PartialEq)]
pub struct CellRegression {
    /// Coefficients, dB.
    pub beta: DVector<f64>,
    /// Their covariance, dB².
    pub covariance: DMatrix<f64>,
    /// Standard deviation between cells, dB.
    pub tau_db: f64,
    /// Degrees of freedom of τ, the prior's included.
    pub freedom: f64,
    /// Posterior mean power of each cell, dBm.
    pub means_dbm: Vec<f64>,
    /// Share of a perfectly known cell's information that each cell holds, 0 to 1.
    pub information: Vec<f64>,
    /// Log likelihood, up to the same constant for the same cells.
    pub log_likelihood: f64,
    /// Fitted mean powers x'β, dBm.
    pub fitted_dbm: DVector<f64>,
}

/// Fits the model; `log_likelihoods` holds a row of [`MEANS`] for each row of `design`.
///
/// `None` for no cells or coefficients, or shapes that do not match.
pub fn fit(log_likelihoods: &[Vec<f64>], design: &DMatrix<f64>, priors: &Priors) -> Option<CellRegression> {
    let (cells, columns) = design.shape();
    if cells == 0
        || columns == 0
        || log_likelihoods.len() != cells
        || priors.precision.len() != columns
        || log_likelihoods.iter().any(|row| row.len() != MEANS)
    {
        return None;
    }
    let tops: Vec<f64> = log_likelihoods
        .iter()
        .map(|row| row.iter().copied().fold(f64::NEG_INFINITY, f64::max))
        .collect();
    let likelihoods: Vec<Vec<f64>> = log_likelihoods
        .iter()
        .zip(&tops)
        .map(|(row, top)| row.iter().map(|value| (value - top).exp()).collect())
        .collect();
    let precision = DMatrix::from_diagonal(&DVector::from_column_slice(&priors.precision));
    let mut beta = start(&likelihoods, design)?;
    let mut tau = TAU_START_DB;
    for _ in 0..ROUNDS {
        let fitted = design * &beta;
        let moments = Moments::of(&likelihoods, &fitted, tau);
        let covariance = inverse(information(design, &moments.information(tau), tau) + &precision)?;
        let excess = DVector::from_iterator(cells, moments.means.iter().zip(fitted.iter()).map(|(e, m)| e - m));
        // A Newton step weighted by the information; its fixed point X'(e - m) = 0 is that of the plain algorithm.
        let step = &covariance * (design.transpose() * &excess / (tau * tau) - &precision * &beta);
        let moved = step.map(|change| change.clamp(-STEP_MAX_DB, STEP_MAX_DB));
        let mut squares = excess.norm_squared() + moments.variances.iter().sum::<f64>();
        if priors.restricted {
            squares += moments
                .information(tau)
                .iter()
                .enumerate()
                .map(|(j, k)| k * k * (design.row(j) * &covariance * design.row(j).transpose())[(0, 0)])
                .sum::<f64>();
        }
        let prior_squares = priors.tau_freedom * priors.tau_scale_db.powi(2);
        let next_tau = ((squares + prior_squares) / (cells as f64 + priors.tau_freedom))
            .sqrt()
            .max(TAU_MIN_DB);
        let change = moved.amax() + (next_tau - tau).abs();
        beta += moved;
        tau = next_tau;
        if change < TOLERANCE_DB {
            break;
        }
    }
    let fitted_dbm = design * &beta;
    let moments = Moments::of(&likelihoods, &fitted_dbm, tau);
    let share = moments.information(tau);
    let data = information(design, &share, tau);
    let covariance = inverse(&data + &precision)?;
    let used = (&covariance * &data).trace();
    let informative = share.iter().filter(|k| **k > INFORMATIVE).count() as f64;
    Some(CellRegression {
        beta,
        covariance,
        tau_db: tau,
        freedom: (informative - used).max(0.0) + priors.tau_freedom,
        means_dbm: moments.means,
        information: share,
        log_likelihood: moments.log_evidence.iter().zip(&tops).map(|(z, top)| z + top).sum(),
        fitted_dbm,
    })
}

/// Starting coefficients: weighted least squares on the means of the bare likelihoods.
fn start(likelihoods: &[Vec<f64>], design: &DMatrix<f64>) -> Option<DVector<f64>> {
    let (means, weights): (Vec<f64>, Vec<f64>) = likelihoods
        .iter()
        .map(|row| {
            let (mean, variance) = mean_and_variance(row);
            (mean, (1.0 / (variance + TAU_START_DB * TAU_START_DB)).sqrt())
        })
        .unzip();
    let mut weighted = design.clone();
    for (mut row, weight) in weighted.row_iter_mut().zip(&weights) {
        row *= *weight;
    }
    let levels = DVector::from_iterator(
        means.len(),
        means.iter().zip(&weights).map(|(mean, weight)| mean * weight),
    );
    weighted.svd(true, true).solve(&levels, 1e-12).ok()
}

/// Mean (dBm) and variance (dB²) of a likelihood on the grid, taken as a distribution.
pub(crate) fn mean_and_variance(likelihood: &[f64]) -> (f64, f64) {
    let total: f64 = likelihood.iter().sum();
    let mean = likelihood.iter().enumerate().map(|(i, w)| w * mean_at(i)).sum::<f64>() / total;
    let square = likelihood
        .iter()
        .enumerate()
        .map(|(i, w)| w * mean_at(i).powi(2))
        .sum::<f64>()
        / total;
    (mean, square - mean * mean)
}

/// X' diag(k) X / τ².
fn information(design: &DMatrix<f64>, share: &[f64], tau: f64) -> DMatrix<f64> {
    let mut weighted = design.clone();
    for (mut row, k) in weighted.row_iter_mut().zip(share) {
        row *= *k;
    }
    weighted.transpose() * design / (tau * tau)
}

/// Inverse of a symmetric matrix; directions without information are left out (the pseudo-inverse).
fn inverse(matrix: DMatrix<f64>) -> Option<DMatrix<f64>> {
    let largest = matrix.amax();
    if let Some(decomposed) = matrix.clone().cholesky() {
        return Some(decomposed.inverse());
    }
    matrix.pseudo_inverse(largest * 1e-13).ok()
}

/// Posterior moments of every cell under N(fitted, τ²).
struct Moments {
    means: Vec<f64>,
    variances: Vec<f64>,
    log_evidence: Vec<f64>,
}

impl Moments {
    fn of(likelihoods: &[Vec<f64>], fitted: &DVector<f64>, tau: f64) -> Self {
        let mut moments = Self {
            means: Vec::with_capacity(likelihoods.len()),
            variances: Vec::with_capacity(likelihoods.len()),
            log_evidence: Vec::with_capacity(likelihoods.len()),
        };
        for (row, centre) in likelihoods.iter().zip(fitted.iter().copied()) {
            let place = |level: f64| ((level - MEAN_MIN_DBM) / MEAN_STEP_DB) as i64;
            let last = MEANS as i64 - 1;
            let from = place(centre - 7.0 * tau).clamp(0, last - 2) as usize;
            let to = (place(centre + 7.0 * tau) + 1).clamp(2, last) as usize;
            let prior = |offset: f64| (-0.5 * (offset / tau).powi(2)).exp();
            let (z, s1, s2) = sums(row, centre, from, to, prior);
            if z < 1e-250 {
                // The cell is so far from the fit that only its own data can speak.
                let (z, s1, s2) = sums(row, centre, 0, MEANS - 1, |_| 1.0);
                moments.means.push(centre + s1 / z);
                moments.variances.push((s2 / z - (s1 / z).powi(2)).min(tau * tau));
                moments.log_evidence.push(-300.0);
                continue;
            }
            moments.means.push(centre + s1 / z);
            moments.variances.push(s2 / z - (s1 / z).powi(2));
            moments
                .log_evidence
                .push((z * MEAN_STEP_DB / (tau * (2.0 * std::f64::consts::PI).sqrt())).ln());
        }
        moments
    }

    fn information(&self, tau: f64) -> Vec<f64> {
        self.variances
            .iter()
            .map(|variance| (1.0 - variance / (tau * tau)).clamp(1e-4, 1.0))
            .collect()
    }
}

/// Sums of weight, weight · offset and weight · offset² over the grid places `from` to `to`.
fn sums(row: &[f64], centre: f64, from: usize, to: usize, prior: impl Fn(f64) -> f64) -> (f64, f64, f64) {
    let (mut z, mut s1, mut s2) = (0.0, 0.0, 0.0);
    for (i, likelihood) in row.iter().enumerate().take(to + 1).skip(from) {
        let offset = mean_at(i) - centre;
        let weight = likelihood * prior(offset);
        z += weight;
        s1 += weight * offset;
        s2 += weight * offset * offset;
    }
    (z, s1, s2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Likelihoods of cells known to within 0.3 dB.
    fn sharp(levels: &[f64]) -> Vec<Vec<f64>> {
        levels
            .iter()
            .map(|level| {
                (0..MEANS)
                    .map(|i| -0.5 * ((mean_at(i) - level) / 0.3).powi(2))
                    .collect()
            })
            .collect()
    }

    #[test]
    fn well_known_cells_give_least_squares() {
        let levels = [-70.0, -72.5, -69.0, -75.5, -71.0, -78.0, -74.5, -73.0];
        let design = DMatrix::from_fn(8, 2, |row, column| if column == 0 { 1.0 } else { row as f64 - 3.5 });
        let priors = Priors {
            tau_freedom: 1e-6,
            tau_scale_db: 1.5,
            precision: vec![0.0; 2],
            restricted: true,
        };
        let fit = fit(&sharp(&levels), &design, &priors).unwrap();
        let levels = DVector::from_column_slice(&levels);
        let exact = design.clone().svd(true, true).solve(&levels, 0.0).unwrap();
        assert!((&fit.beta - &exact).amax() < 0.02, "{} for {exact}", fit.beta);
        // The restricted estimate has the divisor n - p; the cells' own 0.3 dB adds to τ.
        let spread = ((&levels - &design * exact).norm_squared() / 6.0).sqrt();
        assert!((fit.tau_db.hypot(0.3) - spread).abs() < 0.05);
        assert!((fit.freedom - 6.0).abs() < 0.1);
    }

    #[test]
    fn shapes_that_do_not_match_are_refused() {
        let priors = Priors {
            tau_freedom: 2.0,
            tau_scale_db: 2.0,
            precision: vec![0.0],
            restricted: true,
        };
        assert!(fit(&[], &DMatrix::zeros(0, 1), &priors).is_none());
        assert!(fit(&sharp(&[-70.0]), &DMatrix::zeros(2, 1), &priors).is_none());
        assert!(fit(&sharp(&[-70.0]), &DMatrix::zeros(1, 2), &priors).is_none());
    }
}
