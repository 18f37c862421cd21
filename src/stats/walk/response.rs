//! How one board answers and reads a mean level, tabulated fast for the few readings and levels a walk needs.
//!
//! The same quantities as the cell likelihood's tables, cut to the part that matters: a fit asks for some two hundred
//! sets of parameters, and most of a full table is never looked at.

use crate::stats::cells::{MEAN_MIN_DBM, MEANS, READING_MAX_DBM, READING_MIN_DBM, SCurve};
use crate::stats::special::normal_cdf;

use super::quick::ln;

/// Whole-dBm readings there can be.
pub(super) const READINGS: usize = (READING_MAX_DBM - READING_MIN_DBM + 1) as usize;

/// Step of momentary levels, dB; two to a step of mean levels.
const FINE: f64 = 0.25;
/// Fades, -40 to +12 dB in steps of [`FINE`].
const FADES: usize = 209;
/// The weakest fade, dB.
const FIRST_FADE: f64 = -40.0;
/// Momentary levels: every mean level with every fade.
const FINE_LEVELS: usize = 2 * (MEANS - 1) + FADES;
/// Momentary levels that can be read as one whole-dBm value: 4.5 dB below up to, not including, 4.5 dB above.
const SPREAD: usize = 36;
/// Added to a reading's probability, so that one strange reading cannot rule a level out.
const OUTLIER: f64 = 1e-9;

/// Fade masses and success at each momentary level of one board in one kind of fading.
#[derive(Clone, Debug)]
pub(super) struct Response {
    fade: Vec<f64>,
    padded: Vec<f64>,
    success: Vec<f64>,
}

impl Response {
    /// Prepares a board whose fades have the masses `fade`, from [`crate::stats::cells::fade_masses`].
    pub(super) fn new(fade: &[f64], curve: SCurve) -> Self {
        let mut padded = vec![0.0; FADES + 2 * SPREAD];
        for (out, &p) in padded[SPREAD..].iter_mut().zip(fade) {
            // Masses under 1e-9 add less than the outlier floor, and are left out there.
            *out = if p < 1e-9 { 0.0 } else { p };
        }
        let success = (0..FINE_LEVELS)
            .map(|i| curve.delivery(MEAN_MIN_DBM + FIRST_FADE + FINE * i as f64))
            .collect();
        Self {
            fade: fade.to_vec(),
            padded,
            success,
        }
    }

    /// Chance that an exchange at the mean level with this index succeeds, interference aside.
    pub(super) fn delivery(&self, index: usize) -> f64 {
        dot(&self.fade, &self.success[2 * index..2 * index + FADES])
    }

    /// Logarithm of the chance to succeed and be read as `reading` (an index from -130 dBm up), over the mean
    /// levels from index `from` on, as many as `out` has room for.
    pub(super) fn log_reading(&self, reading: usize, from: usize, kernel: &ReadingKernel, out: &mut [f64]) {
        // Index of the first momentary level that may be read so: 4.5 dB below the reading.
        let first = 4 * reading + ((f64::from(READING_MIN_DBM) - 4.5 - MEAN_MIN_DBM - FIRST_FADE) / FINE) as usize;
        let mut weighted = [0.0; SPREAD];
        for ((w, s), k) in weighted
            .iter_mut()
            .zip(&self.success[first..first + SPREAD])
            .zip(&kernel.0)
        {
            *w = s * k;
        }
        for (offset, out) in out.iter_mut().enumerate() {
            let fades = first as isize + SPREAD as isize - 2 * (from + offset) as isize;
            let chance = if fades <= 0 || fades as usize >= FADES + SPREAD {
                0.0
            } else {
                dot(&self.padded[fades as usize..fades as usize + SPREAD], &weighted)
            };
            *out = chance + OUTLIER;
        }
        for out in out.iter_mut() {
            *out = ln(*out);
        }
    }
}

/// Chance that a momentary level 4.5 dB below a whole value, and each quarter decibel up from there, is read as that
/// value: rounding after a reading noise of 1 dB.
#[derive(Clone, Debug)]
pub(super) struct ReadingKernel([f64; SPREAD]);

impl ReadingKernel {
    pub(super) fn new() -> Self {
        let mut chance = [0.0; SPREAD];
        for (k, p) in chance.iter_mut().enumerate() {
            let off = 4.5 - FINE * k as f64;
            *p = normal_cdf(off + 0.5) - normal_cdf(off - 0.5);
        }
        Self(chance)
    }
}

/// Inner product in four independent sums, which lets the compiler use vector registers.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = [0.0; 4];
    let (a4, a_rest) = a.as_chunks::<4>();
    let (b4, b_rest) = b.as_chunks::<4>();
    for (x, y) in a4.iter().zip(b4) {
        for i in 0..4 {
            sums[i] += x[i] * y[i];
        }
    }
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(x, y)| x * y).sum();
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::cells::{CellTable, fade_masses};

    #[test]
    fn the_quick_table_equals_the_full_one() {
        let kernel = ReadingKernel::new();
        for (k, m, s, spread) in [
            (6.0, -92.0, 1.0, 1.5),
            (-10.0, -97.3, 0.3, 0.0),
            (15.0, -85.0, 4.0, 4.0),
        ] {
            let curve = SCurve::new(m, s).unwrap();
            let full = CellTable::new(curve, k, spread);
            let quick = Response::new(&fade_masses(k, spread), curve);
            let mut row = vec![0.0; MEANS];
            for reading in 0..READINGS {
                quick.log_reading(reading, 0, &kernel, &mut row);
                let wanted = full.log_reading(READING_MIN_DBM + reading as i32).unwrap();
                for (got, want) in row.iter().zip(wanted) {
                    // The full table leaves out successes rarer than 1e-12, which together are rarer still.
                    let (p, q) = (f64::exp(*got), f64::exp(*want));
                    assert!((p - q).abs() < 1e-12 + 1e-9 * q, "{k} {reading}: {p} {q}");
                }
            }
            for (i, want) in full.delivered().iter().enumerate() {
                assert!((quick.delivery(i) - want).abs() < 1e-12);
            }
        }
    }
}
