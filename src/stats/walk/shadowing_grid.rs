//! The standard deviations and correlation distances of shadowing that are weighed against each other.

use super::likely::likely;

/// A grid over the shadowing's standard deviation, dB, and its correlation distance, metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ShadowingGrid {
    sigmas: usize,
    /// Ratio of one sigma to that before it; the first is 2 dB.
    ratio: f64,
    deltas_m: &'static [f64],
    /// Where the priors have their middle: 10 m and some 5 dB.
    middle: (usize, usize),
}

impl ShadowingGrid {
    /// 2 to 13 dB, 3 to 50 m.
    pub(super) const FULL: Self = Self {
        sigmas: 13,
        ratio: 1.17,
        deltas_m: &[3.0, 4.5, 7.0, 10.0, 15.0, 22.0, 33.0, 50.0],
        middle: (3, 6),
    };

    /// Every other point of the full grid.
    pub(super) const THINNED: Self = Self {
        sigmas: 7,
        ratio: 1.17 * 1.17,
        deltas_m: &[4.5, 10.0, 22.0, 50.0],
        middle: (1, 3),
    };

    /// Points in all.
    pub(super) fn points(&self) -> usize {
        self.sigmas * self.deltas_m.len()
    }

    /// Works out `at` for sigma and delta (a logarithm and what comes with it) wherever that logarithm is large enough to count.
    pub(super) fn search<T>(&self, mut at: impl FnMut(f64, f64) -> (f64, T)) -> Vec<(f64, T)> {
        let found = likely((self.deltas_m.len(), self.sigmas), self.middle, |row, column| {
            at(2.0 * self.ratio.powi(column as i32), self.deltas_m[row])
        });
        found.into_iter().flatten().collect()
    }
}

/// ln of the priors of sigma and delta: log-normal about 5 dB and 10 m, each with deviation 0.6.
pub(super) fn log_prior(ln_sigma: f64, ln_delta: f64) -> f64 {
    -0.5 * ((ln_sigma - 5.0_f64.ln()) / 0.6).powi(2) - 0.5 * ((ln_delta - 10.0_f64.ln()) / 0.6).powi(2)
}
