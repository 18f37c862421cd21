//! Where things are: positions, distances, bearings, the local plane, declination, the track walked.
//!
//! In reading order: [`position`], [`geodesy`].

pub mod geodesy;
pub mod position;

pub use geodesy::{Separation, separation};
pub use position::{NoPosition, Position};
