//! Before going out: what a link should come to, from published formulas alone.
//!
//! In reading order: [`inputs`] (what is asked, with its defaults), [`course`] (loss and level by distance), [`reach`] (how far
//! the goal carries), [`room`] (Fresnel clearance and what an edge costs), [`caution`] (what the figures leave out),
//! [`forecast`] (all of it together), [`text`] and [`plot`] (the same for a terminal).
//!
//! Nothing here is measured: a walk replaces it.

pub mod caution;
pub mod course;
pub mod forecast;
pub mod inputs;
pub mod plot;
pub mod reach;
pub mod room;
pub mod text;

pub use caution::Caution;
pub use forecast::{Plan, plan};
pub use inputs::{PlanInputs, PlanProblem};
pub use text::render;
