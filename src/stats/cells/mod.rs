//! What one cell of readings and losses says about its local mean power.
//!
//! A *cell* is a stop, a stretch of a walk or a step of a sweep: so many readings at each whole dBm, so many exchanges
//! lost. Its one unknown is the mean power mu in dBm. Each exchange has the level L = mu + fade; it is delivered with
//! probability (1 - f) S(L), and then read as round(L + noise). A loss is therefore evidence ("at most this strong"),
//! never a missing value.
//!
//! In reading order: [`grid`] (mean powers and readings), [`curve`] (S, a board's delivery against level), [`fades`] (how power
//! scatters about its mean), [`table`] (probabilities for one K and one S, built once), [`interference`] (f), [`likelihood`]
//! (cells, weighed).

pub mod grid;

pub mod curve;
pub mod fades;

pub mod table;

pub mod interference;
pub mod likelihood;

pub use curve::SCurve;
pub use fades::{RAYLEIGH_K_DB, fade_masses};
pub use grid::{MEAN_MIN_DBM, MEAN_STEP_DB, MEANS, READING_MAX_DBM, READING_MIN_DBM, mean_at};
pub use interference::Interference;
pub use likelihood::{Cell, CellModel, Heard};
pub use table::CellTable;
