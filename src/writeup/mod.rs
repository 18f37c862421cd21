//! The write-up and the exports: findings as bytes that can be handed to someone else. Writes no file itself.
//!
//! In reading order: [`subject`] (what it is made from), [`private`] (what is left out), [`text`] and [`number`] (how words
//! and numbers are made harmless and exact); [`document`] (a write-up before it takes a form), what goes into it
//! ([`compose`], with [`ground_cells`] and [`places`]), its figures ([`svg`]) and its forms ([`html`],
//! [`markdown`], [`tables`]), all of them together ([`bundle`]); and [`export`], for other programs.

pub mod subject;

pub mod private;

pub mod number;
pub mod text;

pub mod document;

pub mod ground_cells;
pub mod places;

pub mod svg;

pub mod compose;

pub mod html;
pub mod markdown;
pub mod tables;

pub mod bundle;

pub mod export;
