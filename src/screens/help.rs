//! The help page: every key and what it does, from the one table.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::keys::{BINDINGS, Place};
use super::paint::{below, columns, inset, panel, put, put_wrapped, wrap};
use super::theme::{Theme, Tone};

/// Columns of the keys' names.
const KEY_COLUMNS: u16 = 7;
/// Said below the keys.
const RESTS_ON: &str = "Delivered: its interval and \"proven\" allow for bursts of losses up to about 0.8 s.";

/// Draws it from a line on. `replay`: for a replay, else for a survey being made.
pub fn render(buffer: &mut Buffer, area: Rect, from: u16, replay: bool, theme: Theme) {
    let inside = inset(panel(buffer, area, "Keys", theme), 1);
    let here = if replay { Place::Replay } else { Place::Field };
    let lines = lines(inside.width, here);
    let height = usize::from(inside.height);
    let most = lines.len().saturating_sub(height);
    let from = usize::from(from).min(most);
    for (row, (name, line)) in lines.iter().skip(from).take(height).enumerate() {
        put(buffer, inside, (0, row as u16), name, theme.style(Tone::Key));
        put(buffer, inside, (KEY_COLUMNS, row as u16), line, theme.style(Tone::Text));
    }
    if from < most && area.height > 2 {
        let word = " ↓ more ";
        let x = area.width.saturating_sub(columns(word) + 2);
        put(buffer, area, (x, area.height - 1), word, theme.style(Tone::Strong));
    }
}

/// The furthest line it may be scrolled to, over an area.
pub fn furthest(area: Rect, replay: bool) -> u16 {
    let here = if replay { Place::Replay } else { Place::Field };
    let lines = lines(area.width.saturating_sub(4), here).len();
    (lines as u16).saturating_sub(area.height.saturating_sub(2))
}

/// Every line, with the key it begins with; below the keys, what figures rest on.
fn lines(width: u16, here: Place) -> Vec<(&'static str, String)> {
    let bindings = BINDINGS
        .iter()
        .filter(|binding| binding.place == here || binding.place == Place::Everywhere)
        .map(|binding| (binding.name, binding.sentence));
    bindings
        .chain(std::iter::once(("", RESTS_ON)))
        .flat_map(|(name, sentence)| {
            let wrapped = wrap(sentence, width.saturating_sub(KEY_COLUMNS))
                .into_iter()
                .enumerate();
            wrapped.map(move |(row, line)| (if row == 0 { name } else { "" }, line))
        })
        .collect()
}

/// Says in words that the screen is too small, as far as even that fits.
pub fn too_small(buffer: &mut Buffer, area: Rect, answer: &str, theme: Theme) {
    let style = theme.style(Tone::Strong);
    let taken = put_wrapped(buffer, area, 0, answer, area.height.min(3), style);
    let rest = below(area, taken + u16::from(area.height > taken + 4));
    let words = format!(
        "Too small for the instrument: {} × {} letters. It needs 36 × 16: make the letters smaller or the window larger. \
         The survey goes on.",
        area.width, area.height
    );
    put_wrapped(buffer, rest, 0, &words, rest.height, theme.style(Tone::Text));
}
