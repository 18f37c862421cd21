//! What lies over the view: a line being written, the choice of a sweep or of what places assume, the question before the end.
//!
//! ```text
//! ┌ Sweep ──────────────────────────────┐
//! │ turns          ‹ 8 ›  and the first again
//! │ held           ‹ flat ›  or type a word
//! │ messages each  ‹ 40 ›               │
//! │ About 40 s a turn.                  │
//! └─────────────────────────────────────┘
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use tui_input::Input;

use super::assume_plan::AssumePlan;
use super::number::{clock, count, metres};
use super::paint::{below, columns, cut, inset, panel, put, put_wrapped};
use super::scene::Scene;
use super::sweep_plan::SweepPlan;
use super::theme::{Theme, Tone};
use super::timeline::Timeline;
use super::ui::{Over, Writing};

/// Draws what lies over a view.
pub fn render(buffer: &mut Buffer, area: Rect, over: &Over, scene: &Scene<'_>, theme: Theme) {
    match over {
        Over::Nothing => {}
        Over::Help(from) => super::help::render(buffer, area, *from, scene.around.timeline.is_some(), theme),
        Over::Ending => ending(buffer, area, scene, theme),
        Over::Writing(what, input) => writing(buffer, area, *what, input, scene, theme),
        Over::Naming(input, row) => naming(buffer, area, input, *row, scene, theme),
        Over::SweepChoice(plan, row) => sweep_choice(buffer, area, plan, *row, theme),
        Over::Assuming(plan, row) => assuming(buffer, area, plan, *row, theme),
        Over::Going(line) => going(buffer, area, scene, *line, theme),
    }
}

fn window(buffer: &mut Buffer, area: Rect, height: u16, title: &str, theme: Theme) -> Rect {
    let width = area.width.saturating_sub(2).min(62);
    let height = height.min(area.height);
    let place = Rect::new(
        area.x + (area.width - width) / 2,
        area.y + (area.height - height) / 2,
        width,
        height,
    );
    let place = place.intersection(buffer.area);
    for y in place.top()..place.bottom() {
        for x in place.left()..place.right() {
            if let Some(cell) = buffer.cell_mut((x, y)) {
                cell.reset();
                cell.set_style(theme.ground());
            }
        }
    }
    inset(panel(buffer, place, title, theme), 1)
}

fn ending(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let (title, words) = if scene.around.timeline.is_some() {
        ("Close the replay?", "Nothing is lost by that.".to_owned())
    } else {
        let exchanges = count(scene.now.exchanges as u64);
        let words = format!(
            "{exchanges} exchanges are kept. The tables are written, and the survey can be gone on with later."
        );
        ("Finish the survey?", words)
    };
    let inside = window(buffer, area, 8, title, theme);
    let taken = put_wrapped(buffer, inside, 0, &words, 4, theme.style(Tone::Text));
    let key = theme.style(Tone::Key);
    let at = below(inside, taken + 1);
    let x = put(buffer, at, (0, 0), "y", key);
    put(buffer, at, (x + 1, 0), "or q again: yes", theme.style(Tone::Text));
    put(buffer, at, (0, 1), "any other key: no", theme.style(Tone::Text));
}

/// The list of where a replay can go; the line chosen is always seen.
fn going(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, line: usize, theme: Theme) {
    let Some(timeline) = scene.around.timeline else { return };
    let marks = &timeline.marks;
    let wanted = u16::try_from(marks.len()).unwrap_or(u16::MAX).saturating_add(2);
    let inside = window(buffer, area, wanted.min(area.height).max(3), "Go to", theme);
    if marks.is_empty() {
        put(
            buffer,
            inside,
            (0, 0),
            "Nothing is marked in this survey.",
            theme.style(Tone::Text),
        );
        return;
    }
    let line = line.min(marks.len() - 1);
    let height = usize::from(inside.height).max(1);
    let from = (line + 1).saturating_sub(height);
    for (row, mark) in marks.iter().enumerate().skip(from).take(height) {
        let style = theme.style(if row == line { Tone::Chosen } else { Tone::Text });
        let words = format!("{} {}  {}", mark.what.sign(), clock(mark.at), mark.words);
        let room = usize::from(inside.width);
        let words = format!("{:<room$}", cut(&words, inside.width));
        put(buffer, inside, (0, (row - from) as u16), &words, style);
    }
}

fn writing(buffer: &mut Buffer, area: Rect, what: Writing, input: &Input, scene: &Scene<'_>, theme: Theme) {
    let stretch = scene.around.timeline.and_then(Timeline::stretch);
    let of_stretch = stretch.map(|(from, to)| format!("Leave out {} to {}: why?", clock(from), clock(to)));
    let (title, hint) = match what {
        Writing::Note => ("Note", "Kept with this place and time."),
        Writing::Board => (
            "Board in hand",
            "Its name. A board that says its own name is not changed by this.",
        ),
        Writing::Why => (
            of_stretch.as_deref().unwrap_or("Leave this run out: why?"),
            "It stays in the journal; the figures follow without it.",
        ),
    };
    let inside = window(buffer, area, 6, title, theme);
    field(buffer, inside, input, theme.style(Tone::Chosen));
    put_wrapped(buffer, below(inside, 2), 0, hint, 3, theme.style(Tone::Quiet));
}

