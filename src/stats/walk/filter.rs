//! A Kalman filter over the cells of a walk that takes each cell's whole likelihood, not a single reading of it.
//!
//! Assumed-density filtering (T. Minka 2001, thesis): after each cell the state keeps the exact mean and covariance of
//! the normal it had multiplied by the cell's likelihood. The state is the shadowing at the cell, a first-order Markov
//! chain (M. Gudmundson 1991, Electronics Letters 27:2145), and the P coefficients of a law linear in them.

use super::quick;
use crate::stats::cells::{MEAN_MIN_DBM as FIRST_LEVEL, MEAN_STEP_DB as STEP, MEANS as LEVELS};

/// Each cell's likelihood over mean levels, scaled to a largest value of 1. Cells may share one.
#[derive(Clone, Debug)]
pub(super) struct CellCurves {
    /// Which of the curves is a cell's own.
    of: Vec<usize>,
    /// Logarithm of each curve's largest likelihood.
    peak: Vec<f64>,
    /// Likelihoods, [`LEVELS`] to a curve.
    weight: Vec<f64>,
    /// First and last level of each curve with a likelihood above [`CORE`].
    core: Vec<(usize, usize)>,
}

/// Likelihoods under this share of the peak are looked at only where the prior leaves nothing else.
const CORE: f64 = 1e-16;

impl CellCurves {
    /// From log-likelihoods, [`LEVELS`] to a curve, and which of them is each cell's, each spread by a normal of `nugget_db`
    /// decibels: what differs from cell to cell without correlation.
    pub(super) fn new(mut log_likelihood: Vec<f64>, of: Vec<usize>, nugget_db: f64) -> Self {
        const HALF: usize = 7;
        let mut kernel = [0.0; 2 * HALF + 1];
        for (i, w) in kernel.iter_mut().enumerate() {
            *w = (-0.5 * ((i as f64 - HALF as f64) * STEP / nugget_db).powi(2)).exp();
        }
        let total: f64 = kernel.iter().sum();
        for w in &mut kernel {
            *w /= total;
        }
        let mut peak = Vec::new();
        let mut core = Vec::new();
        let mut padded = [0.0; LEVELS + 2 * HALF];
        for row in log_likelihood.chunks_exact_mut(LEVELS) {
            let top = row.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            for (out, value) in padded[HALF..].iter_mut().zip(row.iter()) {
                // Below, nothing is left beside the 1e-300 that is added.
                let d = value - top;
                *out = if d > -690.0 { quick::exp(d.max(-690.0)) } else { 0.0 };
            }
            let (first, last) = (padded[HALF], padded[HALF + LEVELS - 1]);
            padded[..HALF].fill(first);
            padded[HALF + LEVELS..].fill(last);
            // Most of a curve is nothing, and stays nothing out of the kernel's reach.
            let from = padded
                .iter()
                .position(|&v| v > 0.0)
                .unwrap_or(0)
                .saturating_sub(2 * HALF);
            let to = padded
                .iter()
                .rposition(|&v| v > 0.0)
                .map_or(0, |last| (last + 1).min(LEVELS));
            row.fill(1e-300);
            let mut largest = 0.0_f64;
            for (out, window) in row[from..to].iter_mut().zip(padded[from..].windows(2 * HALF + 1)) {
                *out += window.iter().zip(&kernel).map(|(v, w)| v * w).sum::<f64>();
                largest = largest.max(*out);
            }
            for w in row.iter_mut() {
                *w /= largest;
            }
            peak.push(top + largest.ln());
            let from = row.iter().position(|&w| w > CORE).unwrap_or(0);
            let to = row.iter().rposition(|&w| w > CORE).unwrap_or(LEVELS - 1);
            core.push((from, to));
        }
        Self {
            of,
            peak,
            weight: log_likelihood,
            core,
        }
    }

    fn row(&self, curve: usize) -> &[f64] {
        &self.weight[curve * LEVELS..(curve + 1) * LEVELS]
    }
}

/// Cells in the order they are filtered: the chain of shadowing runs alike both ways, and starting at the end nearer to
/// the station starts where the law is known best.
#[derive(Clone, Debug)]
pub(super) struct Order {
    /// Cell numbers.
    pub cells: Vec<usize>,
    /// Metres from the cell before; 0 for the first.
    pub gap_m: Vec<f64>,
}

/// Normal belief about the P coefficients of the law, from a filter run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Filtered<const P: usize> {
    /// Logarithm of the marginal likelihood.
    pub log_likelihood: f64,
    pub mean: [f64; P],
    pub covariance: [[f64; P]; P],
}

/// Belief about the P coefficients before the walk: independent normals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Before<const P: usize> {
    pub mean: [f64; P],
    pub variance: [f64; P],
}

