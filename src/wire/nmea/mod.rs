//! Position lines of receivers (NMEA 0183), joined into epochs.
//!
//! In reading order: [`write`] (the way back, for invented receivers).

pub mod write;
