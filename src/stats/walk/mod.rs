//! One walk, from exchanges at places to exponent, shadowing and ranges.
//!
//! In reading order: [`binning`] (cells), [`fit`] (the fit and what it rests on), [`posterior`], [`range`], [`describe`] (what may be
//! said), [`curve`] (the law drawn), [`scurve`] (a board's curve kept and pooled), [`inflation`] (how far intervals are widened), [`bend`]; beneath them `response`
//! (quick tables), `learn` (the board from the walk) and `filter` (the trend from the board).

pub mod binning;

pub mod fit;

pub mod posterior;

pub mod range;

pub mod describe;

pub mod curve;

pub mod scurve;

pub mod inflation;

pub mod bend;

mod filter;
mod learn;
mod response;
