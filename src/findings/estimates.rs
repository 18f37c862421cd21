//! All that takes more than a glance: what each board needs and how far it reaches, each stop, the boards compared, the
//! sweeps. Made from rows, off the drawing thread while walking; the same for replay, figures and write-up.

use std::collections::BTreeMap;

use super::assumptions::{Assumed, Wanted};
use super::boards::{self, Boards};
use super::curves::Known;
use super::grid::Grid;
use super::need::at_stops;
use super::places::{NoPlaces, Places, places};
use super::points::{PointRow, points};
use super::reach::{NoReach, Reach, reach};
use super::side::Side;
use super::stop::{Gauge, StopFigures, USUAL_INTERFERENCE};
use super::sweeps::{self, Sweep};
use crate::stats::burst::{BurstMemory, Outcomes};
use crate::stats::stop_curve::NoCurve;
use crate::survey::sample::{Activity, Sample, Samples};
use crate::survey::setup::Setup;

/// How many of the last exchanges stand for "here" while walking.
const HERE: usize = 60;

/// All that takes more than a glance.
#[derive(Clone, Debug, Default)]
pub struct Estimates {
    /// How many rows they rest on.
    pub rows: usize,
    /// Each board, by name.
    pub boards: Vec<BoardFigures>,
    /// Each run at a point and each step of a sweep, with level, margin and why messages were lost.
    pub points: Vec<(PointRow, StopFigures)>,
    /// The run (or, walking, the last exchanges) that is going on.
    pub here: Option<StopFigures>,
    /// Boards at points, where two or more were measured.
    pub comparison: Option<Boards>,
    /// Sweeps, as they were made.
    pub sweeps: Vec<Sweep>,
    /// Where a node can go, by the board that was walked with most; `None` before any board was heard.
    pub places: Option<Result<Places, NoPlaces>>,
}

/// What is known of one board.
#[derive(Clone, Debug)]
pub struct BoardFigures {
    /// Its name.
    pub name: String,
    /// Whether the others are compared with it.
    pub reference: bool,
    /// Exchanges that count.
    pub exchanges: u64,
    /// Of them delivered.
    pub delivered: u64,
    /// Where its levels are read; `None` where none were.
    pub side: Option<Side>,
    /// How far it reaches, and what it needs.
    pub reach: Option<Reach>,
}

impl BoardFigures {
    /// Why no margin of this board can be told, in words; `None` where what it needs is known.
    pub fn why_no_margin(&self) -> Option<String> {
        if self.side.is_none() {
            return Some("no levels: the board does not print them".to_owned());
        }
        let reach = self.reach.as_ref()?;
        match (&reach.need, &reach.fit) {
            (Some(_), _) => None,
            (None, Err(NoReach::NoStation)) => {
                Some(format!("what {} needs is not known: {}", self.name, NoReach::NoStation))
            }
            (None, _) => {
                let why = match &reach.at_points {
                    Some(Err(why)) if *why != NoCurve::FewStops => format!("{why}; "),
                    _ => String::new(),
                };
                Some(format!(
                    "what {} needs is not known: {why}measure it at points where messages get lost, or walk out with it in front of you until they do, then back",
                    self.name
                ))
            }
        }
    }
}

impl Estimates {
    /// Boards at points, as far as these figures go; a run was to have the goal's messages.
    pub fn grid<'a>(&'a self, setup: &'a Setup) -> Grid<'a> {
        let reference = self.boards.iter().find(|board| board.reference);
        Grid::of(
            self.points.iter().map(|(row, _)| row),
            setup.boards.iter().map(|board| board.name.as_str()),
            |_| reference.map(|board| board.name.as_str()),
            |_| u64::from(setup.goal.messages),
        )
    }

    /// What a run at a point or a step of a sweep says of the level; `None` where its board's levels are not known.
    pub fn figures_of(&self, row: &PointRow) -> Option<&StopFigures> {
        let found = self.points.iter().find(|(one, _)| one.rows == row.rows);
        found.map(|(_, figures)| figures)
    }

    /// Why a run at a point or a step of a sweep has no margin, in words; `None` where it has one.
    pub fn why_no_margin(&self, row: &PointRow, figures: &StopFigures) -> Option<String> {
        if figures.margin.is_some() {
            return None;
        }
        let board = self.boards.iter().find(|board| board.name == row.board);
        let why = board.and_then(BoardFigures::why_no_margin);
        Some(why.unwrap_or_else(|| "what arrived says nothing about the level".to_owned()))
    }
}

