//! Which end of the link a board's levels are taken from, and rows as the statistics want them.

use crate::stats::cells::Heard;
use crate::survey::sample::{Sample, Samples};

/// Which end of the link levels are read at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// At the station, which heard all boards with one receiver: levels of different boards may be compared.
    There,
    /// At the board itself: its own scale, not comparable with another board's.
    Here,
}

impl Side {
    /// The end with more readings of a board; the station where both have as many.
    pub fn of(samples: &Samples, board: &str) -> Option<Self> {
        let (mut here, mut there) = (0_usize, 0_usize);
        for row in samples.counted(board) {
            here += usize::from(row.here().is_some());
            there += usize::from(row.there().is_some());
        }
        Self::by_readings(here, there)
    }

    /// The same of so many readings at the board and at the station.
    pub const fn by_readings(here: usize, there: usize) -> Option<Self> {
        match (here, there) {
            (0, 0) => None,
            _ if there >= here => Some(Self::There),
            _ => Some(Self::Here),
        }
    }

    /// A row's level at this end, dBm.
    pub fn level(self, row: &Sample) -> Option<f32> {
        match self {
            Self::There => row.there(),
            Self::Here => row.here(),
        }
    }

    /// What became of a row, as read at this end.
    pub fn heard(self, row: &Sample) -> Heard {
        match (row.delivered(), self.level(row)) {
            (false, _) => Heard::Lost,
            (true, Some(level)) => Heard::At(level.round() as i32),
            (true, None) => Heard::Unread,
        }
    }

    /// Where the level is read, in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::There => "as the station hears the board",
            Self::Here => "as the board hears the station",
        }
    }
}
