//! Invented gear in an invented orchard: a fair world that speaks in wire lines.
//!
//! In reading order. The world: [`place`], [`orchard`], [`law`], [`shadow`], [`fading`], [`bursts`], [`body`],
//! [`pattern`], [`boards`], [`world`], [`air`]. Who walks through it: [`walker`], [`receiver`], [`firmware`], [`running`],
//! [`script`]. What is played: [`scenario`], [`scenes`], [`perform()`], and worlds drawn for calibration, [`draws`],
//! [`plans`], [`trial`]. What is true: [`truth`], [`fates`].
//!
//! It is a world of its own, not the models the estimates are made by: two waves that cancel some 117 m out, trees in
//! rows so that neighbouring alleys differ, shadow on two scales, a Rician factor that falls behind leaves, bursts with a
//! heavy tail and a patch of ground where they hit, a body that shades, a hand that misses the turn by degrees, losses in
//! either direction. What is true of it can be asked, so that whoever estimates can be held to it; [`draws`] makes worlds
//! that keep to the models as well as worlds that do not.
//!
//! Everything is a pure function of a scenario and a seed: no clock, thread, file or random source of its own.

pub mod air;
pub mod boards;
pub mod body;
pub mod bursts;
pub mod draws;
pub mod fading;
pub mod fates;
pub mod firmware;
pub mod law;
pub mod orchard;
pub mod pattern;
pub mod perform;
pub mod place;
pub mod plans;
pub mod receiver;
pub mod running;
pub mod scenario;
pub mod scenes;
pub mod script;
pub mod seeds;
pub mod shadow;
pub mod trial;
pub mod truth;
pub mod walker;
pub mod world;

pub use perform::{Item, Performance, What, perform};
pub use scenario::{NAMES, Scenario, named};
