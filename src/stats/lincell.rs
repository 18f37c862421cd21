//! A linear model of cells' mean powers, fitted through the cells' own likelihoods.
//!
//! mu = x beta + e, e ~ N(0, tau^2): tau is what remains between repetitions (putting a board back, multipath frozen at a
//! step). A cell enters only through its log likelihood on the grid of [`super::cells`], so cells that lost everything,
//! rounding and fading are all counted. Fitted by the EM method in its restricted form; the information a cell keeps by
//! Louis' identity (Louis 1982, J. Royal Statistical Society B 44:226-233).

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::cells::{MEAN_MIN_DBM, MEAN_STEP_DB, MEANS, mean_at};

const SPREAD_MIN_DB: f64 = 0.3;
const LARGEST_STEP_DB: f64 = 6.0;
const ROUNDS: usize = 300;
const TOLERANCE: f64 = 1e-4;

/// What a fit starts from and takes for granted.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Where tau starts, dB.
    pub start_spread_db: f64,
    /// Prior of tau squared, scaled inverse chi-squared: its degrees of freedom and its scale, dB.
    pub spread_prior: (f64, f64),
    /// Tau held at this, dB, instead of fitted.
    pub fixed_spread_db: Option<f64>,
    /// Prior precision of each coefficient about 0, one over variance; 0 is flat. Empty: flat for all.
    pub precision: Vec<f64>,
    /// Allows for the coefficients fitted when estimating tau (Patterson & Thompson 1971, Biometrika 58:545-554).
    pub restricted: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            start_spread_db: 2.0,
            spread_prior: (3.0, 1.5),
            fixed_spread_db: None,
            precision: Vec::new(),
            restricted: true,
        }
    }
}

/// A fitted linear model of cells.
#[derive(Clone, Debug, PartialEq)]
pub struct LinearFit {
    /// The coefficients beta.
    pub coefficients: DVector<f64>,
    /// Their covariance.
    pub covariance: DMatrix<f64>,
    /// tau, dB.
    pub spread_db: f64,
    /// Degrees of freedom for intervals: informative cells less effective coefficients, plus those of tau's prior.
    pub degrees: f64,
    /// Each cell's mean power given the fit, dBm.
    pub cell_means: Vec<f64>,
    /// Variance of each, dB squared.
    pub cell_variances: Vec<f64>,
    /// The share of a perfect measurement's information each cell keeps, 0.0001 to 1: near 0 for a cell that lost everything.
    pub information: Vec<f64>,
    /// Marginal log likelihood of the cells at the fit.
    pub log_likelihood: f64,
    /// Rounds taken, at most 300.
    pub rounds: usize,
    /// Whether the last round moved coefficients and tau by less than 0.0001 dB.
    pub converged: bool,
}

/// Fits the model; a row of `design` for each of `log_likelihoods`, each of which has [`MEANS`] values.
///
/// `None` when shapes do not agree, nothing is there to fit, or a number is not finite.
pub fn fit<L: AsRef<[f64]>>(log_likelihoods: &[L], design: &DMatrix<f64>, options: &Options) -> Option<LinearFit> {
    let (cells, columns) = design.shape();
    let spread_ok = |s: f64| s > 0.0 && s.is_finite();
    if cells == 0
        || columns == 0
        || log_likelihoods.len() != cells
        || log_likelihoods
            .iter()
            .any(|ll| ll.as_ref().len() != MEANS || ll.as_ref().iter().any(|v| !v.is_finite()))
        || design.iter().any(|v| !v.is_finite())
        || !(options.precision.is_empty() || options.precision.len() == columns)
        || options.precision.iter().any(|p| !(p.is_finite() && *p >= 0.0))
        || !spread_ok(options.start_spread_db)
        || options.fixed_spread_db.is_some_and(|s| !spread_ok(s))
    {
        return None;
    }
    let (prior_count, prior_spread) = options.spread_prior;
    let precision = if options.precision.is_empty() {
        DMatrix::zeros(columns, columns)
    } else {
        DMatrix::from_diagonal(&DVector::from_column_slice(&options.precision))
    };
    let tops: Vec<f64> = log_likelihoods
        .iter()
        .map(|ll| ll.as_ref().iter().copied().fold(f64::NEG_INFINITY, f64::max))
        .collect();
    let likelihoods: Vec<Vec<f64>> = log_likelihoods
        .iter()
        .zip(&tops)
        .map(|(ll, top)| ll.as_ref().iter().map(|v| (v - top).exp()).collect())
        .collect();

    let mut spread = options.start_spread_db;
    let mut beta = start(&likelihoods, design, spread);
    let mut moments = Moments::new(cells);
    let (mut rounds, mut converged) = (0, false);
    for _ in 0..ROUNDS {
        rounds += 1;
        let fitted = design * &beta;
        moments.update(&likelihoods, &fitted, spread);
        let information = moments.information(spread);
        let tau2 = spread * spread;
        let covariance = symmetric_inverse(&(weighted_square(design, &information) / tau2 + &precision));
        let residual = DVector::from_iterator(cells, moments.means.iter().zip(fitted.iter()).map(|(e, m)| e - m));
        let step = &covariance * (design.tr_mul(&residual) / tau2 - &precision * &beta);
        let next = &beta + step.map(|s| s.clamp(-LARGEST_STEP_DB, LARGEST_STEP_DB));
        let next_spread = options.fixed_spread_db.unwrap_or_else(|| {
            let mut squares = prior_count * prior_spread * prior_spread;
            for j in 0..cells {
                squares += residual[j] * residual[j] + moments.variances[j];
                if options.restricted {
                    let row = design.row(j);
                    let leverage = (row * &covariance * row.transpose())[0];
                    squares += information[j] * information[j] * leverage;
                }
            }
            (squares / (cells as f64 + prior_count)).sqrt().max(SPREAD_MIN_DB)
        });
        let change = (&next - &beta).amax() + (next_spread - spread).abs();
        beta = next;
        spread = next_spread;
        if change < TOLERANCE {
            converged = true;
            break;
        }
    }
    let fitted = design * &beta;
    moments.update(&likelihoods, &fitted, spread);
    let information = moments.information(spread);
    let tau2 = spread * spread;
    let square = weighted_square(design, &information);
    let covariance = symmetric_inverse(&(&square / tau2 + &precision));
    let effective_columns = (&covariance * &square).trace() / tau2;
    let informative = information.iter().filter(|k| **k > 0.3).count() as f64;
    if beta.iter().any(|b| !b.is_finite()) {
        return None;
    }
    Some(LinearFit {
        coefficients: beta,
        covariance,
        spread_db: spread,
        degrees: (informative - effective_columns).max(0.0) + prior_count,
        log_likelihood: moments.log_evidence.iter().zip(&tops).map(|(a, b)| a + b).sum(),
        cell_means: moments.means,
        cell_variances: moments.variances,
        information,
        rounds,
        converged,
    })
}

