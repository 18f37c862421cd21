//! Plain mathematics on slices of numbers: intervals, fits, fields. Knows nothing of surveys; bare `f64` lives here.

pub mod circular;
pub mod fourier;
pub mod sampled;

#[cfg(test)]
#[path = "../../tests/reference/rows.rs"]
mod reference;
