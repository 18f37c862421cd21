//! Figures of several surveys, each told beforehand what the others taught of its boards.

use super::member::letter;
use crate::findings::curves::Known;
use crate::findings::estimates::Estimates;
use crate::findings::groundwork::Groundwork;
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

impl<'a> Source<'a> {
    fn groundwork(&self, known: &Known) -> Groundwork<'a> {
        let told = |board: &str| self.references.iter().any(|reference| reference == board);
        Groundwork::of(self.samples, self.setup, known, Some(self.key), told)
    }
}

/// Makes the figures of every survey; `step` is told how many of how many are done. What is learned comes from these surveys
/// and from `known` alone, so that the same surveys give the same figures in table, screen and write-up.
/// `make` makes the figures of what each rests on: both halves, one after the other or each on a thread of its own.
pub fn figures_of<'a>(
    sources: &[Source<'a>],
    known: &Known,
    make: impl Fn(Groundwork<'a>) -> Estimates,
    mut step: impl FnMut(usize, usize),
) -> Vec<Estimates> {
    let several = sources.len() > 1;
    let total = sources.len() * if several { 2 } else { 1 };
    let mut done = 0;
    let mut one_more = || {
        done += 1;
        step(done, total);
    };
    let mut learned = known.clone();
    for source in sources.iter().filter(|_| several) {
        for board in &source.groundwork(known).boards() {
            if let Some((side, need)) = board.taught() {
                learned.learn(&board.name, side, source.key, need);
            }
        }
        one_more();
    }
    let made = sources.iter().map(|source| {
        let mut made = make(source.groundwork(&learned));
        for board in &mut made.boards {
            // Surveys given go by their letters; what was known beforehand is of earlier ones.
            let mut by: Vec<String> = Vec::new();
            for key in &board.taught_by {
                let given = sources.iter().position(|other| other.key == key);
                let said = given.map_or("earlier surveys".to_owned(), |index| {
                    format!("survey {}", letter(index))
                });
                if !by.contains(&said) {
                    by.push(said);
                }
            }
            board.taught_by = by;
        }
        one_more();
        made
    });
    made.collect()
}
