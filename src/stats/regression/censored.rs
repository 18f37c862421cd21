//! A line through readings of which some are only known to lie beyond a limit (J. Tobin 1958, Econometrica 26).

use nalgebra::{DMatrix, DVector};

use super::linear::least_squares;
use crate::stats::special::{normal_cdf, normal_pdf};

/// What is known of one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Known {
    /// The reading itself.
    Exactly(f64),
    /// Only that it is at most this.
    AtMost(f64),
    /// Only that it is at least this.
    AtLeast(f64),
}

/// A fitted censored regression.
#[derive(Clone, Debug, PartialEq)]
pub struct CensoredFit {
    /// Coefficients, in the order of the columns.
    pub coefficients: Vec<f64>,
    /// Standard deviation about the line, in the unit of the readings.
    pub scale: f64,
    /// Covariance of the coefficients and, last, of ln scale: inverse of the observed information.
    pub covariance: DMatrix<f64>,
    /// Log-likelihood.
    pub log_likelihood: f64,
    /// Rows, and how many of them were censored.
    pub count: (usize, usize),
}

/// Fits a censored normal regression by Newton's method in (b/scale, 1/scale), where the log-likelihood has one summit
/// (R. J. Olsen 1978, Econometrica 46).
///
/// At most 100 rounds, each halved until the likelihood does not fall. `None` when the rows do not belong together,
/// fewer than p + 1 are exact, columns depend on each other, or the rounds run out.
pub fn censored_regression(rows: &[Vec<f64>], known: &[Known]) -> Option<CensoredFit> {
    let p = rows.first()?.len();
    if rows.len() != known.len() {
        return None;
    }
    // The start: least squares on the exact rows.
    let (exact_rows, exact): (Vec<Vec<f64>>, Vec<f64>) = rows
        .iter()
        .zip(known)
        .filter_map(|(row, k)| {
            if let Known::Exactly(y) = k {
                Some((row.clone(), *y))
            } else {
                None
            }
        })
        .unzip();
    let start = least_squares(&exact_rows, &exact)?;
    let limits_sound = known.iter().all(|k| match k {
        Known::Exactly(y) | Known::AtMost(y) | Known::AtLeast(y) => y.is_finite(),
    });
    let rows_sound = rows
        .iter()
        .all(|row| row.len() == p && row.iter().all(|v| v.is_finite()));
    if !(limits_sound && rows_sound && start.residual_sd > 0.0) {
        return None;
    }
    let mut at = DVector::from_fn(p + 1, |i, _| {
        if i < p {
            start.coefficients[i] / start.residual_sd
        } else {
            1.0 / start.residual_sd
        }
    });
    let mut now = Terms::at(&at, rows, known);
    for _ in 0..100 {
        let step = now.curvature.clone().cholesky()?.solve(&now.score);
        let mut share = 1.0;
        let (mut next, mut reached) = loop {
            let next = &at + &step * share;
            if next[p] > 0.0 {
                let reached = Terms::at(&next, rows, known);
                if reached.value >= now.value - 1e-10 || share < 1e-6 {
                    break (next, reached);
                }
            }
            if share < 1e-9 {
                return None;
            }
            share *= 0.5;
        };
        std::mem::swap(&mut at, &mut next);
        std::mem::swap(&mut now, &mut reached);
        if step
            .iter()
            .zip(at.iter())
            .all(|(s, x)| s.abs() <= 1e-10 * (1.0 + x.abs()))
        {
            return finish(&at, &now, known);
        }
    }
    None
}

/// Back to coefficients and ln scale; the covariance follows by the chain rule, exact at the summit.
fn finish(at: &DVector<f64>, terms: &Terms, known: &[Known]) -> Option<CensoredFit> {
    let p = at.len() - 1;
    let scale = 1.0 / at[p];
    let inverse = terms.curvature.clone().try_inverse()?;
    // b = g / h and ln scale = -ln h.
    let jacobian = DMatrix::from_fn(p + 1, p + 1, |i, j| match (i == p, j == p) {
        (false, false) => {
            if i == j {
                scale
            } else {
                0.0
            }
        }
        (false, true) => -at[i] * scale * scale,
        (true, false) => 0.0,
        (true, true) => -scale,
    });
    Some(CensoredFit {
        coefficients: (0..p).map(|i| at[i] * scale).collect(),
        scale,
        covariance: &jacobian * inverse * jacobian.transpose(),
        log_likelihood: terms.value,
        count: (
            known.len(),
            known.iter().filter(|k| !matches!(k, Known::Exactly(_))).count(),
        ),
    })
}

/// Log-likelihood with its gradient and minus its second derivatives, in (b/scale, 1/scale).
struct Terms {
    value: f64,
    score: DVector<f64>,
    curvature: DMatrix<f64>,
}

impl Terms {
    fn at(at: &DVector<f64>, rows: &[Vec<f64>], known: &[Known]) -> Self {
        let p = at.len() - 1;
        let mut terms = Self {
            value: 0.0,
            score: DVector::zeros(p + 1),
            curvature: DMatrix::zeros(p + 1, p + 1),
        };
        for (row, known) in rows.iter().zip(known) {
            let (y, side) = match *known {
                Known::Exactly(y) => (y, 0.0),
                Known::AtMost(y) => (y, 1.0),
                Known::AtLeast(y) => (y, -1.0),
            };
            let direction = DVector::from_fn(p + 1, |i, _| if i < p { -row[i] } else { y });
            let z = direction.dot(at);
            let (value, slope, bend) = if side == 0.0 {
                (-0.5 * z * z - 0.918_938_533_204_672_7, -z, 1.0)
            } else {
                log_tail(side * z)
            };
            let turned = if side == 0.0 { 1.0 } else { side };
            terms.value += value;
            terms.score += &direction * (slope * turned);
            terms.curvature += &direction * direction.transpose() * bend;
            if side == 0.0 {
                let h = at[p];
                terms.value += h.ln();
                terms.score[p] += 1.0 / h;
                terms.curvature[(p, p)] += 1.0 / (h * h);
            }
        }
        terms
    }
}

/// ln Φ(z), its derivative, and minus its second derivative. Below -30 by the first terms of Mills' ratio.
fn log_tail(z: f64) -> (f64, f64, f64) {
    if z < -30.0 {
        let ratio = -z - 1.0 / z;
        return (
            -0.5 * z * z - 0.918_938_533_204_672_7 - ratio.ln(),
            ratio,
            ratio * (z + ratio),
        );
    }
    let ratio = normal_pdf(z) / normal_cdf(z);
    (normal_cdf(z).ln(), ratio, ratio * (z + ratio))
}
