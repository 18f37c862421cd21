//! A survey on disk: its folder, its files, writing them safely and reading them back.
//!
//! In reading order: [`format`](mod@format) (names, columns, version), [`numbers`], [`journal`], [`records`], [`setup_file`], [`samples_csv`],
//! [`folder`].

pub mod folder;
pub mod format;
pub mod journal;
pub mod numbers;
pub mod points_csv;
pub mod records;
pub mod samples_csv;
pub mod setup_file;
