//! The local mean level at one stop, its fading, and the margin above what the board needs.
//!
//! The unknowns are the mean power mu and the fading factor K; their joint posterior on a grid weighs readings and losses
//! through [`super::cells`]. Averaging received dBm instead is low by up to 2.5 dB in fading and, near sensitivity, high by
//! several dB, because only the strong exchanges arrive.
//!
//! Standing still in one fade, any number of exchanges is one observation of it, and the readings cannot tell: the path the
//! board has moved over must be given.

use super::cells::{Cell, CellModel, CellTable, Heard, Interference, MEAN_STEP_DB, MEANS, SCurve, mean_at};
use super::independence::{FADE_PATH_M, independent_fades};
use super::one_sided::{Run, at_least_dbm, at_most_dbm};
use super::proportions::Interval;
use super::special::{cumulative, interpolate, normal_quantile};

/// K values tried, dB; the first stands for Rayleigh.
const K_GRID_DB: [f64; 10] = [-20.0, -3.0, 0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0];
const K_PRIOR: [f64; 10] = [1.0, 0.5, 0.7, 1.0, 1.0, 1.0, 1.0, 0.8, 0.6, 0.4];

/// Where the local mean power lies, dBm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MeanPower {
    /// Between two limits.
    Between {
        /// The median of what it may be.
        median_dbm: f64,
        /// Its limits.
        interval: Interval,
    },
    /// Nothing was received: only that it is at most this.
    AtMost {
        /// Upper limit.
        high_dbm: f64,
    },
    /// All that arrived came without a reading and nothing was lost: only that it is at least this.
    AtLeast {
        /// Lower limit.
        low_dbm: f64,
    },
    /// Too few exchanges for any limit.
    Open,
}

/// The level and the fading at one stop.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// The local mean power.
    pub mean_power: MeanPower,
    /// The confidence of all intervals here.
    pub confidence: f64,
    /// The median fading factor, dB; -20 stands for Rayleigh. `None` without readings.
    pub k_db: Option<f64>,
    /// Its limits, dB.
    pub k_interval: Option<Interval>,
    /// Exchanges.
    pub exchanges: u64,
    /// Exchanges lost.
    pub lost: u64,
    /// Independent fades they are worth.
    pub effective: f64,
    /// Posterior mean and standard deviation of the mean power over the grid, dBm and dB; they say little where it is bounded
    /// on one side only.
    pub moments: (f64, f64),
    /// Share of exchanges lost to weakness at the median level; `None` where there is no median.
    pub weak_share: Option<f64>,
    /// What a reader must know besides.
    pub notes: Vec<LevelNote>,
}

/// What qualifies a level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LevelNote {
    /// The board stood still: its exchanges saw one fade.
    OneFade,
    /// How far the board moved is not known; if it stood still the interval is far too narrow.
    PathUnknown,
    /// Nothing was received.
    NothingReceived,
    /// What arrived came without readings.
    NoReadings,
}

/// Everything needed to estimate levels for one board: ten tables, built once.
#[derive(Clone, Debug)]
pub struct LevelModel {
    curve: SCurve,
    interference: f64,
    models: Vec<CellModel>,
    log_prior: Vec<f64>,
}

impl LevelModel {
    /// Builds the tables for a board's S-curve; `interference` is the share of exchanges lost at any level, 0.0001 to 0.95.
    pub fn new(curve: SCurve, interference: f64) -> Self {
        let nodes = Interference::varying(interference);
        let total: f64 = K_PRIOR.iter().sum();
        Self {
            curve,
            interference: if interference.is_nan() {
                0.0
            } else {
                interference.clamp(0.0, 0.95)
            },
            models: K_GRID_DB
                .iter()
                .map(|k| CellModel::new(CellTable::new(curve, *k, 0.0), &nodes))
                .collect(),
            log_prior: K_PRIOR.iter().map(|p| (p / total).ln()).collect(),
        }
    }

