//! Plain mathematics on slices of numbers: intervals, fits, fields. Knows nothing of surveys; bare `f64` lives here.
pub mod places;
