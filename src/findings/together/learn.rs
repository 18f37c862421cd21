//! Figures of several surveys, each told beforehand what the others taught of its boards.

use crate::findings::curves::Known;
use crate::findings::estimates::{Estimates, boards_alone, estimates};
use crate::survey::sample::Samples;
use crate::survey::setup::Setup;

/// A survey whose figures are wanted.
#[derive(Clone, Copy, Debug)]
pub struct Source<'a> {
    /// What it is known by among the others, and in what is known beforehand.
    pub key: &'a str,
    /// Its rows.
    pub samples: &'a Samples,
    /// Its set-up.
    pub setup: &'a Setup,
    /// Boards whose own hello calls them the reference.
    pub references: &'a [String],
}

/// Makes the figures of every survey; `step` is told how many of how many are done. What is learned comes from these surveys
/// and from `known` alone, so that the same surveys give the same figures in table, screen and write-up.
pub fn figures_of(sources: &[Source<'_>], known: &Known, mut step: impl FnMut(usize, usize)) -> Vec<Estimates> {
    let several = sources.len() > 1;
    let total = sources.len() * if several { 2 } else { 1 };
    let mut done = 0;
    let mut one_more = || {
        done += 1;
        step(done, total);
    };
    let mut learned = known.clone();
    for source in sources.iter().filter(|_| several) {
        for board in boards_alone(source.samples, source.setup, known, Some(source.key)) {
            if let Some((side, need)) = board.taught() {
                learned.learn(&board.name, side, source.key, need);
            }
        }
        one_more();
    }
    let made = sources.iter().map(|source| {
        let told = |board: &str| source.references.iter().any(|reference| reference == board);
        let made = estimates(source.samples, source.setup, &learned, Some(source.key), told);
        one_more();
        made
    });
    made.collect()
}