/// The name of the point that begins: a line to write in, and the points measured before to choose from.
fn naming(buffer: &mut Buffer, area: Rect, input: &Input, row: Option<usize>, scene: &Scene<'_>, theme: Theme) {
    let names = scene.names();
    let shown = names.len().min(6) as u16;
    let inside = window(buffer, area, 5 + shown, "Measure a point here", theme);
    field(buffer, inside, input, theme.style(Tone::Chosen));
    let name = input.value().trim();
    let elsewhere = scene.far_off(name).map(|away| another_place(name, away, scene));
    let tone = if elsewhere.is_some() { Tone::Close } else { Tone::Text };
    let hint = elsewhere.unwrap_or_else(|| match (&scene.stop, names.is_empty()) {
        (Some(stop), _) => format!("Its name. {} keeps what it has.", stop.name),
        (None, true) => "Its name; left empty, it gets the next number.".to_owned(),
        (None, false) => "Its name; empty: the next number. Or choose one measured before:".to_owned(),
    });
    let taken = 1 + put_wrapped(buffer, below(inside, 1), 0, &hint, 2, theme.style(tone));
    let first = row.map_or(0, |row| (row + 1).saturating_sub(usize::from(shown)));
    for (line, name) in names.iter().enumerate().skip(first).take(usize::from(shown)) {
        let y = taken + (line - first) as u16;
        let pointer = if row == Some(line) { "▸ " } else { "  " };
        let x = put(buffer, inside, (0, y), pointer, theme.style(Tone::Strong));
        put(buffer, inside, (x, y), name, theme.style(Tone::Text));
    }
}

/// That a name stands for a place far from here already.
fn another_place(name: &str, away_m: f64, scene: &Scene<'_>) -> String {
    let free = scene
        .next_name
        .as_ref()
        .map_or_else(String::new, |free| format!(" {free} is free."));
    format!("{} is {} away: another place.{free}", cut(name, 12), metres(away_m))
}

/// The line being written, moved so that the cursor is always seen.
fn field(buffer: &mut Buffer, area: Rect, input: &Input, style: Style) {
    if area.is_empty() {
        return;
    }
    let width = area.width.saturating_sub(1);
    let from = input.visual_scroll(usize::from(width));
    let mut skipped = 0;
    let shown: String = input
        .value()
        .chars()
        .skip_while(|letter| {
            let before = skipped;
            skipped += usize::from(columns(letter.encode_utf8(&mut [0; 4])));
            before < from
        })
        .collect();
    put(buffer, area, (0, 0), &" ".repeat(usize::from(area.width)), style);
    buffer.set_stringn(area.x, area.y, &shown, usize::from(width), style);
    let cursor = area.x + (input.visual_cursor().max(from) - from).min(usize::from(width)) as u16;
    if let Some(cell) = buffer.cell_mut((cursor, area.y)) {
        cell.set_style(
            Style::new().add_modifier(ratatui::style::Modifier::REVERSED | ratatui::style::Modifier::UNDERLINED),
        );
    }
}

fn sweep_choice(buffer: &mut Buffer, area: Rect, plan: &SweepPlan, row: usize, theme: Theme) {
    let inside = window(buffer, area, 10, "Sweep: turn the board here", theme);
    let rows = [
        ("turns", plan.steps().to_string(), "the first one again at the end"),
        ("held", plan.pose().to_owned(), "or type a word"),
        ("messages a turn", plan.messages().to_string(), ""),
    ];
    choices(buffer, inside, &rows, row, theme);
    let words = "Fix a mark on the board. Turn it each time as the screen says, hold it still, press Space: the bell rings when \
                 the turn is counted.";
    put_wrapped(buffer, below(inside, 4), 0, words, 4, theme.style(Tone::Text));
}

fn assuming(buffer: &mut Buffer, area: Rect, plan: &AssumePlan, row: usize, theme: Theme) {
    let inside = window(buffer, area, 11, "Places: what is assumed", theme);
    choices(buffer, inside, &plan.rows(), row, theme);
    let words = "← → change, Space takes it. Each is an assumption and is named as one wherever the places are shown; what was \
                 walked stays as it is.";
    put_wrapped(buffer, below(inside, 4), 0, words, 5, theme.style(Tone::Text));
}

/// Rows to choose from: a name, what is chosen, and a word beside it where there is room.
fn choices(buffer: &mut Buffer, inside: Rect, rows: &[(&str, String, &str)], row: usize, theme: Theme) {
    for (index, (label, value, hint)) in rows.iter().enumerate() {
        let y = index as u16;
        let chosen = index == row;
        let pointer = if chosen { "▸" } else { " " };
        put(buffer, inside, (0, y), pointer, theme.style(Tone::Strong));
        put(buffer, inside, (2, y), label, theme.style(Tone::Text));
        let value = format!("‹ {value} ›");
        let tone = if chosen { Tone::Chosen } else { Tone::Strong };
        let x = 19 + put(buffer, inside, (19, y), &value, theme.style(tone));
        if x + 2 + columns(hint) <= inside.width {
            put(buffer, inside, (x + 2, y), hint, theme.style(Tone::Quiet));
        }
    }
}