/// Runs the filter for shadowing of `sigma_db` with correlation exp(-gap / `delta_m`).
///
/// The mean level of cell j is shadowing + sum over p of `design[j][p]` times coefficient p, in dBm.
pub(super) fn run<const P: usize>(
    curves: &CellCurves,
    order: &Order,
    design: &[[f64; P]],
    (sigma_db, delta_m): (f64, f64),
    before: &Before<P>,
) -> Filtered<P> {
    let sill = sigma_db * sigma_db;
    // The shadowing x0 with variance p00 and covariances c with the coefficients b, whose covariance is v.
    let (mut x0, mut p00, mut c) = (0.0, sill, [0.0; P]);
    let mut b = before.mean;
    let mut v = [[0.0; P]; P];
    for (i, row) in v.iter_mut().enumerate() {
        row[i] = before.variance[i];
    }
    let mut total = 0.0;
    for (step, &cell) in order.cells.iter().enumerate() {
        if step > 0 {
            let rho = (-order.gap_m[step].max(0.5) / delta_m).exp();
            x0 *= rho;
            p00 = rho * rho * p00 + sill * (1.0 - rho * rho);
            for c in &mut c {
                *c *= rho;
            }
        }
        let h = &design[cell];
        let g0 = p00 + inner(&c, h);
        let mut g = c;
        for (g, row) in g.iter_mut().zip(&v) {
            *g += inner(row, h);
        }
        let mean = x0 + inner(&b, h);
        let variance = g0 + inner(&g, h);
        let curve = curves.of[cell];
        let Some(seen) = moments(curves.row(curve), curves.core[curve], mean, variance) else {
            // A cell no level within six deviations can explain is passed over at a fixed price.
            total -= 500.0;
            continue;
        };
        total += curves.peak[curve] + (seen.mass * STEP / (variance.sqrt() * ROOT_TWO_PI)).ln();
        let gain = (variance - seen.variance.max(1e-4)) / (variance * variance);
        let shift = seen.shift / variance;
        x0 += g0 * shift;
        p00 -= gain * g0 * g0;
        for i in 0..P {
            b[i] += g[i] * shift;
            c[i] -= gain * g0 * g[i];
            for j in 0..P {
                v[i][j] -= gain * g[i] * g[j];
            }
        }
    }
    Filtered {
        log_likelihood: total,
        mean: b,
        covariance: v,
    }
}

const ROOT_TWO_PI: f64 = 2.506_628_274_631_000_2;

fn inner<const P: usize>(a: &[f64; P], b: &[f64; P]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// A normal times a likelihood: mass, mean less the normal's mean, variance.
struct Moments {
    mass: f64,
    shift: f64,
    variance: f64,
}

fn moments(row: &[f64], core: (usize, usize), mean: f64, variance: f64) -> Option<Moments> {
    let sd = variance.sqrt();
    let low = ((mean - 6.0 * sd - FIRST_LEVEL) / STEP).clamp(0.0, (LEVELS - 3) as f64) as usize;
    let high = (((mean + 6.0 * sd - FIRST_LEVEL) / STEP) as isize + 1).clamp(2, LEVELS as isize - 1) as usize;
    let (from, to) = (low.max(core.0), high.min(core.1));
    let mut sums = if from <= to {
        weigh(row, from, to, mean, variance)
    } else {
        [0.0; 3]
    };
    // Outside its core a likelihood is below 1e-16: it counts only where the core lies far from all that is believed.
    if sums[0] < 1e-5 {
        sums = weigh(row, low, high, mean, variance);
    }
    let [mass, first, second] = sums;
    if mass < 1e-250 || !mass.is_finite() {
        return None;
    }
    let shift = first / mass;
    Some(Moments {
        mass,
        shift,
        variance: second / mass - shift * shift,
    })
}

/// Sums of w, w d and w d² over levels `from..=to`, w = likelihood × exp(-d²/(2 variance)), d = level - mean.
///
/// On an even grid the exponential follows by two multiplications from its neighbour; four neighbours run side by side.
fn weigh(row: &[f64], from: usize, to: usize, mean: f64, variance: f64) -> [f64; 3] {
    const LANES: usize = 4;
    let stride = STEP * LANES as f64;
    let first = FIRST_LEVEL + STEP * from as f64 - mean;
    // To the next level the bell falls by `ratio`, and that ratio by `change`.
    let mut d = [first; LANES];
    let bounded = |x: f64| quick::exp(x.clamp(-700.0, 700.0));
    let mut bell = [bounded(-0.5 * first * first / variance); LANES];
    let mut ratio = [bounded(-(first * STEP + 0.5 * STEP * STEP) / variance); LANES];
    let change = bounded(-STEP * STEP / variance);
    for lane in 1..LANES {
        d[lane] = d[lane - 1] + STEP;
        bell[lane] = bell[lane - 1] * ratio[lane - 1];
        ratio[lane] = ratio[lane - 1] * change;
    }
    // Over four levels: ratio ^ 4 change ^ 6, and change ^ 16.
    let (change2, change4) = (change * change, (change * change) * (change * change));
    for ratio in &mut ratio {
        let squared = *ratio * *ratio;
        *ratio = squared * squared * change4 * change2;
    }
    let change = (change4 * change4) * (change4 * change4);
    // Sums of w, of those sums and of these in turn: what a level adds to them grows with the levels still to come as 1, n and
    // n (n + 1) / 2, from which the sums of w d and w d² follow.
    let mut running = [[0.0; LANES]; 3];
    let (whole, rest) = row[from..=to].as_chunks::<LANES>();
    for chunk in whole {
        for lane in 0..LANES {
            running[0][lane] += chunk[lane] * bell[lane];
            running[1][lane] += running[0][lane];
            running[2][lane] += running[1][lane];
            bell[lane] *= ratio[lane];
            ratio[lane] *= change;
        }
    }
    let mut sums = [[0.0; LANES]; 3];
    for lane in 0..LANES {
        d[lane] += stride * whole.len() as f64;
        let [w, n, pairs] = running.map(|lanes| lanes[lane]);
        let n_squared = 2.0 * pairs - n;
        sums[0][lane] = w;
        sums[1][lane] = d[lane] * w - stride * n;
        sums[2][lane] = d[lane] * (d[lane] * w - 2.0 * stride * n) + stride * stride * n_squared;
    }
    for (lane, weight) in rest.iter().enumerate() {
        let w = weight * bell[lane];
        sums[0][lane] += w;
        sums[1][lane] += w * d[lane];
        sums[2][lane] += w * d[lane] * d[lane];
    }
    sums.map(|lanes| (lanes[0] + lanes[1]) + (lanes[2] + lanes[3]))
}
