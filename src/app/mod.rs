//! The commands, and the shell around the pure middle: clock, channel, terminal, threads.
//!
//! In reading order: [`start`] (no command: the menu, and where it leads), [`saved`] and [`gear`] (what is found for it),
//! [`walk`] (a survey being made), [`recorder`] and [`keeper`] (received lines, journalled before they are understood),
//! [`event`] and [`signals`] (what can happen), [`clock`], [`file_clock`] (files have none), [`screen`], [`replay`] and
//! [`terminal`] (the full screen), [`rebuild`], [`tables`].

pub mod clock;
pub mod ear;
pub mod event;
pub mod file_clock;
pub mod file_lines;
pub mod gear;
pub mod home;
pub mod keeper;
pub mod rebuild;
pub mod recorder;
pub mod rehearse;
pub mod replay;
pub mod run;
pub mod saved;
pub mod screen;
pub mod signals;
pub mod start;
pub mod tables;
pub mod terminal;
pub mod walk;
