//! Before a survey and after it: the menu, the set-up, the saved surveys, rehearsals, the gear.
//!
//! Knows neither ports nor files: what was found is told to it as plain words and values, and what it wants done is given
//! back. In reading order: [`opening`] (which page is open, what keys change), [`keys`], [`page`] (words in lines, one of
//! them chosen), then a page a file: [`menu`], [`setup_page`] with [`setup_rows`], [`typed`], [`source_page`],
//! [`station_page`] and [`board_page`], [`survey_list`], [`rehearsal_page`], [`gear_page`] with [`port`], [`help`].

pub mod keys;
pub mod opening;
pub mod page;

pub mod menu;

pub mod setup_page;
pub mod setup_rows;
pub mod typed;

pub mod board_page;
pub mod source_page;
pub mod station_page;

pub mod rehearsal_page;
pub mod survey_list;

pub mod gear_page;
pub mod port;

pub mod help;
