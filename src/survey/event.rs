//! What can happen: a line arrives.

use crate::units::{Elapsed, UtcMs};

/// One line as it arrived: all that live input, replay and tests ever hand to the reducer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JournalLine {
    /// When it arrived, on the survey's clock.
    pub at: Elapsed,
    /// What the computer's clock said then.
    pub wall: UtcMs,
    /// Whose line it is.
    pub source: Source,
    /// The bytes without the line end; of an over-long line only the first so many.
    pub bytes: Vec<u8>,
    /// How many bytes of an over-long line were left out; a line with any is counted and not used.
    pub left_out: usize,
}

/// Whose line it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Source {
    /// The board under test.
    Node,
    /// The position receiver, or a gpsd server.
    Gps,
    /// The person walking.
    Surveyor,
    /// What became of a source.
    Gear,
}

impl Source {
    /// All of them, in the order of the contract.
    pub const ALL: [Self; 4] = [Self::Node, Self::Gps, Self::Surveyor, Self::Gear];

    /// The word in `journal.csv`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Node => "node",
            Self::Gps => "gps",
            Self::Surveyor => "surveyor",
            Self::Gear => "gear",
        }
    }

    /// The source a word of `journal.csv` stands for.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|source| source.word() == word)
    }
}
