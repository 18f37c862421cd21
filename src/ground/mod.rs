//! Where things are: positions, distances, bearings, the local plane, declination, the track walked.
//!
//! In reading order: [`position`], [`geodesy`], [`slant`] (with heights), [`near`] (many ways from one place),
//! [`local`] (a plane about the station), [`compass`] (directions in words), [`mod@declination`] (what a needle shows).

pub mod compass;
pub mod declination;
pub mod geodesy;
pub mod local;
pub mod near;
pub mod position;
pub mod slant;

pub use declination::{Declination, declination};
pub use geodesy::{Separation, destination, separation};
pub use local::{LocalPlane, Offset};
pub use near::{Vantage, Way};
pub use position::{NoPosition, Position};