/// Weighted least squares on the cells' flat-prior means.
fn start(likelihoods: &[Vec<f64>], design: &DMatrix<f64>, spread: f64) -> DVector<f64> {
    let (mut weights, mut levels) = (Vec::new(), Vec::new());
    for likelihood in likelihoods {
        let (mean, variance) = flat_moments(likelihood);
        weights.push(1.0 / (variance + spread * spread));
        levels.push(mean);
    }
    let weighted = DVector::from_iterator(levels.len(), weights.iter().zip(&levels).map(|(w, y)| w * y));
    symmetric_inverse(&weighted_square(design, &weights)) * design.tr_mul(&weighted)
}

/// Mean and variance of the mean power by one cell alone, flat over the grid, from its likelihood (not its logarithm).
pub(super) fn flat_moments(likelihood: &[f64]) -> (f64, f64) {
    let total: f64 = likelihood.iter().sum();
    let mean = likelihood.iter().enumerate().map(|(i, w)| w * mean_at(i)).sum::<f64>() / total;
    let square = likelihood
        .iter()
        .enumerate()
        .map(|(i, w)| w * (mean_at(i) - mean).powi(2))
        .sum::<f64>();
    (mean, square / total)
}

fn weighted_square(design: &DMatrix<f64>, weights: &[f64]) -> DMatrix<f64> {
    let mut scaled = design.clone();
    for (mut row, weight) in scaled.row_iter_mut().zip(weights) {
        row *= *weight;
    }
    scaled.tr_mul(design)
}

/// The inverse of a symmetric matrix, or its pseudo-inverse where a direction is not determined.
pub(super) fn symmetric_inverse(matrix: &DMatrix<f64>) -> DMatrix<f64> {
    if let Some(cholesky) = matrix.clone().cholesky() {
        let pivots = cholesky.l_dirty().diagonal();
        if pivots.min() > 1e-6 * pivots.max() {
            return cholesky.inverse();
        }
    }
    // A matrix that is not finite never settles: the round limit turns it into zeros.
    let Some(eigen) = SymmetricEigen::try_new(matrix.clone(), f64::EPSILON, 10_000) else {
        return DMatrix::zeros(matrix.nrows(), matrix.ncols());
    };
    let floor = 1e-15 * eigen.eigenvalues.amax();
    let inverse = eigen.eigenvalues.map(|v| if v.abs() > floor { 1.0 / v } else { 0.0 });
    &eigen.eigenvectors * DMatrix::from_diagonal(&inverse) * eigen.eigenvectors.transpose()
}

/// Each cell's posterior mean power under N(fitted, tau^2).
struct Moments {
    means: Vec<f64>,
    variances: Vec<f64>,
    log_evidence: Vec<f64>,
}

impl Moments {
    fn new(cells: usize) -> Self {
        Self {
            means: vec![0.0; cells],
            variances: vec![0.0; cells],
            log_evidence: vec![0.0; cells],
        }
    }

