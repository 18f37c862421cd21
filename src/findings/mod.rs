//! Every number shown anywhere, computed once.
//!
//! In reading order: [`plan`] (before going out).

pub mod plan;
