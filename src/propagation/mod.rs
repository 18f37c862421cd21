//! How a signal weakens on its way: one published formula a file.
//!
//! In reading order: [`published`] (how a formula names its source); over clear ground [`free_space`], [`two_ray`],
//! [`street`], [`log_distance`]; what is in the way [`fresnel`], [`knife_edge`], [`woodland`], [`earth_bulge`], [`weather`];
//! how it varies [`fading`], [`shadowing`]; and what it must rise above, [`noise`].
//!
//! Section numbers of ITU-R texts are from memory and may differ between editions; the formulas are held to check values in
//! `tests/reference`, each with where it comes from.
//!
//! Losses are positive decibels. An argument outside a formula's domain gives `None`, never a number.

pub mod earth_bulge;
pub mod fading;
pub mod free_space;
pub mod fresnel;
pub mod knife_edge;
pub mod log_distance;
pub mod noise;
pub mod published;
pub mod shadowing;
pub mod street;
pub mod two_ray;
pub mod weather;
pub mod woodland;

pub use published::Published;
