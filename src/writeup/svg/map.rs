//! The walk on the ground round the station: what was delivered where, and the points.

use super::canvas::{About, Anchor, Canvas, Path};
use super::marks::{self, Class, Sample, legend};
use super::plan::{Plan, label};
use crate::findings::words;
use crate::stats::verdict::Verdict;
use crate::writeup::document::Figure;
use crate::writeup::ground_cells::Walked;
use crate::writeup::text::shortened;

/// A point or sweep on the map.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// Its name.
    pub name: String,
    /// Metres east and north.
    pub at: (f64, f64),
    /// What its counts prove; `None` for a place where only sweeps were made.
    pub proven: Option<Verdict>,
}

/// Draws the map. `station` is the station's name where the origin is the station.
pub fn map(name: &str, walked: &Walked, stops: &[Stop], station: Option<&str>, goal: f64) -> Option<Figure> {
    let width = 560.0;
    let places = walked
        .cells
        .iter()
        .map(|cell| (cell.east, cell.north))
        .chain(stops.iter().map(|stop| stop.at))
        .chain(station.map(|_| (0.0, 0.0)));
    let plan = Plan::holding(places, width, (220.0, 520.0), (0.0, 0.0))?;
    let mut canvas = Canvas::new(width, plan.height + 118.0);
    let size = (walked.side_m * plan.scale * 0.36).clamp(2.2, 7.0);
    let mut counts = [0_usize; 4];
    for (index, class) in Class::ALL.into_iter().enumerate().rev() {
        let mut path = Path::default();
        for cell in &walked.cells {
            if Class::of(cell.delivered, cell.sent, goal) == class {
                counts[index] += 1;
                class.mark(&mut path, plan.at(cell.east, cell.north), size);
            }
        }
        canvas.path(class.style(), &path);
    }
    for stop in stops {
        let at = plan.at(stop.at.0, stop.at.1);
        canvas.circle("f-e0", at, 11.0);
        if let Some(proven) = stop.proven {
            marks::verdict(&mut canvas, at, 5.5, proven);
        }
        // A name that would leave the drawing stands on the other side.
        let (dx, anchor) = if at.0 > width - 90.0 {
            (-14.0, Anchor::End)
        } else {
            (14.0, Anchor::Start)
        };
        label(&mut canvas, (at.0 + dx, at.1 - 7.0), anchor, &shortened(&stop.name, 14));
    }
    if let Some(station) = station {
        plan.station(&mut canvas, &shortened(station, 24));
    }
    plan.furniture(&mut canvas, width);
    let mut entries = vec![
        (
            Sample::Mark(Class::Goal),
            format!("{} delivered or more", words::percent(goal)),
        ),
        (Sample::Mark(Class::Between), "less, more than half".to_owned()),
        (Sample::Mark(Class::Low), "half or less".to_owned()),
        (Sample::Mark(Class::Few), "under 5 messages".to_owned()),
    ];
    if !stops.is_empty() {
        entries.push((Sample::Dot("f-e0"), "ring: a point or sweep".to_owned()));
        for (proven, words) in [
            (Verdict::Meets, "surely met the goal"),
            (Verdict::KeepMeasuring, "not sure"),
            (Verdict::Fails, "surely missed it"),
        ] {
            if stops.iter().any(|stop| stop.proven == Some(proven)) {
                entries.push((Sample::Verdict(proven), words.to_owned()));
            }
        }
    }
    canvas.height = plan.height + 58.0 + legend(&mut canvas, (10.0, plan.height + 58.0), width - 20.0, &entries);
    let side = words::minus(walked.side_m, 0);
    Some(canvas.finish(About {
        name: name.to_owned(),
        title: "What was delivered where".to_owned(),
        alt: format!(
            "Map, north up{}. {} in {} of ground {side} m wide: {} delivered {} or more, {} less but more than half, {} half or less, {} \
             saw under 5 messages. {}{}.",
            station.map_or_else(String::new, |name| format!(", round {}", words::the_station(&shortened(name, 40)))),
            words::so_many(walked.exchanges, "exchange", "exchanges"),
            words::so_many(walked.cells.len() as u64, "square", "squares"),
            counts[0],
            words::percent(goal),
            counts[1],
            counts[2],
            counts[3],
            match stops.len() {
                0 => "No point or sweep is ringed".to_owned(),
                1 => "1 point or sweep is ringed".to_owned(),
                more => format!("{more} points and sweeps are ringed"),
            },
            stops
                .iter()
                .take(12)
                .map(|stop| {
                    let way = if stop.at.1 >= 0.0 { "north" } else { "south" };
                    let side = if stop.at.0 >= 0.0 { "east" } else { "west" };
                    format!(
                        "; {} at {} m {side}, {} m {way}",
                        shortened(&stop.name, 24),
                        words::minus(stop.at.0.abs(), 0),
                        words::minus(stop.at.1.abs(), 0)
                    )
                })
                .collect::<Vec<String>>()
                .concat()
        ),
        caption: format!(
            "Each mark gathers all exchanges on a square of ground {side} m wide, whichever board was carried; it shows the share that was delivered, not a \
             verdict. Rings are points and sweeps; the mark within says what a run there proved: a tick that it surely met the goal, a cross that it surely did \
             not, a question mark that it is not sure."
        ),
    }))
}
