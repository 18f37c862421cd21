//! How many independent fades a run of exchanges at one turn holds, and how deep they are.
//!
//! A board held still sees one fade over and over: forty exchanges may say hardly more than one. Each step's likelihood is
//! tempered by effective over actual count, so that it is not believed more than it should be.

use crate::stats::cells::{Cell, CellModel, CellTable, Interference, RAYLEIGH_K_DB, SCurve};

/// Fresh path to an independent fade, metres: 0.64 wavelengths at 2.4 GHz, from integrating J0² (Clarke 1968, Bell System
/// Technical Journal 47:957).
const DECORRELATION_M: f64 = 0.08;
/// Variance of rounding to whole dB and of reading noise, dB²: it is fresh each time and says nothing about fades.
const READING_VARIANCE_DB2: f64 = 1.0 / 12.0 + 0.5;
/// A correlation below this ends the sum.
const NEGLIGIBLE: f64 = 0.05;
const LAGS: usize = 60;

/// Effective number of independent fades among exchanges, from 1 to their number (0 for none).
///
/// `readings` holds a level in whole dBm for each exchange in order, `None` where it was lost or not read. The correlation
/// of the levels is summed to its first negligible lag, corrected for the removed mean; `path_m`, metres of fresh path
/// moved, caps the result at 1 + path/0.08 m.
pub fn effective_count(readings: &[Option<i32>], path_m: Option<f64>) -> f64 {
    let count = readings.len();
    if count == 0 {
        return 0.0;
    }
    let total = count as f64;
    let cap = path_m.map_or(f64::INFINITY, |path| 1.0 + path.max(0.0) / DECORRELATION_M);
    let heard: Vec<f64> = readings.iter().flatten().map(|level| f64::from(*level)).collect();
    if heard.len() < 4 {
        let cap = if path_m.is_none() { 1.0 } else { cap };
        return cap.min(total).min(1.0 + total / 20.0);
    }
    let mean = heard.iter().sum::<f64>() / heard.len() as f64;
    let deviations: Vec<Option<f64>> = readings
        .iter()
        .map(|reading| reading.map(|level| f64::from(level) - mean))
        .collect();
    let covariances: Vec<f64> = (0..=LAGS.min(count / 3))
        .map(|lag| covariance(&deviations, lag))
        .collect();
    let fading = (covariances[0] - READING_VARIANCE_DB2)
        .max(0.05 * covariances[0])
        .max(1e-6);
    let mut spread = 1.0_f64;
    for _ in 0..30 {
        let removed = (spread / total).min(0.5);
        let variance = fading / (1.0 - removed);
        let mut sum = 1.0;
        for (lag, covariance) in covariances.iter().enumerate().skip(1) {
            let correlation = ((covariance + removed * variance) / variance).min(1.0);
            if correlation < NEGLIGIBLE {
                break;
            }
            sum += 2.0 * correlation * (1.0 - lag as f64 / total);
        }
        let next = sum.min(total / 2.0);
        if (next - spread).abs() < 1e-3 {
            break;
        }
        spread = f64::midpoint(spread, next);
    }
    (total / spread).max(1.0).min(cap)
}

/// Mean product of deviations a lag apart; 0 for fewer than five pairs.
fn covariance(deviations: &[Option<f64>], lag: usize) -> f64 {
    let (mut sum, mut pairs) = (0.0, 0_u32);
    for (early, late) in deviations.iter().zip(&deviations[lag..]) {
        if let (Some(early), Some(late)) = (early, late) {
            sum += early * late;
            pairs += 1;
        }
    }
    if pairs >= 5 { sum / f64::from(pairs) } else { 0.0 }
}

/// The K a sweep may have, dB, with prior weights.
const FADING: [(f64, f64); 10] = [
    (RAYLEIGH_K_DB, 1.0),
    (-3.0, 0.5),
    (0.0, 0.7),
    (2.0, 1.0),
    (4.0, 1.0),
    (6.0, 1.0),
    (8.0, 1.0),
    (10.0, 0.8),
    (12.0, 0.6),
    (15.0, 0.4),
];

/// Cell models for every K that is considered, with one S-curve: costly to build, then good for any number of sweeps.
#[derive(Clone, Debug)]
pub struct FadingModels {
    models: Vec<CellModel>,
    interference: Interference,
}

impl FadingModels {
    /// Builds the models for a board's S-curve and a mean share `interference` (0 to 1) lost at any level.
    pub fn new(curve: SCurve, interference: f64) -> Self {
        let interference = Interference::varying(interference);
        Self {
            models: FADING
                .iter()
                .map(|(k_db, _)| CellModel::new(CellTable::new(curve, *k_db, 0.0), &interference))
                .collect(),
            interference,
        }
    }

    /// The S-curve of the models.
    pub fn curve(&self) -> SCurve {
        self.models[0].table().curve()
    }

    /// The interference of the models.
    pub fn interference(&self) -> &Interference {
        &self.interference
    }

    /// The model of the K that suits all cells of a sweep best, each cell with its weight.
    ///
    /// The likeliest K, each cell's mean power averaged out over the grid; cells without a reading say nothing about fading.
    pub fn pooled<'a>(&self, cells: impl Iterator<Item = (&'a Cell, f64)> + Clone) -> &CellModel {
        let total: f64 = FADING.iter().map(|(_, prior)| prior).sum();
        let mut best = (f64::NEG_INFINITY, &self.models[0]);
        for (model, (_, prior)) in self.models.iter().zip(FADING) {
            let mut log = (prior / total).ln();
            for (cell, weight) in cells.clone().filter(|(cell, _)| !cell.readings.is_empty()) {
                let likelihood = model.log_likelihood(cell, weight);
                let top = likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                let mean = likelihood.iter().map(|value| (value - top).exp()).sum::<f64>() / likelihood.len() as f64;
                log += top + mean.ln();
            }
            if log > best.0 {
                best = (log, model);
            }
        }
        best.1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn independent_levels_count_fully_and_a_frozen_fade_once() {
        // A congruential generator (multiplier 69069, Marsaglia 1972, from memory), its top bits: no serial correlation.
        let mut state = 1_u32;
        let scattered: Vec<Option<i32>> = (0..60)
            .map(|_| {
                state = state.wrapping_mul(69_069).wrapping_add(1);
                Some(-80 + (state >> 24) as i32 % 13)
            })
            .collect();
        assert!(effective_count(&scattered, None) > 25.0);
        let frozen: Vec<Option<i32>> = (0..60).map(|i| Some(if i < 30 { -80 } else { -70 })).collect();
        assert!(effective_count(&frozen, None) < 6.0);
        assert_eq!(effective_count(&scattered, Some(0.0)), 1.0);
        assert_eq!(effective_count(&[], None), 0.0);
    }

    #[test]
    fn a_dead_step_counts_little() {
        let dead = vec![None; 40];
        assert_eq!(effective_count(&dead, None), 1.0);
        assert_eq!(effective_count(&dead, Some(1.0)), 3.0);
    }
}
