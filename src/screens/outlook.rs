//! The slower estimates as the panels draw them: each with its interval, or not there at all.

use std::collections::BTreeMap;

use super::pattern::{self, Pattern};
use super::statements;
use crate::findings::assumptions::measured_boards;
use crate::findings::boards::Boards;
use crate::findings::compared_words;
use crate::findings::estimates::{BoardFigures, Estimates};
use crate::findings::no_margin::NoMargin;
use crate::findings::places::{Spot, telling};
use crate::findings::reach::Reach;
use crate::findings::reach_words;
use crate::findings::side::Side;
use crate::findings::stint::Stint;
use crate::findings::stop::Surer;
use crate::findings::words;
use crate::stats::boards::{BoardEffect, Effect};
use crate::stats::losses::LossReasons;
use crate::stats::margin::Margin;
use crate::stats::places::{Class, Place, Role};
use crate::stats::walk::inflation::Inflation;
use crate::survey::setup::Goal;
use crate::units::Elapsed;

/// Points the fitted line is drawn through.
const LAW_POINTS: usize = 40;

/// A figure with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// The figure.
    pub value: f64,
    /// Where it may lie.
    pub low: f64,
    /// Where it may lie.
    pub high: f64,
}

/// The slower estimates, as far as they are known.
#[derive(Clone, Debug, Default)]
pub struct Outlook {
    /// How many rows they rest on.
    pub rows: usize,
    /// The moment of the last of them.
    pub until: Option<Elapsed>,
    /// The run, or step of a sweep, that margin, losses, way and what would make it surer are of.
    pub stint: Option<Stint>,
    /// The board they are of.
    pub board: Option<String>,
    /// How much there is to spare here, dB above the level at which this board still delivers 90 %.
    pub margin: Option<Margin>,
    /// Why that is not known.
    pub why_no_margin: Option<NoMargin>,
    /// What would make the level here much surer.
    pub surer: Option<Surer>,
    /// Metres moved during the stop, as far as the receiver's speed tells.
    pub path_m: Option<f64>,
    /// What each run at a point says of the level, by the run's number.
    pub runs: BTreeMap<u32, RunFigures>,
    /// The level at which this board still delivers 90 %, dBm, with its 95 % interval.
    pub needed: Option<Spread>,
    /// What surveys before this one have to do with it, as a phrase after it; empty where nothing.
    pub needed_by: &'static str,
    /// Where levels are read.
    pub side: Option<Side>,
    /// Level by distance, metres and dBm: the fitted line with its band.
    pub law: Vec<(f64, Spread)>,
    /// How far the board reaches at the goal, in words.
    pub range: Option<String>,
    /// What that leaves aside: what interference takes at any distance.
    pub range_aside: Option<String>,
    /// Why the last messages were lost.
    pub losses: Option<LossReasons>,
    /// How each board compares with the reference, in words, by its name.
    pub against_reference: BTreeMap<String, Against>,
    /// Why no board is compared with the reference.
    pub not_compared: Option<&'static str>,
    /// What drifted while boards were changed, in words, by the name of the point.
    pub drifts: BTreeMap<String, String>,
    /// The reference board.
    pub reference: Option<String>,
    /// The best spots, the best first.
    pub spots: Vec<Spot>,
    /// Why there are none, where there are none.
    pub no_spot: &'static str,
    /// What a node may expect where, on the map.
    pub expected: Expected,
    /// Where to walk next and why.
    pub walk_next: Option<String>,
    /// Why there is no map of places.
    pub why_no_places: Option<String>,
    /// What the map assumes, what it does not though it was asked to, and what it must be read with; in sentences.
    pub read_with: ReadWith,
    /// Where a second station or a relay might stand, to be tested by walking.
    pub second: Vec<SecondList>,
    /// The board walked with and those that may be assumed in its place.
    pub boards: Vec<String>,
    /// What a sweep shows.
    pub patterns: Vec<Pattern>,
}

/// What a run at a point says of the level.
#[derive(Clone, Debug, PartialEq)]
pub struct RunFigures {
    /// How much there is to spare, dB above the level at which its board still delivers 90 %.
    pub margin: Option<Margin>,
    /// Why that is not known.
    pub why_no_margin: Option<NoMargin>,
    /// The local mean level, in words.
    pub level: Option<String>,
    /// What would make it much surer.
    pub surer: Option<Surer>,
    /// Metres moved during it, as far as the receiver's speed tells.
    pub path_m: Option<f64>,
}

