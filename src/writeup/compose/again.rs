//! What is needed to make it again: version, inputs with their hashes, command.

use std::fmt::Write as _;

use super::whole::title;
use crate::findings::words;
use crate::writeup::document::{Block, ReadTable, Section};
use crate::writeup::subject::{Making, Subject};

/// The section.
pub fn section(subjects: &[Subject], making: &Making) -> Section {
    let privacy = making.privacy;
    let mut rows = Vec::new();
    let mut folders = Vec::new();
    for (index, subject) in subjects.iter().enumerate() {
        let folder = if privacy.words || subject.folder.is_empty() {
            format!("SURVEY{}", index + 1)
        } else {
            subject.folder.clone()
        };
        for input in &subject.inputs {
            // A set-up is short and mostly known: its hash would let a guessed position be tested.
            let hidden = privacy.positions && input.name == "survey.toml";
            rows.push(vec![
                if privacy.words {
                    title(subject, index)
                } else {
                    folder.clone()
                },
                input.name.clone(),
                words::count(input.bytes),
                if hidden {
                    "left out: it could confirm a guessed position".to_owned()
                } else {
                    input.sha256.clone()
                },
            ]);
        }
        folders.push(quoted(&folder));
    }
    let flags = match (privacy.positions, privacy.words) {
        (_, true) => " --private --no-words",
        (true, false) => " --private",
        (false, false) => "",
    };
    let mut flags = flags.to_owned();
    if let Some(board) = &making.assumed.board {
        let _ = write!(flags, " --board {}", quoted(board));
    }
    if let Some(mounted) = making.assumed.mounted {
        let _ = write!(flags, " --mounted {}", mounted.0);
    }
    if let Some(leaves) = making.assumed.leaves {
        let _ = write!(flags, " --leaves {}", leaves.0);
    }
    Section {
        id: "again".to_owned(),
        title: "To make it again".to_owned(),
        sub: false,
        blocks: vec![
            Block::Text(format!(
                "Version {} of farpace makes the same files, byte for byte, from the same inputs, wherever the folders lie (farpace --version says which one is there):",
                making.version
            )),
            Block::Command(format!("farpace report {} --out REPORT{flags}", folders.join(" "))),
            Block::Table(ReadTable {
                caption: "Inputs.".to_owned(),
                head: [("survey", false), ("file", false), ("bytes", true), ("SHA-256", false)]
                    .map(|(name, numeric)| (name.to_owned(), numeric))
                    .to_vec(),
                rows,
            }),
            Block::Text(
                "What a board needs is learned from these surveys alone; where several are given, each also learns from the others.".to_owned(),
            ),
        ],
    }
}

/// A folder's name as a shell takes it.
fn quoted(name: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_.,/+".contains(c);
    if !name.is_empty() && !name.starts_with('-') && name.chars().all(plain) {
        name.to_owned()
    } else {
        format!("'{}'", name.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_are_quoted_where_a_shell_would_obey_them() {
        assert_eq!(quoted("2026-05-02-1941-orchard"), "2026-05-02-1941-orchard");
        assert_eq!(quoted("$(x) 'y'"), "'$(x) '\\''y'\\'''");
        assert_eq!(quoted("-x"), "'-x'");
    }
}
