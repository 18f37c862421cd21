//! The map of places: where a node can go, by how sure that is, with the best spots numbered.

use super::canvas::{About, Anchor, Canvas, Path};
use super::marks::{Sample, legend};
use super::plan::Plan;
use crate::findings::words;
use crate::stats::places::Class;
use crate::writeup::document::Figure;
use crate::writeup::places::PlacesPart;
use crate::writeup::text::shortened;

/// At most so many places are drawn one by one; beyond, every second, third … row and column.
const MOST: usize = 6000;

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
    plan.station(&mut canvas, &shortened(station, 24));
    for (index, spot) in part.spots.iter().enumerate().rev() {
        let at = plan.at(spot.offset.0, spot.offset.1);
        canvas.circle("f-st", at, 9.5);
        canvas.text("f-sn", (at.0, at.1 + 4.8), Anchor::Middle, &(index + 1).to_string());
    }
    plan.furniture(&mut canvas, width);
    canvas.height = plan.height
        + 58.0
        + legend(
            &mut canvas,
            (12.0, plan.height + 58.0),
            width - 20.0,
            &[
                (Sample::Patch("f-cg"), "good: 90 % sure or more".to_owned()),
                (Sample::Patch("f-cm"), "marginal".to_owned()),
                (Sample::Line("f-cx"), "crosses: poor".to_owned()),
                (Sample::Patch("f-cu"), "dots: unwalked".to_owned()),
            ],
        );
    Some(canvas.finish(About {
        name: name.to_owned(),
        title: "Where a node can go".to_owned(),
        alt: format!(
            "Map of {} places {} m apart round the station, north up: {} good, {} marginal, {} poor, {} too far from anything walked.{}",
            part.cells.len(),
            words::minus(part.step_m, 0),
            part.count(Class::Good),
            part.count(Class::Marginal),
            part.count(Class::Poor),
            part.count(Class::Unwalked),
            part.spots.iter().take(5).enumerate().map(|(index, spot)| format!(
                " Spot {}: {} from the station{}, {} sure.",
                index + 1,
                words::metres(spot.distance.0),
                spot.bearing.map_or_else(String::new, |bearing| format!(" towards {}°", words::minus(bearing.0, 0))),
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
