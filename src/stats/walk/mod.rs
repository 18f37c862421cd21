//! One walk, from exchanges at places to exponent, shadowing and ranges.
//!
//! In reading order: [`binning`] (cells), [`fit`] (the fit and what it rests on), [`posterior`], [`range`],
//! [`describe`] (what may be said), [`curve`] (the law drawn), [`scurve`] (a board's curve kept and pooled),
//! [`inflation`] (how far intervals are widened), [`bend`], [`other_laws`]. Beneath them: `rounds` (one round of the fit), `filter`
//! (the trend from the board), `shadowing_grid` and `likely` (which points of a grid count), `learn` (the board from the trend), `marginal` (the likelihood it
//! climbs), `lost_whole` (its cells with nothing heard), `response` (its quick tables), `quick` (exponential and logarithm).

pub mod binning;

pub mod fit;

pub mod posterior;

pub mod range;

pub mod describe;

pub mod curve;

pub mod scurve;

pub mod inflation;

pub mod bend;
pub mod other_laws;

mod rounds;

mod filter;
mod likely;
mod shadowing_grid;

mod learn;
mod lost_whole;
mod marginal;
mod quick;
mod response;
