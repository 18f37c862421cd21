//! The page of several surveys together.
//!
//! ```text
//!  B against A, yew in both                                     1 of 2 pairs
//! ┌─ Map ──────────────────────────────────────────────────────────────────┐
//! │ Of 41 places, B is surely better at 7, A at 1; not told apart at 33.   │
//! │ ...                                                                    │
//! └────────────────────────────────────────────────────────────────────────┘
//!  v view    Tab other pair    c back    ? help    q close
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::{distance, lists, map};
use crate::findings::together::pair::Pair;
use crate::findings::together::say;
use crate::findings::together::whole::Together;
use crate::screens::help;
use crate::screens::paint::{below, columns, inset, panel, put, put_right, put_wrapped};
use crate::screens::pattern;
use crate::screens::polar::Plot;
use crate::screens::size::Size;
use crate::screens::theme::{Theme, Tone};
use crate::screens::turns;

/// What of a comparison fills the page.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum View {
    /// The shared map.
    #[default]
    Map,
    /// Place by place.
    Places,
    /// Point by point.
    Points,
    /// Level by distance of both.
    Distance,
    /// Polar plots of all surveys.
    Turns,
    /// What to keep in mind.
    Mind,
}

impl View {
    const ALL: [Self; 6] = [
        Self::Map,
        Self::Places,
        Self::Points,
        Self::Distance,
        Self::Turns,
        Self::Mind,
    ];

    /// The view after this one.
    pub fn next(self) -> Self {
        let index = Self::ALL.iter().position(|view| *view == self).unwrap_or(0);
        Self::ALL[(index + 1) % Self::ALL.len()]
    }

    const fn name(self) -> &'static str {
        match self {
            Self::Map => "Map of both",
            Self::Places => "Places both measured",
            Self::Points => "Points of both",
            Self::Distance => "Level by distance of both",
            Self::Turns => "Turns",
            Self::Mind => "To keep in mind",
        }
    }
}

/// What the person chose to see.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Look {
    /// The view.
    pub view: View,
    /// Which pair, by its place.
    pub pair: usize,
    /// The line a list begins with.
    pub line: usize,
    /// Polar plots in dBm instead of dB below the strongest.
    pub absolute: bool,
}

/// Draws the page; `None` while the comparison is being worked out. What lies below is drawn over. Says whether there is more
/// than fits.
pub fn render(buffer: &mut Buffer, area: Rect, found: Option<&Together>, look: Look, theme: Theme) -> bool {
    let area = area.intersection(buffer.area);
    for y in area.top()..area.bottom() {
        for x in area.left()..area.right() {
            if let Some(cell) = buffer.cell_mut((x, y)) {
                cell.reset();
            }
        }
    }
    buffer.set_style(area, theme.ground());
    let size = Size::of(area);
    if size == Size::TooSmall {
        help::too_small(buffer, area, "Surveys together.", theme);
        return false;
    }
    let text = theme.style(Tone::Text);
    let Some(found) = found else {
        put_wrapped(
            buffer,
            inset(below(area, 2), 2),
            0,
            "Working out what differs where …",
            3,
            text,
        );
        return false;
    };
    let pair = found.pairs.get(look.pair.min(found.pairs.len().saturating_sub(1)));
    let heading = pair.map_or_else(|| "Surveys together".to_owned(), say::who);
    let top = inset(area, 1);
    let used = put(buffer, top, (0, 0), &heading, theme.style(Tone::Strong));
    if found.pairs.len() > 1 {
        let which = format!(
            "{} of {} pairs",
            look.pair.min(found.pairs.len() - 1) + 1,
            found.pairs.len()
        );
        if used + 2 + columns(&which) <= top.width {
            put_right(buffer, top, 0, &which, text);
        }
    }
    let middle = Rect {
        y: area.y + 1,
        height: area.height - 2,
        ..area
    };
    let inside = panel(buffer, middle, look.view.name(), theme);
    let Some(pair) = pair else {
        let words = "Nothing to compare: two surveys with positions are needed.";
        put_wrapped(buffer, inset(inside, 1), 0, words, 3, text);
        return false;
    };
    view(buffer, inside, found, pair, look, size, theme)
}

fn view(
    buffer: &mut Buffer,
    inside: Rect,
    found: &Together,
    pair: &Pair,
    look: Look,
    size: Size,
    theme: Theme,
) -> bool {
    let answer = |buffer: &mut Buffer, most: u16| {
        // Where there is little room the averages stand with the places.
        let words = if size == Size::Pocket {
            say::verdict(pair)
        } else {
            say::answer(pair)
        };
        put_wrapped(buffer, inset(inside, 1), 0, &words, most, theme.style(Tone::Strong))
    };
    match look.view {
        View::Map => {
            let taken = answer(buffer, if size == Size::Pocket { 4 } else { 5 });
            map::render(buffer, below(inside, taken), pair, theme);
            false
        }
        View::Distance => {
            distance::render(buffer, inside, pair, theme);
            false
        }
        View::Turns => turns(buffer, inset(inside, 1), found, look, theme),
        View::Places => lists::render(buffer, inset(inside, 1), &lists::places(pair), look.line, theme),
        View::Points => lists::render(buffer, inset(inside, 1), &lists::points(pair), look.line, theme),
        View::Mind => lists::render(buffer, inset(inside, 1), &lists::mind(found, pair), look.line, theme),
    }
}

/// The sweeps of all surveys, the letter of each before its name; the chosen line turns up first.
fn turns(buffer: &mut Buffer, area: Rect, found: &Together, look: Look, theme: Theme) -> bool {
    let mut plots: Vec<Plot> = Vec::new();
    for shown in &found.surveys {
        for sweep in &shown.sweeps {
            let mut plot = Plot::of(pattern::pattern(sweep));
            plot.name = format!("{}: {}", shown.letter, plot.name);
            plots.push(plot);
        }
    }
    if plots.is_empty() {
        let words = "No sweep was made in any of these surveys.";
        put_wrapped(buffer, area, 1, words, 3, theme.style(Tone::Text));
        return false;
    }
    let look = turns::Look {
        line: look.line,
        overlays: plots.len() - 1,
        absolute: look.absolute,
        words: false,
    };
    turns::draw(buffer, area, &plots, look, theme) > 0
}
