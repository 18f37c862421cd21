//! `farpace`: a full-screen terminal instrument for walking a radio link outdoors.
//!
//! A pure middle, thin edges. In reading order:

pub mod units;

pub mod ground;
pub mod link;

pub mod propagation;
pub mod stats;

pub mod wire;

pub mod survey;

pub mod session;

pub mod findings;

pub mod screens;
pub mod writeup;

pub mod rehearsal;
pub mod sources;

pub mod app;
pub mod cli;
