//! What boards taught in earlier surveys, kept between them.

use std::path::Path;

use anyhow::Context as _;

use super::say::say;
use super::{figures, home};
use crate::findings::curves::Known;
use crate::findings::estimates::Estimates;
use crate::session::folder;

/// The file it is kept in.
const FILE: &str = "boards.json";

/// Loads what is known; nothing where nothing was kept yet.
///
/// # Errors
/// When the file is there and cannot be read.
pub fn load() -> anyhow::Result<Known> {
    let path = home::learned()?.join(FILE);
    if !path.exists() {
        return Ok(Known::default());
    }
    let text = fs_err::read_to_string(&path)?;
    serde_json::from_str(&text).with_context(|| format!("{}: move it away to begin anew", path.display()))
}

/// Keeps what a finished survey taught about its boards, for the next one. A survey is whole without what it teaches: trouble
/// with that is said, and no more.
pub fn learn_from(folder: &Path) {
    let kept = figures::read_quietly(folder, &Known::default()).and_then(|read| keep(&read.name, &read.estimates));
    if let Err(error) = kept {
        say(format!(
            "what this survey taught about its boards was not kept: {error:#}"
        ));
    }
}

/// Keeps what a survey taught about its boards.
///
/// # Errors
/// When the file cannot be read or written.
fn keep(survey: &str, estimates: &Estimates) -> anyhow::Result<()> {
    let mut known = load()?;
    let before = known.clone();
    for board in &estimates.boards {
        if let Some((side, need)) = board.taught() {
            known.learn(&board.name, side, survey, need);
        }
    }
    if known == before {
        return Ok(());
    }
    let at = home::learned()?;
    fs_err::create_dir_all(&at)?;
    folder::write_whole(&at.join(FILE), serde_json::to_string_pretty(&known)?.as_bytes())?;
    Ok(())
}

/// The name of a survey: that of its folder.
pub fn name_of(folder: &Path) -> String {
    let whole = folder.canonicalize().unwrap_or_else(|_| folder.to_owned());
    whole
        .file_name()
        .map_or_else(|| "survey".to_owned(), |name| name.to_string_lossy().into_owned())
}