/// How a board compares with the reference: so many dB more, with the interval for all boards together.
#[derive(Clone, Debug, PartialEq)]
pub struct Against {
    /// With its interval, such as `−3 dB (−6 to 0)`.
    pub words: String,
    /// With half its interval, such as `−3 ±3`.
    pub short: String,
    /// With its interval and whether that tells the boards apart; or why nothing is said.
    pub sentence: String,
    /// At how many points both were heard, such as `4 points`.
    pub both_heard: String,
    /// Where one was heard and the other was not.
    pub fell_silent: Option<String>,
}

/// What a node may expect, by squares about the places asked about.
#[derive(Clone, Debug, Default)]
pub struct Expected {
    step_m: f64,
    first: (f64, f64),
    squares: BTreeMap<(i64, i64), Class>,
}

impl Expected {
    fn of(places: &[Place], step_m: f64) -> Self {
        let mut expected = Self {
            step_m: step_m.max(0.1),
            first: places.first().map_or((0.0, 0.0), |place| (place.x, place.y)),
            squares: BTreeMap::new(),
        };
        for place in places {
            expected
                .squares
                .insert(expected.square((place.x, place.y)), place.class);
        }
        expected
    }

    fn square(&self, (east, north): (f64, f64)) -> (i64, i64) {
        let index = |at: f64, first: f64| ((at - first) / self.step_m).round() as i64;
        (index(east, self.first.0), index(north, self.first.1))
    }

    /// Whether nothing is expected anywhere.
    pub fn is_empty(&self) -> bool {
        self.squares.is_empty()
    }

    /// What a node may expect at metres east and north of the station; `None` outside the map.
    pub fn at(&self, offset: (f64, f64)) -> Option<Class> {
        self.squares.get(&self.square(offset)).copied()
    }
}

/// What a map of places must be read with, in sentences.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReadWith {
    /// That the station's position is doubted, briefly; what to do about it is the first of the notes.
    pub station_doubted: Option<&'static str>,
    /// What it assumes of the node, briefly; `None` for the node as walked with.
    pub assumed: Option<String>,
    /// What it was asked to assume and does not.
    pub not_assumed: Vec<String>,
    /// That what the board needs is taken, where it was not learned; every chance rests on it.
    pub limit_taken: Option<String>,
    /// What else to know.
    pub notes: Vec<String>,
}

/// A shortlist to test by walking.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondList {
    /// What might stand there, and why there is no list where there is none.
    pub head: String,
    /// Each place, in a line, with metres east and north of the station.
    pub places: Vec<(String, (f64, f64))>,
}

impl Outlook {
    /// Takes from the estimates what the panels draw, for the board in hand and the goal asked for.
    pub fn of(estimates: &Estimates, board: Option<&str>, goal: &Goal) -> Self {
        let figures = estimates
            .boards
            .iter()
            .find(|figures| Some(figures.name.as_str()) == board);
        let reach = figures.and_then(|figures| figures.reach.as_ref());
        let fit = reach.and_then(|reach| reach.fit.as_ref().ok());
        let margin = estimates.here.as_ref().and_then(|here| here.margin);
        let mut outlook = Self {
            rows: estimates.rows,
            until: estimates.until,
            stint: estimates.stint,
            board: board.map(str::to_owned),
            margin,
            why_no_margin: if margin.is_none() {
                figures.and_then(BoardFigures::why_no_margin)
            } else {
                None
            },
            surer: estimates.here.as_ref().and_then(|here| here.surer),
            path_m: estimates.here.as_ref().and_then(|here| here.path_m),
            runs: estimates
                .points
                .iter()
                .filter(|(row, _)| row.activity == "point")
                .map(|(row, figures)| {
                    let run = RunFigures {
                        margin: figures.margin,
                        why_no_margin: estimates.why_no_margin(row, figures),
                        level: figures.level.as_ref().map(words::level),
                        surer: figures.surer,
                        path_m: figures.path_m,
                    };
                    (row.run, run)
                })
                .collect(),
            needed: reach.and_then(|reach| reach.need).map(|need| {
                let (value, half) = (need.curve.level90_dbm(), 1.96 * need.level90_sd_db());
                Spread {
                    value,
                    low: value - half,
                    high: value + half,
                }
            }),
            needed_by: match (figures, reach.and_then(|reach| reach.own)) {
                (Some(figures), _) if figures.taught_by.is_empty() => "",
                (Some(_), Some(_)) => ", earlier surveys too",
                (Some(_), None) => ", by earlier surveys",
                (None, _) => "",
            },
            side: figures.and_then(|figures| figures.side),
            ..Self::default()
        };
        if let Some(fit) = fit {
            let (near, far) = (fit.extent.nearest_m.max(1.0), fit.extent.farthest_m.max(2.0));
            let distances: Vec<f64> = (0..=LAW_POINTS)
                .map(|index| near * (far / near).powf(index as f64 / LAW_POINTS as f64))
                .collect();
            let law = fit.law(&distances, &Inflation::MEASURED).into_iter();
            outlook.law = law
                .map(|point| {
                    let level = point.level_dbm;
                    (
                        point.distance_m,
                        Spread {
                            value: level.median,
                            low: level.low,
                            high: level.high,
                        },
                    )
                })
                .collect();
            let ranges = reach.map_or(&[][..], |reach| &reach.ranges);
            let off = |share: f64| (share - goal.delivery).abs();
            let wanted = ranges.iter().min_by(|one, other| off(one.0).total_cmp(&off(other.0)));
            outlook.range_aside = reach
                .and_then(Reach::interference_share)
                .map(reach_words::interference_aside);
            outlook.range = wanted
                .map(|(share, range)| format!("{} delivered: {}", words::percent(*share), reach_words::range(range)));
        }
        outlook.losses = estimates.here.as_ref().and_then(|here| here.losses.clone());
        outlook.reference = estimates
            .boards
            .iter()
            .find(|board| board.reference)
            .map(|board| board.name.clone());
        if let Some(boards) = &estimates.comparison
            && let Err(why) = boards.comparison
        {
            outlook.not_compared = Some(words::no_comparison(why));
        }
        if let Some(boards) = &estimates.comparison
            && let Ok(comparison) = &boards.comparison
        {
            for effect in &comparison.boards {
                if let Some(name) = boards.names.get(effect.board) {
                    outlook.against_reference.insert(name.clone(), against(boards, effect));
                }
            }
            for drift in &boards.drifts {
                let said = compared_words::drift(boards, drift);
                outlook.drifts.insert(boards.point(drift.point).to_owned(), said);
            }
        }
        outlook.take_places(estimates);
        outlook.patterns = pattern::patterns(estimates);
        outlook
    }

