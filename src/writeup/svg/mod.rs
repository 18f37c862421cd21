//! Figures, drawn by ourselves as SVG.
//!
//! In reading order: [`style`] (colours and dashes), [`canvas`] (the only place where a drawing becomes text), [`axis`],
//! [`marks`] and [`plan`] (what figures share); then the figures: [`map`], [`distance`], [`polar`], [`boards`], [`places`],
//! [`together`]; and [`raster`], which makes PNG of them.

pub mod style;

pub mod canvas;

pub mod axis;
pub mod marks;
pub mod plan;

pub mod boards;
pub mod distance;
pub mod map;
pub mod places;
pub mod polar;
pub mod together;

pub mod raster;
