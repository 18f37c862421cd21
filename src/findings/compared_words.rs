//! The words for boards compared at points: what one gives over the reference or why nothing is said, where it fell silent, and
//! what drifted meanwhile. One wording for screen, table and write-up.

use super::boards::{Boards, Drift, NoDrift, NothingSaid, PointDrift};
use super::words::{down, signed, up};
use super::words::{outwards, so_many};
use crate::stats::boards::{BoardEffect, Effect};

/// What a board gives over the reference, with the interval that holds together with those of all others; or why nothing is said.
pub fn effect(boards: &Boards, effect: &BoardEffect) -> String {
    match effect.effect {
        Effect::Measured {
            estimate_db,
            simultaneous,
            ..
        } => format!("{} dB ({})", signed(estimate_db, 1), outwards(simultaneous, 1)),
        Effect::OpenEnded {
            low_db: Some(low),
            high_db: Some(high),
        } => format!("between {} and {} dB", signed(down(low, 1), 1), signed(up(high, 1), 1)),
        Effect::OpenEnded { low_db: Some(low), .. } => format!("at least {} dB", signed(down(low, 1), 1)),
        Effect::OpenEnded {
            high_db: Some(high), ..
        } => format!("at most {} dB", signed(up(high, 1), 1)),
        Effect::OpenEnded { .. } => match boards.nothing_said(effect) {
            Some(why) => format!("nothing can be said: {}", nothing_said(boards, effect.board, why)),
            None => "nothing can be said".to_owned(),
        },
    }
}

/// Why nothing is said of a board against the reference.
pub fn nothing_said(boards: &Boards, board: usize, why: NothingSaid) -> String {
    let (name, reference) = (boards.name(board), boards.name(0));
    match why {
        NothingSaid::Unread => {
            format!("the lines of {name} do not tell how the station heard it (no there=)")
        }
        NothingSaid::NeverMet => format!("{name} and {reference} were measured at no common point"),
        NothingSaid::NeverHeard => format!("at no point did the station hear both {name} and {reference}"),
    }
}

/// At how many points the station told a level of a board and of the reference, such as `4 points`.
pub fn heard_both(boards: &Boards, board: usize) -> String {
    so_many(boards.meter.both(board, 0) as u64, "point", "points")
}

/// Where one of a board and the reference was not heard and the other was, such as `at 180 m fern was not heard, yew was`;
/// `None` where there is no such point.
pub fn fell_silent(boards: &Boards, board: usize) -> Option<String> {
    let said = |silent: usize, other: usize| {
        let at: Vec<&str> = boards
            .meter
            .silent(silent, other)
            .iter()
            .map(|point| boards.point(*point))
            .collect();
        (!at.is_empty()).then(|| {
            format!(
                "at {} {} was not heard, {} was",
                listed(&at),
                boards.name(silent),
                boards.name(other)
            )
        })
    };
    let both: Vec<String> = [said(board, 0), said(0, board)].into_iter().flatten().collect();
    (!both.is_empty()).then(|| both.join("; "))
}

/// What drifted at a point between its first run and its last.
pub fn drift(boards: &Boards, of: &PointDrift) -> String {
    match of.drift {
        Ok(Drift {
            estimate_db, interval, ..
        }) => format!("{} dB ({}), taken out", signed(estimate_db, 1), outwards(interval, 1)),
        Err(why) => format!("not known and not taken out: {}", no_drift(boards, why)),
    }
}

/// Why a drift is not known.
pub fn no_drift(boards: &Boards, why: NoDrift) -> String {
    let reference = boards.name(0);
    match why {
        NoDrift::NotBracketed { runs: 0 } => format!("{reference} was not measured there"),
        NoDrift::NotBracketed { .. } => format!("{reference} was measured there once only"),
        NoDrift::NotHeardTwice => format!("{reference} was not heard there twice"),
    }
}

/// Every drift, a sentence for those taken out and one for those that are not; none where no point was shared.
pub fn drifts(boards: &Boards) -> Vec<String> {
    let (taken, left): (Vec<&PointDrift>, Vec<&PointDrift>) = boards.drifts.iter().partition(|one| one.drift.is_ok());
    let mut said = Vec::new();
    if !taken.is_empty() {
        let each: Vec<String> = taken
            .iter()
            .filter_map(|one| {
                let drift = one.drift.ok()?;
                Some(format!(
                    "{} {} dB ({})",
                    boards.point(one.point),
                    signed(drift.estimate_db, 1),
                    outwards(drift.interval, 1)
                ))
            })
            .collect();
        said.push(format!(
            "drift from the first run at a point to its last, taken out: {}",
            each.join(", ")
        ));
    }
    let mut reasons: Vec<(NoDrift, Vec<&str>)> = Vec::new();
    for one in left {
        let Err(why) = one.drift else { continue };
        match reasons.iter_mut().find(|(known, _)| *known == why) {
            Some((_, at)) => at.push(boards.point(one.point)),
            None => reasons.push((why, vec![boards.point(one.point)])),
        }
    }
    said.extend(reasons.into_iter().map(|(why, at)| {
        format!(
            "drift not known and not taken out at {}: {}",
            listed(&at),
            no_drift(boards, why)
        )
    }));
    said
}

fn listed(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [before @ .., last] => format!("{} and {last}", before.join(", ")),
    }
}
