//! Ordinary least squares with its intervals, and the median of slopes.

use nalgebra::{DMatrix, DVector};

use crate::stats::special::student_t_quantile;

/// A least-squares fit of y = X b.
#[derive(Clone, Debug, PartialEq)]
pub struct LeastSquares {
    /// Coefficients, in the order of the columns.
    pub coefficients: Vec<f64>,
    /// Their covariance, from the residual variance.
    pub covariance: DMatrix<f64>,
    /// Standard deviation of the residuals, n - p degrees of freedom.
    pub residual_sd: f64,
    /// Share of the variance about the mean that is explained; `None` where all y are alike.
    pub r_squared: Option<f64>,
    /// Rows.
    pub count: usize,
}

/// A fitted value with its two 95 % intervals, in the unit of y.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Predicted {
    /// The fitted mean.
    pub mean: f64,
    /// Half-width of the interval of the mean.
    pub mean_half: f64,
    /// Half-width of the interval of a single further observation.
    pub single_half: f64,
}

impl LeastSquares {
    /// Standard error of coefficient `i`; `None` where there is none.
    pub fn standard_error(&self, i: usize) -> Option<f64> {
        (i < self.coefficients.len()).then(|| self.covariance[(i, i)].max(0.0).sqrt())
    }

    /// The fit at a row of covariates; `None` when their number does not match.
    pub fn predict(&self, row: &[f64]) -> Option<Predicted> {
        if row.len() != self.coefficients.len() {
            return None;
        }
        let x = DVector::from_row_slice(row);
        let variance = (x.transpose() * &self.covariance * &x)[(0, 0)].max(0.0);
        let t = student_t_quantile(0.975, (self.count - row.len()) as f64)?;
        Some(Predicted {
            mean: row.iter().zip(&self.coefficients).map(|(a, b)| a * b).sum(),
            mean_half: t * variance.sqrt(),
            single_half: t * (variance + self.residual_sd * self.residual_sd).sqrt(),
        })
    }
}

/// Fits `y` to the rows of covariates (a constant is a column of ones), by orthogonal decomposition.
///
/// `None` for fewer than p + 1 rows, unequal lengths, anything not finite, or columns that depend on each other: a
/// scaled column left with less than 1e-12 of its length by those before it.
pub fn least_squares(rows: &[Vec<f64>], y: &[f64]) -> Option<LeastSquares> {
    let (n, p) = (rows.len(), rows.first()?.len());
    if n != y.len() || p == 0 || n <= p || rows.iter().any(|row| row.len() != p) {
        return None;
    }
    if y.iter().chain(rows.iter().flatten()).any(|v| !v.is_finite()) {
        return None;
    }
    let mut x = DMatrix::from_fn(n, p, |i, j| rows[i][j]);
    // Columns of very different size would hide a dependence and cost digits.
    let scale: Vec<f64> = x.column_iter().map(|column| column.norm()).collect();
    if scale.contains(&0.0) {
        return None;
    }
    for (mut column, s) in x.column_iter_mut().zip(&scale) {
        column /= *s;
    }
    let qr = x.clone().qr();
    let r = qr.r();
    if (0..p).any(|i| r[(i, i)].abs() < 1e-12) {
        return None;
    }
    let target = DVector::from_row_slice(y);
    let solve = |v: &DVector<f64>| r.solve_upper_triangular(&(qr.q().transpose() * v));
    let mut b = solve(&target)?;
    // One step of refinement on the residuals recovers digits lost to nearly dependent columns.
    b += solve(&(&target - &x * &b))?;
    let residual = &target - &x * &b;
    let squares = residual.norm_squared();
    let variance = squares / (n - p) as f64;
    let inverse = r.try_inverse()?;
    let unscaled = &inverse * inverse.transpose() * variance;
    let about_mean: f64 = {
        let mean = target.mean();
        target.iter().map(|v| (v - mean).powi(2)).sum()
    };
    Some(LeastSquares {
        coefficients: b.iter().zip(&scale).map(|(b, s)| b / s).collect(),
        covariance: DMatrix::from_fn(p, p, |i, j| unscaled[(i, j)] / (scale[i] * scale[j])),
        residual_sd: variance.sqrt(),
        r_squared: (about_mean > 0.0).then(|| 1.0 - squares / about_mean),
        count: n,
    })
}

/// Returns the median of the slopes of all pairs (H. Theil 1950; P. K. Sen 1968, JASA 63), in units of y per unit of x;
/// `None` when no two x differ.
///
/// Takes time and room in the square of the number of points.
pub fn median_slope(x: &[f64], y: &[f64]) -> Option<f64> {
    let n = x.len().min(y.len());
    let mut slopes: Vec<f64> = (0..n)
        .flat_map(|i| (0..i).map(move |j| (i, j)))
        .map(|(i, j)| (y[i] - y[j]) / (x[i] - x[j]))
        .filter(|slope| slope.is_finite())
        .collect();
    slopes.sort_by(f64::total_cmp);
    let middle = slopes.len() / 2;
    match slopes.len() {
        0 => None,
        count if count % 2 == 1 => Some(slopes[middle]),
        _ => Some(0.5 * (slopes[middle - 1] + slopes[middle])),
    }
}
