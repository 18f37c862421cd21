//! What the figures of a survey rest on, and the two halves made of it, neither of which needs the other.

use std::collections::BTreeMap;

use super::boards::{self, Boards};
use super::curves::Known;
use super::estimates::{BoardFigures, Estimates};
use super::need::at_stops;
use super::places::{NoPlaces, Places, places};
use super::points::{PointRow, points};
use super::reach::reach;
use super::side::Side;
use super::stop::{Gauge, StopFigures, USUAL_INTERFERENCE};
use super::sweeps::{self, Sweep};
use crate::stats::burst::{BurstMemory, Outcomes};
use crate::survey::sample::{Activity, Sample, Samples};
use crate::survey::setup::Setup;

/// How many of the last exchanges stand for "here" while walking.
const HERE: usize = 60;

/// Rows, stops and boards of a survey.
#[derive(Debug)]
pub struct Groundwork<'a> {
    samples: &'a Samples,
    setup: &'a Setup,
    stops: Vec<PointRow>,
    boards: Vec<BoardFigures>,
}

/// What was measured where somebody stood: at points, in sweeps, and here.
#[derive(Debug)]
pub struct Stood {
    points: Vec<(PointRow, StopFigures)>,
    here: Option<StopFigures>,
    comparison: Option<Boards>,
    sweeps: Vec<Sweep>,
}

impl<'a> Groundwork<'a> {
    /// Lays it; the arguments are those of [`super::estimates::estimates`].
    pub fn of(
        samples: &'a Samples,
        setup: &'a Setup,
        known: &Known,
        survey: Option<&str>,
        told: impl Fn(&str) -> bool,
    ) -> Self {
        let stops = points(samples, setup);
        Self {
            boards: board_figures(samples, setup, known, survey, told, &stops),
            stops,
            samples,
            setup,
        }
    }

    /// What is known of each board: enough to know what the survey teaches.
    pub fn boards(&self) -> &[BoardFigures] {
        &self.boards
    }

    /// The half that says what was measured at points, in sweeps and here.
    pub fn stood(&self) -> Stood {
        let samples = self.samples;
        let mut gauges: BTreeMap<&str, Gauge> = BTreeMap::new();
        let mut there: BTreeMap<String, Gauge> = BTreeMap::new();
        for board in &self.boards {
            let (Some(side), Some(reach)) = (board.side, &board.reach) else {
                continue;
            };
            let gauge = |side, need| Gauge::new(samples, &board.name, side, need, reach.interference());
            if let Some(gauge) = gauge(side, reach.need) {
                gauges.insert(&board.name, gauge);
            }
            let need = if side == Side::There { reach.need } else { None };
            if let Some(gauge) = gauge(Side::There, need) {
                there.insert(board.name.clone(), gauge);
            }
        }
        let interference = |name: &str| {
            let board = self.boards.iter().find(|board| board.name == name);
            board
                .and_then(|board| board.reach.as_ref()?.interference())
                .unwrap_or(USUAL_INTERFERENCE)
        };
        let sweeps = sweeps::sweeps(samples, |name| {
            let gauge = gauges.get(name)?;
            Some((gauge.side, gauge.model().curve(), interference(name)))
        });
        let mut memory = BurstMemory::default();
        let mut points = Vec::with_capacity(self.stops.len());
        for row in &self.stops {
            let rows = &samples.rows[row.rows.clone()];
            memory.add(&outcomes(rows));
            // A board whose levels nobody ever read has counts all the same.
            let gauge = gauges.get(row.board.as_str());
            let figures = gauge.map_or_else(StopFigures::default, |gauge| gauge.weigh(samples, rows, &memory));
            points.push((row.clone(), figures));
        }
        let reference = self.boards.iter().find(|board| board.reference);
        let comparison = reference.and_then(|reference| {
            let read = self.stops.iter().filter(|row| gauges.contains_key(row.board.as_str()));
            let rows: Vec<PointRow> = read.cloned().collect();
            boards::boards(samples, &rows, &reference.name, &there)
        });
        Stood {
            here: here(samples, &gauges, &memory),
            points,
            comparison,
            sweeps,
        }
    }

