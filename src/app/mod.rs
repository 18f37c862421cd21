//! The commands, and the shell around the pure middle: clock, channel, terminal, threads.
//!
//! In reading order: [`walk`] (a survey being made), [`recorder`] and [`keeper`] (received lines, journalled before they
//! are understood), [`event`] and [`signals`] (what can happen), [`clock`], [`file_clock`] (files have none),
//! [`screen`], [`replay`] and [`terminal`] (the full screen), [`rebuild`], [`tables`].

pub mod clock;
pub mod ear;
pub mod event;
pub mod figures;
pub mod file_clock;
pub mod file_lines;
pub mod home;
pub mod keeper;
pub mod known;
pub mod rebuild;
pub mod recorder;
pub mod rehearse;
pub mod replay;
pub mod run;
pub mod screen;
pub mod signals;
pub mod tables;
pub mod terminal;
pub mod walk;
pub mod worker;
