//! What the surveyor sees: keys, theme, layouts, one panel a file.
//!
//! [`paint`] puts words on the screen for every panel; [`start`] is what comes before and after a survey.

pub mod paint;
pub mod size;
pub mod start;
pub mod theme;
