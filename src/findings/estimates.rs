//! All that takes more than a glance: what each board needs and how far it reaches, each stop, the boards compared, the
//! sweeps. Made from rows, off the drawing thread while walking; the same for replay, figures and write-up.

use super::amounts::count;
use super::assumptions::{Assumed, Wanted};
use super::boards::Boards;
use super::curves::Known;
use super::grid::Grid;
use super::groundwork::Groundwork;
use super::no_margin::NoMargin;
use super::places::{NoPlaces, Places};
use super::points::PointRow;
use super::reach::{NoReach, Reach};
use super::side::Side;
use super::stint::Stint;
use super::stop::StopFigures;
use super::sweeps::Sweep;
use super::walk_losses::WalkLosses;
use crate::stats::walk::scurve::MeasuredSCurve;
use crate::survey::sample::Samples;
use crate::survey::setup::Setup;
use crate::units::Elapsed;

/// All that takes more than a glance.
#[derive(Clone, Debug, Default)]
pub struct Estimates {
    /// How many rows they rest on.
    pub rows: usize,
    /// The moment of the last of them.
    pub until: Option<Elapsed>,
    /// The run, or step of a sweep, that [`Self::here`] is of.
    pub stint: Option<Stint>,
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
    /// Exchanges that count while walking, with a place or without.
    pub walking: u64,
    /// What taught beforehand what it needs, in words such as `survey A`; empty where nothing did.
    pub taught_by: Vec<String>,
    /// How far it reaches, and what it needs.
    pub reach: Option<Reach>,
    /// What was lost on its walks, and why.
    pub walk_losses: WalkLosses,
}

impl BoardFigures {
    /// What the survey taught of the board's need, and where its levels are read; `None` where it was not learned here.
    pub fn taught(&self) -> Option<(Side, &MeasuredSCurve)> {
        let reach = self.reach.as_ref()?;
        Some((reach.side, reach.own.as_ref()?))
    }

    /// Where what the board needs was learned, in words; `None` where it is not known.
    pub fn need_from(&self) -> Option<String> {
        let reach = self.reach.as_ref()?;
        let need = reach.need?;
        let at_points = reach.at_points == Some(Ok(()));
        let here = match reach.own {
            None => None,
            Some(_) if at_points => Some("this survey's points"),
            Some(_) => Some("this survey"),
        };
        if at_points && self.taught_by.is_empty() {
            return here.map(str::to_owned);
        }
        let before = match (here, self.taught_by.is_empty()) {
            (None, true) => vec!["earlier surveys"],
            _ => self.taught_by.iter().map(String::as_str).collect(),
        };
        let all: Vec<&str> = here.into_iter().chain(before).collect();
        let (last, others) = all.split_last()?;
        let all = match others {
            [] => (*last).to_owned(),
            others => format!("{} and {last}", others.join(", ")),
        };
        Some(format!("{all}; {}", walks(need.walks)))
    }

    /// Why there is no level of this board at all, in words; `None` where there are some.
    pub fn why_no_level(&self) -> Option<&'static str> {
        match self.side {
            Some(_) => None,
            None if self.delivered == 0 => Some("no level: nothing was answered"),
            None => Some("no levels: the board does not print them"),
        }
    }

    /// What was lost on its walks and why, each in a clause, the sum first; none where nothing was lost.
    pub fn walk_losses(&self) -> Vec<String> {
        let why_not = self.why_no_range().or_else(|| self.why_no_level().map(str::to_owned));
        let needed = self.reach.as_ref().is_some_and(|reach| reach.need.is_some());
        self.walk_losses.words(why_not.as_deref(), needed)
    }

    /// Why no range of this board is told, in words; `None` where there are ranges.
    pub fn why_no_range(&self) -> Option<String> {
        let reach = self.reach.as_ref()?;
        Some(match reach.fit.as_ref().err()? {
            NoReach::NoPlaces if self.walking == 0 => "nobody walked with it".to_owned(),
            why => why.to_string(),
        })
    }

    /// Why no margin of this board can be told; `None` where what it needs is known.
    pub fn why_no_margin(&self) -> Option<NoMargin> {
        if self.side.is_none() {
            return Some(NoMargin::only(if self.delivered == 0 {
                format!("nothing has arrived from {} yet", self.name)
            } else {
                "the board prints no levels, only counts tell".to_owned()
            }));
        }
        let reach = self.reach.as_ref()?;
        let what = format!("what {} needs is not known", self.name);
        match (&reach.need, &reach.fit) {
            (Some(_), _) => None,
            (None, Err(why @ (NoReach::NoStation | NoReach::StationFar(_)))) => Some(NoMargin {
                what,
                because: Some(why.to_string()),
                to_do: None,
            }),
            // Where it was lost would have told what it needs.
            (None, Err(NoReach::NoPlaces)) if self.walk_losses.lost > 0 => Some(NoMargin {
                what,
                because: Some(format!(
                    "its walks lost {} of {} messages, but not one of these has a position",
                    count(self.walk_losses.lost),
                    count(self.walk_losses.exchanges)
                )),
                to_do: Some("look at the GPS and walk with it once more, when it has a fix".to_owned()),
            }),
            (None, _) => Some(NoMargin {
                what,
                because: match &reach.at_points {
                    Some(Err(why)) => Some(why.to_string()),
                    _ => None,
                },
                to_do: Some(
                    "measure it at points where messages get lost, or walk out with it in front of you until they do, then back"
                        .to_owned(),
                ),
            }),
        }
    }
}

