//! One walk, from exchanges at places to exponent, shadowing and ranges.
//!
//! In reading order: [`binning`] (cells), [`fit`] (the fit and what it rests on), [`posterior`], [`range`],
//! [`describe`] (what may be said), [`curve`] (the law drawn), [`scurve`] (a board's curve kept and pooled),
//! [`inflation`] (how far intervals are widened), [`bend`], [`other_laws`]. Beneath them: `rounds` (one round of the fit), `filter`
//! (the trend from the board), `likely` (which points of a grid count), `learn` (the board from the trend), `marginal` (the likelihood it climbs), `response`
//! (its quick tables), `quick` (exponential and logarithm).

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

mod learn;
mod marginal;
mod quick;
mod response;
