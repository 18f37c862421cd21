//! Why the last messages were lost, as far as the survey itself shows: too weak, interference, or one way worse than the other.
//!
//! What a level explains is learnt from the same survey: stretches whose median level was no better than this one's.

use crate::stats::directions::directions;
use crate::stats::losses::{Explained, Reason, Stretch, Way, explain};
use crate::stats::proportions::wilson;
use crate::survey::sample::{Sample, Samples};

/// The stretch that is explained, in exchanges that count.
const WINDOW: usize = 100;
/// Earlier stretches are cut into pieces of so many exchanges, to have a median level each.
const PIECE: usize = 50;
/// Fewer exchanges at no better a level explain nothing.
const ENOUGH: u64 = 150;
/// Messages worth one: bursts are common, so that a comparison is not too sure (see [`crate::stats::burst`]).
const INFLATION: f64 = 3.0;

/// Names what the losses of the last exchanges are, where something speaks clearly for it.
pub fn of_the_last(samples: &Samples) -> Option<Reason> {
    let last = samples.rows.last()?;
    let counted: Vec<&Sample> = samples
        .rows
        .iter()
        .rev()
        .filter(|row| row.counts() && row.boot == last.boot)
        .take(WINDOW)
        .collect();
    let lost = counted.iter().filter(|row| !row.delivered()).count() as u64;
    if counted.len() < WINDOW / 2 || lost < 5 {
        return None;
    }
    let echoes: Vec<(i64, u64)> = counted
        .iter()
        .rev()
        .filter_map(|row| Some((row.n as i64, row.echo?.heard?)))
        .collect();
    let explained = median(counted.iter().filter_map(|row| row.here()))
        .and_then(|level| explained_by(samples, level, counted.len()));
    let stretch = Stretch {
        exchanges: counted.len() as u64,
        lost,
        lost_in_silence: 0,
        unread: 0,
        inflation: INFLATION,
        explained,
        directions: directions(&echoes),
    };
    let reasons = explain(&stretch, 0.95)?.reasons;
    let telling = |reason: &&Reason| matches!(reason, Reason::Interference { .. } | Reason::OneWay { .. });
    reasons.iter().find(telling).copied()
}

/// The reason in a sentence with what it means; `None` for reasons that need no word here.
pub fn sentence(reason: &Reason) -> Option<String> {
    match reason {
        Reason::Interference { strong: true, .. } => Some(
            "Messages get lost though the level is strong: interference or a busy station, not range. Wait a minute and \
             measure again."
                .to_owned(),
        ),
        Reason::Interference { .. } => Some(
            "More is lost than this level lost elsewhere: interference or a busy station, on top of range.".to_owned(),
        ),
        Reason::OneWay { worse: Way::Out, .. } => Some(
            "One way only: the board hears the station, but its own pings do not arrive. Look at the board's power and \
             aerial."
                .to_owned(),
        ),
        Reason::OneWay { worse: Way::Back, .. } => Some(
            "One way only: the station hears the board, but its answers do not arrive here. Noise near the board, or a \
             weak station."
                .to_owned(),
        ),
        Reason::GapInStream { .. }
        | Reason::StationSilent { .. }
        | Reason::TooWeak { .. }
        | Reason::NotKnown { .. } => None,
    }
}

/// What earlier stretches at no better a level delivered; `None` of too few.
fn explained_by(samples: &Samples, level: f32, window: usize) -> Option<Explained> {
    let rows: Vec<&Sample> = samples.rows.iter().filter(|row| row.counts()).collect();
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
