//! Regression of a share, so many of so many, on covariates.

use nalgebra::{DMatrix, DVector};

use crate::stats::special::{logistic, normal_cdf, normal_pdf};

/// How the linear predictor becomes a probability.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    /// 1 / (1 + exp(-x)).
    Logit,
    /// Normal distribution function.
    Probit,
    /// 1 - exp(-exp(x)).
    ComplementaryLogLog,
}

impl Link {
    /// Probability, its complement, and the derivative of the probability, at a linear predictor.
    fn at(self, x: f64) -> (f64, f64, f64) {
        match self {
            Self::Logit => {
                let (p, q) = (logistic(x), logistic(-x));
                (p, q, p * q)
            }
            Self::Probit => (normal_cdf(x), normal_cdf(-x), normal_pdf(x)),
            Self::ComplementaryLogLog => {
                let hazard = x.min(700.0).exp();
                (-(-hazard).exp_m1(), (-hazard).exp(), (x.min(700.0) - hazard).exp())
            }
        }
    }
}

/// A fitted share.
#[derive(Clone, Debug, PartialEq)]
pub struct BinomialFit {
    /// Coefficients, in the order of the columns.
    pub coefficients: Vec<f64>,
    /// Their covariance: inverse of the expected information.
    pub covariance: DMatrix<f64>,
    /// Log-likelihood without the binomial coefficients.
    pub log_likelihood: f64,
    /// Twice the log-likelihood short of that of the shares themselves.
    pub deviance: f64,
    /// Trials in all.
    pub trials: f64,
}

/// Why there is no fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoBinomialFit {
    /// Lengths differ, a count is no count, or a number is not finite.
    #[error("rows, successes and trials do not belong together")]
    Malformed,
    /// A covariate splits successes from failures, so that no finite coefficient is best (A. Albert, J. A. Anderson
    /// 1984, Biometrika 71).
    #[error("successes and failures are cleanly separated; the slope has no finite estimate")]
    Separated,
    /// Columns depend on each other.
    #[error("the covariates depend on each other")]
    Dependent,
}

/// Fits `successes` out of `trials` to rows of covariates by Fisher scoring.
///
/// At most 100 rounds, each halved until the likelihood does not fall, ended by a change of the log-likelihood under
/// 1e-12 of itself. Where a linear predictor grows beyond 30 with the fit still improving, the data are taken as
/// separated.
///
/// # Errors
///
/// As [`NoBinomialFit`] says.
pub fn binomial_regression(
    rows: &[Vec<f64>],
    successes: &[f64],
    trials: &[f64],
    link: Link,
) -> Result<BinomialFit, NoBinomialFit> {
    let n = rows.len();
    let p = rows.first().map_or(0, Vec::len);
    let counts_sound = successes
        .iter()
        .zip(trials)
        .all(|(k, n)| *k >= 0.0 && k <= n && n.is_finite());
    let rows_sound = rows
        .iter()
        .all(|row| row.len() == p && row.iter().all(|v| v.is_finite()));
    if p == 0 || successes.len() != n || trials.len() != n || !counts_sound || !rows_sound {
        return Err(NoBinomialFit::Malformed);
    }
    let x = DMatrix::from_fn(n, p, |i, j| rows[i][j]);
    let likelihood = |b: &DVector<f64>| -> f64 {
        (&x * b)
            .iter()
            .zip(successes.iter().zip(trials))
            .map(|(eta, (k, n))| {
                let (share, rest, _) = link.at(*eta);
                times_log(*k, share) + times_log(n - k, rest)
            })
            .sum()
    };
    let mut b = DVector::zeros(p);
    let mut value = likelihood(&b);
    let mut information = DMatrix::zeros(p, p);
    let mut settled = false;
    for _ in 0..100 {
        let eta = &x * &b;
        let mut score = DVector::zeros(p);
        information.fill(0.0);
        for i in 0..n {
            let (share, rest, slope) = link.at(eta[i]);
            let spread = (share * rest).max(1e-300);
            let row = x.row(i).transpose();
            score += &row * ((successes[i] - trials[i] * share) * slope / spread);
            information += &row * row.transpose() * (trials[i] * slope * slope / spread);
        }
        let Some(step) = information.clone().cholesky().map(|c| c.solve(&score)) else {
            return Err(if eta.amax() > 30.0 {
                NoBinomialFit::Separated
            } else {
                NoBinomialFit::Dependent
            });
        };
        let mut share = 1.0;
        let mut next = &b + &step;
        let mut reached = likelihood(&next);
        while (reached.is_nan() || reached < value) && share > 1e-6 {
            share *= 0.5;
            next = &b + &step * share;
            reached = likelihood(&next);
        }
        let gain = reached - value;
        b = next;
        value = reached;
        if (&x * &b).amax() > 30.0 {
            return Err(NoBinomialFit::Separated);
        }
        if gain.abs() <= 1e-12 * (1.0 + value.abs()) && step.amax() < 1e-7 * (1.0 + b.amax()) {
            settled = true;
            break;
        }
    }
    if !settled {
        return Err(NoBinomialFit::Separated);
    }
    let saturated: f64 = successes
        .iter()
        .zip(trials)
        .map(|(k, n)| times_log(*k, k / n) + times_log(n - k, (n - k) / n))
        .sum();
    Ok(BinomialFit {
        coefficients: b.iter().copied().collect(),
        covariance: information.try_inverse().ok_or(NoBinomialFit::Dependent)?,
        log_likelihood: value,
        deviance: 2.0 * (saturated - value),
        trials: trials.iter().sum(),
    })
}

fn times_log(count: f64, probability: f64) -> f64 {
    if count > 0.0 { count * probability.ln() } else { 0.0 }
}
