//! The sweeps of a survey: the polar plot of one, others laid over it, and beside or below it what it says.
//!
//! ```text
//!              ▲ station                 ● fern S1, flat                     1/3 ↓
//!           ⢀⡠⠤●⠤⢄⡀                      Directional, more than noise would show …
//!         ⡠●   ⠒    ●⢄                   Strongest with the mark at 52° ± 14°, 52° right …
//!        ⢰ ⠈⢆        ⠌⡆                  Deepest null 12 dB (9 to 15) below it …
//! ```
//!
//! What does not fit comes page by page with ↓, and after the last page of a sweep the next sweep.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::number::{dbm, whole};
use super::paint::{columns, cut, inset, put, put_right, put_wrapped, wrap};
use super::pattern::{self, Bar, Pattern};
use super::polar::{self, AT_MOST, LOOKS, LOSSY, NOW, Plot};
use super::scene::Scene;
use super::theme::{Theme, Tone};
use super::ui::Ui;
use crate::findings::turning::Step;

/// Columns the words need to stand beside the plot.
const BESIDE: u16 = 30;
/// Lines for the words below a plot, at least and at most.
const BELOW: (u16, u16) = (4, 8);

/// Said until the first figures of a sweep have come.
pub const NOT_YET: &str = "What it shows is not reckoned yet.";

/// Draws it, and says which line is the furthest one can go to. `words`: whether what the sweep says is to be read here,
/// and not beside it.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, ui: &Ui, words: bool) -> usize {
    let theme = ui.theme;
    let plots = plots(scene);
    if plots.is_empty() {
        let words = if scene.doing.is_replay() {
            "No sweep had been made yet."
        } else {
            "No sweep has been made yet. Press s where the link is neither perfect nor gone, and turn the board."
        };
        put_wrapped(buffer, inset(area, 1), 1, words, 4, theme.style(Tone::Text));
        return 0;
    }
    let look = Look {
        line: ui.line,
        overlays: ui.overlays,
        absolute: ui.absolute,
        words,
    };
    draw(buffer, area, &plots, look, theme)
}

/// What of some plots is to be seen.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// Which page of them.
    pub line: usize,
    /// How many are laid over the first one shown.
    pub overlays: usize,
    /// In dBm, not in dB below the strongest.
    pub absolute: bool,
    /// Whether what a sweep says is to be read here.
    pub words: bool,
}

/// Draws plots, of which there must be one, and says which line is the furthest one can go to.
pub fn draw(buffer: &mut Buffer, area: Rect, plots: &[Plot], look: Look, theme: Theme) -> usize {
    let (round, text) = places(area, look.words);
    let overlays = look.overlays.min(plots.len() - 1).min(LOOKS.len() - 1);
    let window = text.height.saturating_sub(1 + overlays as u16).max(1);
    let leaves: Vec<(usize, Vec<String>)> = (0..plots.len())
        .flat_map(|first| {
            let words = text_of(&shown(plots, first, overlays), look.absolute, look.words);
            let lines: Vec<String> = words.iter().flat_map(|words| wrap(words, text.width)).collect();
            lines
                .chunks(usize::from(window))
                .map(|chunk| (first, chunk.to_vec()))
                .collect::<Vec<_>>()
        })
        .collect();
    let furthest = leaves.len() - 1;
    let line = look.line.min(furthest);
    let (first, lines) = &leaves[line];
    let shown = shown(plots, *first, overlays);
    polar::render(buffer, round, &shown, look.absolute, theme);
    let turned = if furthest == 0 {
        String::new()
    } else {
        let arrow = match line {
            0 => "↓",
            line if line == furthest => "↑",
            _ => "↑ ↓",
        };
        format!("{}/{} {arrow}", line + 1, furthest + 1)
    };
    legend(buffer, text, &shown, &turned, theme);
    for (row, line) in lines.iter().enumerate() {
        let y = (1 + overlays + row) as u16;
        put(buffer, text, (0, y), line, theme.style(Tone::Text));
    }
    furthest
}

/// Where the plot stands, and where the words: beside it where there is room, else below.
fn places(area: Rect, words: bool) -> (Rect, Rect) {
    let area = inset(area, 1);
    let across = polar::width_of(area.height).min(area.width);
    if area.width >= across + 2 + BESIDE {
        let round = Rect { width: across, ..area };
        let text = Rect {
            x: area.x + across + 2,
            width: area.width - across - 2,
            ..area
        };
        return (round, text);
    }
    let below = if words { area.height * 2 / 5 } else { 0 };
    let below = below.clamp(BELOW.0, BELOW.1).min(area.height);
    let round = Rect {
        height: area.height - below,
        ..area
    };
    let text = Rect {
        y: area.y + round.height,
        height: below,
        ..area
    };
    (round, text)
}

/// The plot chosen with those laid over it.
fn shown(plots: &[Plot], first: usize, overlays: usize) -> Vec<Plot> {
    plots.iter().cycle().skip(first).take(1 + overlays).cloned().collect()
}

