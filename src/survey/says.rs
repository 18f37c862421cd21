//! What a line says by itself, before it is known what that means for the survey: it may be read ahead, on another thread.

use super::event::{JournalLine, Source};
use crate::wire::epoch::PositionLine;
use crate::wire::node::NodePattern;
use crate::wire::{Malformed, NodeLine, node};

/// What a line says.
#[derive(Clone, Debug, PartialEq)]
pub enum Says {
    /// A line of the node, or why it cannot be used.
    Node(Result<NodeLine, Malformed>),
    /// A line of the receiver.
    Gps(PositionLine),
    /// A surveyor's or gear's record: there are few, and they are read when their turn comes.
    Record,
    /// Too long to be used.
    TooLong,
}

/// Reads lines of one survey.
#[derive(Clone, Debug, Default)]
pub struct LineReader {
    pattern: Option<NodePattern>,
}

impl LineReader {
    /// A reader; `pattern` is for firmware that prints something else.
    pub fn new(pattern: Option<NodePattern>) -> Self {
        Self { pattern }
    }

    /// Reads a line.
    pub fn read(&self, line: &JournalLine) -> Says {
        match line.source {
            _ if line.left_out > 0 => Says::TooLong,
            Source::Node => Says::Node(self.node(&line.bytes)),
            Source::Gps => Says::Gps(PositionLine::read(&line.bytes)),
            Source::Surveyor | Source::Gear => Says::Record,
        }
    }

    fn node(&self, line: &[u8]) -> Result<NodeLine, Malformed> {
        match (&self.pattern, node::read(line)) {
            (Some(pattern), Ok(NodeLine::Unknown | NodeLine::Blank) | Err(_)) => pattern.read(line),
            (_, read) => read,
        }
    }
}
