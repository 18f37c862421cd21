//! What an orientation sweep says about the pattern of a carried board.
//!
//! In reading order: [`steps`] (exchanges at each turn, and how the two directions of the link are joined),
//! [`regression`] (a linear model through cells of readings and losses), [`direction_test`] (is there any directivity), [`fit`] (the pattern and draws of it), [`features`] (figures of
//! each draw), [`closure`] (the first turn repeated), [`printed`] (in which words something may be said), `wording` (what may be said
//! of a fit), [`analysis`]
//! (all of it for one sweep), [`compare`] (two sweeps turn by turn), [`advice`] (how many steps to take).

pub mod regression;
pub mod steps;

pub mod closure;
pub mod direction_test;
pub mod features;
pub mod fit;
mod halton;

pub mod advice;
pub mod analysis;
pub mod compare;
pub mod printed;
mod wording;

pub use analysis::{SweepFigures, analyse, counts_only};
pub use printed::{Arc, Estimate, Printed, WhyNot};
pub use steps::{Direction, Exchange, Step, SweepModel};