    /// Returns level and fading at a stop; `None` without exchanges or unless 0 < confidence < 1.
    ///
    /// `fresh_path_m` as in [`independent_fades`].
    pub fn estimate(&self, exchanges: &[Heard], fresh_path_m: Option<f64>, confidence: f64) -> Option<Level> {
        if exchanges.is_empty() || !(confidence > 0.0 && confidence < 1.0) {
            return None;
        }
        let cell = Cell::count(exchanges.iter().copied());
        let effective = independent_fades(exchanges, fresh_path_m);
        let weight = (effective / exchanges.len() as f64).min(1.0);
        let joint: Vec<Vec<f64>> = self
            .models
            .iter()
            .zip(&self.log_prior)
            .map(|(model, prior)| {
                let mut ll = model.log_likelihood(&cell, weight);
                for v in &mut ll {
                    *v += prior;
                }
                ll
            })
            .collect();
        let top = joint.iter().flatten().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut by_mean = vec![0.0; MEANS];
        let mut by_k = Vec::with_capacity(joint.len());
        for row in &joint {
            let mut sum = 0.0;
            for (mean, ll) in by_mean.iter_mut().zip(row) {
                let p = (ll - top).exp();
                *mean += p;
                sum += p;
            }
            by_k.push(sum);
        }
        let total: f64 = by_k.iter().sum();

        let cumulated = cumulative(&by_mean);
        let edges: Vec<f64> = (0..MEANS).map(|j| mean_at(j) + 0.5 * MEAN_STEP_DB).collect();
        let quantile = |p: f64| interpolate(p, &cumulated, &edges);
        let tail = 0.5 - 0.5 * confidence;
        let (low, median, high) = (quantile(tail)?, quantile(0.5)?, quantile(1.0 - tail)?);
        let mean = (0..MEANS).map(|j| by_mean[j] * mean_at(j)).sum::<f64>() / total;
        let variance = (0..MEANS)
            .map(|j| by_mean[j] * (mean_at(j) - mean).powi(2))
            .sum::<f64>()
            / total;

        let unheard = cell.delivered() == 0.0;
        let unread = cell.readings.is_empty();
        let mean_power = if unheard || (unread && cell.lost == 0.0) {
            let run = Run {
                exchanges: cell.exchanges(),
                fades: fresh_path_m.map_or(1.0, |path| 1.0 + path.max(0.0) / FADE_PATH_M),
            };
            let fadings = || K_GRID_DB.iter().copied().zip(K_PRIOR);
            let limit = if unheard {
                at_most_dbm(run, self.curve, self.interference, fadings(), tail)
                    .map(|high_dbm| MeanPower::AtMost { high_dbm })
            } else {
                at_least_dbm(run, self.curve, fadings(), tail).map(|low_dbm| MeanPower::AtLeast { low_dbm })
            };
            limit.unwrap_or(MeanPower::Open)
        } else {
            MeanPower::Between {
                median_dbm: median,
                interval: Interval { low, high },
            }
        };

        let cumulated_k = cumulative(&by_k);
        let k_at = |p: f64| K_GRID_DB[cumulated_k.partition_point(|c| *c < p).min(K_GRID_DB.len() - 1)];
        let weak_share = matches!(mean_power, MeanPower::Between { .. }).then(|| {
            let j = (((median - mean_at(0)) / MEAN_STEP_DB).round() as usize).min(MEANS - 1);
            let delivered: f64 = self
                .models
                .iter()
                .zip(&by_k)
                .map(|(m, p)| p / total * m.table().delivered()[j])
                .sum();
            1.0 - delivered
        });

        let mut notes = Vec::new();
        match fresh_path_m {
            None => notes.push(LevelNote::PathUnknown),
            Some(path) if path < FADE_PATH_M => notes.push(LevelNote::OneFade),
            Some(_) => {}
        }
        if unheard {
            notes.push(LevelNote::NothingReceived);
        } else if unread {
            notes.push(LevelNote::NoReadings);
        }
        Some(Level {
            mean_power,
            confidence,
            k_db: (!unread).then(|| k_at(0.5)),
            k_interval: (!unread).then(|| Interval {
                low: k_at(tail),
                high: k_at(1.0 - tail),
            }),
            exchanges: exchanges.len() as u64,
            lost: cell.lost as u64,
            effective,
            moments: (mean, variance.max(0.0).sqrt()),
            weak_share,
            notes,
        })
    }

    /// The one K that fits all cells of a sweep or comparison best, dB, with its place among the tables; `None` when no cell
    /// was read. `cells` come with their weights (effective over all exchanges, at most 1).
    pub fn pooled_k(&self, cells: &[(Cell, f64)]) -> Option<(f64, &CellModel)> {
        if cells.iter().all(|(cell, _)| cell.readings.is_empty()) {
            return None;
        }
        let mut best: Option<(f64, usize)> = None;
        for (i, (model, prior)) in self.models.iter().zip(&self.log_prior).enumerate() {
            let mut score = *prior;
            for (cell, weight) in cells.iter().filter(|(cell, _)| !cell.readings.is_empty()) {
                let ll = model.log_likelihood(cell, *weight);
                let top = ll.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                score += top + (ll.iter().map(|v| (v - top).exp()).sum::<f64>() / MEANS as f64).ln();
            }
            if best.is_none_or(|(b, _)| score > b) {
                best = Some((score, i));
            }
        }
        best.map(|(_, i)| (K_GRID_DB[i], &self.models[i]))
    }

    /// The model whose fading is nearest to `k_db`, for cells that tell none of their own.
    pub fn nearest_k(&self, k_db: f64) -> Option<&CellModel> {
        let distance = |model: &&CellModel| (model.table().k_db() - k_db).abs();
        self.models.iter().min_by(|a, b| distance(a).total_cmp(&distance(b)))
    }

    /// The share of exchanges that arrive at a mean power, fading as `k_db` (the nearest of the K values tried) and
    /// interference left out: what the level alone explains.
    pub fn delivery_at(&self, mean_dbm: f64, k_db: f64) -> Option<f64> {
        let nearest = self.nearest_k(k_db)?;
        let means: Vec<f64> = (0..MEANS).map(mean_at).collect();
        if mean_dbm.is_nan() {
            None
        } else {
            interpolate(mean_dbm, &means, nearest.table().delivered())
        }
    }

