//! Why the last messages were lost, as far as the survey itself shows: a silent station, interference, or one way worse than the other.
//!
//! What a level explains is learnt from the same survey: stretches whose median level was no better than this one's.

use super::side::Side;
use super::silences::Silences;
use super::stop::FALLBACK_DBM;
use crate::stats::directions::directions;
use crate::stats::losses::{Explained, Reason, Stretch, explain};
use crate::stats::proportions::wilson;
use crate::survey::sample::{Sample, Samples};

/// The stretch that is explained, in exchanges that count.
const WINDOW: usize = 100;
/// So many rows are read, to see what stood before the stretch.
const READ: usize = 300;
/// So many losses in a row may be a silence of the station.
const LONG_RUN: usize = 10;
/// It is judged when so many exchanges after it have come.
const JUDGED_AFTER: usize = 10;
/// Earlier stretches are cut into pieces of so many exchanges, to have a median level each.
const PIECE: usize = 50;
/// Fewer exchanges at no better a level explain nothing.
const ENOUGH: u64 = 150;
/// Messages worth one: bursts are common, so that a comparison is not too sure (see [`crate::stats::burst`]).
const INFLATION: f64 = 3.0;

/// Names what the losses of the last exchanges are, where something speaks clearly for it.
pub fn of_the_last(samples: &Samples) -> Option<Reason> {
    let last = samples.rows.last()?;
    let mut recent: Vec<&Sample> = samples
        .rows
        .iter()
        .rev()
        .take(READ)
        .filter(|row| row.counts() && row.boot == last.boot)
        .collect();
    recent.reverse();
    let counted = &recent[recent.len().saturating_sub(WINDOW)..];
    let lost = counted.iter().filter(|row| !row.delivered()).count() as u64;
    if counted.len() < WINDOW / 2 || lost < 5 || is_unjudged(counted) {
        return None;
    }
    let side = if counted.iter().any(|row| row.here().is_some()) {
        Side::Here
    } else {
        Side::There
    };
    let silences = Silences::among(recent.iter().copied(), side, FALLBACK_DBM);
    let echoes: Vec<(i64, u64)> = counted
        .iter()
        .filter_map(|row| Some((row.n as i64, row.echo?.heard?)))
        .collect();
    let explained = median(counted.iter().filter_map(|row| row.here()))
        .and_then(|level| explained_by(samples, samples.board(last), level, counted.len()));
    let stretch = Stretch {
        exchanges: counted.len() as u64,
        lost,
        lost_in_silence: counted.iter().filter(|row| silences.took(row)).count() as u64,
        unread: 0,
        inflation: INFLATION,
        explained,
        directions: directions(&echoes),
    };
    let reasons = explain(&stretch, 0.95)?.reasons;
    let telling = |reason: &&Reason| {
        matches!(
            reason,
            Reason::StationSilent { .. } | Reason::Interference { .. } | Reason::OneWay { .. }
        )
    };
    reasons.iter().find(telling).copied()
}

/// Whether a long run of losses has only just ended, or has not: what it was is seen from what follows it.
fn is_unjudged(counted: &[&Sample]) -> bool {
    let since = counted.iter().rev().take_while(|row| row.delivered()).count();
    let before = &counted[..counted.len() - since];
    let run = before.iter().rev().take_while(|row| !row.delivered()).count();
    since < JUDGED_AFTER && run >= LONG_RUN
}

/// What earlier stretches of a board at no better a level delivered; `None` of too few. Another board's meter has a scale of
/// its own, so that its levels say nothing here.
fn explained_by(samples: &Samples, board: &str, level: f32, window: usize) -> Option<Explained> {
    let own = |row: &&Sample| row.counts() && samples.board(row) == board;
    let rows: Vec<&Sample> = samples.rows.iter().filter(own).collect();
    let earlier = &rows[..rows.len().saturating_sub(window)];
    let (mut delivered, mut exchanges) = (0, 0);
    for piece in earlier.chunks_exact(PIECE) {
        if median(piece.iter().filter_map(|row| row.here())).is_some_and(|of| of <= level) {
            exchanges += piece.len() as u64;
            delivered += piece.iter().filter(|row| row.delivered()).count() as u64;
        }
    }
    if exchanges < ENOUGH {
        return None;
    }
    Some(Explained {
        rate: delivered as f64 / exchanges as f64,
        interval: wilson(delivered, exchanges, 0.95)?,
    })
}

fn median(levels: impl Iterator<Item = f32>) -> Option<f32> {
    let mut levels: Vec<f32> = levels.collect();
    levels.sort_by(f32::total_cmp);
    levels.get(levels.len() / 2).copied()
}
