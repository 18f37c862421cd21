//! What is said of boards measured at the same points beside what they give: the drift at each point, and boards that were
//! not heard.
//!
//! In a whole survey's world nothing changes while boards are compared, and each board is heard somewhere. So every other
//! survey is followed by a shorter outing to the same points in which the link changes at each, evenly from the first run to
//! the last, by up to [`MOST_DRIFT_DB`] either way, and one board of every second outing, or the reference of every fourth, is
//! too weak to be heard at some points or at all.

use farpace::app::rehearse::setup_of;
use farpace::findings::boards::Boards;
use farpace::findings::curves::Known;
use farpace::findings::groundwork::Groundwork;
use farpace::rehearsal::boards::Board;
use farpace::rehearsal::draws::drawn_boards;
use farpace::rehearsal::place::Place;
use farpace::rehearsal::scenario::Scenario;
use farpace::rehearsal::script::Script;
use farpace::rehearsal::seeds::share_of;
use farpace::stats::boards::Effect;

use crate::outing::{Habit, Outing, STOPS, measured, played, scenario};
use crate::score::{manner_word, truth_of_rows};
use crate::tally::Tallies;

/// The link changes at a point by no more than this either way, dB.
const MOST_DRIFT_DB: f64 = 8.0;
/// A weak board is weaker by so many dB, from and to.
const WEAKER_DB: (f64, f64) = (25.0, 55.0);
/// Boards at a point in their order; the reference comes first and last.
const RUNS: usize = 5;

/// Scores the drifts at the points of one survey.
pub fn score(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    let Some(boards) = &outing.found.comparison else { return };
    drifts(outing, boards, &[0.0; STOPS.len()], &format!("{manner} drift"), tallies);
}

/// Walks one more outing in a survey's world, in which the link changes, and scores what is said of its boards.
pub fn score_changing(before: &Outing, tallies: &mut Tallies) {
    let manner = manner_word(before.manner);
    let (outing, changes) = changing(before);
    let Some(boards) = &outing.found.comparison else {
        tallies.add(format!("{manner} changing, not compared"), true);
        return;
    };
    drifts(&outing, boards, &changes, &format!("{manner} drift, changing"), tallies);
    let Ok(comparison) = &boards.comparison else {
        tallies.add(format!("{manner} changing, not compared"), true);
        return;
    };
    let gain = |name: &str| outing.board(name).patterns[1].peak;
    for board in &comparison.boards {
        let truth = gain(boards.name(board.board)) - gain(boards.name(0));
        match board.effect {
            Effect::Measured {
                estimate_db,
                individual,
                ..
            } => tallies.interval(
                format!("{manner} boards alone, changing"),
                individual.low,
                estimate_db,
                individual.high,
                truth,
            ),
            Effect::OpenEnded { low_db, high_db } => {
                for (limit, side, held) in [
                    (low_db, "least", low_db.is_none_or(|low| low <= truth)),
                    (high_db, "most", high_db.is_none_or(|high| truth <= high)),
                ] {
                    if let Some(limit) = limit {
                        tallies.bound(format!("{manner} boards at least or most"), limit, truth, held);
                        tallies.bound(format!("{manner} boards at {side}"), limit, truth, held);
                    }
                }
            }
        }
    }
}

/// Scores what is said to have drifted at each point, against what truly became of the reference's level there from its first
/// run to its last. `changes`: by what the link changed at each point, dB, beside what lies in the places.
fn drifts(outing: &Outing, boards: &Boards, changes: &[f64], name: &str, tallies: &mut Tallies) {
    for point in &boards.drifts {
        let Ok(drift) = point.drift else { continue };
        let named = boards.point(point.point);
        let runs = outing
            .found
            .points
            .iter()
            .filter(|(row, _)| row.activity == "point" && row.board == boards.name(0) && row.point == named);
        let levels: Vec<f64> = runs
            .map(|(row, _)| truth_of_rows(outing, &row.board, &outing.samples.rows[row.rows.clone()]).0)
            .collect();
        let stop = (0..STOPS.len()).find(|stop| named == point_name(*stop));
        let (Some(first), Some(last), Some(stop)) = (levels.first(), levels.last(), stop) else {
            continue;
        };
        let truth = changes[stop] + last - first;
        tallies.interval(name, drift.interval.low, drift.estimate_db, drift.interval.high, truth);
    }
}

fn point_name(stop: usize) -> String {
    format!("P{}", stop + 1)
}

/// The shorter outing in the world of another, and by what the link changes at each point, dB.
fn changing(before: &Outing) -> (Outing, [f64; STOPS.len()]) {
    let seed = before.drawn.seed;
    let share = |part: u64| share_of(seed.rotate_left(24) ^ part);
    let mut boards = drawn_boards(seed, 4);
    let weak = match share(0) {
        low if low < 0.25 => Some(0),
        low if low < 0.75 => Some(1 + (3.0 * share(1)) as usize),
        _ => None,
    };
    if let Some(weak) = weak {
        let weaker = WEAKER_DB.0 + (WEAKER_DB.1 - WEAKER_DB.0) * share(2);
        strengthen(&mut boards[weak], -weaker);
    }
    let changes = std::array::from_fn(|stop| MOST_DRIFT_DB * (2.0 * share(3 + stop as u64) - 1.0));
    // A link that changes is played as boards whose gain does, each run's board an entry of its own.
    let mut as_sent = boards.clone();
    let mut script = Script::begin(Place::out(8.0, before.bearing))
        .hand(seed)
        .stand(3.0)
        .walking();
    for (stop, change) in changes.iter().enumerate() {
        let middle = Place::out((STOPS[stop] * before.half).max(12.0), before.bearing);
        script = script.walking().walk(middle);
        let others = (0..3).map(|place| 1 + (place + stop) % 3);
        for (run, board) in std::iter::once(0).chain(others).chain([0]).enumerate() {
            let mut held = boards[board].clone();
            strengthen(&mut held, change * run as f64 / (RUNS - 1) as f64);
            held.boots += 100 * as_sent.len() as u64;
            script = script.swap(as_sent.len());
            as_sent.push(held);
            if before.habit == Habit::Stands {
                script = script.walk(middle.beside(0.3, 77.0 * run as f64));
            }
            script = measured(script, &point_name(stop), before.habit, true);
        }
    }
    let scenario = scenario(&before.drawn, boards, script.finish());
    let setup = setup_of(&scenario, seed);
    let as_sent = Scenario {
        boards: as_sent,
        ..scenario.clone()
    };
    let (samples, fates) = played(&as_sent, &setup, seed);
    let ground = Groundwork::of(&samples, &setup, &Known::default(), None, |board| board == "yew");
    let heard = ground.boards();
    let stood = ground.stood(&heard);
    let found = ground.figures(heard, stood, None);
    let outing = Outing {
        manner: before.manner,
        habit: before.habit,
        route: before.route,
        scenario,
        truth: before.truth.clone(),
        drawn: before.drawn.clone(),
        bearing: before.bearing,
        half: before.half,
        setup,
        samples,
        fates,
        found,
    };
    (outing, changes)
}

/// The same board, so many dB stronger all round.
fn strengthen(board: &mut Board, db: f64) {
    for pattern in &mut board.patterns {
        pattern.peak += db;
    }
}
