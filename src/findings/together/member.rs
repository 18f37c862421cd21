//! A survey taking part in a comparison, and the letter it goes by.

use crate::findings::estimates::Estimates;
use crate::findings::points::mean;
use crate::stats::burst::{BurstMemory, Outcomes};
use crate::survey::sample::{Activity, Sample, Samples};
use crate::survey::setup::Setup;

/// A survey taking part.
#[derive(Clone, Copy, Debug)]
pub struct Member<'a> {
    /// What it is called.
    pub name: &'a str,
    /// Its rows.
    pub samples: &'a Samples,
    /// Its set-up.
    pub setup: &'a Setup,
    /// What was made of them.
    pub estimates: &'a Estimates,
}

/// The letter of a survey by its place in the order given; beyond 26 all are `?`.
pub fn letter(index: usize) -> char {
    u8::try_from(index)
        .ok()
        .filter(|index| *index < 26)
        .map_or('?', |index| char::from(b'A' + index))
}

impl<'a> Member<'a> {
    /// Exchanges of a board that count and have a place, save those of sweeps, where the board was held otherwise.
    pub fn placed(self, board: &str) -> impl Iterator<Item = &'a Sample> + use<'a> {
        let own = self.samples.counted(board);
        own.filter(|row| row.place.is_some() && !matches!(row.activity, Activity::Sweep { .. }))
    }

    /// How well its positions are known: the mean of what the receiver said, one sigma per axis in metres.
    pub fn sigma_m(self, board: &'a str) -> Option<f64> {
        mean(
            self.placed(board)
                .filter_map(|row| self.samples.facts(&row.place?).sigma.map(|(sigma, _)| sigma)),
        )
    }

    /// What its stops show of bursts: a walker's losses come in clumps of the ground's own making and tell nothing of them.
    pub fn bursts(self) -> BurstMemory {
        let mut memory = BurstMemory::default();
        for (row, _) in &self.estimates.points {
            let rows = &self.samples.rows[row.rows.clone()];
            let outcomes: Outcomes = rows.iter().filter(|row| row.counts()).map(Sample::delivered).collect();
            memory.add(&outcomes);
        }
        memory
    }

    /// Its boards that have exchanges with a place, the most carried first.
    pub fn boards(self) -> Vec<&'a str> {
        let mut boards: Vec<(usize, &str)> = self
            .estimates
            .boards
            .iter()
            .map(|board| (self.placed(&board.name).count(), board.name.as_str()))
            .filter(|(count, _)| *count > 0)
            .collect();
        boards.sort_by(|one, other| other.0.cmp(&one.0).then(one.1.cmp(other.1)));
        boards.into_iter().map(|(_, name)| name).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::letter;

    #[test]
    fn letters_run_to_z() {
        assert_eq!([0, 1, 25, 26].map(letter), ['A', 'B', 'Z', '?']);
    }
}