/// Makes them.
///
/// `known`: what earlier surveys taught about boards; `survey` is this one's name among them. `told`: whether a board's own
/// hello calls it the reference.
pub fn estimates(
    samples: &Samples,
    setup: &Setup,
    known: &Known,
    survey: Option<&str>,
    told: impl Fn(&str) -> bool,
) -> Estimates {
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
    let mut found = Estimates {
        rows: samples.rows.len(),
        ..Estimates::default()
    };
    let mut gauges: BTreeMap<String, Gauge> = BTreeMap::new();
    let mut there: BTreeMap<String, Gauge> = BTreeMap::new();
    let stops = points(samples, setup);
    let mut tables = None;
    for name in &names {
        let side = Side::of(samples, name);
        let reach = side.map(|side| {
            let mut reach = reach(samples, setup, name, known.curve(name, side, survey), side);
            if reach.need.is_none() {
                reach.learn_at_points(at_stops(samples, &stops, name, side, &mut tables));
            }
            reach
        });
        if let (Some(side), Some(reach)) = (side, &reach) {
            let gauge = Gauge::new(samples, name, side, reach.need, reach.interference());
            if let Some(gauge) = gauge {
                gauges.insert((*name).to_owned(), gauge);
            }
            let need = if side == Side::There { reach.need } else { None };
            if let Some(gauge) = Gauge::new(samples, name, Side::There, need, reach.interference()) {
                there.insert((*name).to_owned(), gauge);
            }
        }
        let (exchanges, delivered) = tally.get(name).copied().unwrap_or_default();
        found.boards.push(BoardFigures {
            name: (*name).to_owned(),
            reference: reference == Some(*name),
            exchanges,
            delivered,
            side,
            reach,
        });
    }
    let interference = |name: &str| {
        let board = found.boards.iter().find(|board| board.name == name);
        board
            .and_then(|board| board.reach.as_ref()?.interference())
            .unwrap_or(USUAL_INTERFERENCE)
    };
    found.sweeps = sweeps::sweeps(samples, |name| {
        let gauge = gauges.get(name)?;
        Some((gauge.side, gauge.model().curve(), interference(name)))
    });
    let mut memory = BurstMemory::default();
    for row in stops {
        let rows = &samples.rows[row.rows.clone()];
        memory.add(&outcomes(rows));
        // A board whose levels nobody ever read has counts all the same.
        let gauge = gauges.get(&row.board);
        let figures = gauge.map_or_else(StopFigures::default, |gauge| gauge.weigh(samples, rows, &memory));
        found.points.push((row, figures));
    }
    if let Some(reference) = reference {
        let read = found.points.iter().filter(|(row, _)| gauges.contains_key(&row.board));
        let rows: Vec<PointRow> = read.map(|(row, _)| row.clone()).collect();
        found.comparison = boards::boards(samples, &rows, reference, &there);
    }
    found.here = here(samples, &gauges, &memory);
    found.places = where_to(samples, setup, &found.boards);
    found
}

impl Estimates {
    /// Completes the map of places for figures and write-ups, which can wait where a walker cannot: the station's position is
    /// held against the levels, and the map given for the node that is wanted.
    pub fn complete_places(&mut self, samples: &Samples, setup: &Setup, wanted: &Wanted) {
        if let Some(Ok(places)) = &mut self.places {
            places.check_station(samples, setup);
        }
        self.assume(wanted, setup);
    }

    /// Gives the map of places for the node that is wanted; without a map, or where nothing is wanted, nothing changes.
    ///
    /// What cannot be assumed is left out and says why in [`Places::not_assumed`].
    pub fn assume(&mut self, wanted: &Wanted, setup: &Setup) {
        let Some(Ok(places)) = &self.places else { return };
        if wanted.is_nothing() && places.assumptions.is_empty() && places.not_assumed.is_empty() {
            return;
        }
        let assumed = Assumed::of(wanted, setup, self, &places.board, places.side);
        let under = places.under(assumed);
        self.places = Some(under.map_err(NoPlaces::Goal));
    }
}

/// The map of places, for the board that most exchanges of walks are from; `None` before any board was heard.
fn where_to(samples: &Samples, setup: &Setup, boards: &[BoardFigures]) -> Option<Result<Places, NoPlaces>> {
    let walked = |board: &&BoardFigures| {
        let own = samples.rows.iter().filter(|row| row.counts() && row.place.is_some());
        own.filter(|row| samples.board(row) == board.name && !matches!(row.activity, Activity::Sweep { .. }))
            .count()
    };
    let reached = boards.iter().filter(|board| board.reach.is_some()).max_by_key(walked);
    if let Some(reach) = reached.and_then(|board| board.reach.as_ref()) {
        return Some(places(samples, setup, reach));
    }
    let most = boards.iter().max_by_key(walked)?;
    if most.delivered > 0 {
        return Some(Err(NoPlaces::NoLevels));
    }
    // Nothing was ever answered: that the ground is dead can be said without a level.
    let reach = reach(samples, setup, &most.name, None, Side::There);
    Some(places(samples, setup, &reach))
}

fn outcomes(rows: &[Sample]) -> Outcomes {
    rows.iter().filter(|row| row.counts()).map(Sample::delivered).collect()
}

/// The run that is going on; walking, only its last exchanges: a walker has left the ones before behind.
fn here(samples: &Samples, gauges: &BTreeMap<String, Gauge>, memory: &BurstMemory) -> Option<StopFigures> {
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
