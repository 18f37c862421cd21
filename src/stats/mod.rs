//! Plain mathematics on slices of numbers: intervals, fits, fields. Knows nothing of surveys; bare `f64` lives here.
//!
//! In reading order: [`special`] (functions and quantiles everything else leans on), [`cells`] (what one cell of
//! readings and losses says about its mean power), [`maximise`] (a damped ascent), [`walk`] (a walk's law and ranges).

pub mod special;

pub mod cells;

pub mod maximise;

pub mod walk;

pub mod regression;
