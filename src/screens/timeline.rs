//! The time line of a replay: where it stands, how fast it runs, what happened when.
//!
//! ```text
//!  ▶ ×20   00:12:41 of 00:31:05   P3 (run 14)
//!  ├──────◆───────▲────█────────────◇───◆───────────┤
//!  ◆ point  ◇ sweep  ▲ note  ┬ walk  █ here  ░ left out  [ a stretch begins
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::number::clock;
use super::paint::{columns, put, put_pieces, put_right};
use super::theme::{Theme, Tone};
use crate::units::Elapsed;

/// What a replay's time line shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline {
    /// Where it stands.
    pub at: Elapsed,
    /// Its end.
    pub end: Elapsed,
    /// How many times faster than life.
    pub speed: f64,
    /// Whether it runs.
    pub playing: bool,
    /// What happened when.
    pub marks: Vec<Mark>,
    /// What is at its place: the run and what was going on.
    pub here: String,
    /// What is at its place, in a word or two.
    pub here_in_short: String,
    /// Whether the run at its place is left out.
    pub left_out: bool,
    /// Where a stretch to be left out was begun.
    pub stretch_from: Option<Elapsed>,
    /// Stretches left out.
    pub out: Vec<(Elapsed, Elapsed)>,
}

impl Timeline {
    /// The stretch from where it was begun to its place, the earlier end first.
    pub fn stretch(&self) -> Option<(Elapsed, Elapsed)> {
        let from = self.stretch_from?;
        Some((from.min(self.at), from.max(self.at)))
    }
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// When.
    pub at: Elapsed,
    /// What.
    pub what: What,
    /// In words.
    pub words: String,
}

/// What kind of thing happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// A run began.
    Run,
    /// A point began.
    Point,
    /// A sweep began.
    Sweep,
    /// A note was made.
    Note,
}

impl What {
    /// Its sign on the time line.
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Run => "┬",
            Self::Point => "◆",
            Self::Sweep => "◇",
            Self::Note => "▲",
        }
    }
}

/// Lines it takes.
pub const HEIGHT: u16 = 2;

/// Draws it.
pub fn render(buffer: &mut Buffer, area: Rect, line: &Timeline, theme: Theme) {
    if area.width < 8 || area.height == 0 {
        return;
    }
    let state = if line.playing { "▶" } else { "‖" };
    let speed = format!("{state} ×{:.0}  ", line.speed);
    let whole = format!("{} of {}", clock(line.at), clock(line.end));
    let out = if line.left_out { ", left out" } else { "" };
    let (here, in_short) = (format!("{}{out}", line.here), format!("{}{out}", line.here_in_short));
    // Where all does not fit, the end gives way first: what is here, and whether it counts, must be seen.
    let fits = |times: &str, here: &str| columns(&speed) + columns(times) + columns(here) + 2 <= area.width;
    let (times, here) = if fits(&whole, &here) {
        (whole, here)
    } else if fits(&clock(line.at), &here) {
        (clock(line.at), here)
    } else {
        (clock(line.at), in_short)
    };
    let taken = put_pieces(
        buffer,
        area,
        (0, 0),
        &[(&speed, Tone::Strong), (&times, Tone::Text)],
        theme,
    );
    if taken + columns(&here) + 2 <= area.width {
        put_right(buffer, area, 0, &here, theme.style(Tone::Text));
    }
    let width = area.width;
    let across = format!("├{}┤", "─".repeat(usize::from(width.saturating_sub(2))));
    put(buffer, area, (0, 1), &across, theme.style(Tone::Quiet));
    let end = line.end.seconds().max(1e-6);
    let column = |at: Elapsed| {
        (at.seconds() / end * f64::from(width - 1))
            .round()
            .clamp(0.0, f64::from(width - 1)) as u16
    };
    for (from, to) in &line.out {
        for x in column(*from)..=column(*to) {
            put(buffer, area, (x, 1), "░", theme.style(Tone::Text));
        }
    }
    let order = [What::Run, What::Note, What::Sweep, What::Point];
    for what in order {
        for mark in line.marks.iter().filter(|mark| mark.what == what) {
            put(buffer, area, (column(mark.at), 1), what.sign(), theme.style(Tone::Text));
        }
    }
    if let Some((from, to)) = line.stretch() {
        for x in column(from)..=column(to) {
            put(buffer, area, (x, 1), "▒", theme.style(Tone::Strong));
        }
        let begun = line.stretch_from.unwrap_or(from);
        put(buffer, area, (column(begun), 1), "[", theme.style(Tone::Strong));
    }
    put(buffer, area, (column(line.at), 1), "█", theme.style(Tone::Strong));
}