/// A line for each plot shown: its sign and name, and where several are shown its strongest step.
fn legend(buffer: &mut Buffer, area: Rect, shown: &[Plot], turned: &str, theme: Theme) {
    for (row, (plot, (sign, tone, _))) in shown.iter().zip(LOOKS).enumerate() {
        let y = row as u16;
        let strongest = plot.strongest().filter(|_| shown.len() > 1);
        let mut right: Vec<String> = Vec::new();
        right.extend(strongest.map(|level| dbm(Some(level))));
        let taken = columns(&plot.name) + columns(turned);
        let rings = format!("{} dB a ring", whole(polar::ring_db(shown)));
        if shown.len() == 1 && taken + columns(&rings) + 8 <= area.width {
            right.push(rings);
        }
        if row == 0 && !turned.is_empty() {
            right.push(turned.to_owned());
        }
        let right = right.join("  ");
        let room = area.width.saturating_sub(columns(&right) + 3);
        put(buffer, area, (0, y), sign, theme.style(tone));
        put(buffer, area, (2, y), &cut(&plot.name, room), theme.style(Tone::Strong));
        let line = Rect { height: 1, ..area };
        if y < area.height {
            put_right(
                buffer,
                Rect { y: area.y + y, ..line },
                0,
                &right,
                theme.style(Tone::Quiet),
            );
        }
    }
}

/// What is said below or beside the plot, the most important first.
fn text_of(shown: &[Plot], absolute: bool, told_here: bool) -> Vec<String> {
    let mut words = Vec::new();
    if shown.len() > 1 {
        for (index, plot) in shown.iter().enumerate() {
            for (other, how) in &plot.against {
                if shown
                    .iter()
                    .enumerate()
                    .any(|(at, one)| at != index && one.name == *other)
                {
                    words.push(format!("{} against {other}: {how}.", plot.name));
                }
            }
        }
    }
    if let Some(first) = shown.first().filter(|_| told_here) {
        words.extend(first.words.iter().cloned());
        if first.words.is_empty() {
            words.push(NOT_YET.to_owned());
        }
    }
    words.push(key(shown, absolute));
    words
}

/// What rings, bars and signs mean, as far as they are to be seen.
fn key(shown: &[Plot], absolute: bool) -> String {
    let strongest = shown.iter().filter_map(Plot::strongest).max_by(f64::total_cmp);
    let step = whole(polar::ring_db(shown));
    let rings = match (absolute, strongest) {
        (true, Some(level)) => format!("Rings every {step} dB, the outermost at {} dBm.", whole(level)),
        (false, Some(level)) => format!("Rings every {step} dB below the strongest, {} dBm.", whole(level)),
        (_, None) => format!("Rings every {step} dB."),
    };
    let mut key = vec![rings];
    let marks = || shown.iter().flat_map(|plot| &plot.marks);
    if shown.len() > 1 {
        key.push("With one plot alone (o) each step has its interval.".to_owned());
    } else if marks().any(|mark| matches!(mark.bar, Some(Bar::Between { .. }))) {
        key.push("Bars: a step's 95 % interval.".to_owned());
    }
    let seen = |sign| marks().any(|mark| mark.pings > 0 && polar::sign(mark, ("", Tone::Text)).0 == sign);
    for (sign, meaning) in [
        (LOSSY, "more than a quarter lost"),
        (AT_MOST, "nothing heard, at most this"),
        (NOW, "being counted"),
    ] {
        if seen(sign) {
            key.push(format!("{sign} {meaning}."));
        }
    }
    key.join(" ")
}

/// The sweeps, the one that is going on first, then the latest.
fn plots(scene: &Scene<'_>) -> Vec<Plot> {
    let known = scene.around.outlook.map_or(&[][..], |outlook| &outlook.patterns);
    let mut sweeps: Vec<(String, Vec<Step>)> = Vec::new();
    for row in scene.points.iter().filter(|row| row.activity == "sweep") {
        let Some(turn) = row.turn else { continue };
        let name = pattern::name(&row.board, &row.point, row.pose.as_deref());
        let step = Step {
            turn,
            pings: row.messages,
            echoes: row.delivered,
            here_dbm: row.here_dbm,
            there_dbm: row.there_dbm,
        };
        match sweeps.iter_mut().find(|(known, _)| *known == name) {
            Some((_, steps)) => steps.push(step),
            None => sweeps.push((name, vec![step])),
        }
    }
    sweeps.reverse();
    let mut counting = false;
    // The sweep that is going on is drawn to the last message, though the table follows a little later.
    if let (Some(turning), Some((board, _))) = (&scene.turning, &scene.now.board) {
        let name = pattern::name(board, &turning.name, turning.pose.as_deref());
        sweeps.retain(|(known, _)| *known != name);
        sweeps.insert(0, (name, turning.done.clone()));
        counting = turning.counting.is_some();
    }
    let with_figures = |(index, (name, steps)): (usize, (String, Vec<Step>))| {
        let known = known.iter().rev().find(|pattern| pattern.name == name);
        let marks = pattern::marks(&steps, known, counting && index == 0);
        let over = index == 0 && scene.turning.as_ref().is_some_and(|turning| turning.next.is_none());
        let lags = over && !counting && known.is_some_and(|known| !known.holds(&steps));
        let Pattern {
            curve,
            band,
            mut words,
            against,
            ..
        } = known.cloned().unwrap_or_default();
        if lags {
            words.clear();
        }
        Plot {
            name,
            marks,
            curve,
            band,
            words,
            against,
        }
    };
    sweeps.into_iter().enumerate().map(with_figures).collect()
}
