//! What a walk says about the board itself: its S-curve, the fading around it, the interference.
//!
//! Given the trend of the level with distance, cells are taken as independent: the sum over cells of
//! log ∫ N(mu; trend, sigma²) exp(ll(mu)) dmu is climbed over m, ln s, logit f and K.

use nalgebra::DMatrix;

use crate::stats::cells::SCurve;
use crate::stats::maximise::{AscentRules, ascend};
use crate::stats::special::logistic;

use super::marginal::{FlatCells, Likelihood, Trend};

/// Arguments in the order m (dBm), ln s (s in dB), logit f, K (dB).
pub(super) const ARGUMENTS: usize = 4;
pub(super) const M: usize = 0;
pub(super) const LN_S: usize = 1;
pub(super) const LOGIT_F: usize = 2;
pub(super) const K: usize = 3;

pub(super) const DIFFERENCE: [f64; ARGUMENTS] = [0.3, 0.15, 0.15, 0.5];
const LONGEST_STEP: [f64; ARGUMENTS] = [3.0, 0.5, 0.7, 3.0];

/// A board in its surroundings: what the tables of a walk's cells depend on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Surroundings {
    pub m_dbm: f64,
    pub s_db: f64,
    /// Share of exchanges lost whatever their level.
    pub interference: f64,
    /// Rician factor, dB, -10 to 15.
    pub k_db: f64,
}

impl Surroundings {
    fn arguments(&self) -> [f64; ARGUMENTS] {
        let f = self.interference;
        [self.m_dbm, self.s_db.ln(), (f / (1.0 - f)).ln(), self.k_db]
    }

    pub(super) fn from_arguments(x: &[f64; ARGUMENTS]) -> Self {
        Self {
            m_dbm: x[M],
            s_db: x[LN_S].clamp(-2.0, 1.5).exp(),
            interference: logistic(x[LOGIT_F]),
            k_db: x[K].clamp(-10.0, 15.0),
        }
    }

    /// The S-curve, where both its numbers are usable.
    pub(super) fn curve(&self) -> Option<SCurve> {
        SCurve::new(self.m_dbm, self.s_db)
    }

    /// K as the tables take it: to a hundredth of a decibel, so that neighbouring parameters share one.
    pub(super) fn table_k_db(&self) -> f64 {
        hundredths(self.k_db)
    }
}

pub(super) fn hundredths(k_db: f64) -> f64 {
    (k_db * 100.0).round_ties_even() / 100.0
}

/// Most rounds of an ascent that only finds where another begins.
const ROUNDS: usize = 4;
/// Most rounds of one whose curvature is made use of: off the top it says nothing, and one cut short made what a board needs known to
/// 20 dB where the same walk some metres on had it to 2.
const MOST_ROUNDS: usize = 12;
/// An ascent ends with a round that gains less than this.
const GAIN: f64 = 0.05;

/// What was learned.
#[derive(Clone, Debug)]
pub(super) struct Learned {
    pub surroundings: Surroundings,
    /// Covariance of the four arguments; rows and columns of those not learned are 0.
    pub covariance: [[f64; ARGUMENTS]; ARGUMENTS],
}

/// Climbs from `start` over the arguments listed in `free`; the others stay.
///
/// Priors: ln s ~ N(0, 0.5²), K ~ N(6, 6²) dB, logit f ~ N(-4, 1.5²). The covariance is a sandwich over up to 12 blocks
/// of neighbouring cells plus a quarter of the inverse curvature, and is worked out only when `with_covariance`.
pub(super) fn learn(
    cells: &FlatCells,
    trend: &Trend,
    start: &Surroundings,
    free: &[usize],
    with_covariance: bool,
) -> Option<Learned> {
    let mut likelihood = Likelihood::new(cells, trend);
    let base = start.arguments();
    let fill = |x: &[f64]| {
        let mut full = base;
        for (&i, &value) in free.iter().zip(x) {
            full[i] = value;
        }
        full
    };
    let pick = |all: &[f64; ARGUMENTS]| free.iter().map(|&i| all[i]).collect::<Vec<f64>>();
    let difference = pick(&DIFFERENCE);
    let rules = AscentRules {
        difference: &difference,
        longest_step: &pick(&LONGEST_STEP),
        rounds: if with_covariance { MOST_ROUNDS } else { ROUNDS },
        gain: GAIN,
    };
    let top = ascend(
        |x| {
            let full = fill(x);
            likelihood.by_cell(&full).iter().sum::<f64>() + log_prior(&full)
        },
        &pick(&base),
        &rules,
    )?;
    let mut covariance = [[0.0; ARGUMENTS]; ARGUMENTS];
    if with_covariance {
        let sandwich = sandwich(&mut likelihood, &top.at, &difference, &top.curvature, fill)?;
        for (a, &i) in free.iter().enumerate() {
            for (b, &j) in free.iter().enumerate() {
                covariance[i][j] = sandwich[(a, b)];
            }
        }
    }
    Some(Learned {
        surroundings: Surroundings::from_arguments(&fill(&top.at)),
        covariance,
    })
}

fn log_prior(x: &[f64; ARGUMENTS]) -> f64 {
    let square = |value: f64, mean: f64, sd: f64| -0.5 * ((value - mean) / sd).powi(2);
    square(x[LN_S], 0.0, 0.5) + square(x[K], 6.0, 6.0) + square(x[LOGIT_F], -4.0, 1.5)
}

/// H⁻¹BH⁻¹ + ¼H⁻¹, where B is from the scores of blocks of neighbouring cells: these stay honest when neighbours are
/// alike.
fn sandwich(
    likelihood: &mut Likelihood,
    at: &[f64],
    difference: &[f64],
    curvature: &DMatrix<f64>,
    fill: impl Fn(&[f64]) -> [f64; ARGUMENTS],
) -> Option<DMatrix<f64>> {
    let k = at.len();
    let cells = likelihood.count();
    let blocks = (cells / 3).clamp(2, 12);
    let mut scores: DMatrix<f64> = DMatrix::zeros(blocks, k);
    for i in 0..k {
        let mut x = at.to_vec();
        x[i] = at[i] + difference[i];
        let ahead = likelihood.by_cell(&fill(&x)).to_vec();
        x[i] = at[i] - difference[i];
        let behind = likelihood.by_cell(&fill(&x));
        for (j, (a, b)) in ahead.iter().zip(behind).enumerate() {
            scores[(j * blocks / cells, i)] += (a - b) / (2.0 * difference[i]);
        }
    }
    for mut column in scores.column_iter_mut() {
        let mean = column.mean();
        column.add_scalar_mut(-mean);
    }
    let b = scores.transpose() * &scores * (blocks as f64 / (blocks as f64 - 1.0));
    let inverse = curvature.clone().try_inverse()?;
    Some(&inverse * b * &inverse + &inverse * 0.25)
}
