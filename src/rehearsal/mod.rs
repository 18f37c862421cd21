//! Invented gear in an invented orchard: a fair world that speaks in wire lines.
//!
//! In reading order. The world: [`place`], [`orchard`], [`law`], [`shadow`], [`fading`], [`bursts`], [`body`],
//! [`pattern`], [`boards`], [`world`], [`air`]. Who walks through it: [`walker`], [`receiver`], [`firmware`],
//! [`script`]. What is played: [`scenario`], [`scenes`], [`perform`], and worlds drawn for calibration, [`draws`],
//! [`trial`]. What is true: [`truth`].
//!
//! Everything is a pure function of a scenario and a seed: no clock, thread, file or random source of its own.

pub mod air;
pub mod boards;
pub mod body;
pub mod bursts;
pub mod draws;
pub mod fading;
pub mod firmware;
pub mod law;
pub mod orchard;
pub mod pattern;
pub mod perform;
pub mod place;
pub mod receiver;
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
