//! Where surveys and what is learned over several of them are kept.

use std::path::{Path, PathBuf};

use anyhow::Context as _;
use etcetera::BaseStrategy as _;

/// The folder that holds a folder for each survey.
///
/// # Errors
/// When the system names no home folder.
pub fn surveys(chosen: Option<&Path>) -> anyhow::Result<PathBuf> {
    match chosen {
        Some(folder) => Ok(folder.to_owned()),
        None => Ok(home()?.join("farpace")),
    }
}

/// The folder for what is learned over several surveys, such as each board's sensitivity.
///
/// # Errors
/// When the system names no home folder.
pub fn learned() -> anyhow::Result<PathBuf> {
    let folders = etcetera::choose_base_strategy().context("the system names no home folder: set HOME")?;
    Ok(folders.data_dir().join("farpace"))
}

fn home() -> anyhow::Result<PathBuf> {
    etcetera::home_dir().context("the system names no home folder: set HOME, or say where with --surveys or --out")
}
