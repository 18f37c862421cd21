//! Plain regressions, the yardsticks beside the walk fit.
//!
//! In reading order: [`linear`] (least squares, median of slopes), [`binomial`] (delivered of sent against a
//! covariate), [`censored`] (a line through readings of which some are only known to lie beyond a limit).

pub mod linear;

pub mod binomial;

pub mod censored;
