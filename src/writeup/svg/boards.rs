//! Boards at points: a grid with boards down and points across, by distance; what was delivered and what is to spare.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::canvas::{About, Anchor, Canvas};
use super::marks::{self, Sample, legend};
use crate::findings::boards::Boards;
use crate::findings::points::PointRow;
use crate::findings::stop::StopFigures;
use crate::findings::words;
use crate::stats::verdict::Verdict;
use crate::writeup::document::Figure;
use crate::writeup::text::shortened;

/// At most so many boards and points are drawn; the tables hold all.
const MOST: (usize, usize) = (10, 8);

/// Draws the grid.
pub fn grid(name: &str, boards: &Boards, points: &[(PointRow, StopFigures)]) -> Option<Figure> {
    // A point measured twice with a board shows the later run: it was measured anew for a reason.
    let mut cells: BTreeMap<(usize, usize), &(PointRow, StopFigures)> = BTreeMap::new();
    for entry in points.iter().filter(|(row, _)| row.activity == "point") {
        let board = boards.names.iter().position(|name| *name == entry.0.board);
        let point = boards.points.iter().position(|name| *name == entry.0.point);
        if let (Some(board), Some(point)) = (board, point) {
            cells.insert((board, point), entry);
        }
    }
    let (rows, columns) = (boards.names.len().min(MOST.0), boards.points.len().min(MOST.1));
    if rows == 0 || columns == 0 {
        return None;
    }
    let (left, top) = (118.0, 58.0);
    let wide = ((560.0 - left - 8.0) / columns as f64).min(120.0);
    let high = 70.0;
    let bottom = top + high * rows as f64;
    let mut canvas = Canvas::new(560.0, bottom + 62.0);
    for column in 0..columns {
        let x = left + wide * (column as f64 + 0.5);
        let name = &boards.points[column];
        canvas.text(
            "f-tb",
            (x, top - 26.0),
            Anchor::Middle,
            &shortened(name, (wide / 9.5) as usize),
        );
        let distance = points
            .iter()
            .find(|(row, _)| row.point == *name)
            .and_then(|(row, _)| row.distance);
        if let Some(distance) = distance {
            canvas.text("f-ts", (x, top - 9.0), Anchor::Middle, &words::metres(distance.0));
        }
    }
    let mut listed = String::new();
    for row in 0..rows {
        let y = top + high * row as f64;
        let name = &boards.names[row];
        canvas.text("f-tb", (8.0, y + 24.0), Anchor::Start, &shortened(name, 11));
        if row == 0 {
            canvas.text("f-ts", (8.0, y + 41.0), Anchor::Start, "reference");
        }
        for column in 0..columns {
            let x = left + wide * column as f64;
            canvas.rect("f-ce", (x + 1.5, y + 1.5), (wide - 3.0, high - 3.0));
            let middle = x + wide / 2.0;
            let Some((point, figures)) = cells.get(&(row, column)) else {
                canvas.text("f-ts", (middle, y + 31.0), Anchor::Middle, "not");
                canvas.text("f-ts", (middle, y + 47.0), Anchor::Middle, "measured");
                continue;
            };
            let rate = words::percent(point.delivered as f64 / point.messages.max(1) as f64);
            let interval = words::percents(point.standing.delivery.interval);
            let margin = figures
                .margin
                .as_ref()
                .map_or_else(|| "–".to_owned(), words::margin_ends);
            if wide >= 62.0 {
                marks::verdict(&mut canvas, (x + 13.0, y + 19.0), 5.0, point.standing.verdict);
                canvas.text("f-tx", (x + 22.0, y + 24.0), Anchor::Start, &rate);
                canvas.text("f-ts", (x + 22.0, y + 41.0), Anchor::Start, &interval);
                canvas.text("f-ts", (x + 22.0, y + 59.0), Anchor::Start, &margin);
            } else {
                marks::verdict(&mut canvas, (middle, y + 13.0), 5.0, point.standing.verdict);
                canvas.text("f-ts", (middle, y + 31.0), Anchor::Middle, &rate);
                canvas.text("f-ts", (middle, y + 46.0), Anchor::Middle, &interval);
                canvas.text("f-ts", (middle, y + 62.0), Anchor::Middle, &margin);
            }
            let _ = write!(
                listed,
                " {} at {}: {rate} of {} ({interval}), {}.",
                shortened(name, 24),
                shortened(&point.point, 24),
                words::count(point.messages),
                figures
                    .margin
                    .as_ref()
                    .map_or_else(|| "margin not known".to_owned(), words::margin)
            );
        }
    }
    legend(
        &mut canvas,
        (12.0, bottom + 24.0),
        540.0,
        &[
            (Sample::Verdict(Verdict::Meets), "surely meets the goal".to_owned()),
            (Sample::Verdict(Verdict::KeepMeasuring), "not sure".to_owned()),
            (Sample::Verdict(Verdict::Fails), "surely misses it".to_owned()),
        ],
    );
    let hidden = boards.names.len() - rows + boards.points.len() - columns;
    Some(canvas.finish(About {
        name: name.to_owned(),
        title: "Boards at points".to_owned(),
        alt: format!("{rows} boards at {columns} points, nearest first.{listed}"),
        caption: format!(
            "In each cell the share delivered, its 95 % interval as held there, and that of the margin in dB above what the board needs to deliver 90 % (a dash where that is not known).{}",
            if hidden > 0 { " Further boards or points are in the tables only." } else { "" }
        ),
    }))
}