    /// The half that says where a node can go: the map, for the board that most exchanges of walks are from; `None` before any
    /// board was heard.
    pub fn places(&self) -> Option<Result<Places, NoPlaces>> {
        let (samples, setup) = (self.samples, self.setup);
        let walked = |board: &&BoardFigures| {
            let placed = samples.counted(&board.name).filter(|row| row.place.is_some());
            placed
                .filter(|row| !matches!(row.activity, Activity::Sweep { .. }))
                .count()
        };
        let reached = self
            .boards
            .iter()
            .filter(|board| board.reach.is_some())
            .max_by_key(walked);
        if let Some(reach) = reached.and_then(|board| board.reach.as_ref()) {
            return Some(places(samples, setup, reach));
        }
        let most = self.boards.iter().max_by_key(walked)?;
        if most.delivered > 0 {
            return Some(Err(NoPlaces::NoLevels));
        }
        // Nothing was ever answered: that the ground is dead can be said without a level.
        let reach = reach(samples, setup, &most.name, None, Side::There);
        Some(places(samples, setup, &reach))
    }

    /// The figures, one half made after the other.
    pub fn in_turn(self) -> Estimates {
        let (stood, places) = (self.stood(), self.places());
        self.figures(stood, places)
    }

    /// The figures, both halves together.
    pub fn figures(self, stood: Stood, places: Option<Result<Places, NoPlaces>>) -> Estimates {
        Estimates {
            rows: self.samples.rows.len(),
            boards: self.boards,
            points: stood.points,
            here: stood.here,
            comparison: stood.comparison,
            sweeps: stood.sweeps,
            places,
        }
    }
}

/// Makes what is known of each board, in the order they were first heard.
///
/// `stops`: the runs at points and steps of sweeps.
fn board_figures(
    samples: &Samples,
    setup: &Setup,
    known: &Known,
    survey: Option<&str>,
    told: impl Fn(&str) -> bool,
    stops: &[PointRow],
) -> Vec<BoardFigures> {
    let mut names: Vec<&str> = Vec::new();
    let mut tally: BTreeMap<&str, (u64, u64)> = BTreeMap::new();
    for row in samples.rows.iter().filter(|row| row.counts()) {
        let name = samples.board(row);
        let count = tally.entry(name).or_insert_with(|| {
            names.push(name);
            (0, 0)
        });
        count.0 += 1;
        count.1 += u64::from(row.delivered());
    }
    let reference = boards::reference(setup, told, &names);
    let mut tables = None;
    let made = names.into_iter().map(|name| {
        let side = Side::of(samples, name);
        let reach = side.map(|side| {
            let mut reach = reach(samples, setup, name, known.curve(name, side, survey), side);
            if reach.need.is_none() {
                reach.learn_at_points(at_stops(samples, stops, name, side, &mut tables));
            }
            reach
        });
        let (exchanges, delivered) = tally.get(name).copied().unwrap_or_default();
        BoardFigures {
            name: name.to_owned(),
            reference: reference == Some(name),
            exchanges,
            delivered,
            side,
            reach,
        }
    });
    made.collect()
}

fn outcomes(rows: &[Sample]) -> Outcomes {
    rows.iter().filter(|row| row.counts()).map(Sample::delivered).collect()
}

/// The run that is going on; walking, only its last exchanges: a walker has left the ones before behind.
fn here(samples: &Samples, gauges: &BTreeMap<&str, Gauge>, memory: &BurstMemory) -> Option<StopFigures> {
    let last = samples.rows.last()?;
    let step = |row: &Sample| match row.activity {
        Activity::Sweep { step, .. } => step,
        Activity::Walk | Activity::Point(_) => 0,
    };
    let mut from = samples.rows.len();
    while from > 0 && samples.rows[from - 1].run == last.run && step(&samples.rows[from - 1]) == step(last) {
        from -= 1;
        if last.activity == Activity::Walk && samples.rows.len() - from >= HERE {
            break;
        }
    }
    let gauge = gauges.get(samples.board(last))?;
    Some(gauge.weigh(samples, &samples.rows[from..], memory))
}