    fn take_places(&mut self, estimates: &Estimates) {
        match &estimates.places {
            Some(Ok(places)) => {
                self.spots.clone_from(&places.spots);
                self.expected = Expected::of(&places.places, places.step_m);
                let sources = places.assumptions.iter().map(telling::assumption);
                let doubt = places.station_doubt.iter().map(telling::station_doubt);
                let limit_taken = telling::limit_taken(places);
                self.read_with = ReadWith {
                    station_doubted: places.station_doubt.map(|_| telling::STATION_DOUBTED),
                    assumed: telling::assumed(&places.assumptions),
                    not_assumed: places.not_assumed.iter().map(|why| telling::not_assumed(why)).collect(),
                    notes: doubt
                        .chain(sources)
                        .chain(telling::what_is_said(places).map(str::to_owned))
                        .chain(
                            telling::place_notes(places)
                                .into_iter()
                                .skip(usize::from(limit_taken.is_some())),
                        )
                        .collect(),
                    limit_taken,
                };
                self.no_spot = telling::no_spot(places);
                self.second = [Role::SecondStation, Role::Relay]
                    .map(|role| {
                        let found = places.second.of_role(role);
                        SecondList {
                            head: telling::second_head(role, found.as_ref().err().copied()),
                            places: found
                                .as_ref()
                                .map_or(&[][..], Vec::as_slice)
                                .iter()
                                .map(|place| (telling::second_place(role, place), place.offset))
                                .collect(),
                        }
                    })
                    .into();
                self.boards = std::iter::once(places.board.clone())
                    .chain(measured_boards(estimates, &places.board))
                    .collect();
                self.walk_next = telling::walk_next(places);
            }
            Some(Err(why)) => self.why_no_places = Some(words::no_places(why)),
            None => {}
        }
    }
}

fn against(boards: &Boards, of: &BoardEffect) -> Against {
    let sentence = compared_words::effect(boards, of);
    let both_heard = compared_words::heard_both(boards, of.board);
    let fell_silent = compared_words::fell_silent(boards, of.board);
    match of.effect {
        Effect::Measured {
            estimate_db,
            simultaneous,
            ..
        } => Against {
            words: format!(
                "{} ({})",
                words::decibels(estimate_db),
                words::outwards(simultaneous, 0)
            ),
            short: statements::about(estimate_db, simultaneous.low, simultaneous.high),
            sentence: if simultaneous.holds(0.0) {
                format!("{sentence}, not told apart")
            } else {
                sentence
            },
            both_heard,
            fell_silent,
        },
        Effect::OpenEnded { low_db, high_db } => {
            let bound = match (low_db, high_db) {
                (Some(low), None) => format!("≥ {}", words::decibels(words::down(low, 0))),
                (None, Some(high)) => format!("≤ {}", words::decibels(words::up(high, 0))),
                _ => "–".to_owned(),
            };
            Against {
                short: bound.trim_end_matches(" dB").to_owned(),
                words: bound,
                sentence,
                both_heard,
                fell_silent,
            }
        }
    }
}
