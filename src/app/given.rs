//! What the command line gives that can only be told wrong by looking at what it names.

use std::path::{Path, PathBuf};

use super::run::wrong_usage;
use crate::findings::assumptions::Wanted;

/// Refuses a survey given twice: compared with itself it would pass for two that agree.
///
/// # Errors
/// As wrong usage, where two of the folders are one.
pub fn once(folders: &[PathBuf]) -> anyhow::Result<()> {
    let whole = |folder: &Path| folder.canonicalize().unwrap_or_else(|_| folder.to_owned());
    for (index, folder) in folders.iter().enumerate() {
        if folders[..index].iter().any(|before| whole(before) == whole(folder)) {
            return Err(wrong_usage(anyhow::anyhow!(
                "{} is given twice: a survey is not compared with itself",
                folder.display()
            )));
        }
    }
    Ok(())
}

/// Refuses a board that is in none of the surveys.
///
/// # Errors
/// As wrong usage, with the boards there are.
pub fn known_board(wanted: &Wanted, boards: &[&str]) -> anyhow::Result<()> {
    let Some(board) = wanted.board.as_deref().filter(|board| !boards.contains(board)) else {
        return Ok(());
    };
    let mut names: Vec<&str> = Vec::new();
    for name in boards {
        if !names.contains(name) {
            names.push(name);
        }
    }
    let there = if names.is_empty() {
        "no board was heard".to_owned()
    } else {
        format!("there are {}", names.join(", "))
    };
    Err(wrong_usage(anyhow::anyhow!("--board {board}: no such board, {there}")))
}
