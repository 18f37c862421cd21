//! Two surveys of the same ground: which was better where, and level by distance of both laid over each other.

use super::axis::{Axis, Frame, axes};
use super::canvas::{About, Anchor, Canvas, Path};
use super::marks::{Class, Sample, legend};
use super::plan::{Plan, label};
use crate::findings::together::pair::{Better, Pair};
use crate::findings::together::say;
use crate::findings::together::strand::Strand;
use crate::findings::words;
use crate::writeup::document::Figure;

const WIDTH: f64 = 560.0;
/// A square drawn at least so wide bears a letter, pixels.
const LETTERED: f64 = 13.0;
const FRAME: Frame = Frame {
    left: 62.0,
    top: 16.0,
    right: 548.0,
    bottom: 330.0,
};

/// Draws the shared map; `None` where nothing has a place.
pub fn map(name: &str, pair: &Pair) -> Option<Figure> {
    let (a, b) = say::letters(pair);
    let side = pair.side_m?;
    let places = pair.places.iter().map(|place| place.at);
    let all = places
        .chain(pair.thin.iter().copied())
        .chain(pair.alone.iter().flatten().copied())
        .chain(pair.stations.iter().copied().flatten());
    let plan = Plan::holding(all, WIDTH, (220.0, 520.0), (0.0, 0.0))?;
    let mut canvas = Canvas::new(WIDTH, plan.height + 118.0);
    let pixels = side * plan.scale;
    let lettered = pixels >= LETTERED;
    let size = (pixels * 0.42).clamp(2.2, 8.0);
    let letter = |canvas: &mut Canvas, style: &str, at: (f64, f64), words: &str| {
        if lettered {
            canvas.text(style, (at.0, at.1 + 4.5), Anchor::Middle, words);
        }
    };
    for (places, name) in pair.alone.iter().zip([a, b]) {
        for (east, north) in places {
            let at = plan.at(*east, *north);
            if lettered {
                letter(&mut canvas, "f-ts", at, &name.to_ascii_lowercase().to_string());
            } else {
                canvas.circle(if name == a { "f-e0" } else { "f-mf" }, at, size * 0.6);
            }
        }
    }
    for (east, north) in &pair.thin {
        canvas.circle("f-mf", plan.at(*east, *north), 1.6);
    }
    for place in pair.places.iter().rev() {
        let at = plan.at(place.at.0, place.at.1);
        match place.better {
            Better::NotTold => {
                canvas.circle("f-ce", at, size);
                letter(&mut canvas, "f-ts", at, "=");
            }
            Better::First => {
                Class::Low.draw(&mut canvas, at, size);
                letter(&mut canvas, "f-ts", at, &a.to_string());
            }
            Better::Second => {
                Class::Goal.draw(&mut canvas, at, size);
                letter(&mut canvas, "f-sn", at, &b.to_string());
            }
        }
    }
    stations(&mut canvas, &plan, pair);
    plan.furniture(&mut canvas, WIDTH);
    let mut entries = vec![
        (Sample::Mark(Class::Goal), format!("{b} surely better")),
        (Sample::Mark(Class::Low), format!("{a} surely better")),
        (Sample::Dot("f-ce"), "not told apart".to_owned()),
    ];
    if lettered {
        entries.push((
            Sample::Dot("f-mf"),
            format!(
                "too few; letters {}, {}: only one was there",
                a.to_ascii_lowercase(),
                b.to_ascii_lowercase()
            ),
        ));
    } else {
        entries.push((Sample::Dot("f-e0"), format!("only {a} was there")));
        entries.push((Sample::Dot("f-mf"), format!("only {b} was there")));
    }
    let y = plan.height + 58.0;
    canvas.height = y + legend(&mut canvas, (10.0, y), WIDTH - 20.0, &entries);
    Some(canvas.finish(About {
        name: name.to_owned(),
        title: format!("Where {b} was better than {a}, and where not"),
        alt: format!(
            "Map, north up, of {} squares of ground {} wide that both measured: {b} surely better on {}, {a} on {}, not told apart on {}. Only {a} measured {} \
             more, only {b} {}.",
            pair.places.len(),
            words::metres(side),
            pair.count(Better::Second),
            pair.count(Better::First),
            pair.count(Better::NotTold),
            pair.alone[0].len(),
            pair.alone[1].len()
        ),
        caption: "\"Surely\" means as sure as 95 % for all squares together, by delivery or, where that does not tell, by level.".to_owned(),
    }))
}

