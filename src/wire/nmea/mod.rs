//! Position lines of receivers (NMEA 0183), joined into epochs.
//!
//! In reading order: [`framing`] (sentences found in a line), [`fields`] and [`state`] (what sentences share), one
//! sentence a file, [`sentence`] (any of them by its address), [`write`](mod@write) (the way back, for invented
//! receivers).
//!
//! Field meanings are those of NMEA 0183 v4.11 as receiver manuals commonly reprint them.

pub mod fields;
pub mod framing;
pub mod state;

pub mod gga;
pub mod gll;
pub mod gns;
pub mod gsa;
pub mod gst;
pub mod rmc;
pub mod vtg;
pub mod zda;

pub mod sentence;
pub mod write;

pub use sentence::Sentence;
