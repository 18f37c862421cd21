//! Boards at points: a line a board, a column a point by distance; an empty cell says what has still to be measured.
//!
//! ```text
//!             P2       P1       P3
//!             41 m     88 m     130 m
//!  yew  ref   ● 100 %  ● 99 %   ◐ 93 %
//!             −61 dBm  −70 dBm  −79 dBm
//!  fern       ● 98 %   measure  ○ 71 %
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::number::{UNKNOWN, dbm, metres, percent};
use super::paint::{below, cut, put, put_wrapped};
use super::scene::Scene;
use super::theme::{Theme, Tone};
use crate::findings::points::PointRow;
use crate::stats::verdict::Verdict;

/// Columns for a board's name.
const NAME: u16 = 17;
/// Columns for a point.
const CELL: u16 = 10;

/// Draws it from a line (a board) on.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, from: usize, theme: Theme) {
    let rows: Vec<&PointRow> = scene.points.iter().filter(|row| row.activity == "point").collect();
    if rows.is_empty() {
        let words = "No point has been measured yet. Stand still where a node may go and press Space; then the same with each \
                     further board, at the same points.";
        put_wrapped(buffer, area, 1, words, 6, theme.style(Tone::Text));
        return;
    }
    let mut points: Vec<(&str, Option<f64>)> = Vec::new();
    let mut boards: Vec<&str> = Vec::new();
    for row in &rows {
        if !points.iter().any(|(name, _)| *name == row.point) {
            points.push((&row.point, row.distance.map(|distance| distance.0)));
        }
        if !boards.contains(&row.board.as_str()) {
            boards.push(&row.board);
        }
    }
    points.sort_by(|one, other| {
        one.1
            .unwrap_or(f64::INFINITY)
            .total_cmp(&other.1.unwrap_or(f64::INFINITY))
    });
    let reference = scene
        .setup
        .boards
        .iter()
        .find(|board| board.reference)
        .map(|board| board.name.as_str());
    boards.sort_by_key(|board| (Some(*board) != reference, *board));
    let fits = usize::from(area.width.saturating_sub(NAME) / CELL).max(1);
    // The last points measured are what matters when not all fit.
    let hidden = points.len().saturating_sub(fits);
    let shown = &points[..points.len().min(fits)];
    for (index, (name, distance)) in shown.iter().enumerate() {
        let x = NAME + index as u16 * CELL;
        put(buffer, area, (x, 0), &cut(name, CELL - 1), theme.style(Tone::Strong));
        let far = distance.map_or_else(|| UNKNOWN.to_owned(), metres);
        put(buffer, area, (x, 1), &far, theme.style(Tone::Quiet));
    }
    let room = usize::from(area.height.saturating_sub(6) / 2);
    let from = from.min(boards.len().saturating_sub(room.max(1)));
    for (index, board) in boards.iter().skip(from).take(room).enumerate() {
        let y = 2 + index as u16 * 2;
        let is_reference = Some(*board) == reference;
        put(buffer, area, (0, y), &cut(board, NAME - 1), theme.style(Tone::Strong));
        let beside = against_reference(scene, board, is_reference);
        put(
            buffer,
            Rect {
                width: area.width.min(NAME),
                ..area
            },
            (0, y + 1),
            &beside,
            theme.style(Tone::Quiet),
        );
        for (column, (point, _)) in shown.iter().enumerate() {
            let x = NAME + column as u16 * CELL;
            let cell = rows.iter().rev().find(|row| row.point == *point && row.board == *board);
            let Some(row) = cell else {
                put(buffer, area, (x, y), "measure", theme.style(Tone::Close));
                continue;
            };
            let (sign, tone) = match row.standing.verdict {
                Verdict::Meets => ("●", Tone::Good),
                Verdict::Fails => ("○", Tone::Bad),
                Verdict::KeepMeasuring => ("◐", Tone::Close),
            };
            let rate = row.delivered as f64 / row.messages.max(1) as f64;
            put(
                buffer,
                area,
                (x, y),
                &format!("{sign} {} %", percent(rate)),
                theme.style(tone),
            );
            let level = dbm(row.there_dbm.or(row.here_dbm));
            put(buffer, area, (x, y + 1), &level, theme.style(Tone::Text));
        }
    }
    let missing = boards
        .iter()
        .flat_map(|board| points.iter().map(move |(point, _)| (*board, *point)))
        .filter(|(board, point)| !rows.iter().any(|row| row.board == *board && row.point == *point))
        .collect::<Vec<_>>();
    let mut words = match missing.first() {
        Some((board, point)) if boards.len() > 1 => {
            format!("{} still to measure, first {board} at {point}.", missing.len())
        }
        _ => "Every board has been at every point.".to_owned(),
    };
    if boards.len() == 1 {
        "One board so far: measure others at the same points to compare them.".clone_into(&mut words);
    }
    if hidden > 0 {
        words.push_str(&format!(" {hidden} further points do not fit here."));
    }
    let signs = "● surely meets  ◐ not sure  ○ surely not";
    put(
        buffer,
        area,
        (0, area.height.saturating_sub(1)),
        signs,
        theme.style(Tone::Quiet),
    );
    let foot = below(area, area.height.saturating_sub(3));
    put_wrapped(buffer, foot, 0, &words, 2, theme.style(Tone::Text));
}

fn against_reference(scene: &Scene<'_>, board: &str, is_reference: bool) -> String {
    if is_reference {
        return "reference".to_owned();
    }
    let known = scene
        .around
        .outlook
        .and_then(|outlook| outlook.against_reference.iter().find(|(of, _)| of == board));
    known.map_or_else(String::new, |(_, words)| words.clone())
}
