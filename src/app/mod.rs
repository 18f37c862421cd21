//! The commands, and the shell around the pure middle: clock, channel, terminal, threads.
//!
//! In reading order: [`run`] (from a command to an exit code); [`start`] (no command: the menu, and where it leads),
//! [`saved`] and [`gear`] (what it finds); [`walk`] (a survey being made), [`recorder`] and [`keeper`] (received lines,
//! journalled before they are understood), [`event`] and [`signals`] (what can happen), [`clock`], [`file_clock`] and
//! [`file_lines`] (files have no clock); [`screen`], [`replay`] and [`terminal`] (the full screen), [`worker`] (estimates off
//! the drawing thread), [`together`] (several surveys compared, off it too), [`known`] (what boards taught); [`rehearse`];
//! [`whole`] (a saved survey read), [`halves`] (its figures made on two threads), [`rebuild`], [`tables`], [`figures`] and [`in_metres`], [`report`], [`export`], [`assume`] and [`given`], [`subject`],
//! [`bar`] and [`say`]; [`plan`]; [`home`].

pub mod assume;
pub mod bar;
pub mod clock;
pub mod ear;
pub mod event;
pub mod export;
pub mod figures;
pub mod file_clock;
pub mod file_lines;
pub mod gear;
pub mod given;
pub mod halves;
pub mod home;
pub mod in_metres;
pub mod keeper;
pub mod known;
pub mod plan;
pub mod rebuild;
pub mod recorder;
pub mod rehearse;
pub mod replay;
pub mod report;
pub mod run;
pub mod saved;
pub mod say;
pub mod screen;
pub mod signals;
pub mod start;
pub mod subject;
pub mod tables;
pub mod terminal;
pub mod together;
pub mod walk;
pub mod whole;
pub mod worker;
