//! Several surveys together on the screen: one page, one part a file.
//!
//! In reading order: [`page`] (title, view, bottom line), [`map`], [`lists`] (places, points, what to keep in mind),
//! [`distance`].

pub mod distance;
pub mod lists;
pub mod map;
pub mod page;
