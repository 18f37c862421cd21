//! Plain mathematics on slices of numbers: intervals, fits, fields. Knows nothing of surveys; bare `f64` lives here.
//!
//! In reading order: [`special`] (functions and quantiles everything else leans on); delivery: [`proportions`] (a rate and
//! its interval), [`burst`] (what bursty messages are worth), [`verdict`] (meets, fails, keep measuring), [`watch`] (a place
//! followed to its verdict), [`isotonic`] (delivery against distance without a law), [`directions`] and [`losses`] (which way
//! and why messages were lost); level: [`fading`] and [`shadowing`] (the distributions), [`cells`] (what readings and losses
//! say about a mean power), [`independence`] (how many fades a stop saw), [`level`] (the level there), [`one_sided`] (the same
//! where nothing arrived), [`margin`] (how far it stands above what the board needs); range: [`maximise`] (a damped ascent),
//! [`walk`] (a walk's law and ranges), [`stop_curve`] (what a board needs, learned without a walk), [`regression`] (what the fit is held against); comparison: [`lincell`] (a linear model
//! of cells), [`boards`] (what one board gives over another), [`range_ratio`] (how much further it reaches), [`dunnett`]
//! (several against one at once), [`difference`] (two estimates apart, and on average over places); turns: [`circular`] (directions), [`fourier`] (series through levels at turns), [`sampled`]
//! (figures of a known pattern), [`sweep`] (what a measured orientation sweep says); ground: [`places`] (where a node can go).

pub mod special;

pub mod proportions;

pub mod burst;
pub mod verdict;
pub mod watch;

pub mod directions;
pub mod isotonic;
pub mod losses;

pub mod fading;
pub mod shadowing;

pub mod cells;
pub mod independence;
pub mod level;
pub mod margin;
pub mod one_sided;

pub mod maximise;

pub mod walk;
pub mod weak_losses;

pub mod stop_curve;

pub mod regression;

pub mod lincell;

mod board_limits;
pub mod boards;
pub mod difference;
pub mod dunnett;
pub mod range_ratio;

pub mod circular;
pub mod fourier;
pub mod sampled;
pub mod sweep;

pub mod places;

#[cfg(test)]
#[path = "../../tests/reference/rows.rs"]
mod reference;
