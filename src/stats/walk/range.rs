//! The distance out to which a given share of exchanges is delivered, with its interval.

use crate::stats::cells::{MEAN_STEP_DB, MEANS, SCurve, fade_masses, mean_at};
use crate::stats::special::normal_cdf;

use super::fit::WalkFit;
use super::inflation::Inflation;
use super::learn::{K, LN_S, LOGIT_F, M, Surroundings, hundredths};
use super::other_laws::Belief;
use super::response::Response;
use super::rounds::NUGGET_DB;

/// The deliveries a range is usually asked for.
pub const DELIVERIES: [f64; 4] = [0.99, 0.95, 0.9, 0.5];

/// A range: its percent points as decimal logarithms of metres.
///
/// *Signal-limited*: what interference takes is not counted, so with a share f of it a delivery above 1 - f is reached
/// nowhere.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RangeEstimate {
    /// Delivery asked for, 0 to 1.
    pub delivery: f64,
    /// 2.5 % point; 0 (one metre) where it lies nearer still.
    pub low: f64,
    /// 50 % point; `None` beyond 100 km.
    pub median: Option<f64>,
    /// 97.5 % point; `None` beyond 100 km.
    pub high: Option<f64>,
}

impl RangeEstimate {
    /// The 2.5 % point in metres.
    pub fn low_m(&self) -> f64 {
        10_f64.powf(self.low)
    }

    /// The 50 % point in metres; `None` beyond 100 km.
    pub fn median_m(&self) -> Option<f64> {
        self.median.map(|median| 10_f64.powf(median))
    }

    /// The 97.5 % point in metres; `None` beyond 100 km.
    pub fn high_m(&self) -> Option<f64> {
        self.high.map(|high| 10_f64.powf(high))
    }
}

/// Delivery against mean level, for the board and for its neighbours in ln s and K.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct DeliveryCurves {
    own: Vec<f64>,
    ln_s: [Vec<f64>; 2],
    k: [Vec<f64>; 2],
}

const LN_S_STEP: f64 = 0.1;
const K_STEP_DB: f64 = 0.5;

impl DeliveryCurves {
    pub(super) fn new(at: &Surroundings, within_db: f64) -> Option<Self> {
        let curve = |k_db: f64, s_db: f64| {
            let fade = fade_masses(hundredths(k_db.clamp(-10.0, 15.0)), within_db);
            let response = Response::new(&fade, SCurve::new(at.m_dbm, s_db)?);
            Some((0..MEANS).map(|i| response.delivery(i)).collect::<Vec<f64>>())
        };
        let steeper = |sign: f64| curve(at.k_db, at.s_db * (sign * LN_S_STEP).exp());
        Some(Self {
            own: curve(at.k_db, at.s_db)?,
            ln_s: [steeper(-1.0)?, steeper(1.0)?],
            k: [
                curve(at.k_db - K_STEP_DB, at.s_db)?,
                curve(at.k_db + K_STEP_DB, at.s_db)?,
            ],
        })
    }

    /// Delivery at a mean level with shadowing of `sigma_db` about it, interference aside.
    pub(super) fn shadowed(&self, level_dbm: f64, sigma_db: f64) -> f64 {
        let kernel = bell(sigma_db);
        let place = ((level_dbm - mean_at(0)) / MEAN_STEP_DB).clamp(0.0, (MEANS - 1) as f64);
        let below = smoothed(&self.own, &kernel, place.floor() as usize);
        let above = smoothed(&self.own, &kernel, place.ceil() as usize);
        below + (above - below) * place.fract()
    }
}

fn bell(sigma_db: f64) -> Vec<f64> {
    let half = (4.0 * sigma_db / MEAN_STEP_DB).ceil();
    let mut kernel: Vec<f64> = (0..=2 * half as usize)
        .map(|i| (-0.5 * ((i as f64 - half) * MEAN_STEP_DB / sigma_db).powi(2)).exp())
        .collect();
    let total: f64 = kernel.iter().sum();
    for w in &mut kernel {
        *w /= total;
    }
    kernel
}

