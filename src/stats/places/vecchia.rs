//! The likelihood of the records under a covariance, with the trend integrated out.
//!
//! Vecchia 1988, J. R. Stat. Soc. B 50:297-312: each record is conditioned on a few near earlier ones only. Taking the
//! records in bit-reversed order (in the spirit of Guinness 2018, Technometrics 60:415-429) makes the earlier ones cover
//! the ground coarsely at first and finely later.

use nalgebra::{Matrix4, Vector4};

use super::cholesky::{backward, factor, forward};
use super::compass::Covariance;
use super::trend::{Trend, dot, prior_mean, prior_precision};

/// Near earlier records each record is conditioned on.
pub(super) const CONDITIONED: usize = 12;

/// The order of records and the near earlier ones of each, with all distances between them.
#[derive(Clone, Debug)]
pub(super) struct Vecchia<const M: usize> {
    steps: Vec<Step<M>>,
    // Correlations at one length, kept because most likelihoods asked for in a row share it.
    length: f64,
    correlations: Vec<Correlations<M>>,
}

/// One record in the order, and its near earlier ones.
#[derive(Clone, Debug)]
struct Step<const M: usize> {
    record: usize,
    count: usize,
    near: [usize; M],
    to: [f64; M],
    between: [[f64; M]; M],
}

#[derive(Clone, Debug)]
struct Correlations<const M: usize> {
    to: [f64; M],
    between: [[f64; M]; M],
}

/// What turns record values into independent ones: the weights of the near earlier records and the variance left.
#[derive(Clone, Debug)]
pub(super) struct Weights<const M: usize> {
    of: Vec<([f64; M], f64)>,
}

/// The log marginal likelihood and the sums it is made of.
#[derive(Clone, Debug)]
pub(super) struct Evidence {
    /// Natural logarithm of the marginal likelihood, trend integrated out over its prior.
    pub log_likelihood: f64,
    /// Information about the trend in the records, without the prior.
    pub gram: Matrix4<f64>,
    /// The same information times the residual from the prior mean.
    pub cross: Vector4<f64>,
}

/// The numbers 0 to `count` - 1 in the order of their reversed binary digits.
pub(super) fn bit_reversed(count: usize) -> Vec<usize> {
    let bits = count.max(2).next_power_of_two().trailing_zeros();
    (0..1_usize << bits)
        .map(|i| i.reverse_bits() >> (usize::BITS - bits))
        .filter(|i| *i < count)
        .collect()
}

impl<const M: usize> Vecchia<M> {
    /// Orders the records at `points` (metres east and north) and finds the near earlier ones of each.
    pub(super) fn new(points: &[(f64, f64)]) -> Self {
        let order = bit_reversed(points.len());
        let steps = (0..order.len()).map(|i| Step::new(i, &order, points)).collect();
        Self {
            steps,
            length: f64::NAN,
            correlations: Vec::new(),
        }
    }

    fn correlate(&mut self, length: f64) {
        if self.length == length && self.correlations.len() == self.steps.len() {
            return;
        }
        self.length = length;
        self.correlations = self
            .steps
            .iter()
            .map(|step| {
                let mut own = Correlations {
                    to: [0.0; M],
                    between: [[0.0; M]; M],
                };
                for a in 0..step.count {
                    own.to[a] = (-step.to[a] / length).exp();
                    for b in a + 1..step.count {
                        own.between[a][b] = (-step.between[a][b] / length).exp();
                    }
                }
                own
            })
            .collect();
    }

    /// The weights under `covariance`, with `noise` the variance of each record in dB² apart from the field's nugget.
    pub(super) fn weights(&mut self, covariance: &Covariance, noise: &[f64]) -> Weights<M> {
        let (sill, nugget) = (covariance.sill(), covariance.nugget());
        self.correlate(covariance.length());
        let of = self
            .steps
            .iter()
            .zip(&self.correlations)
            .map(|(step, own)| {
                let mut matrix = [[0.0; M]; M];
                let mut right = [0.0; M];
                for a in 0..M {
                    if a < step.count {
                        matrix[a][a] = sill + noise[step.near[a]] + nugget;
                        right[a] = sill * own.to[a];
                        for (value, correlation) in matrix[a].iter_mut().zip(&own.between[a]).skip(a + 1) {
                            *value = sill * correlation;
                        }
                    } else {
                        matrix[a][a] = 1.0;
                    }
                }
                factor(&mut matrix);
                forward(&matrix, &mut right);
                let explained: f64 = right.iter().map(|z| z * z).sum();
                backward(&matrix, &mut right);
                (right, sill + noise[step.record] + nugget - explained)
            })
            .collect();
        Weights { of }
    }

    /// The evidence for `residuals` (levels minus prior trend, dB) on trend `rows` under `weights`.
    pub(super) fn evidence(&self, weights: &Weights<M>, residuals: &[f64], rows: &[[f64; 4]]) -> Evidence {
        let (mut log_variance, mut squares) = (0.0, 0.0);
        let (mut gram, mut cross) = ([[0.0; 4]; 4], [0.0; 4]);
        for (step, (weight, variance)) in self.steps.iter().zip(&weights.of) {
            let mut value = residuals[step.record];
            let mut row = rows[step.record];
            for (near, w) in step.near.iter().zip(weight).take(step.count) {
                value -= w * residuals[*near];
                for (own, other) in row.iter_mut().zip(&rows[*near]) {
                    *own -= w * other;
                }
            }
            log_variance += variance.ln();
            squares += value * value / variance;
            for (p, (sums, sum)) in gram.iter_mut().zip(&mut cross).enumerate() {
                let scaled = row[p] / variance;
                *sum += scaled * value;
                for (sum, other) in sums.iter_mut().zip(&row) {
                    *sum += scaled * other;
                }
            }
        }
        let gram = Matrix4::from_fn(|i, j| gram[i][j]);
        let cross = Vector4::from(cross);
        let prior = prior_precision();
        let constant = self.steps.len() as f64 * std::f64::consts::TAU.ln();
        // Prior and information add up to a positive definite matrix unless an input overflowed: such a covariance loses.
        let log_likelihood = (gram + prior).cholesky().map_or(f64::NEG_INFINITY, |sum| {
            let ratio = (sum.determinant() / prior.determinant()).ln();
            -0.5 * (log_variance + ratio + squares - cross.dot(&sum.solve(&cross)) + constant)
        });
        Evidence {
            log_likelihood,
            gram,
            cross,
        }
    }
}

