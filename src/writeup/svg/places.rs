//! The map of places: where a node can go, by how sure that is, with the best spots numbered.

use super::canvas::{About, Anchor, Canvas, Path};
use super::marks::{Sample, legend};
use super::plan::Plan;
use crate::findings::words;
use crate::stats::places::{Class, GOOD, POOR};
use crate::writeup::document::Figure;
use crate::writeup::places::PlacesPart;
use crate::writeup::text::shortened;

/// At most so many places are drawn one by one; beyond, every second, third … row and column.
const MOST: usize = 6000;

/// Where the number of a spot stands: at the spot, or above the station where it would cover that or its name.
fn beside_station(at: (f64, f64), station: (f64, f64)) -> (f64, f64) {
    let (right, down) = (at.0 - station.0, at.1 - station.1);
    let covers = right.abs() < 20.0 && (-20.0..34.0).contains(&down);
    if covers {
        (station.0 + if right < 0.0 { -24.0 } else { 24.0 }, station.1 - 16.0)
    } else {
        at
    }
}

/// Draws the map.
pub fn places(name: &str, part: &PlacesPart, station: &str) -> Option<Figure> {
    let width = 560.0;
    let every = ((part.cells.len() as f64 / MOST as f64).sqrt().ceil() as i64).max(1);
    let on = |value: f64| ((value / part.step_m).round() as i64).rem_euclid(every) == 0;
    let drawn = || {
        part.cells
            .iter()
            .filter(|cell| every == 1 || (on(cell.x) && on(cell.y)))
    };
    let plan = Plan::holding(
        drawn().map(|cell| (cell.x, cell.y)).chain([(0.0, 0.0)]),
        width,
        (220.0, 540.0),
        (0.0, 0.0),
    )?;
    let mut canvas = Canvas::new(width, plan.height + 98.0);
    let half = (part.step_m * every as f64 * plan.scale / 2.0).max(0.6);
    for (class, style) in [
        (Class::Unwalked, "f-cu"),
        (Class::Poor, "f-cp"),
        (Class::Marginal, "f-cm"),
        (Class::Good, "f-cg"),
    ] {
        let mut squares = Path::default();
        let mut strokes = Path::default();
        for cell in drawn().filter(|cell| cell.class == class) {
            let (x, y) = plan.at(cell.x, cell.y);
            // Each class has a shape of its own: full squares, half squares, crosses, small dots.
            match class {
                Class::Good => squares.shape((x, y), &[(-half, -half), (half, -half), (half, half), (-half, half)]),
                Class::Marginal => squares.shape((x, y), &[(0.0, -half), (half, 0.0), (0.0, half), (-half, 0.0)]),
                Class::Poor => {
                    let arm = half * 0.55;
                    strokes.stroke((x - arm, y - arm), (x + arm, y + arm));
                    strokes.stroke((x - arm, y + arm), (x + arm, y - arm));
                }
                Class::Unwalked => {
                    let dot = half * 0.3;
                    squares.shape((x, y), &[(-dot, -dot), (dot, -dot), (dot, dot), (-dot, dot)]);
                }
            }
        }
        canvas.path(style, &squares);
        canvas.path("f-cx", &strokes);
    }
    let badges: Vec<((f64, f64), (f64, f64))> = part
        .spots
        .iter()
        .map(|spot| {
            let at = plan.at(spot.offset.0, spot.offset.1);
            (at, beside_station(at, plan.at(0.0, 0.0)))
        })
        .collect();
    for (at, badge) in badges.iter().filter(|(at, badge)| at != badge) {
        canvas.line("f-ax", *at, *badge);
    }
    for (index, (_, badge)) in badges.iter().enumerate().rev() {
        canvas.circle("f-st", *badge, 9.5);
        canvas.text(
            "f-sn",
            (badge.0, badge.1 + 4.8),
            Anchor::Middle,
            &(index + 1).to_string(),
        );
    }
    plan.station(&mut canvas, &shortened(station, 24));
    plan.furniture(&mut canvas, width);
    canvas.height = plan.height
        + 58.0
        + legend(
            &mut canvas,
            (12.0, plan.height + 58.0),
            width - 20.0,
            &[
                (
                    Sample::Patch("f-cg"),
                    format!("good: {} sure or more", words::percent(GOOD)),
                ),
                (Sample::Diamond("f-cm"), "marginal".to_owned()),
                (Sample::Cross("f-cx"), format!("poor: {} or less", words::percent(POOR))),
                (Sample::Speck("f-cu"), "unwalked".to_owned()),
            ],
        );
    Some(canvas.finish(About {
        name: name.to_owned(),
        title: "Where a node can go".to_owned(),
        alt: format!(
            "Map of {} places {} m apart round the station, north up: {} good, {} marginal, {} poor, {} too far from anything walked.{}",
            words::count(part.cells.len() as u64),
            words::minus(part.step_m, 0),
            words::count(part.count(Class::Good) as u64),
            words::count(part.count(Class::Marginal) as u64),
            words::count(part.count(Class::Poor) as u64),
            words::count(part.count(Class::Unwalked) as u64),
            part.spots.iter().take(5).enumerate().map(|(index, spot)| format!(
                " Spot {}: {} from the station{}, {} sure.",
                index + 1,
                words::metres(spot.distance.0),
                spot.bearing.map_or_else(String::new, |bearing| format!(" towards {}", words::bearing(bearing))),
                words::percent(spot.chance)
            )).collect::<Vec<String>>().concat()
        ),
        caption: format!(
            "Chance that {}, standing there, delivers {} with {} dB to spare. Full squares: good; diamonds: marginal; crosses: poor; dots: nothing near was walked. \
             Numbers are the best spots in their order.{}",
            shortened(&part.node(), 40),
            words::percent(part.delivery),
            words::minus(part.margin_db, 0),
            if every > 1 { format!(" For reading, one place in {} is drawn.", every * every) } else { String::new() }
        ),
    }))
}