/// A delivery curve averaged over a kernel at one level; 0 below its grid, its last value above.
fn smoothed(curve: &[f64], kernel: &[f64], index: usize) -> f64 {
    let half = kernel.len() / 2;
    let last = curve.len() - 1;
    kernel
        .iter()
        .enumerate()
        .filter(|(i, _)| index + i >= half)
        .map(|(i, w)| w * curve[(index + i - half).min(last)])
        .sum()
}

/// The mean level at which delivery, averaged over shadowing of `sigma_db`, reaches `delivery`, dBm; `None` when no
/// level on the grid does.
fn level_for(curve: &[f64], sigma_db: f64, delivery: f64) -> Option<f64> {
    let kernel = bell(sigma_db);
    let at = |index: usize| smoothed(curve, &kernel, index);
    let last = curve.len() - 1;
    if at(last) < delivery {
        return None;
    }
    if at(0) >= delivery {
        return Some(mean_at(0));
    }
    // Delivery rises with level, so the first level that reaches it is found by halving.
    let (mut below, mut reached) = (0, last);
    while reached - below > 1 {
        let middle = usize::midpoint(below, reached);
        if at(middle) < delivery {
            below = middle;
        } else {
            reached = middle;
        }
    }
    let (low, high) = (at(below), at(reached));
    Some(mean_at(reached) - MEAN_STEP_DB * (high - delivery) / (high - low))
}

impl WalkFit {
    /// The range at a delivery; `None` unless that lies between 0 and 1 and some level reaches it.
    ///
    /// P(range < r) = Σ w Φ((M - A + 10 n t)/sd) with t = log10(r / reference), M the mean level that gives the
    /// delivery and sd² the variance of A - 10 n t and of M together, M's from the board's covariance. This is the form
    /// of E. C. Fieller 1954 (J. R. Statist. Soc. B 16:175): no linearisation, so the far side may be open.
    pub fn range(&self, delivery: f64, inflation: &Inflation) -> Option<RangeEstimate> {
        if !(delivery > 0.0 && delivery < 1.0) {
            return None;
        }
        let curves = &self.delivery;
        let total = |sigma: f64| (sigma * sigma + NUGGET_DB * NUGGET_DB).sqrt();
        let beliefs = self.beliefs(inflation.other_laws);
        let mut levels: Vec<(f64, f64)> = Vec::new();
        for belief in &beliefs {
            if !levels.iter().any(|l| l.0 == belief.ln_sigma) {
                levels.push((
                    belief.ln_sigma,
                    level_for(&curves.own, total(belief.ln_sigma.exp()), delivery)?,
                ));
            }
        }
        let centre = total(self.posterior.mean(|part| part.ln_sigma).exp());
        let level = |curve: &[f64]| level_for(curve, centre, delivery);
        let mut gradient = [0.0; 4];
        gradient[M] = 1.0;
        gradient[LN_S] = (level(&curves.ln_s[1])? - level(&curves.ln_s[0])?) / (2.0 * LN_S_STEP);
        gradient[LOGIT_F] = 0.0;
        gradient[K] = (level(&curves.k[1])? - level(&curves.k[0])?) / (2.0 * K_STEP_DB);
        let mut board = 0.0;
        for i in 0..4 {
            for j in 0..4 {
                board += gradient[i] * self.covariance[i][j] * gradient[j];
            }
        }
        board = board.max(0.0) * inflation.sensitivity * inflation.sensitivity;
        let needed = |belief: &Belief| levels.iter().find(|l| l.0 == belief.ln_sigma).map_or(f64::NAN, |l| l.1);
        let points = quantiles(self, &beliefs, needed, board, inflation);
        let median = points[1];
        let (near, far) = if !self.sensitivity_reached {
            (inflation.range, inflation.range)
        } else if self.clearly_bends(inflation) {
            (inflation.range_bent, inflation.range_bent)
        } else if median.is_some_and(|median| median < self.extent.nearest_m.log10()) {
            (inflation.range_near, inflation.range_near)
        } else {
            (inflation.range_near, inflation.range)
        };
        let stretch = |value: f64, about: f64, factor: f64| about + factor * (value - about);
        Some(RangeEstimate {
            delivery,
            low: median.map_or(points[0].unwrap_or(0.0), |m| {
                stretch(points[0].unwrap_or(0.0), m, near).max(0.0)
            }),
            median,
            high: points[2]
                .map(|high| median.map_or(high, |m| stretch(high, m, far)))
                .filter(|high| *high <= 5.0),
        })
    }
}