impl Evidence {
    /// The trend's posterior, given the records' median `level` in dBm that the prior is centred on.
    pub(super) fn trend(&self, level: f64) -> Trend {
        let Some(information) = (self.gram + prior_precision()).cholesky() else {
            return Trend::prior(level);
        };
        let covariance = information.inverse();
        let shift = covariance * self.cross;
        let mean = prior_mean(level);
        Trend {
            coefficients: std::array::from_fn(|i| mean[i] + shift[i]),
            covariance,
        }
    }
}

/// Levels minus the prior trend around `level`, in dB.
pub(super) fn residuals(levels: &[f64], rows: &[[f64; 4]], level: f64) -> Vec<f64> {
    let mean = prior_mean(level);
    levels.iter().zip(rows).map(|(y, row)| y - dot(row, &mean)).collect()
}

impl<const M: usize> Step<M> {
    fn new(position: usize, order: &[usize], points: &[(f64, f64)]) -> Self {
        let apart = |a: usize, b: usize| (points[a].0 - points[b].0).hypot(points[a].1 - points[b].1);
        let record = order[position];
        let (x, y) = points[record];
        // Kept sorted by insertion: of the few nearest, most later candidates are refused at the first comparison.
        let mut nearest: Vec<(f64, usize)> = Vec::with_capacity(M + 1);
        for earlier in &order[..position] {
            let (dx, dy) = (points[*earlier].0 - x, points[*earlier].1 - y);
            if nearest.len() == M && dx * dx + dy * dy > nearest[M - 1].0 * nearest[M - 1].0 * (1.0 + 1e-12) {
                continue;
            }
            let distance = dx.hypot(dy);
            let at = nearest.partition_point(|(other, _)| *other <= distance);
            if at < M {
                nearest.truncate(M - 1);
                nearest.insert(at, (distance, *earlier));
            }
        }
        let mut step = Self {
            record,
            count: nearest.len(),
            near: [0; M],
            to: [0.0; M],
            between: [[0.0; M]; M],
        };
        for (a, (distance, near)) in nearest.iter().enumerate() {
            step.near[a] = *near;
            step.to[a] = *distance;
            for (b, (_, other)) in nearest.iter().enumerate().skip(a + 1) {
                step.between[a][b] = apart(*near, *other);
            }
        }
        step
    }
}

#[cfg(test)]
mod tests {
    use super::super::trend::basis;
    use super::*;

    #[test]
    fn conditioning_on_everything_earlier_is_the_exact_likelihood() {
        // With no more records than neighbours the approximation is exact: compare with one dense matrix.
        const N: usize = 6;
        let points: Vec<(f64, f64)> = (0..N).map(|i| (i as f64 * 7.0, (i * i) as f64)).collect();
        let rows: Vec<[f64; 4]> = points.iter().map(|p| basis(p.0, p.1, 0.2, (-9.0, 3.0))).collect();
        let levels: Vec<f64> = (0..N).map(|i| -70.0 - 2.0 * i as f64 + (i as f64).sin()).collect();
        let noise = [1.0, 2.0, 0.5, 1.5, 0.7, 3.0];
        let covariance = Covariance::new(5.0, 18.0, 1.5);
        let residual = residuals(&levels, &rows, -75.0);
        let mut vecchia = Vecchia::<8>::new(&points);
        let weights = vecchia.weights(&covariance, &noise);
        let told = vecchia.evidence(&weights, &residual, &rows);

        let prior = prior_precision().try_inverse().unwrap();
        let mut dense = nalgebra::SMatrix::<f64, N, N>::zeros();
        for i in 0..N {
            for j in 0..N {
                let h = (points[i].0 - points[j].0).hypot(points[i].1 - points[j].1);
                let trend = Vector4::from(rows[i]).dot(&(prior * Vector4::from(rows[j])));
                let own = if i == j { noise[i] + 1.5 * 1.5 } else { 0.0 };
                dense[(i, j)] = 25.0 * (-h / 18.0).exp() + trend + own;
            }
        }
        let r = nalgebra::SVector::<f64, N>::from_iterator(residual.iter().copied());
        let chol = dense.cholesky().unwrap();
        let exact = -0.5 * (chol.determinant().ln() + r.dot(&chol.solve(&r)) + N as f64 * std::f64::consts::TAU.ln());
        assert!(
            (told.log_likelihood - exact).abs() < 1e-9,
            "{} {exact}",
            told.log_likelihood
        );
    }

    #[test]
    fn no_records_leave_the_prior() {
        let mut vecchia = Vecchia::<CONDITIONED>::new(&[]);
        let weights = vecchia.weights(&Covariance::prior(), &[]);
        let trend = vecchia.evidence(&weights, &[], &[]).trend(-80.0);
        assert!((trend.coefficients[0] + 80.0).abs() < 1e-12);
        assert!((trend.covariance[(0, 0)] - 400.0).abs() < 1e-9);
    }
}
