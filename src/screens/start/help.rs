//! The keys of these pages.

use super::keys::BINDINGS;
use super::page::{Line, Page};

/// The page, read from a line on.
pub fn page(from: usize) -> Page {
    let mut page = Page::titled("Keys");
    for (_, _, name, words) in BINDINGS {
        page.push(
            Line::Choice {
                label: name.to_owned(),
                value: words.to_owned(),
                tone: crate::screens::theme::Tone::Text,
            },
            false,
        );
    }
    page.push(Line::words("1 to 9 choose a line of the menu at once."), false);
    page.from = from.min(page.lines.len().saturating_sub(1));
    page.hint("Esc", "back");
    page.hint("↑ ↓", "more");
    page
}
