//! What a line tells of one ping, when it came, and what it did.

use crate::survey::exchange::{Fate, Heard};
use crate::units::{Elapsed, UtcMs};
use crate::wire::{Echo, Lost};

/// A line that tells of one ping.
#[derive(Clone, Debug)]
pub struct Told {
    /// The number as printed, wrapped maybe.
    pub(super) raw: u64,
    pub(super) fate: Fate,
    pub(super) channel: Option<u32>,
    /// The board, where the line itself names it.
    pub(super) board: Option<String>,
    pub(super) boot: Option<u64>,
}

/// When a line came: both clocks and its ordinal in the journal.
#[derive(Clone, Copy, Debug)]
pub struct Moment {
    /// The survey's clock.
    pub at: Elapsed,
    /// The computer's clock.
    pub wall: UtcMs,
    /// The ordinal of the line in the journal.
    pub line: u32,
}

/// What a line did, for counts and for the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effect {
    /// A new exchange stands.
    Exchange,
    /// An echo came late and corrected a loss.
    Corrected,
    /// The number stands already: the line changed nothing.
    Duplicate,
    /// The echo came too late to count.
    TooLate,
    /// The line lies far back: the next ones tell whether the board has started anew.
    Waiting,
    /// The number is too far from the ones before it.
    Malformed,
}

impl From<Echo> for Told {
    fn from(echo: Echo) -> Self {
        let heard = Heard {
            here: echo.here.map(|level| level.0 as f32),
            there: echo.there.map(|level| level.0 as f32),
            rtt_us: echo.rtt_us,
            heard: echo.heard,
        };
        Self {
            raw: echo.n,
            fate: Fate::Echo(heard),
            channel: echo.chan,
            board: echo.board,
            boot: echo.boot,
        }
    }
}

impl From<Lost> for Told {
    fn from(lost: Lost) -> Self {
        Self {
            raw: lost.n,
            fate: Fate::Lost,
            channel: lost.chan,
            board: lost.board,
            boot: lost.boot,
        }
    }
}