    fn update(&mut self, likelihoods: &[Vec<f64>], fitted: &DVector<f64>, spread: f64) {
        for (j, likelihood) in likelihoods.iter().enumerate() {
            let centre = fitted[j];
            let (mean, variance, log_evidence) = gaussian_moments(likelihood, centre, spread).unwrap_or_else(|| {
                // The cell lies far from the fit: it speaks for itself.
                let (mean, variance) = flat_moments(likelihood);
                (mean, variance.min(spread * spread), -300.0)
            });
            self.means[j] = mean;
            self.variances[j] = variance;
            self.log_evidence[j] = log_evidence;
        }
    }

    fn information(&self, spread: f64) -> Vec<f64> {
        self.variances
            .iter()
            .map(|u| (1.0 - u / (spread * spread)).clamp(1e-4, 1.0))
            .collect()
    }
}

/// Mean, variance and log of the mean likelihood of one cell under N(centre, spread^2), by a sum over seven deviations to
/// either side; `None` when the likelihood is nil there.
pub(super) fn gaussian_moments(likelihood: &[f64], centre: f64, spread: f64) -> Option<(f64, f64, f64)> {
    let place = |level: f64| ((level - MEAN_MIN_DBM) / MEAN_STEP_DB).trunc().clamp(-1e6, 1e6) as i64;
    let last = MEANS as i64 - 1;
    let low = place(centre - 7.0 * spread).clamp(0, last - 2);
    let high = (place(centre + 7.0 * spread) + 1).clamp(2, last);
    let (mut z, mut first, mut second) = (0.0, 0.0, 0.0);
    for (i, likelihood) in likelihood.iter().enumerate().take(high as usize + 1).skip(low as usize) {
        let d = mean_at(i) - centre;
        let w = likelihood * (-0.5 * d * d / (spread * spread)).exp();
        z += w;
        first += w * d;
        second += w * d * d;
    }
    if z.is_nan() || z < 1e-250 {
        return None;
    }
    let shift = first / z;
    let density = z * MEAN_STEP_DB / (spread * (2.0 * std::f64::consts::PI).sqrt());
    Some((centre + shift, second / z - shift * shift, density.ln()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gaussian(centre: f64, sd: f64) -> Vec<f64> {
        (0..MEANS)
            .map(|i| -0.5 * ((mean_at(i) - centre) / sd).powi(2))
            .collect()
    }

    #[test]
    fn gaussian_cells_give_weighted_least_squares() {
        // With equal cells the estimate is the plain mean, and its variance (s^2 + tau^2)/n.
        let cells = [
            gaussian(-70.0, 1.0),
            gaussian(-74.0, 1.0),
            gaussian(-75.0, 1.0),
            gaussian(-69.0, 1.0),
        ];
        let options = Options {
            fixed_spread_db: Some(2.0),
            ..Options::default()
        };
        let fit = fit(&cells, &DMatrix::from_element(4, 1, 1.0), &options).unwrap();
        assert!(fit.converged);
        assert!((fit.coefficients[0] + 72.0).abs() < 1e-3, "{}", fit.coefficients[0]);
        assert!(
            (fit.covariance[(0, 0)] - 5.0 / 4.0).abs() < 1e-3,
            "{}",
            fit.covariance[(0, 0)]
        );
        assert!((fit.information[0] - 0.8).abs() < 1e-3);
    }

    #[test]
    fn a_repeated_column_is_no_panic() {
        let cells = [gaussian(-70.0, 1.0), gaussian(-72.0, 1.0)];
        let fit = fit(&cells, &DMatrix::from_element(2, 2, 1.0), &Options::default()).unwrap();
        assert!((fit.coefficients.sum() + 71.0).abs() < 0.1, "{}", fit.coefficients);
    }

    #[test]
    fn shapes_that_do_not_agree_are_none() {
        let cells = [gaussian(-70.0, 1.0)];
        let one = |rows| DMatrix::from_element(rows, 1, 1.0);
        assert!(fit(&cells, &one(2), &Options::default()).is_none());
        assert!(fit::<Vec<f64>>(&[], &one(0), &Options::default()).is_none());
        assert!(fit(&[vec![f64::NAN; MEANS]], &one(1), &Options::default()).is_none());
        assert!(fit(&[vec![0.0; 3]], &one(1), &Options::default()).is_none());
    }

    #[test]
    fn a_cell_far_outside_the_fit_speaks_for_itself() {
        let cells = [gaussian(-30.0, 0.5), gaussian(-120.0, 0.5), gaussian(-30.0, 0.5)];
        let fit = fit(&cells, &DMatrix::from_element(3, 1, 1.0), &Options::default()).unwrap();
        assert!((fit.coefficients[0] + 60.0).abs() < 3.0, "{}", fit.coefficients[0]);
    }
}
