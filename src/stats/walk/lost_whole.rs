//! Cells of a walk where every exchange was lost.
//!
//! They have no readings, so that cells that lost equally many share one likelihood, and at levels at which no exchange gets
//! through only the trend counts. A long walk beyond a board's range is mostly of such cells.

use super::quick::exp;
use super::response::dot;

/// Chance that any of a cell's lost exchanges had got through, under which a level counts as one where none does.
const UNHEARD: f64 = 1e-11;

/// The cells of a walk, each with its trend where all was lost.
pub(super) struct LostWhole {
    cells: Vec<Option<LostCell>>,
    /// The different numbers of exchanges that were lost.
    counts: Vec<f64>,
}

struct LostCell {
    /// Which of the counts is its own.
    count: usize,
    /// Largest logarithm of the trend.
    peak: f64,
    /// exp(trend - peak), level by level.
    share: Vec<f64>,
    /// Sums of the shares before each level, and of all.
    below: Vec<f64>,
}

/// Likelihood of losing so many, over the levels from the first at which one might get through.
pub(super) struct LossCurve {
    first: usize,
    likelihood: Vec<f64>,
}

impl LostWhole {
    /// From the logarithm of each cell's trend over `levels` levels, and its exchanges answered and lost.
    pub(super) fn new(log_trend: &[f64], levels: usize, delivered: &[f64], lost: &[f64]) -> Self {
        let mut counts: Vec<f64> = Vec::new();
        let cells = log_trend
            .chunks_exact(levels)
            .zip(delivered.iter().zip(lost))
            .map(|(trend, (&delivered, &lost))| {
                (delivered <= 0.0).then(|| {
                    let count = counts.iter().position(|&count| count == lost).unwrap_or_else(|| {
                        counts.push(lost);
                        counts.len() - 1
                    });
                    LostCell::new(count, trend)
                })
            })
            .collect();
        Self { cells, counts }
    }

    pub(super) fn has(&self, cell: usize) -> bool {
        self.cells[cell].is_some()
    }

    /// The curve of each count, over the levels of the cells' windows, from the chance to get through and the logarithm of the
    /// chance to be lost, level by level.
    pub(super) fn curves(&self, windows: &[(usize, usize)], through: &[f64], log_lost: &[f64]) -> Vec<LossCurve> {
        let mut spans = vec![(through.len(), 0); self.counts.len()];
        for (cell, window) in self.cells.iter().zip(windows) {
            if let Some(cell) = cell {
                let span = &mut spans[cell.count];
                *span = (span.0.min(window.0), span.1.max(window.1));
            }
        }
        self.counts
            .iter()
            .zip(spans)
            .map(|(&count, (from, to))| {
                let unheard = through[from.min(to)..to].partition_point(|chance| count * chance < UNHEARD);
                let first = from + unheard;
                let likelihood = log_lost[first.min(to)..to]
                    .iter()
                    .map(|log| exp((count * log).max(-700.0)))
                    .collect();
                LossCurve { first, likelihood }
            })
            .collect()
    }

    /// Logarithm of the sum over the levels up to the end of a cell's window of its trend times its likelihood; `None` for other
    /// cells, and where so little is left that only logarithms hold it.
    pub(super) fn log_sum(&self, cell: usize, (from, to): (usize, usize), curves: &[LossCurve]) -> Option<f64> {
        let cell = self.cells[cell].as_ref()?;
        let curve = &curves[cell.count];
        let first = curve.first.clamp(from, to);
        let heard = &curve.likelihood[first.saturating_sub(curve.first)..];
        let sum = cell.below[first] + dot(&cell.share[first..to], &heard[..to - first]);
        (sum > 1e-250).then(|| cell.peak + sum.ln())
    }
}

impl LostCell {
    fn new(count: usize, trend: &[f64]) -> Self {
        let peak = trend.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let share: Vec<f64> = trend.iter().map(|&value| exp((value - peak).max(-700.0))).collect();
        let mut sum = 0.0;
        let mut below = vec![0.0];
        below.extend(share.iter().map(|share| {
            sum += share;
            sum
        }));
        Self {
            count,
            peak,
            share,
            below,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Logarithm of a normal about `centre` with deviation `sd`, over levels from -150 dBm in half decibels.
    fn trend(centre: f64, sd: f64) -> Vec<f64> {
        (0..301)
            .map(|i| -0.5 * ((-150.0 + 0.5 * f64::from(i) - centre) / sd).powi(2))
            .collect()
    }

    #[test]
    fn a_cell_lost_whole_has_the_sum_over_all_its_levels() {
        let centres = [-140.0, -118.0, -105.0, -93.0, -80.0, -60.0];
        let lost = [30.0, 100.0, 100.0, 1.0, 7.0, 30.0];
        let log_trend: Vec<f64> = centres.iter().flat_map(|&centre| trend(centre, 4.0)).collect();
        let cells = LostWhole::new(&log_trend, 301, &[0.0; 6], &lost);
        for interference in [0.001, 0.3] {
            let through: Vec<f64> = (0..301)
                .map(|i| 1.0 / (1.0 + (-(0.5 * f64::from(i) - 58.0)).exp()))
                .collect();
            let log_lost: Vec<f64> = through.iter().map(|p| (1.0 - (1.0 - interference) * p).ln()).collect();
            let windows = [(0, 301); 6];
            let curves = cells.curves(&windows, &through, &log_lost);
            for (cell, window) in windows.iter().enumerate() {
                let got = cells.log_sum(cell, *window, &curves).unwrap();
                let want: f64 = log_trend[301 * cell..301 * (cell + 1)]
                    .iter()
                    .zip(&log_lost)
                    .map(|(trend, log)| (trend + lost[cell] * log).exp())
                    .sum();
                assert!((got - want.ln()).abs() < 1e-9, "cell {cell}: {got} {}", want.ln());
            }
        }
    }

    #[test]
    fn what_only_logarithms_hold_is_left_to_them() {
        let heard = LostWhole::new(&trend(-60.0, 2.0), 301, &[1.0], &[3.0]);
        assert!(
            !heard.has(0)
                && heard
                    .log_sum(0, (0, 301), &heard.curves(&[(0, 301)], &[1.0; 301], &[-9.0; 301]))
                    .is_none()
        );
        let near = LostWhole::new(&trend(-20.0, 1.0), 301, &[0.0], &[500.0]);
        assert!(near.has(0));
        // All levels get through but for one exchange in ten thousand: to lose 500 is all but impossible.
        let curves = near.curves(&[(0, 301)], &[0.9999; 301], &[-9.2; 301]);
        assert_eq!(near.log_sum(0, (0, 301), &curves), None);
    }
}
