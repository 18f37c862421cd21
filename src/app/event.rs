//! All that can happen to a running program, on one channel, so that events have one order.

use std::sync::Arc;

use crate::findings::estimates::Estimates;
use crate::sources::{Happening, Role};
use crate::wire::SurveyorRecord;

/// Something happened.
#[derive(Debug)]
pub enum Event {
    /// A source told something.
    Source(Role, Happening),
    /// A rehearsal's walker pressed a key.
    Rehearsed(SurveyorRecord),
    /// A rehearsal is over.
    RehearsalOver,
    /// The person did something at the terminal.
    Terminal(crossterm::event::Event),
    /// The terminal is gone.
    TerminalLost(String),
    /// The system tells the program to end: the signal's name.
    Stop(&'static str),
    /// Estimates have been made.
    Estimated(Arc<Estimates>),
    /// The disk took everything again, or does not take it.
    Disk(Result<(), String>),
}

impl From<(Role, Happening)> for Event {
    fn from((role, happening): (Role, Happening)) -> Self {
        Self::Source(role, happening)
    }
}
