//! What stands on the screen while walking, at some moments of each walk, against what is true of the very messages it is of.
//!
//! One look at a time is claimed: not that all looks of a walk hold together.

use farpace::findings::curves::Known;
use farpace::findings::groundwork::Groundwork;
use farpace::findings::losses::Stretches;
use farpace::findings::now::{LONG, SHORT, of_samples};
use farpace::findings::points::Points;
use farpace::findings::silences::Silences;
use farpace::stats::losses::Reason;
use farpace::stats::margin::Margin;
use farpace::survey::sample::{Activity, Sample, Samples};

use crate::losses::{self, Taken};
use crate::outing::Outing;
use crate::score::truth_of_rows;
use crate::tally::Tallies;

/// Exchanges from one look at the windows to the next.
const EVERY: usize = 150;
/// One look in so many is at all that takes more than a glance.
const GLANCES: usize = 12;

/// Scores a survey.
pub fn score(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    let all = &outing.samples;
    let mut so_far = Samples {
        rows: Vec::with_capacity(all.rows.len()),
        ..all.clone()
    };
    so_far.rows.clear();
    let mut points = Points::new(&outing.setup);
    let mut stretches = Stretches::default();
    for (look, until) in (EVERY..=all.rows.len()).step_by(EVERY).enumerate() {
        let settled = so_far.rows.len();
        so_far.rows.extend_from_slice(&all.rows[settled..until]);
        points.bring_up_to_date(&so_far, &outing.setup, settled);
        let reason = stretches.of_the_last(&so_far, settled);
        let Some(last) = so_far.rows.last().filter(|last| last.activity == Activity::Walk) else {
            continue;
        };
        windows(outing, &so_far, last, &points, manner, tallies);
        if let Some(reason) = reason {
            told(outing, &so_far, last, &reason, manner, tallies);
        }
        if look % GLANCES == GLANCES - 1 {
            here(outing, &so_far, last, manner, tallies);
        }
    }
}

/// The last so many rows that count, of the board in hand since it started.
fn tail(samples: &Samples, last: &Sample, most: usize) -> Vec<Sample> {
    let of_boot = samples.rows.iter().rev().take_while(|row| row.boot == last.boot);
    let mut tail: Vec<Sample> = of_boot.filter(|row| row.counts()).take(most).copied().collect();
    tail.reverse();
    tail
}

/// What is delivered of the last messages.
fn windows(outing: &Outing, so_far: &Samples, last: &Sample, points: &Points, manner: &str, tallies: &mut Tallies) {
    let now = of_samples(so_far, points.bursts(), outing.setup.goal.confidence);
    let of = |name: &str| format!("{manner} live delivery {name}");
    for (name, most, window, sure) in [
        ("of the last 20", SHORT, now.short, now.short_sure),
        ("of the last 100", LONG, now.long, now.long_sure),
    ] {
        let (Some(rate), Some(sure), Some(plain)) = (window.rate(), sure, window.interval()) else {
            continue;
        };
        let rows = tail(so_far, last, most);
        let (_, as_held, _) = truth_of_rows(outing, so_far.board(last), &rows);
        tallies.interval(of(name), sure.low, rate, sure.high, as_held);
        tallies.interval(
            of(&format!("{name}, naive Wilson")),
            plain.low,
            rate,
            plain.high,
            as_held,
        );
    }
}

/// What is to spare here, and why messages are lost here, as reckoned beside the glance.
fn here(outing: &Outing, so_far: &Samples, last: &Sample, manner: &str, tallies: &mut Tallies) {
    let ground = Groundwork::of(so_far, &outing.setup, &Known::default(), None, |board| board == "yew");
    let boards = ground.boards();
    let stood = ground.stood(&boards);
    let found = ground.figures(boards, stood, None);
    let Some(here) = &found.here else { return };
    let name = so_far.board(last);
    let board = outing.board(name);
    let rows = tail(so_far, last, 60);
    let (level, ..) = truth_of_rows(outing, name, &rows);
    let of = |name: &str| format!("{manner} live margin{name}");
    let needed = outing.truth.level_for(board, 0.9);
    if let (Some(margin), Some(needed)) = (here.margin, needed) {
        let truth = level - needed.0 - outing.at_station(board);
        let open = match margin {
            Margin::Between { .. } => None,
            Margin::AtMost { high_db } => Some(truth <= high_db),
            Margin::AtLeast { low_db } => Some(truth >= low_db),
        };
        if let Some(held) = open {
            tallies.add(of(" open"), held);
        }
        match margin {
            Margin::Between { estimate_db, interval } => {
                tallies.interval(of(""), interval.low, estimate_db, interval.high, truth);
            }
            Margin::AtMost { high_db } => drop(tallies.add(of(", at most"), truth <= high_db)),
            Margin::AtLeast { low_db } => drop(tallies.add(of(", at least"), truth >= low_db)),
        }
    }
    if let Some(losses) = &here.losses {
        let own = found.boards.iter().find(|own| own.name == name);
        let Some(reach) = own.and_then(|own| own.reach.as_ref()) else {
            return;
        };
        let known = reach.need.map(|need| need.curve.m_dbm());
        let silences = Silences::of(so_far, name, reach.side, known);
        let taken = Taken::of(outing, &silences, rows.iter());
        losses::reasons(losses, &taken, &format!("{manner} live here"), tallies);
    }
}

/// What the last hundred show by themselves.
fn told(outing: &Outing, so_far: &Samples, last: &Sample, reason: &Reason, manner: &str, tallies: &mut Tallies) {
    let rows = tail(so_far, last, LONG);
    let taken = Taken::of(outing, &Silences::default(), rows.iter());
    losses::told_live(outing, reason, &rows, &taken, manner, tallies);
}
