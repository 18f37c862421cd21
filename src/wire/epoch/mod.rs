//! Position reports: the lines of a receiver or a gpsd server that belong to one moment.
//!
//! In reading order: `calendar` (the date of a time of day), `evidence` (what the sentences of a moment say together),
//! `reader` (lines in, epochs out).

mod calendar;
mod evidence;
mod reader;

pub use reader::{EpochReader, PositionCounts};
