//! A page of words: a title, lines one of which may be chosen, and the bottom line.
//!
//! ```text
//!  Begin a survey                                    farpace
//!
//!  ▸ Node       serial:/dev/ttyACM0
//!               It is heard to say: node, fern boot 7.
//!    GPS        gpsd:127.0.0.1:2947
//!                                                     ↓ more
//!  Space begin    Enter change    ↑ ↓ choose    Esc back
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use tui_input::Input;

use crate::screens::paint::{below, columns, cut, inset, panel, put, put_right, wrap};
use crate::screens::size::Size;
use crate::screens::theme::{Theme, Tone};

/// A line of a page, wrapped to the width there is when it is drawn.
#[derive(Clone, Debug)]
pub enum Line {
    /// An empty line.
    Gap,
    /// A heading of what follows.
    Heading(String),
    /// Words.
    Words(String, Tone),
    /// Something that can be chosen: its label, what it is now.
    Choice {
        /// Its name.
        label: String,
        /// What it is now; empty where the label says it all.
        value: String,
        /// How the value looks.
        tone: Tone,
    },
    /// A line being written.
    Writing {
        /// Its name.
        label: String,
        /// What stands there so far.
        input: Input,
    },
    /// Words that belong to the line above, set in.
    Under(String, Tone),
    /// A part of its own: beside the rest where there is room for two columns, else here, set in under its title.
    Beside(String, Vec<Self>),
    /// A part that is seen only where there is room for two columns: nothing that is not to be found elsewhere.
    OnlyBeside(String, Vec<Self>),
}

impl Line {
    /// A line that can be chosen.
    pub fn choice(label: impl Into<String>, value: impl Into<String>) -> Self {
        Self::Choice {
            label: label.into(),
            value: value.into(),
            tone: Tone::Strong,
        }
    }

    /// Words that belong to the line above.
    pub fn under(words: impl Into<String>) -> Self {
        Self::Under(words.into(), Tone::Text)
    }

    /// Words.
    pub fn words(words: impl Into<String>) -> Self {
        Self::Words(words.into(), Tone::Text)
    }
}

/// A page.
#[derive(Clone, Debug, Default)]
pub struct Page {
    /// What it is.
    pub title: String,
    /// What it shows.
    pub lines: Vec<Line>,
    /// Which line is chosen.
    pub chosen: Option<usize>,
    /// A line from which on reading begins, where nothing is chosen.
    pub from: usize,
    /// Something that has just become so, above the bottom line.
    pub word: Option<String>,
    /// Keys and what they do now, the main one first.
    pub hints: Vec<(&'static str, String)>,
}

impl Page {
    /// A page with a title.
    pub fn titled(title: impl Into<String>) -> Self {
        Self {
            title: title.into(),
            ..Self::default()
        }
    }

    /// Adds a line, and makes it the chosen one where `chosen`.
    pub fn push(&mut self, line: Line, chosen: bool) {
        if chosen {
            self.chosen = Some(self.lines.len());
        }
        self.lines.push(line);
    }

    /// Adds a part of its own, beside the rest where there is room.
    pub fn beside(&mut self, title: impl Into<String>, lines: Vec<Line>) {
        self.lines.push(Line::Beside(title.into(), lines));
    }

