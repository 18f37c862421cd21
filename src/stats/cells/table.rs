//! Probabilities of readings and of delivery over the grid of mean powers, built once for one K and one S-curve.

use super::curve::SCurve;
use super::fades::{FADE_MIN_DB, FADES, LEVEL_STEP_DB, fade_masses};
use super::grid::{MEAN_MIN_DBM, MEANS, READING_MAX_DBM, READING_MIN_DBM, READINGS};
use crate::stats::special::normal_cdf;

/// Levels to a step of mean power.
const LEVELS_PER_MEAN: usize = 2;
const LEVELS_PER_DB: usize = 4;
const LEVELS: usize = (MEANS - 1) * LEVELS_PER_MEAN + FADES;
/// Noise of a reading before it is rounded, one standard deviation in dB.
const READING_NOISE_DB: f64 = 1.0;
/// A reading lies at most this many whole dB from its rounded level.
const READING_REACH: i32 = 4;
/// What is added to every probability of a reading, so that one wild reading cannot rule out a mean power.
const OUTLIER_FLOOR: f64 = 1e-9;

/// The `index`-th level, dBm: the lowest is the weakest fade of the lowest mean.
fn level_at(index: usize) -> f64 {
    MEAN_MIN_DBM + FADE_MIN_DB + LEVEL_STEP_DB * index as f64
}

/// The probabilities of readings and of delivery over the grid of mean powers, for one K and one S-curve.
#[derive(Clone, Debug)]
pub struct CellTable {
    k_db: f64,
    curve: SCurve,
    /// ln(g + floor), a row of [`MEANS`] for each reading.
    log_g: Vec<f64>,
    /// Probability of delivery, interference aside, at each mean power.
    delivered: Vec<f64>,
}

impl CellTable {
    /// Builds the table; `k_db` and `spread_db` as in [`fade_masses`].
    pub fn new(curve: SCurve, k_db: f64, spread_db: f64) -> Self {
        let masses = fade_masses(k_db, spread_db);
        let pass: Vec<f64> = (0..LEVELS).map(|l| curve.delivery(level_at(l))).collect();

        let delivered = (0..MEANS)
            .map(|j| {
                let levels = &pass[j * LEVELS_PER_MEAN..j * LEVELS_PER_MEAN + FADES];
                masses.iter().zip(levels).map(|(mass, s)| mass * s).sum()
            })
            .collect();

        let mut log_g = reading_probabilities(&masses, &pass);
        let floor = OUTLIER_FLOOR.ln();
        for g in &mut log_g {
            *g = if *g > 0.0 { (*g + OUTLIER_FLOOR).ln() } else { floor };
        }
        Self {
            k_db,
            curve,
            log_g,
            delivered,
        }
    }

    /// The K this table was built for, dB.
    pub fn k_db(&self) -> f64 {
        self.k_db
    }

    /// The S-curve this table was built for.
    pub fn curve(&self) -> SCurve {
        self.curve
    }

    /// The probability of delivery at each mean power of the grid, interference aside.
    pub fn delivered(&self) -> &[f64] {
        &self.delivered
    }

    /// ln of the probability (with its floor) that an exchange is delivered and read as `reading_dbm`, at each mean power of
    /// the grid; `None` for a reading outside the table.
    pub fn log_reading(&self, reading_dbm: i32) -> Option<&[f64]> {
        let row = usize::try_from(i64::from(reading_dbm) - i64::from(READING_MIN_DBM)).ok()?;
        self.log_g.get(row * MEANS..(row + 1) * MEANS)
    }
}

/// Fades of one parity from the strongest down, the ends below one in a thousand million cut off.
struct Falling {
    strongest: usize,
    masses: Vec<f64>,
}

impl Falling {
    fn of(masses: &[f64], parity: usize) -> Self {
        let counts = |i: &usize| i % LEVELS_PER_MEAN == parity && masses[*i] >= 1e-9;
        let strongest = (0..masses.len()).rev().find(counts).unwrap_or(parity);
        let weakest = (0..masses.len()).find(counts).unwrap_or(parity);
        Self {
            strongest,
            masses: (weakest..=strongest)
                .rev()
                .step_by(LEVELS_PER_MEAN)
                .map(|i| masses[i])
                .collect(),
        }
    }
}

