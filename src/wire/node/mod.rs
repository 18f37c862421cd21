//! What a test node prints, one record a line.
//!
//! In reading order: [`read()`] (both forms of a record), `json` (its second form), [`NodePattern`] (firmware that
//! prints something else), [`line()`] (the way back).

mod json;
mod pattern;
mod read;
mod write;

pub use pattern::{NodePattern, PatternError};
pub use read::{read, read_with_unknown_keys};
pub use write::{json_line, line};