fn stations(canvas: &mut Canvas, plan: &Plan, pair: &Pair) {
    let (a, b) = say::letters(pair);
    let one = pair.stations[0]
        .zip(pair.stations[1])
        .is_some_and(|(one, other)| (one.0 - other.0).hypot(one.1 - other.1) * plan.scale < 14.0);
    for (index, station) in pair.stations.iter().enumerate() {
        let Some((east, north)) = station else { continue };
        if one && index == 1 {
            continue;
        }
        let at = plan.at(*east, *north);
        let mut mark = Path::default();
        mark.shape(at, &[(0.0, -10.0), (9.0, 7.0), (-9.0, 7.0)]);
        canvas.path("f-st", &mark);
        let name = match (one, index) {
            (true, _) => "station".to_owned(),
            (false, 0) => format!("station {a}"),
            (false, _) => format!("station {b}"),
        };
        label(
            canvas,
            (at.0.clamp(34.0, WIDTH - 34.0), at.1 + 21.0),
            Anchor::Middle,
            &name,
        );
    }
}

/// Draws level by distance of both; `None` where levels are not compared or fewer than two were measured.
pub fn level(name: &str, pair: &Pair) -> Option<Figure> {
    let (a, b) = say::letters(pair);
    pair.side.ok()?;
    let [Some(one), Some(other)] = &pair.strands else {
        return None;
    };
    let strands: [(char, &Strand, &str, &str); 2] = [(a, one, "f-s0", "f-a0"), (b, other, "f-s1", "f-a1")];
    let rings = || strands.iter().flat_map(|(_, strand, ..)| &strand.rings);
    let levels = || rings().filter_map(|ring| ring.mean_dbm);
    let low = levels().fold(f64::INFINITY, f64::min) - 6.0;
    let high = levels().fold(f64::NEG_INFINITY, f64::max) + 4.0;
    if !(low.is_finite() && high.is_finite()) {
        return None;
    }
    let near = rings().map(|ring| ring.from_m).fold(f64::INFINITY, f64::min);
    let far = rings().map(|ring| ring.to_m).fold(0.0, f64::max);
    let x = Axis::logarithmic((near * 0.95, FRAME.left), (far.max(near * 4.0) * 1.05, FRAME.right));
    let y = Axis::linear((low, FRAME.bottom), (high, FRAME.top));
    let mut canvas = Canvas::new(WIDTH, 420.0);
    axes(
        &mut canvas,
        &FRAME,
        (&x, "metres to its own station (each step right multiplies)"),
        (&y, "level, dBm"),
        |value| words::minus(value, 0),
    );
    let cut = |level: f64| y.at(level).clamp(FRAME.top, FRAME.bottom);
    for (_, strand, line, band) in strands {
        let edge = |index: usize| strand.law.iter().map(move |(metres, level)| (*metres, level[index]));
        let out = edge(1).map(|(metres, level)| (x.at(metres), cut(level)));
        let back = edge(2).collect::<Vec<_>>().into_iter().rev();
        let mut path = Path::through(out.chain(back.map(|(metres, level)| (x.at(metres), cut(level)))));
        path.close();
        canvas.path(band, &path);
        let mut path = Path::default();
        for (metres, level) in edge(0) {
            let at = y.at(level);
            if (FRAME.top..=FRAME.bottom).contains(&at) {
                path.to((x.at(metres), at));
            } else {
                path.lift();
            }
        }
        canvas.path(line, &path);
    }
    for (letter, strand, ..) in strands {
        for ring in &strand.rings {
            if let Some(level) = ring.mean_dbm {
                label(
                    &mut canvas,
                    (x.at(ring.mean_m), y.at(level) + 4.5),
                    Anchor::Middle,
                    &letter.to_string(),
                );
            }
        }
    }
    let mut entries = vec![(
        Sample::Dot("f-mf"),
        format!("{a}, {b}: mean of the levels read in a ring"),
    )];
    for (letter, strand, line, _) in strands {
        if !strand.law.is_empty() {
            entries.push((Sample::Line(line), format!("{letter}: fitted law with its 95 % band")));
        }
    }
    canvas.height = 392.0 + legend(&mut canvas, (12.0, 392.0), WIDTH - 20.0, &entries);
    let said = |(letter, strand, ..): (char, &Strand, &str, &str)| {
        let near = strand
            .rings
            .first()
            .and_then(|ring| Some((ring.mean_m, ring.mean_dbm?)));
        let far = strand.rings.last().and_then(|ring| Some((ring.mean_m, ring.mean_dbm?)));
        let at = |at: Option<(f64, f64)>| {
            at.map_or_else(
                || "nothing read".to_owned(),
                |(metres, level)| format!("{} at {}", words::dbm(level), words::metres(metres)),
            )
        };
        format!(" {letter}: {}, {}.", at(near), at(far))
    };
    Some(canvas.finish(About {
        name: name.to_owned(),
        title: format!("Level by distance of {a} and {b}"),
        alt: format!("Mean level in rings about the station.{}{}", said(strands[0]), said(strands[1])),
        caption: format!(
            "Levels {}. A ring far out in which much was lost shows the stronger messages only; the laws allow for what was lost.",
            one.side.words()
        ),
    }))
}
