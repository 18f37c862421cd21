//! What a person should know beside the figures: one wording for screen and write-up.

use std::fmt;

use crate::units::Elapsed;
use crate::wire::{GearSource, Malformed};

/// Something worth saying, and when it was so.
#[derive(Clone, Debug, PartialEq)]
pub struct Noticed {
    /// On the survey's clock.
    pub at: Elapsed,
    /// What.
    pub notice: Notice,
}

/// What is worth saying.
#[derive(Clone, Debug, PartialEq)]
pub enum Notice {
    /// A line of the node could not be used.
    Malformed(Malformed),
    /// A line without the checksum that the ones before it carried.
    Unchecked,
    /// A ping number too far from the ones before it.
    OutOfPlace,
    /// An over-long line.
    TooLong {
        /// Bytes left out of the journal.
        left_out: usize,
    },
    /// A surveyor's record that makes no sense where it stands.
    Refused(&'static str),
    /// A surveyor's or gear line that cannot be read.
    UnknownRecord(Malformed),
    /// A surveyor's or gear line with a word that is not known.
    UnknownWord(String),
    /// A boot began.
    BootBegan {
        /// The board.
        board: String,
    },
    /// A source can be read.
    GearUp(GearSource),
    /// A source cannot be read.
    GearDown(GearSource, Option<String>),
    /// A fix that nobody could have walked to was set aside.
    FixSetAside,
    /// The node said something in free words.
    NodeNote(String),
}

impl fmt::Display for Notice {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Malformed(why) => write!(out, "a line of the node was not used: {why}"),
            Self::Unchecked => out.write_str("a line of the node was not used: it lacks the checksum the others carry"),
            Self::OutOfPlace => {
                out.write_str("a line of the node was not used: its number is too far from the ones before it")
            }
            Self::TooLong { left_out } => write!(out, "a line was not used: it is {left_out} bytes too long"),
            Self::Refused(why) => write!(out, "not done: {why}"),
            Self::UnknownRecord(why) => write!(out, "a record was not understood: {why}"),
            Self::UnknownWord(word) => write!(out, "a record was not understood: `{word}` is not known"),
            Self::BootBegan { board } => write!(out, "{board} started"),
            Self::GearUp(GearSource::Node) => out.write_str("the node is being read"),
            Self::GearUp(GearSource::Gps) => out.write_str("the GPS is being read"),
            Self::GearDown(source, why) => {
                let what = match source {
                    GearSource::Node => "the node",
                    GearSource::Gps => "the GPS",
                };
                match why {
                    Some(why) => write!(out, "{what} is not being read: {why}"),
                    None => write!(out, "{what} is not being read"),
                }
            }
            Self::FixSetAside => {
                out.write_str("a position that nobody could have walked to was set aside until others agree with it")
            }
            Self::NodeNote(text) => write!(out, "the node says: {text}"),
        }
    }
}