    /// The S-curve of the board.
    pub fn curve(&self) -> SCurve {
        self.curve
    }
}

impl Level {
    /// This level with its limits widened for an S-curve whose m is known to one standard deviation `sd_m_db`.
    ///
    /// Where a twentieth or more is lost to weakness an error of m moves the level by about itself, so it is added in
    /// quadrature; elsewhere, and for a one-sided limit far above, the level stands on readings alone.
    pub fn widened(mut self, sd_m_db: f64) -> Self {
        let near = self.weak_share.is_none_or(|share| share >= 0.05);
        let Some(z) = normal_quantile(0.5 + 0.5 * self.confidence) else {
            return self;
        };
        let known = sd_m_db > 0.0 && sd_m_db.is_finite();
        if !(near && known) {
            return self;
        }
        let extra = z * sd_m_db;
        match &mut self.mean_power {
            MeanPower::Between { median_dbm, interval } => {
                interval.low = *median_dbm - (*median_dbm - interval.low).hypot(extra);
                interval.high = *median_dbm + (interval.high - *median_dbm).hypot(extra);
            }
            MeanPower::AtMost { high_dbm } => *high_dbm += extra,
            MeanPower::AtLeast { low_dbm } => *low_dbm -= extra,
            MeanPower::Open => {}
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::margin::{Margin, margin};

    fn model() -> LevelModel {
        LevelModel::new(SCurve::new(-92.0, 1.0).unwrap(), 0.02)
    }

    #[test]
    fn standing_still_is_one_observation() {
        let stop: Vec<Heard> = (0..200).map(|i| Heard::At(-70 - i % 2)).collect();
        let still = model().estimate(&stop, Some(0.0), 0.95).unwrap();
        assert_eq!(still.effective, 1.0);
        assert_eq!(still.notes, vec![LevelNote::OneFade]);
        let moved = model().estimate(&stop, Some(3.0), 0.95).unwrap();
        let width = |l: &Level| match l.mean_power {
            MeanPower::Between { interval, .. } => interval.width(),
            _ => panic!("{l:?}"),
        };
        assert!(
            width(&still) > 8.0 && width(&moved) < 3.0,
            "{} {}",
            width(&still),
            width(&moved)
        );
    }

    #[test]
    fn no_exchange_no_level() {
        assert!(model().estimate(&[], None, 0.95).is_none());
        assert!(model().estimate(&[Heard::Lost], None, 1.0).is_none());
    }

    #[test]
    fn what_was_not_read_bounds_one_side() {
        let lost = model().estimate(&[Heard::Lost; 40], Some(1.2), 0.95).unwrap();
        assert!(
            matches!(lost.mean_power, MeanPower::AtMost { high_dbm } if high_dbm < -85.0),
            "{lost:?}"
        );
        assert_eq!((lost.k_db, lost.weak_share), (None, None));
        let unread = model().estimate(&[Heard::Unread; 40], Some(1.2), 0.95).unwrap();
        assert!(
            matches!(unread.mean_power, MeanPower::AtLeast { low_dbm } if low_dbm > -95.0),
            "{unread:?}"
        );
        let curve = model().curve();
        assert!(matches!(margin(&lost, curve, 0.3), Some(Margin::AtMost { high_db }) if high_db < 7.0));
        assert!(matches!(margin(&unread, curve, 0.3), Some(Margin::AtLeast { .. })));
    }

    #[test]
    fn an_uncertain_s_curve_widens_levels_near_sensitivity_only() {
        let strong: Vec<Heard> = (0..100).map(|i| Heard::At(-70 - i % 5)).collect();
        let level = model().estimate(&strong, Some(3.0), 0.95).unwrap();
        assert_eq!(level.clone().widened(1.0), level);
        let weak: Vec<Heard> = (0..100)
            .map(|i| {
                if i % 2 == 0 {
                    Heard::Lost
                } else {
                    Heard::At(-91 + i % 3)
                }
            })
            .collect();
        let level = model().estimate(&weak, Some(3.0), 0.95).unwrap();
        let (MeanPower::Between { interval: a, .. }, MeanPower::Between { interval: b, .. }) =
            (level.mean_power, level.clone().widened(1.0).mean_power)
        else {
            panic!("{level:?}")
        };
        assert!(b.low < a.low - 0.5 && b.high > a.high + 0.5);
    }

    #[test]
    fn delivery_at_a_level_falls_from_all_to_none() {
        let model = model();
        let at = |dbm| model.delivery_at(dbm, 6.4).unwrap();
        assert!(at(-60.0) > 0.999 && at(-110.0) < 0.001);
        assert!(at(-92.25) < at(-92.0) && at(-92.0) < at(-91.75));
        assert_eq!(model.delivery_at(f64::NAN, 6.0), None);
    }
}
