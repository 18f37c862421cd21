//! The map of the walk.

use super::whole::Part;
use crate::findings::points::{PointRow, mean_position};
use crate::stats::verdict::Verdict;
use crate::writeup::document::{Block, DataTable, Document, Section};
use crate::writeup::ground_cells::{Flat, walked};
use crate::writeup::number;
use crate::writeup::svg::map::{Stop, map};

/// The section; `None` where nothing has a place.
pub fn section(part: &Part<'_>, document: &mut Document) -> Option<Section> {
    let samples = &part.subject.samples;
    let setup = &part.subject.setup;
    let flat = Flat::of(samples, setup)?;
    let walked = walked(samples, &flat);
    if walked.cells.is_empty() {
        let none = Block::Text("No exchange that counts has a position, so no map is drawn.".to_owned());
        return Some(part.section("map", "Map", vec![none]));
    }
    let rows: Vec<&PointRow> = part.subject.estimates.points.iter().map(|(row, _)| row).collect();
    let mut names: Vec<&str> = Vec::new();
    for row in &rows {
        if !names.contains(&row.point.as_str()) {
            names.push(&row.point);
        }
    }
    let stops: Vec<Stop> = names
        .into_iter()
        .filter_map(|name| {
            let own = || rows.iter().filter(move |row| row.point == name);
            let place = mean_position(own().filter_map(|row| row.position))?;
            // Whether any board met the goal there; else whether any may still.
            let runs = || {
                own()
                    .filter(|row| row.activity == "point")
                    .map(|row| row.standing.verdict)
            };
            let best = [Verdict::Meets, Verdict::KeepMeasuring, Verdict::Fails];
            let proven = best.into_iter().find(|verdict| runs().any(|run| run == *verdict));
            Some(Stop {
                name: name.to_owned(),
                at: flat.at(place),
                proven,
            })
        })
        .collect();
    let station = flat
        .about_station
        .then(|| setup.station.name.as_deref().unwrap_or("station"));
    let figure = map(&part.name("map"), &walked, &stops, station, setup.goal.delivery)?;
    document.tables.push(DataTable {
        name: part.name("ground"),
        head: vec!["east_m", "north_m", "square_m", "exchanges", "delivered", "rate"],
        rows: walked
            .cells
            .iter()
            .map(|cell| {
                vec![
                    number::cell(Some(cell.east), 1),
                    number::cell(Some(cell.north), 1),
                    number::cell(Some(walked.side_m), 0),
                    number::whole(Some(cell.sent)),
                    number::whole(Some(cell.delivered)),
                    number::cell(Some(cell.delivered as f64 / cell.sent.max(1) as f64), 4),
                ]
            })
            .collect(),
    });
    let figure = document.add_figure(figure);
    Some(part.section("map", "Map", vec![figure]))
}
