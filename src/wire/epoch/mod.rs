//! Position reports: the lines of a receiver or a gpsd server that belong to one moment.
//!
//! In reading order: `line` (what a line says by itself), `calendar` (the date of a time of day), `evidence` (what the
//! sentences of a moment say together), `reader` (lines in, epochs out).

mod calendar;
mod evidence;
mod line;
mod reader;

pub use line::{Piece, PositionLine};
pub use reader::{EpochReader, PositionCounts};
