//! Why the last messages were lost, as far as the survey itself shows: a silent station, interference, or one way worse than the other.
//!
//! What a level explains is learnt from the same survey: stretches whose median level was no better than this one's.

use super::side::Side;
use super::silences::Silences;
use super::usual_board::FALLBACK_DBM;
use crate::stats::losses::{Basis, Explained, Reason, Stretch, explain};
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

/// What the stretches of a survey that goes on delivered at which level: each time only the new ones are looked at.
#[derive(Clone, Debug, Default)]
pub struct Stretches {
    pieces: Vec<Piece>,
}

/// A stretch of exchanges of one boot that count.
#[derive(Clone, Copy, Debug)]
struct Piece {
    /// The first row after it.
    end: usize,
    /// Its boot: a board's meter has a scale of its own, so that only its own levels say something of it.
    boot: u32,
    level: Option<f32>,
    delivered: u64,
}

impl Stretches {
    /// Takes the rows as they are now, of which the first `settled` are as they were the last time, and names what the
    /// losses of the last exchanges are, where something speaks clearly for it.
    pub fn of_the_last(&mut self, samples: &Samples, settled: usize) -> Option<Reason> {
        self.bring_up_to_date(samples, settled);
        let last = samples.rows.last()?;
        let of_this_boot = |(_, row): &(usize, &Sample)| row.counts() && row.boot == last.boot;
        let latest = samples
            .rows
            .iter()
            .enumerate()
            .skip(samples.rows.len().saturating_sub(READ));
        let recent: Vec<(usize, &Sample)> = latest.filter(of_this_boot).collect();
        let window = &recent[recent.len().saturating_sub(WINDOW)..];
        let begin = window.first()?.0;
        let counted: Vec<&Sample> = window.iter().map(|(_, row)| *row).collect();
        let lost = counted.iter().filter(|row| !row.delivered()).count() as u64;
        if counted.len() < WINDOW / 2 || lost < 5 || is_unjudged(&counted) {
            return None;
        }
        let side = if counted.iter().any(|row| row.here().is_some()) {
            Side::Here
        } else {
            Side::There
        };
        let silences = Silences::among(recent.iter().map(|(_, row)| *row), side, FALLBACK_DBM);
        let explained = median(counted.iter().filter_map(|row| row.here()))
            .and_then(|level| self.explained(samples, level, samples.board(last), begin));
        let stretch = Stretch {
            exchanges: counted.len() as u64,
            lost,
            lost_in_silence: counted.iter().filter(|row| silences.took(row)).count() as u64,
            unread: 0,
            inflation: INFLATION,
            explained,
            directions: silences.directions(counted.iter().copied()),
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

    /// Cuts what counts into pieces, all of the same length; a rest at the end waits, a rest before another boot is left.
    fn bring_up_to_date(&mut self, samples: &Samples, settled: usize) {
        let known = self.pieces.partition_point(|piece| piece.end <= settled);
        self.pieces.truncate(known);
        let begin = self.pieces.last().map_or(0, |piece| piece.end);
        let rows = samples.rows.iter().enumerate().skip(begin);
        let mut piece: Vec<&Sample> = Vec::with_capacity(PIECE);
        for (index, row) in rows.filter(|(_, row)| row.counts()) {
            if piece.first().is_some_and(|first| first.boot != row.boot) {
                piece.clear();
            }
            piece.push(row);
            if piece.len() == PIECE {
                self.pieces.push(Piece {
                    end: index + 1,
                    boot: row.boot,
                    level: median(piece.iter().filter_map(|row| row.here())),
                    delivered: piece.iter().filter(|row| row.delivered()).count() as u64,
                });
                piece.clear();
            }
        }
    }

    /// What the same board's stretches before the row `before` delivered at no better a level; `None` of too few.
    fn explained(&self, samples: &Samples, level: f32, board: &str, before: usize) -> Option<Explained> {
        let own = |piece: &&Piece| samples.boots[piece.boot as usize].board == board;
        let no_better = |piece: &&Piece| piece.level.is_some_and(|of| of <= level);
        let earlier = &self.pieces[..self.pieces.partition_point(|piece| piece.end <= before)];
        let found = earlier.iter().filter(own).filter(no_better);
        let (pieces, delivered) = found.fold((0, 0), |sum, piece| (sum.0 + 1, sum.1 + piece.delivered));
        let exchanges = pieces * PIECE as u64;
        if exchanges < ENOUGH {
            return None;
        }
        Some(Explained {
            rate: delivered as f64 / exchanges as f64,
            interval: wilson(delivered, exchanges, 0.95)?,
            by: Basis::Earlier,
        })
    }
}

/// Whether a long run of losses has only just ended, or has not: what it was is seen from what follows it.
fn is_unjudged(counted: &[&Sample]) -> bool {
    let since = counted.iter().rev().take_while(|row| row.delivered()).count();
    let before = &counted[..counted.len() - since];
    let run = before.iter().rev().take_while(|row| !row.delivered()).count();
    since < JUDGED_AFTER && run >= LONG_RUN
}

fn median(levels: impl Iterator<Item = f32>) -> Option<f32> {
    let mut levels: Vec<f32> = levels.collect();
    levels.sort_by(f32::total_cmp);
    levels.get(levels.len() / 2).copied()
}