/// Grid of log10 distance: 1 m to 100 km in hundredths of a decade.
const DISTANCES: usize = 501;
const DISTANCE_STEP: f64 = 0.01;

/// The 2.5, 50 and 97.5 % points of log10 range; `None` where the probability is not reached below 100 km.
fn quantiles(
    fit: &WalkFit,
    beliefs: &[Belief],
    needed: impl Fn(&Belief) -> f64,
    board: f64,
    inflation: &Inflation,
) -> [Option<f64>; 3] {
    let log10_reference = fit.posterior.log10_reference;
    let ripple = fit.other_laws.ripple.as_ref();
    let beliefs: Vec<(f64, &Belief)> = beliefs.iter().map(|belief| (needed(belief), belief)).collect();
    let below: Vec<f64> = (0..DISTANCES)
        .map(|i| {
            let at = DISTANCE_STEP * i as f64;
            beliefs
                .iter()
                .map(|(needed, belief)| {
                    let more = belief.shape.map_or(0.0, |shape| shape.at(at, ripple));
                    let (mean, variance) = belief.level(at - log10_reference, more);
                    let lack = fit.lack(belief, at, inflation);
                    let sd = (variance + board + lack).max(1e-12).sqrt();
                    belief.weight * normal_cdf((needed - mean) / sd)
                })
                .sum()
        })
        .collect();
    let crossing = |k: usize, q: f64| {
        let (before, after) = (below[k - 1], below[k]);
        let share = if after == before {
            0.0
        } else {
            (q - before) / (after - before)
        };
        DISTANCE_STEP * ((k - 1) as f64 + share)
    };
    // The probability rises along the walk but may fall again far out, where all is uncertain: points are looked for
    // outwards and inwards from the median.
    let half = below.iter().position(|&p| p >= 0.5);
    let from = half.unwrap_or(DISTANCES - 1);
    let mut down = from;
    while down > 0 && below[down - 1] >= 0.025 {
        down -= 1;
    }
    // A hole in the way, as a ripple makes one, is where the delivery is first missed.
    let walked = (fit.extent.nearest_m.log10() / DISTANCE_STEP).ceil().max(0.0) as usize;
    if below.get(walked).is_some_and(|first| *first < 0.025) {
        down = (walked..down).find(|&k| below[k] >= 0.025).unwrap_or(down);
    }
    let mut up = from;
    while up < DISTANCES && below[up] < 0.975 {
        up += 1;
    }
    let inwards = |k: usize, q: f64| if k == 0 { 0.0 } else { crossing(k, q) };
    [
        Some(if half.is_none() && below[from] < 0.025 {
            5.0
        } else {
            inwards(down, 0.025)
        }),
        half.map(|k| inwards(k, 0.5)),
        (up < DISTANCES).then(|| inwards(up, 0.975)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sharp_board_needs_the_normal_quantile_above_its_limit() {
        // A step at -90 dBm seen through shadowing of 5 dB: 90 % needs 1.2816 deviations more, to within the grid.
        let step: Vec<f64> = (0..MEANS)
            .map(|i| if mean_at(i) >= -90.0 { 1.0 } else { 0.0 })
            .collect();
        let level = level_for(&step, 5.0, 0.9).unwrap();
        assert!((level - (-90.25 + 1.2816 * 5.0)).abs() < 0.02, "{level}");
        assert_eq!(level_for(&vec![0.5; MEANS], 5.0, 0.9), None);
    }
}
