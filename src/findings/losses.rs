//! Why the last messages were lost, as far as the survey itself shows: a silent station, interference, or one way worse than the other.
//!
//! What a level explains is learnt from the same survey: stretches whose median level was no better than this one's.

use super::side::Side;
use super::silences::Silences;
use super::usual_board::FALLBACK_DBM;
use crate::stats::burst::{BurstMemory, INTERVAL_PRIOR, Outcomes};
use crate::stats::losses::{Basis, Explained, Reason, Stretch, explain};
use crate::stats::proportions::wilson;
use crate::survey::sample::{Activity, Sample, Samples};

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
/// Messages worth one, at least: bursts are common, so that a comparison is not too sure (see [`crate::stats::burst`]). Where
/// the rows that are read show longer ones, more: with this alone the way out was said to be the worse one rightly in 87 of 100
/// (115 times, rehearsals with bursts from seed 26000).
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
        // One step of a sweep says nothing of another, nor of what is sent before or after it.
        let alike = recent.iter().rev().take_while(|(_, row)| are_alike(row, last)).count();
        let window = &recent[recent.len() - alike.min(WINDOW)..];
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
        let explained =
            median_at_least(&counted).and_then(|level| self.explained(samples, level, samples.board(last), begin));
        let outcomes: Outcomes = recent.iter().map(|(_, row)| row.delivered()).collect();
        let bursts = BurstMemory::default().with(&outcomes).inflation(INTERVAL_PRIOR);
        let stretch = Stretch {
            exchanges: counted.len() as u64,
            lost,
            lost_in_silence: counted.iter().filter(|row| silences.took(row)).count() as u64,
            silence_lasted: silences.lasted(counted.iter().copied()),
            unread: 0,
            inflation: bursts.max(INFLATION),
            explained,
            struck_at_most: None,
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

/// Whether two rows were sent in the same way: of a sweep, only those of one step.
fn are_alike(one: &Sample, other: &Sample) -> bool {
    let is_sweep = |row: &Sample| matches!(row.activity, Activity::Sweep { .. });
    one.activity == other.activity || !is_sweep(one) && !is_sweep(other)
}

/// The least that the median level may be: the lost carry no level, and may each have been weaker than all that were heard;
/// `None` where half of them are lost.
fn median_at_least(counted: &[&Sample]) -> Option<f32> {
    let weakest = |row: &&Sample| {
        if row.delivered() {
            row.here()
        } else {
            Some(f32::NEG_INFINITY)
        }
    };
    median(counted.iter().filter_map(weakest)).filter(|level| level.is_finite())
}

fn median(levels: impl Iterator<Item = f32>) -> Option<f32> {
    let mut levels: Vec<f32> = levels.collect();
    levels.sort_by(f32::total_cmp);
    levels.get(levels.len() / 2).copied()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::exchange::Heard;
    use crate::survey::sample::BootName;
    use crate::units::{Elapsed, UtcMs};

    /// Rows of one board, in order: what was being done, and the level heard, `None` of what was lost.
    fn said(rows: impl IntoIterator<Item = (Activity, Option<f32>)>) -> Option<Reason> {
        let row = |(index, (activity, here)): (u64, (Activity, Option<f32>))| Sample {
            utc: UtcMs(0),
            at: Elapsed(index * 100_000),
            boot: 0,
            run: 1,
            n: index,
            echo: here.map(|_| Heard {
                here,
                ..Heard::default()
            }),
            channel: None,
            place: None,
            activity,
            excluded: None,
        };
        let samples = Samples {
            rows: (0..).zip(rows).map(row).collect(),
            boots: vec![BootName {
                board: "yew".into(),
                boot: 1,
            }],
            ..Samples::default()
        };
        Stretches::default().of_the_last(&samples, 0)
    }

    /// So many heard at one level.
    fn heard(activity: Activity, count: usize, dbm: f32) -> impl Iterator<Item = (Activity, Option<f32>)> {
        std::iter::repeat_n((activity, Some(dbm)), count)
    }

    const fn step(step: u32) -> Activity {
        Activity::Sweep {
            point: 0,
            pose: None,
            turn: None,
            step,
        }
    }

    #[test]
    fn the_null_of_a_sweep_is_not_held_against_its_strong_steps() {
        let before = || heard(Activity::Walk, 200, -92.0).chain(heard(step(1), 80, -80.0));
        let null = |of| (0..20).map(move |index| (of, (index % 10 == 0).then_some(-95.0)));
        assert_eq!(said(before().chain(null(step(2)))), None);
        // Nor once the sweep is over.
        let after = before().chain(null(step(2))).chain(heard(Activity::Walk, 60, -80.0));
        assert_eq!(said(after), None);
        let same = said(before().chain(null(step(1))));
        assert!(
            matches!(same, Some(Reason::Interference { of: 100, .. })),
            "one step that loses so: {same:?}"
        );
    }

    #[test]
    fn as_weak_a_level_is_judged_with_what_was_lost_below_what_was_heard() {
        let walk = Activity::Walk;
        let lossy = |weakest: f32, spread: f32, lost: usize| {
            (0..100_usize).map(move |index| {
                let mixed = index * 37 % 100;
                let above = spread * (mixed as f32 - lost as f32) / (100 - lost) as f32;
                (walk, (mixed >= lost).then_some(weakest + above))
            })
        };
        let before = |dbm| heard(walk, 200, dbm);
        // The heard have their median at -83 dBm; all of them may have it at -86.3.
        assert_eq!(said(before(-86.0).chain(lossy(-88.0, 10.0, 40))), None);
        let found = said(before(-87.0).chain(lossy(-88.0, 10.0, 40)));
        assert!(matches!(found, Some(Reason::Interference { .. })), "{found:?}");
        // Of most nothing is known.
        assert_eq!(said(before(-87.0).chain(lossy(-80.0, 10.0, 60))), None);
    }
}
