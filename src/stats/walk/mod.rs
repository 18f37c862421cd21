//! One walk, from exchanges at places to exponent, shadowing and ranges.
//!
//! In reading order: [`binning`] (cells), [`fit`] (the fit and what it rests on), [`posterior`], [`range`],
//! [`describe`] (what may be said), [`curve`] (the law drawn), [`scurve`] (a board's curve kept and pooled),
//! [`inflation`] (how far intervals are widened), [`bend`]. Beneath them: `rounds` (one round of the fit), `filter`
//! (the trend from the board), `learn` (the board from the trend), `marginal` (the likelihood it climbs), `response`
//! (its quick tables).

pub mod binning;

pub mod fit;

pub mod posterior;

pub mod range;

pub mod describe;

pub mod curve;

pub mod scurve;

pub mod inflation;

pub mod bend;

mod rounds;

mod filter;

mod learn;
mod marginal;
mod response;
