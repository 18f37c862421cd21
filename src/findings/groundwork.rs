//! What the figures of a survey rest on, and the parts made of it, some of which need not wait for each other.

use std::collections::BTreeMap;

use super::boards::{self, Boards};
use super::curves::Known;
use super::estimates::{BoardFigures, Estimates};
use super::need::at_stops;
use super::offsets::Offsets;
use super::places::{Cleared, NoPlaces, Places, Walk};
use super::points::{PointRow, points};
use super::reach::{Reach, reach};
use super::side::Side;
use super::stint::Stint;
use super::stop::{Gauge, StopFigures, USUAL_INTERFERENCE};
use super::sweeps::{self, Sweep};
use super::walk_losses::WalkLosses;
use crate::stats::burst::{BurstMemory, Outcomes};
use crate::stats::stop_curve::NoCurve;
use crate::stats::walk::scurve::MeasuredSCurve;
use crate::survey::sample::{Activity, Sample, Samples};
use crate::survey::setup::Setup;

/// How many of the last exchanges stand for "here" while walking.
const HERE: usize = 60;

/// Rows, stops and boards of a survey.
#[derive(Debug)]
pub struct Groundwork<'a> {
    samples: &'a Samples,
    setup: &'a Setup,
    /// Where rows are about the station; `None` where its position is not known.
    offsets: Option<Offsets<'a>>,
    stops: Vec<PointRow>,
    heard: Vec<Heard<'a>>,
}

/// What is counted of a board, before anything is fitted.
#[derive(Clone, Debug)]
struct Heard<'a> {
    name: &'a str,
    reference: bool,
    tally: Tally,
    side: Option<Side>,
    known: Vec<MeasuredSCurve>,
    taught_by: Vec<String>,
}

/// Rows that count.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    exchanges: usize,
    delivered: usize,
    /// With a level at the board, and at the station.
    here: usize,
    there: usize,
    /// With a place, save those of sweeps.
    walked: usize,
    /// Of walks, with a place or without.
    walking: usize,
}

impl Tally {
    fn add(&mut self, row: &Sample) {
        self.exchanges += 1;
        self.delivered += usize::from(row.delivered());
        self.here += usize::from(row.here().is_some());
        self.there += usize::from(row.there().is_some());
        self.walked += usize::from(row.place.is_some() && !matches!(row.activity, Activity::Sweep { .. }));
        self.walking += usize::from(row.activity == Activity::Walk);
    }

    fn and(self, other: Self) -> Self {
        Self {
            exchanges: self.exchanges + other.exchanges,
            delivered: self.delivered + other.delivered,
            here: self.here + other.here,
            there: self.there + other.there,
            walked: self.walked + other.walked,
            walking: self.walking + other.walking,
        }
    }
}