    /// Adds a key and what it does.
    pub fn hint(&mut self, key: &'static str, word: impl Into<String>) {
        self.hints.push((key, word.into()));
    }
}

/// A line as it is drawn.
struct Row {
    pieces: Vec<(u16, String, Style)>,
    of: usize,
}

/// Draws a page.
pub fn render(buffer: &mut Buffer, area: Rect, page: &Page, theme: Theme) {
    let area = area.intersection(buffer.area);
    buffer.set_style(area, theme.ground());
    let size = Size::of(area);
    if size == Size::TooSmall {
        let words = format!(
            "{}. Too small to set up a survey here: {} × {} letters. It needs 36 × 16: make the letters smaller or the \
             window larger.",
            page.title, area.width, area.height
        );
        for (y, line) in wrap(&words, area.width).iter().enumerate() {
            put(
                buffer,
                area,
                (0, y.min(usize::from(u16::MAX)) as u16),
                line,
                theme.style(Tone::Text),
            );
        }
        return;
    }
    let parts = parts_beside(page);
    let two_columns = size == Size::Wide && !parts.is_empty();
    // A text as wide as a big window is hard to read.
    let width = area.width.saturating_sub(2).min(if two_columns { 160 } else { 100 });
    let inside = Rect {
        x: area.x + 1,
        width,
        ..area
    };
    put(buffer, inside, (0, 0), &page.title, theme.style(Tone::Strong));
    if columns(&page.title) + 12 <= width {
        put_right(buffer, inside, 0, "farpace", theme.style(Tone::Quiet));
    }
    let word = page.word.as_deref().map(|word| wrap(word, width)).unwrap_or_default();
    let word = &word[..word.len().min(4)];
    let body = Rect {
        y: inside.y + 2,
        height: inside.height.saturating_sub(3 + word.len() as u16),
        ..inside
    };
    let mut left = body;
    if two_columns {
        left.width = (body.width * 9 / 20).max(56);
        let right = Rect {
            x: left.right() + 2,
            width: body.width - left.width - 2,
            ..body
        };
        draw_beside(buffer, right, &parts, theme);
    }
    draw_body(buffer, left, page, size, two_columns, theme);
    for (index, line) in word.iter().enumerate() {
        put(
            buffer,
            inside,
            (0, inside.height - 1 - (word.len() - index) as u16),
            line,
            theme.style(Tone::Strong),
        );
    }
    draw_hints(
        buffer,
        Rect {
            y: inside.y + inside.height - 1,
            height: 1,
            ..inside
        },
        page,
        theme,
    );
}

fn parts_beside(page: &Page) -> Vec<(&str, &[Line])> {
    page.lines
        .iter()
        .filter_map(|line| match line {
            Line::Beside(title, lines) | Line::OnlyBeside(title, lines) => Some((title.as_str(), lines.as_slice())),
            _ => None,
        })
        .collect()
}

/// The parts one under the other, each in a frame as high as its words; the last gets what is left, and is cut there.
fn draw_beside(buffer: &mut Buffer, area: Rect, parts: &[(&str, &[Line])], theme: Theme) {
    let mut rest = area;
    for (title, lines) in parts {
        let width = rest.width.saturating_sub(4);
        let mut rows: Vec<Row> = Vec::new();
        for line in *lines {
            // In a frame of its own nothing is set in, but what hangs on a line that is.
            let line = match line {
                Line::Under(text, tone) if lines.iter().all(|line| matches!(line, Line::Under(..))) => {
                    Line::Words(text.clone(), *tone)
                }
                other => other.clone(),
            };
            rows.extend(rows_of(&line, 0, false, 0, width, false, theme));
        }
        let height = (rows.len() as u16 + 2).min(rest.height);
        if height < 3 {
            return;
        }
        let inside = inset(panel(buffer, Rect { height, ..rest }, title, theme), 1);
        let fits = usize::from(inside.height);
        for (y, row) in rows.iter().take(fits).enumerate() {
            for (x, text, style) in &row.pieces {
                put(buffer, inside, (*x, y as u16), text, *style);
            }
        }
        if rows.len() > fits {
            put_right(
                buffer,
                inside,
                inside.height.saturating_sub(1),
                " …",
                theme.style(Tone::Quiet),
            );
        }
        rest = below(rest, height);
    }
}

fn draw_body(buffer: &mut Buffer, area: Rect, page: &Page, size: Size, two_columns: bool, theme: Theme) {
    let label = page
        .lines
        .iter()
        .filter_map(|line| match line {
            Line::Choice { label, value, .. } if !value.is_empty() => Some(columns(label)),
            Line::Writing { label, .. } => Some(columns(label)),
            _ => None,
        })
        .max()
        .unwrap_or(0)
        .min(if size == Size::Pocket { 12 } else { 24 });
    let rows: Vec<Row> = page
        .lines
        .iter()
        .enumerate()
        .flat_map(|(index, line)| {
            rows_of(
                line,
                index,
                page.chosen == Some(index),
                label,
                area.width,
                !two_columns,
                theme,
            )
        })
        .collect();
    let height = usize::from(area.height);
    let rows = if two_columns { airy(rows, page, height) } else { rows };
    let first = first_row(&rows, page, height);
    for (y, row) in rows.iter().skip(first).take(height).enumerate() {
        for (x, text, style) in &row.pieces {
            put(buffer, area, (*x, y as u16), text, *style);
        }
    }
    let quiet = theme.style(Tone::Quiet);
    if first > 0 {
        put_right(buffer, area, 0, " ↑ more", quiet);
    }
    if first + height < rows.len() {
        put_right(buffer, area, area.height.saturating_sub(1), " ↓ more", quiet);
    }
}

/// The rows with a gap before each choice that stands alone, where that fits: a big window need not be read in a corner.
fn airy(rows: Vec<Row>, page: &Page, height: usize) -> Vec<Row> {
    let alone = |of: usize| matches!(page.lines.get(of), Some(Line::Choice { value, .. }) if value.is_empty());
    let begins = |at: usize| at > 0 && rows[at].of != rows[at - 1].of && alone(rows[at].of);
    let follows_gap = |at: usize| matches!(page.lines.get(rows[at - 1].of), Some(Line::Gap));
    let gaps: Vec<bool> = (0..rows.len()).map(|at| begins(at) && !follows_gap(at)).collect();
    if rows.len() + gaps.iter().filter(|gap| **gap).count() > height {
        return rows;
    }
    let mut spread = Vec::with_capacity(2 * rows.len());
    for (row, gap) in rows.into_iter().zip(gaps) {
        if gap {
            spread.push(Row {
                pieces: Vec::new(),
                of: row.of,
            });
        }
        spread.push(row);
    }
    spread
}

/// The first row to draw: the chosen line and the words under it are seen, and as much before it as fits.
fn first_row(rows: &[Row], page: &Page, height: usize) -> usize {
    let most = rows.len().saturating_sub(height);
    let Some(chosen) = page.chosen else {
        return rows.iter().position(|row| row.of >= page.from).unwrap_or(0).min(most);
    };
    let begin = rows.iter().position(|row| row.of == chosen).unwrap_or(0);
    let next = page
        .lines
        .iter()
        .skip(chosen + 1)
        .position(|line| !matches!(line, Line::Under(..) | Line::Beside(..) | Line::OnlyBeside(..)));
    let after = next.map_or(page.lines.len(), |next| chosen + 1 + next);
    let end = rows.iter().position(|row| row.of >= after).unwrap_or(rows.len());
    // Two rows more, so that one sees that it goes on.
    let first = (end + 2).min(rows.len()).saturating_sub(height);
    first.min(begin).min(most)
}

/// The rows of a line; `parts` says whether parts of their own are among them.
fn rows_of(line: &Line, of: usize, chosen: bool, label_width: u16, width: u16, parts: bool, theme: Theme) -> Vec<Row> {
    let row = |pieces: Vec<(u16, String, Style)>| Row { pieces, of };
    let wrapped = |text: &str, x: u16, tone: Tone| -> Vec<Row> {
        let lines = wrap(text, width.saturating_sub(x));
        lines
            .into_iter()
            .map(|line| row(vec![(x, line, theme.style(tone))]))
            .collect()
    };
    let pointer = (0, if chosen { "▸" } else { " " }.to_owned(), theme.style(Tone::Strong));
    match line {
        Line::OnlyBeside(..) => Vec::new(),
        Line::Beside(..) if !parts => Vec::new(),
        Line::Beside(title, lines) => {
            let title = wrapped(&format!("{title}:"), 4, Tone::Quiet);
            let lines = lines
                .iter()
                .flat_map(|line| rows_of(line, of, false, label_width, width, parts, theme));
            title.into_iter().chain(lines).collect()
        }
        Line::Gap => vec![row(Vec::new())],
        Line::Heading(text) => vec![row(vec![(0, text.clone(), theme.style(Tone::Quiet))])],
        Line::Words(text, tone) => wrapped(text, 0, *tone),
        Line::Under(text, tone) => wrapped(text, 4, *tone),
        Line::Choice { label, value, .. } if value.is_empty() => {
            let tone = if chosen { Tone::Chosen } else { Tone::Strong };
            let lines = wrap(label, width.saturating_sub(3));
            let mut rows: Vec<Row> = lines
                .into_iter()
                .map(|line| row(vec![(2, line, theme.style(tone))]))
                .collect();
            if let Some(first) = rows.first_mut() {
                first.pieces.push(pointer);
            }
            rows
        }
        Line::Choice { label, value, tone } => {
            let tone = if chosen { Tone::Chosen } else { *tone };
            let x = 2 + label_width + 2;
            let lines = wrap(value, width.saturating_sub(x));
            let mut rows: Vec<Row> = lines
                .into_iter()
                .map(|line| row(vec![(x, line, theme.style(tone))]))
                .collect();
            if let Some(first) = rows.first_mut() {
                first.pieces.push(pointer);
                first.pieces.push((2, cut(label, label_width), theme.style(Tone::Text)));
            }
            rows
        }
        Line::Writing { label, input } => {
            let x = 2 + label_width + 2;
            let room = width.saturating_sub(x);
            let (shown, cursor) = window(input, room);
            let style = theme.style(Tone::Chosen);
            let at = x + cursor;
            let under: String = shown.chars().skip(char_at(&shown, cursor)).take(1).collect();
            let under = if under.is_empty() { " ".to_owned() } else { under };
            let fill = format!(
                "{shown}{}",
                " ".repeat(usize::from(room.saturating_sub(columns(&shown))))
            );
            let marked = Style::new().add_modifier(Modifier::REVERSED | Modifier::UNDERLINED);
            vec![row(vec![
                pointer,
                (2, cut(label, label_width), theme.style(Tone::Text)),
                (x, fill, style),
                (at, under, marked),
            ])]
        }
    }
}

/// What of a line being written is seen, and at which column the cursor stands.
fn window(input: &Input, room: u16) -> (String, u16) {
    let scroll = input.visual_scroll(usize::from(room.saturating_sub(1)));
    let mut before = 0;
    let shown: String = input
        .value()
        .chars()
        .skip_while(|letter| {
            let from = before;
            before += usize::from(columns(letter.encode_utf8(&mut [0; 4])));
            from < scroll
        })
        .collect();
    let mut fits = String::new();
    for letter in shown.chars() {
        if columns(&fits) + columns(letter.encode_utf8(&mut [0; 4])) > room {
            break;
        }
        fits.push(letter);
    }
    let cursor = input
        .visual_cursor()
        .saturating_sub(scroll)
        .min(usize::from(room.saturating_sub(1)));
    (fits, cursor as u16)
}

/// The place in a text of the letter at a column.
fn char_at(text: &str, column: u16) -> usize {
    let mut at = 0;
    for (index, letter) in text.chars().enumerate() {
        if at >= column {
            return index;
        }
        at += columns(letter.encode_utf8(&mut [0; 4]));
    }
    text.chars().count()
}

fn draw_hints(buffer: &mut Buffer, area: Rect, page: &Page, theme: Theme) {
    let width = |hints: &[(&str, String)], gap: u16| -> u16 {
        hints
            .iter()
            .map(|(key, word)| columns(key) + 1 + columns(word) + gap)
            .sum::<u16>()
            .saturating_sub(gap)
    };
    // The first and the last stay; of the others those that fit.
    let mut shown = page.hints.clone();
    while width(&shown, 2) > area.width && shown.len() > 2 {
        shown.remove(shown.len() - 2);
    }
    let gap = [4, 3]
        .into_iter()
        .find(|gap| width(&shown, *gap) <= area.width)
        .unwrap_or(2);
    let mut x = 0;
    for (index, (key, word)) in shown.iter().enumerate() {
        let tone = if index == 0 { Tone::Strong } else { Tone::Text };
        x += put(buffer, area, (x, 0), key, theme.style(Tone::Key)) + 1;
        x += put(buffer, area, (x, 0), word, theme.style(tone)) + gap;
    }
}
