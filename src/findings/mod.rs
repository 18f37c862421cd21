//! Every number shown anywhere, computed once.

pub mod delivery;
pub mod now;
pub mod points;