/// Probability of each reading at each mean power, a row of [`MEANS`] for each reading.
///
/// The sums run so that a row is walked upwards in memory: level l is fade l - 2j of mean j.
fn reading_probabilities(masses: &[f64], pass: &[f64]) -> Vec<f64> {
    let falling: [Falling; LEVELS_PER_MEAN] = std::array::from_fn(|parity| Falling::of(masses, parity));
    // A level's place within its whole dBm repeats every dB.
    let offsets = || -READING_REACH..=READING_REACH;
    let kernel: [Vec<f64>; LEVELS_PER_DB] = std::array::from_fn(|l| {
        let nearest = (level_at(l) + 0.5).floor();
        offsets()
            .map(|off| {
                let above = nearest + f64::from(off) - level_at(l);
                normal_cdf((above + 0.5) / READING_NOISE_DB) - normal_cdf((above - 0.5) / READING_NOISE_DB)
            })
            .collect()
    });
    let mut probabilities = vec![0.0; READINGS * MEANS];
    for (l, s) in pass.iter().enumerate().filter(|(_, s)| **s >= 1e-12) {
        let nearest = (level_at(l) + 0.5).floor() as i32;
        let fades = &falling[l % LEVELS_PER_MEAN];
        let weakest = fades.strongest - LEVELS_PER_MEAN * (fades.masses.len() - 1);
        if l < weakest {
            continue;
        }
        let first = l.saturating_sub(fades.strongest).div_ceil(LEVELS_PER_MEAN);
        let last = ((l - weakest) / LEVELS_PER_MEAN).min(MEANS - 1);
        let skipped = (fades.strongest + LEVELS_PER_MEAN * first - l) / LEVELS_PER_MEAN;
        for (off, share) in offsets().zip(&kernel[l % LEVELS_PER_DB]) {
            let reading = nearest + off;
            if first > last || !(READING_MIN_DBM..=READING_MAX_DBM).contains(&reading) {
                continue;
            }
            let row = (reading - READING_MIN_DBM) as usize * MEANS;
            let share = s * share;
            for (p, mass) in probabilities[row + first..=row + last]
                .iter_mut()
                .zip(&fades.masses[skipped..])
            {
                *p += share * mass;
            }
        }
    }
    probabilities
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::cells::grid::MEAN_STEP_DB;

    fn index(mu: f64) -> usize {
        ((mu - MEAN_MIN_DBM) / MEAN_STEP_DB).round() as usize
    }

    #[test]
    fn readings_and_losses_share_out_every_exchange() {
        let table = CellTable::new(SCurve::new(-92.0, 1.0).unwrap(), 6.0, 0.0);
        for mu in [-95.0, -90.0, -70.0] {
            let read: f64 = (READING_MIN_DBM..=READING_MAX_DBM)
                .map(|r| table.log_reading(r).unwrap()[index(mu)].exp() - OUTLIER_FLOOR)
                .sum();
            // A reading more than 4 dB off its level, at most 4e-5 of them, is left to the outlier floor.
            assert!((read - table.delivered()[index(mu)]).abs() < 4e-5, "{mu}: {read}");
        }
        assert!(table.log_reading(1).is_none());
        assert!(table.log_reading(i32::MIN).is_none());
    }

    #[test]
    fn no_constant_breaks_a_table() {
        for k_db in [f64::NEG_INFINITY, -300.0, 60.0, f64::INFINITY, f64::NAN] {
            for spread_db in [-1.0, 0.0, 1e9, f64::INFINITY, f64::NAN] {
                for (m, s) in [(-92.0, 1e-9), (500.0, 1.0), (-500.0, 1e9)] {
                    let table = CellTable::new(SCurve::new(m, s).unwrap(), k_db, spread_db);
                    assert!(k_db.is_nan() || table.delivered().iter().all(|d| (0.0..=1.0 + 1e-9).contains(d)));
                }
            }
        }
    }
}