fn walks(count: u32) -> String {
    match count {
        1 => "1 walk".to_owned(),
        more => format!("{more} walks"),
    }
}

impl Estimates {
    /// The boards that were heard.
    pub fn board_names(&self) -> impl Iterator<Item = &str> {
        self.boards.iter().map(|board| board.name.as_str())
    }

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

    /// Why a run at a point or a step of a sweep has no margin; `None` where it has one.
    pub fn why_no_margin(&self, row: &PointRow, figures: &StopFigures) -> Option<NoMargin> {
        if figures.margin.is_some() {
            return None;
        }
        let board = self.boards.iter().find(|board| board.name == row.board);
        let why = board.and_then(BoardFigures::why_no_margin);
        Some(why.unwrap_or_else(|| NoMargin::only("what arrived says nothing about the level")))
    }
}

impl Estimates {
    fn board(&self, name: &str) -> Option<&BoardFigures> {
        self.boards.iter().find(|board| board.name == name)
    }

    /// Exchanges of this survey that what a board needs was learned from; `None` where it is not known, or all was known beforehand.
    pub fn need_exchanges(&self, board: &BoardFigures) -> Option<u64> {
        let reach = board.reach.as_ref().filter(|reach| reach.need.is_some())?;
        if reach.at_points == Some(Ok(())) {
            let own = self.points.iter().map(|(row, _)| row);
            let own = own.filter(|row| row.board == board.name && row.activity == "point");
            return Some(own.map(|row| row.messages).sum());
        }
        let fit = reach.fit.as_ref().ok().filter(|_| reach.own.is_some())?;
        Some(fit.extent.exchanges.round() as u64)
    }

    /// Why a run at a point or a step of a sweep has no level; `None` where it has one.
    pub fn why_no_level(&self, row: &PointRow, figures: &StopFigures) -> Option<&'static str> {
        if figures.level.is_some() {
            return None;
        }
        let why = self.board(&row.board).and_then(BoardFigures::why_no_level);
        Some(why.unwrap_or("no level: all of it fell into silences of the station"))
    }

    /// Why how far a board was moved during a run is not known; `None` where it is.
    pub fn why_no_path(&self, row: &PointRow, figures: &StopFigures) -> Option<&'static str> {
        if figures.path_m.is_some() {
            None
        } else if self.why_no_level(row, figures).is_some() {
            Some("without a level it is not asked for")
        } else if row.position.is_none() {
            Some("no position was known there")
        } else {
            Some("the receiver told no speed there")
        }
    }

    /// Why it is not told what losses of a run come from.
    pub fn why_no_losses(&self, row: &PointRow) -> &'static str {
        match self.board(&row.board) {
            Some(board) if board.side.is_some() => "the counts of this run do not fit together",
            _ => "no level of this board was ever read, and without one no reason can be told from another",
        }
    }
}

/// Makes them, one half after the other.
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
    Groundwork::of(samples, setup, known, survey, told).in_turn()
}

impl Estimates {
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
