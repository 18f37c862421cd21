//! Boards compared fairly: each against the reference, by what the one station heard of each at the same points.

use std::collections::BTreeMap;

use super::points::PointRow;
use super::side::Side;
use super::stop::{CONFIDENCE, Gauge, USUAL_K_DB};
use crate::stats::boards::{BoardCell, Comparison, Effect, NoComparison, compare};
use crate::stats::cells::Cell;
use crate::stats::independence::independent_fades;
use crate::stats::proportions::Interval;
use crate::survey::Survey;
use crate::survey::sample::{Activity, Samples};
use crate::survey::setup::Setup;

/// Boards compared at points.
#[derive(Clone, Debug)]
pub struct Boards {
    /// The boards measured at points, the reference first.
    pub names: Vec<String>,
    /// The points, nearest first; those without a distance last.
    pub points: Vec<String>,
    /// The comparison, or why there is none.
    pub comparison: Result<Comparison, NoComparison>,
    /// Boards whose need is not known: their losses count less than they should.
    pub needs_unknown: Vec<String>,
}

/// How much wider than the fit's own the intervals are made.
///
/// A board that stands still is heard through one frozen fade, and few cells tell how much such fades differ: on rehearsed
/// surveys of standing walkers (`tests/calibration_survey`, 120 boards in rough worlds) the fit's own intervals had to be
/// stretched by 1.2 to hold 96 in 100. Where the walker circled, 0.6 would have done; no count tells one from the other.
const WIDENED: f64 = 1.25;

fn widened(mut comparison: Comparison) -> Comparison {
    let stretch = |interval: &mut Interval, about: f64| {
        interval.low = about + WIDENED * (interval.low - about);
        interval.high = about + WIDENED * (interval.high - about);
    };
    for board in &mut comparison.boards {
        if let Effect::Measured {
            estimate_db,
            standard_error_db,
            individual,
            simultaneous,
        } = &mut board.effect
        {
            *standard_error_db *= WIDENED;
            stretch(individual, *estimate_db);
            stretch(simultaneous, *estimate_db);
        }
    }
    comparison
}

/// The boards whose own hello calls them the reference.
pub fn told(survey: &Survey) -> Vec<&str> {
    let boots = survey.stream().boots().iter();
    boots
        .filter(|boot| boot.reference == Some(true))
        .map(|boot| boot.identity.board())
        .collect()
}

/// The board the others are compared with: the one the set-up or its hello calls so, else the one measured first.
pub fn reference<'a>(setup: &Setup, told: impl Fn(&str) -> bool, boards: &[&'a str]) -> Option<&'a str> {
    declared(setup, told, boards).or(boards.first().copied())
}

/// The board that the set-up, or else its own hello, calls the reference.
fn declared<'a>(setup: &Setup, told: impl Fn(&str) -> bool, boards: &[&'a str]) -> Option<&'a str> {
    let set = |board: &&&str| setup.boards.iter().any(|note| note.reference && note.name == **board);
    let found = boards.iter().find(set);
    found.or_else(|| boards.iter().find(|board| told(board))).copied()
}

/// Compares the boards measured at points. `gauges` weigh each board's cells through its own need, as the station heard it.
pub fn boards(
    samples: &Samples,
    points: &[PointRow],
    reference: &str,
    gauges: &BTreeMap<String, Gauge>,
) -> Option<Boards> {
    let rows: Vec<&PointRow> = points.iter().filter(|row| row.activity == "point").collect();
    let mut names: Vec<String> = Vec::new();
    let mut places: Vec<(Option<f64>, String)> = Vec::new();
    for row in &rows {
        if !names.contains(&row.board) {
            names.push(row.board.clone());
        }
        if !places.iter().any(|(_, name)| *name == row.point) {
            places.push((row.distance.map(|distance| distance.0), row.point.clone()));
        }
    }
    if names.len() < 2 {
        return None;
    }
    names.sort();
    if let Some(index) = names.iter().position(|name| name == reference) {
        names[..=index].rotate_right(1);
    }
    places.sort_by(|a, b| a.0.unwrap_or(f64::INFINITY).total_cmp(&b.0.unwrap_or(f64::INFINITY)));
    let cells_of = |name: &str| -> Vec<(&PointRow, Cell, f64)> {
        rows.iter()
            .filter(|row| row.board == name)
            .map(|row| {
                let counted = samples.rows[row.rows.clone()]
                    .iter()
                    .filter(|sample| sample.counts() && matches!(sample.activity, Activity::Point(_)));
                let heard: Vec<_> = counted.map(|sample| Side::There.heard(sample)).collect();
                // How far the board moved is not known and need not be: a fade it stood frozen in belongs to what a
                // board shows when put back, which the comparison measures from the spread of its cells.
                let weight = independent_fades(&heard, None) / (heard.len() as f64).max(1.0);
                (*row, Cell::count(heard), weight.min(1.0))
            })
            .collect()
    };
    let begin = rows.first().map_or(0, |row| row.begin.0);
    let mut cells = Vec::new();
    for (board, name) in names.iter().enumerate() {
        let Some(gauge) = gauges.get(name) else { continue };
        let own = cells_of(name);
        let weighed: Vec<(Cell, f64)> = own.iter().map(|(_, cell, weight)| (cell.clone(), *weight)).collect();
        // A board that was never heard tells no fading of its own: a usual one outdoors is taken (common practice).
        let pooled = gauge.model().pooled_k(&weighed).map(|(_, model)| model);
        let Some(model) = pooled.or_else(|| gauge.model().nearest_k(USUAL_K_DB)) else {
            continue;
        };
        for (row, cell, weight) in own {
            cells.push(BoardCell {
                stop: places.iter().position(|(_, name)| *name == row.point).unwrap_or(0),
                board,
                orientation: 0,
                time: (row.begin.0 - begin) as f64 / 1000.0,
                log_likelihood: model.log_likelihood(&cell, weight),
            });
        }
    }
    Some(Boards {
        comparison: compare(&cells, 0, CONFIDENCE).map(widened),
        needs_unknown: names
            .iter()
            .filter(|name| gauges.get(*name).is_none_or(|gauge| gauge.need.is_none()))
            .cloned()
            .collect(),
        names,
        points: places.into_iter().map(|(_, name)| name).collect(),
    })
}
