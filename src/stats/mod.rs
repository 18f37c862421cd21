//! Plain mathematics on slices of numbers: intervals, fits, fields. Knows nothing of surveys; bare `f64` lives here.
//!
//! In reading order: [`special`] (functions and quantiles everything else leans on), [`cells`] (what one cell of
//! readings and losses says about its mean power), [`circular`] (directions), [`fourier`] (series through levels at
//! turns), [`sampled`] (figures of a known pattern), [`sweep`] (what a measured orientation sweep says).

pub mod special;

pub mod cells;

pub mod circular;
pub mod fourier;
pub mod sampled;
pub mod sweep;

#[cfg(test)]
#[path = "../../tests/reference/rows.rs"]
mod reference;