/// The boards that were heard, in the order they first were.
fn tallies(samples: &Samples) -> Vec<(&str, Tally)> {
    let mut boots: Vec<Tally> = vec![Tally::default(); samples.boots.len()];
    let mut order: Vec<usize> = Vec::new();
    for row in samples.rows.iter().filter(|row| row.counts()) {
        let boot = row.boot as usize;
        if boots[boot].exchanges == 0 {
            order.push(boot);
        }
        boots[boot].add(row);
    }
    let mut boards: Vec<(&str, Tally)> = Vec::new();
    for boot in order {
        let name = samples.boots[boot].board.as_str();
        match boards.iter_mut().find(|(board, _)| *board == name) {
            Some((_, tally)) => *tally = tally.and(boots[boot]),
            None => boards.push((name, boots[boot])),
        }
    }
    boards
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
        let tallies = tallies(samples);
        let names: Vec<&str> = tallies.iter().map(|(name, _)| *name).collect();
        let reference = boards::reference(setup, told, &names);
        let heard = tallies.into_iter().map(|(name, tally)| {
            let side = Side::by_readings(tally.here, tally.there);
            Heard {
                name,
                reference: reference == Some(name),
                tally,
                side,
                known: side.map_or_else(Vec::new, |side| known.curves(name, side, survey)),
                taught_by: side.map_or_else(Vec::new, |side| known.teachers(name, side, survey)),
            }
        });
        Self {
            heard: heard.collect(),
            stops: points(samples, setup),
            offsets: setup.station.position.map(|station| Offsets::about(station, samples)),
            samples,
            setup,
        }
    }

    /// What is known of each board, in the order they were first heard: enough to know what the survey teaches.
    pub fn boards(&self) -> Vec<BoardFigures> {
        let mut tables = None;
        let made = self.heard.iter().map(|heard| {
            let reach = heard.side.map(|side| {
                self.reach(heard.name, &heard.known, side, || {
                    at_stops(self.samples, &self.stops, heard.name, side, &mut tables)
                })
            });
            BoardFigures {
                name: heard.name.to_owned(),
                reference: heard.reference,
                exchanges: heard.tally.exchanges as u64,
                delivered: heard.tally.delivered as u64,
                side: heard.side,
                walking: heard.tally.walking as u64,
                taught_by: heard.taught_by.clone(),
                walk_losses: WalkLosses::of(self.samples, heard.name, reach.as_ref()),
                reach,
            }
        });
        made.collect()
    }

    fn reach(
        &self,
        board: &str,
        known: &[MeasuredSCurve],
        side: Side,
        at_points: impl FnOnce() -> Result<MeasuredSCurve, NoCurve>,
    ) -> Reach {
        let offsets = self.offsets.as_ref();
        reach(self.samples, offsets, self.setup, board, known, side, at_points)
    }

    /// The walk that a map is made of: that of the board most exchanges of walks are from, of those with levels where there
    /// are any; `None` before any board was heard.
    pub fn walk(&self) -> Option<Result<Walk, NoPlaces>> {
        let most =
            |boards: &mut dyn Iterator<Item = &Heard<'a>>| boards.max_by_key(|heard| heard.tally.walked).cloned();
        let levels = most(&mut self.heard.iter().filter(|heard| heard.side.is_some()));
        let heard = levels.or_else(|| most(&mut self.heard.iter()))?;
        if heard.side.is_none() && heard.tally.delivered > 0 {
            return Some(Err(NoPlaces::NoLevels));
        }
        let side = heard.side.unwrap_or(Side::There);
        Some(Walk::of(self.samples, self.offsets.as_ref(), heard.name, side))
    }

    /// The half that says what was measured at points, in sweeps and here.
    pub fn stood(&self, boards: &[BoardFigures]) -> Stood {
        let samples = self.samples;
        let mut gauges: BTreeMap<&str, Gauge> = BTreeMap::new();
        let mut there: BTreeMap<String, Gauge> = BTreeMap::new();
        for board in boards {
            let (Some(side), Some(reach)) = (board.side, &board.reach) else {
                continue;
            };
            let struck = reach.interference_share().map(|share| share.high);
            let gauge = |side, need| {
                let gauge = Gauge::new(samples, &board.name, side, need, reach.interference());
                Some(gauge?.struck_at_most(struck))
            };
            let own = gauge(side, reach.need);
            let at_station = match side {
                Side::There => own.clone(),
                Side::Here => gauge(Side::There, None),
            };
            if let Some(own) = own {
                gauges.insert(&board.name, own);
            }
            if let Some(at_station) = at_station {
                there.insert(board.name.clone(), at_station);
            }
        }
        let interference = |name: &str| {
            let board = boards.iter().find(|board| board.name == name);
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
        let reference = boards.iter().find(|board| board.reference);
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

    /// The walk that the map rests on, cleared by what is known of its board.
    pub fn cleared(
        &self,
        boards: &[BoardFigures],
        walk: Option<Result<Walk, NoPlaces>>,
    ) -> Option<Result<Cleared, NoPlaces>> {
        let walk = match walk? {
            Ok(walk) => walk,
            Err(why) => return Some(Err(why)),
        };
        let board = boards.iter().find(|board| board.name == walk.board);
        if let Some(reach) = board.and_then(|board| board.reach.as_ref()) {
            return Some(Cleared::of(self.setup, reach, walk));
        }
        // Nothing was ever answered: that the ground is dead can be said without a level.
        let no_levels = || Err(NoCurve::NoStop);
        let reach = self.reach(&walk.board, &[], walk.side, no_levels);
        Some(Cleared::of(self.setup, &reach, walk))
    }

    /// The figures, one part made after the other.
    pub fn in_turn(self) -> Estimates {
        let boards = self.boards();
        let stood = self.stood(&boards);
        let cleared = self.cleared(&boards, self.walk());
        let places = cleared.map(|cleared| {
            let cleared = cleared?;
            Ok(cleared.map()?.doubting(cleared.station_doubt()))
        });
        self.figures(boards, stood, places)
    }

    /// The figures of all parts.
    pub fn figures(
        self,
        boards: Vec<BoardFigures>,
        stood: Stood,
        places: Option<Result<Places, NoPlaces>>,
    ) -> Estimates {
        let last = self.samples.rows.last();
        Estimates {
            rows: self.samples.rows.len(),
            until: last.map(|last| last.at),
            stint: last.map(Stint::of),
            boards,
            points: stood.points,
            here: stood.here,
            comparison: stood.comparison,
            sweeps: stood.sweeps,
            places,
        }
    }
}

fn outcomes(rows: &[Sample]) -> Outcomes {
    rows.iter().filter(|row| row.counts()).map(Sample::delivered).collect()
}

/// The run that is going on; walking, only its last exchanges: a walker has left the ones before behind.
fn here(samples: &Samples, gauges: &BTreeMap<&str, Gauge>, memory: &BurstMemory) -> Option<StopFigures> {
    let last = samples.rows.last()?;
    let mut from = samples.rows.len();
    while from > 0 && Stint::of(&samples.rows[from - 1]) == Stint::of(last) {
        from -= 1;
        if last.activity == Activity::Walk && samples.rows.len() - from >= HERE {
            break;
        }
    }
    let gauge = gauges.get(samples.board(last))?;
    Some(gauge.weigh(samples, &samples.rows[from..], memory))
}
