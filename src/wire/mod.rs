//! The text of one line and its meaning, both ways.
//!
//! In reading order: [`record`] (what lines can say), and a file for each kind of line.

pub mod nmea;
pub mod record;

pub use record::{
    Echo, Epoch, EpochFix, GearRecord, GearSource, Hello, Lost, Malformed, NoFix, NodeLine, NodeRecord, SigmaFrom,
    SurveyorRecord,
};
