//! Plain mathematics on slices of numbers: intervals, fits, fields. Knows nothing of surveys; bare `f64` lives here.
//!
//! In reading order: [`special`] (functions and quantiles everything else leans on); delivery: [`proportions`] (a rate and
//! its interval), [`burst`] (what bursty messages are worth), [`verdict`] (meets, fails, keep measuring), [`isotonic`]
//! (delivery against distance without a law), [`losses`] (why messages were lost); level: [`fading`] and [`shadowing`] (the distributions), [`cells`] (what readings and losses
//! say about a mean power), [`level`] (the level at a stop and its margin); comparison: [`lincell`] (a linear model of cells),
//! [`boards`] (what one board gives over another), [`dunnett`] (several against one at once); a walk: [`walk`] (its law and ranges);
//! beneath: [`maximise`] (a damped ascent), [`regression`] (yardsticks).

pub mod special;

pub mod proportions;

pub mod burst;
pub mod verdict;

pub mod isotonic;
pub mod losses;

pub mod fading;
pub mod shadowing;

pub mod cells;

pub mod maximise;

pub mod walk;

pub mod level;
pub mod regression;

pub mod lincell;

pub mod boards;
pub mod dunnett;
