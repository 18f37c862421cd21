//! Boards compared fairly: each against the reference, by what the one station heard of each at the same points.

use std::collections::BTreeMap;

use super::common_meter::CommonMeter;
use super::points::PointRow;
use super::side::Side;
use super::stop::{CONFIDENCE, Gauge, USUAL_K_DB};
use crate::stats::boards::{BoardCell, BoardEffect, Comparison, Effect, NoComparison, SideEffect, compare};
use crate::stats::cells::Cell;
use crate::stats::independence::independent_fades;
use crate::stats::proportions::Interval;
use crate::stats::special::student_t_quantile;
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
    /// What the station heard of each board at each point, in the order of names and points.
    pub meter: CommonMeter,
    /// What drifted at each point where another board than the reference was measured, in their order.
    pub drifts: Vec<PointDrift>,
}

/// What drifted at a point from its first run to its last.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointDrift {
    /// Which point.
    pub point: usize,
    /// The drift, which the comparison takes out; or why it is not known.
    pub drift: Result<Drift, NoDrift>,
}

/// A drift, positive: later runs are stronger. It is by what the link changed there for every board alike from the beginning of
/// the point's first run to that of its last, evenly in time; putting a board back is not part of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drift {
    /// The estimate, dB.
    pub estimate_db: f64,
    /// Its standard error, dB.
    pub standard_error_db: f64,
    /// Its 95 % interval, dB.
    pub interval: Interval,
}

/// Why a drift is not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoDrift {
    /// The reference was not measured there twice, but so often.
    NotBracketed {
        /// Its runs there.
        runs: u64,
    },
    /// It was, and was heard less than twice.
    NotHeardTwice,
}

/// Why nothing is said of a board against the reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NothingSaid {
    /// Its lines never tell how the station heard it.
    Unread,
    /// They were measured at no common point.
    NeverMet,
    /// At none of them were both heard.
    NeverHeard,
}

impl Boards {
    /// The name of a board.
    pub fn name(&self, board: usize) -> &str {
        self.names.get(board).map_or("—", String::as_str)
    }

    /// The name of a point.
    pub fn point(&self, point: usize) -> &str {
        self.points.get(point).map_or("—", String::as_str)
    }

    /// Why nothing is said of a board; `None` where something is.
    pub fn nothing_said(&self, effect: &BoardEffect) -> Option<NothingSaid> {
        let open = Effect::OpenEnded {
            low_db: None,
            high_db: None,
        };
        (effect.effect == open).then(|| {
            if self.meter.is_unread(effect.board) {
                NothingSaid::Unread
            } else if !self.meter.met(effect.board, 0) {
                NothingSaid::NeverMet
            } else {
                NothingSaid::NeverHeard
            }
        })
    }

    /// What putting a board back changes, one standard deviation in dB; `None` where no board was measured against another, and
    /// what stands in the comparison is no more than was taken for granted.
    pub fn putting_back_db(&self) -> Option<f64> {
        let found = self.comparison.as_ref().ok()?;
        let measured = found
            .boards
            .iter()
            .any(|one| matches!(one.effect, Effect::Measured { .. }));
        measured.then_some(found.spread_db)
    }
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
    let points: Vec<String> = places.iter().map(|(_, name)| name.clone()).collect();
    let meter = CommonMeter::of(samples, &rows, &names, &points);
    let unread: Vec<usize> = (0..names.len()).filter(|board| meter.is_unread(*board)).collect();
    let mut cells = Vec::new();
    for (board, name) in names.iter().enumerate() {
        // Answers without a level at the station say next to nothing, and would pass for cells that do.
        if unread.contains(&board) {
            continue;
        }
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
    let comparison = if unread.contains(&0) {
        Err(NoComparison::ReferenceUnread)
    } else if unread.len() + 1 == names.len() {
        Err(NoComparison::NoneRead)
    } else {
        compare(&cells, 0, CONFIDENCE).map(|found| with_unread(widened(found), &unread, &meter))
    };
    Some(Boards {
        drifts: drifts(comparison.as_ref().ok(), &meter, points.len(), names.len()),
        comparison,
        needs_unknown: names
            .iter()
            .filter(|name| gauges.get(*name).is_none_or(|gauge| gauge.need.is_none()))
            .cloned()
            .collect(),
        names,
        points,
        meter,
    })
}

/// The comparison with boards that could not take part: nothing is said of them.
fn with_unread(mut comparison: Comparison, unread: &[usize], meter: &CommonMeter) -> Comparison {
    for board in unread {
        let runs: u64 = meter.runs(*board);
        comparison.boards.push(BoardEffect {
            board: *board,
            effect: Effect::OpenEnded {
                low_db: None,
                high_db: None,
            },
            cells: runs as usize,
            two_sided: 0,
        });
    }
    comparison.boards.sort_by_key(|effect| effect.board);
    comparison
}

/// The drift at each point where the reference can be missed: where another board was measured.
fn drifts(comparison: Option<&Comparison>, meter: &CommonMeter, points: usize, boards: usize) -> Vec<PointDrift> {
    let Some(found) = comparison else {
        return Vec::new();
    };
    let quantile = student_t_quantile(0.5 + 0.5 * found.confidence, found.degrees);
    let with_interval = |of: &SideEffect| {
        let standard_error_db = WIDENED * of.standard_error_db;
        let half = quantile? * standard_error_db;
        Some(Drift {
            estimate_db: of.estimate_db,
            standard_error_db,
            interval: Interval {
                low: of.estimate_db - half,
                high: of.estimate_db + half,
            },
        })
    };
    let shared = (0..points).filter(|point| (1..boards).any(|board| meter.at(board, *point).runs > 0));
    shared
        .map(|point| {
            let reference = meter.at(0, point);
            let taken_out = found.drifts.iter().find(|drift| drift.of == point);
            let drift = match taken_out.and_then(with_interval) {
                Some(drift) if reference.runs_with_level > 1 => Ok(drift),
                _ if reference.runs > 1 => Err(NoDrift::NotHeardTwice),
                _ => Err(NoDrift::NotBracketed { runs: reference.runs }),
            };
            PointDrift { point, drift }
        })
        .collect()
}
