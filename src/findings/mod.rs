//! Every number shown anywhere, computed once.
//!
//! In reading order: [`plan`] (before going out), [`now`] (this moment), [`delivery`] (what the counts of a stop prove),
//! [`points`] (the log-keeper's row for each run and step).

pub mod plan;

pub mod delivery;
pub mod now;
pub mod points;
