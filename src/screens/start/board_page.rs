//! A board known beforehand: its name, whether it is the reference, its power, a note.
//!
//! ```text
//!  Board
//!
//!  ▸ Name          fern
//!      As its hello lines say it.
//!    Reference     no
//!    Power         15 dBm
//! ```

use tui_input::Input;

use super::page::{Line, Page};
use super::setup_rows::short;
use super::typed;
use crate::screens::theme::Tone;
use crate::survey::setup::BoardNote;
use crate::units::Dbm;

/// A line of a board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BoardRow {
    /// Its name.
    Name,
    /// Whether the others are compared with it.
    Reference,
    /// How high it is carried.
    Height,
    /// Transmit power.
    Power,
    /// Aerial, feed, anything that tells it apart.
    Note,
    /// Take it off the list.
    Remove,
}

/// All lines, in order.
pub const ROWS: [BoardRow; 6] = [
    BoardRow::Name,
    BoardRow::Reference,
    BoardRow::Height,
    BoardRow::Power,
    BoardRow::Note,
    BoardRow::Remove,
];

impl BoardRow {
    fn label(self) -> &'static str {
        match self {
            Self::Name => "Name",
            Self::Reference => "Reference",
            Self::Height => "Carried at",
            Self::Power => "Power",
            Self::Note => "Note",
            Self::Remove => "Remove this board",
        }
    }

    fn explanation(self) -> &'static str {
        match self {
            Self::Name => "As its hello lines say it.",
            Self::Reference => "The other boards are compared with the reference board. Enter changes it.",
            Self::Height => "Metres above the ground.",
            Self::Power => "What it transmits with, dBm; its hello lines may say it themselves.",
            Self::Note => "Aerial, feed, anything that tells it apart.",
            Self::Remove => "From this list only.",
        }
    }

    fn value(self, board: &BoardNote) -> String {
        let text = match self {
            Self::Name => Some(board.name.clone()),
            Self::Reference => Some(if board.reference { "yes" } else { "no" }.to_owned()),
            Self::Height => board.height.map(|height| format!("{} m", short(height.0))),
            Self::Power => board.tx.map(|tx| format!("{} dBm", short(tx.0))),
            Self::Note => board.note.clone(),
            Self::Remove => return String::new(),
        };
        text.filter(|text| !text.is_empty()).unwrap_or_else(|| "–".to_owned())
    }

    /// What a line being written begins with; `None` where nothing is written.
    pub fn text(self, board: &BoardNote) -> Option<String> {
        match self {
            Self::Name => Some(board.name.clone()),
            Self::Height => Some(board.height.map(|height| short(height.0)).unwrap_or_default()),
            Self::Power => Some(board.tx.map(|tx| short(tx.0)).unwrap_or_default()),
            Self::Note => Some(board.note.clone().unwrap_or_default()),
            Self::Reference | Self::Remove => None,
        }
    }

    /// Takes what was written.
    ///
    /// # Errors
    /// In words, where it cannot be used.
    pub fn take(self, board: &mut BoardNote, text: &str) -> Result<(), String> {
        let trimmed = text.trim();
        match self {
            Self::Name => trimmed.clone_into(&mut board.name),
            Self::Height => board.height = typed::metres(text, -100.0, 10_000.0)?,
            Self::Power if trimmed.is_empty() => board.tx = None,
            Self::Power => board.tx = Some(Dbm(typed::decibels(text, -200.0, 200.0)?)),
            Self::Note => board.note = (!trimmed.is_empty()).then(|| trimmed.to_owned()),
            Self::Reference | Self::Remove => {}
        }
        Ok(())
    }
}

/// The page.
pub fn page(board: &BoardNote, chosen: usize, writing: Option<&Input>, wrong: Option<&str>) -> Page {
    let mut page = Page::titled("Board");
    for (index, row) in ROWS.into_iter().enumerate() {
        let is_chosen = index == chosen;
        let line = match writing {
            Some(input) if is_chosen => Line::Writing {
                label: row.label().to_owned(),
                input: input.clone(),
            },
            _ => Line::choice(row.label(), row.value(board)),
        };
        page.push(line, is_chosen);
        if is_chosen {
            match wrong {
                Some(wrong) => page.push(Line::Under(format!("✗ {wrong}"), Tone::Bad), false),
                None => page.push(Line::under(row.explanation()), false),
            }
        }
    }
    if writing.is_some() {
        page.hint("Enter", "done");
        page.hint("Esc", "as it was");
    } else {
        page.hint("Space", "done");
        page.hint("Enter", "change");
        page.hint("↑ ↓", "choose");
        page.hint("Esc", "back");
    }
    page
}
