//! What can be said of boards that no stop compares with each other from both sides.

use std::collections::BTreeSet;

use super::boards::BoardCell;
use super::cells::{MEAN_MIN_DBM, MEANS, mean_at};
use super::lincell::{flat_moments, gaussian_moments};
use super::special::normal_quantile;

/// From which sides a cell bounds its level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Sides {
    below: bool,
    above: bool,
}

impl Sides {
    /// A side is bounded when the log likelihood falls towards that end of the grid by what an interval end takes.
    pub(super) fn of(log_likelihood: &[f64], upper: f64) -> Self {
        let drop = half_square(upper);
        let top = log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let falls = |end: Option<&f64>| end.is_some_and(|v| top - v > drop);
        Self {
            below: falls(log_likelihood.first()),
            above: falls(log_likelihood.last()),
        }
    }

    pub(super) fn two(self) -> bool {
        self.below && self.above
    }
}

fn half_square(upper: f64) -> f64 {
    let z = normal_quantile(upper).unwrap_or(0.0);
    0.5 * z * z
}

/// The boards that stops measured from both sides link to the reference, one over another.
pub(super) fn linked_boards(cells: &[BoardCell], sides: &[Sides], reference: usize) -> BTreeSet<usize> {
    let sound: Vec<&BoardCell> = cells
        .iter()
        .zip(sides)
        .filter(|(_, s)| s.two())
        .map(|(c, _)| c)
        .collect();
    let mut boards = BTreeSet::from([reference]);
    let mut stops = BTreeSet::new();
    loop {
        let before = boards.len() + stops.len();
        for cell in &sound {
            if boards.contains(&cell.board) {
                stops.insert(cell.stop);
            }
            if stops.contains(&cell.stop) {
                boards.insert(cell.board);
            }
        }
        if boards.len() + stops.len() == before {
            return boards;
        }
    }
}

/// The most dB `faint` can stand above `loud`, from stops where the first was bounded only from above and the second from
/// both sides; `None` where there is no such stop or no bound.
///
/// The limit is where the likelihood has fallen from its plateau by what a one-sided interval end takes. Drift is left out
/// and cells are taken as independent.
pub(super) fn limit(
    cells: &[BoardCell],
    sides: &[Sides],
    loud: usize,
    faint: usize,
    spread_db: f64,
    upper: f64,
) -> Option<f64> {
    let mut pairs: Vec<(f64, f64, Vec<f64>)> = Vec::new();
    for (cell, side) in cells.iter().zip(sides) {
        if cell.board != faint || side.below || !side.above {
            continue;
        }
        let (mut weights, mut sum) = (0.0, 0.0);
        for (other, other_side) in cells.iter().zip(sides) {
            if other.stop == cell.stop && other.board == loud && other_side.two() {
                let (mean, variance) = flat_moments(&likelihood(&other.log_likelihood));
                let weight = 1.0 / (variance + spread_db * spread_db);
                weights += weight;
                sum += weight * mean;
            }
        }
        if weights > 0.0 {
            let deviation = (spread_db * spread_db + 1.0 / weights).sqrt();
            pairs.push((sum / weights, deviation, likelihood(&cell.log_likelihood)));
        }
    }
    if pairs.is_empty() {
        return None;
    }
    let fit_at = |difference: f64| {
        pairs
            .iter()
            .map(|(level, deviation, faint)| {
                let centre = (level + difference).clamp(MEAN_MIN_DBM + 1.0, mean_at(MEANS - 1) - 1.0);
                gaussian_moments(faint, centre, *deviation).map_or(-300.0, |(_, _, log)| log)
            })
            .sum::<f64>()
    };
    let (mut low, mut high) = (-150.0, 150.0);
    let wanted = fit_at(low) - half_square(upper);
    if fit_at(high) > wanted {
        return None;
    }
    while high - low > 1e-3 {
        let middle = 0.5 * (low + high);
        if fit_at(middle) > wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(high)
}

fn likelihood(log_likelihood: &[f64]) -> Vec<f64> {
    let top = log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    log_likelihood.iter().map(|v| (v - top).exp()).collect()
}
