//! Level and delivery by distance: what was measured, the fitted law with its band, what is needed, and the ranges.

use super::axis::{Axis, Frame, axes};
use super::canvas::{About, Canvas, Path};
use super::marks::{Class, Sample, legend};
use crate::findings::by_distance::ByDistance;
use crate::findings::reach::Reach;
use crate::findings::reach_words;
use crate::findings::words;
use crate::stats::walk::curve::LawPoint;
use crate::stats::walk::describe::RangeWording;
use crate::stats::walk::inflation::Inflation;
use crate::writeup::document::Figure;
use crate::writeup::text::shortened;

const FRAME: Frame = Frame {
    left: 62.0,
    top: 16.0,
    right: 548.0,
    bottom: 330.0,
};
const WIDTH: f64 = 560.0;

/// One board's figures by distance.
#[derive(Clone, Debug)]
pub struct Board<'a> {
    /// Its name.
    pub name: &'a str,
    /// What was measured.
    pub measured: &'a ByDistance,
    /// Its reach.
    pub reach: &'a Reach,
    /// The goal's delivery.
    pub goal: f64,
    /// Why no law is fitted to it; `None` where one is.
    pub why_no_law: Option<String>,
}

impl Board<'_> {
    /// The law at 80 distances over what was walked.
    pub fn law(&self) -> Vec<LawPoint> {
        let (Ok(fit), Some((near, far))) = (&self.reach.fit, self.measured.span) else {
            return Vec::new();
        };
        let (near, far) = (near.max(1.0), far.max(2.0));
        let distances: Vec<f64> = (0..80).map(|i| near * (far / near).powf(f64::from(i) / 79.0)).collect();
        fit.law(&distances, &Inflation::MEASURED)
    }

    fn x(&self) -> Option<Axis> {
        let (near, far) = self.measured.span?;
        // At least a factor of four, so that a point standing still is no line across the page.
        let middle = (near * far).sqrt();
        let (near, far) = (near.min(middle / 2.0).max(0.5), far.max(middle * 2.0));
        Some(Axis::logarithmic((near * 0.95, FRAME.left), (far * 1.05, FRAME.right)))
    }

    /// The range at the goal, or at the nearest delivery asked for, as places on the axis: low, best, high.
    fn range(&self) -> Option<(f64, f64, f64, f64)> {
        let (share, wording) = self
            .reach
            .ranges
            .iter()
            .min_by(|a, b| (a.0 - self.goal).abs().total_cmp(&(b.0 - self.goal).abs()))?;
        match wording {
            RangeWording::Interval { low, metres, high } => {
                Some((*share, *low, *metres, high.or(self.measured.span.map(|span| span.1))?))
            }
            _ => None,
        }
    }

    fn draw_range(&self, canvas: &mut Canvas, x: &Axis) -> Option<String> {
        let (share, low, best, high) = self.range()?;
        let clip = |metres: f64| x.at(metres).clamp(FRAME.left, FRAME.right);
        canvas.rect(
            "f-cu",
            (clip(low), FRAME.top),
            (clip(high) - clip(low), FRAME.bottom - FRAME.top),
        );
        canvas.line("f-ne", (clip(best), FRAME.top), (clip(best), FRAME.bottom));
        Some(format!(
            "{} delivered to here on average, interference aside",
            words::percent(share)
        ))
    }
}

/// Draws level by distance.
pub fn level(name: &str, board: &Board<'_>) -> Option<Figure> {
    let x = board.x()?;
    let measured = board.measured;
    if measured.levels.is_empty() {
        return None;
    }
    let law = board.law();
    let need = board.reach.need.map(|need| need.curve.level90_dbm());
    let all = || measured.levels.iter().map(|(_, dbm, _)| *dbm).chain(need);
    let low = (all().fold(f64::INFINITY, f64::min) - 4.0).max(-140.0);
    let high = all().fold(f64::NEG_INFINITY, f64::max) + 3.0;
    let y = Axis::linear((low, FRAME.bottom - 26.0), (high, FRAME.top));
    let mut canvas = Canvas::new(WIDTH, 452.0);
    axes(
        &mut canvas,
        &FRAME,
        (&x, "metres to the station (each step to the right multiplies)"),
        (&y, "level, dBm"),
        |value| words::minus(value, 0),
    );
    let range = board.draw_range(&mut canvas, &x);
    // Three shades by how many exchanges share a place of the grid.
    for (style, span) in [("f-d1", 1..=2), ("f-d2", 3..=9), ("f-d3", 10..=u64::MAX)] {
        let mut dots = Path::default();
        for (metres, dbm, _) in measured.levels.iter().filter(|(_, _, count)| span.contains(count)) {
            dots.dot((x.at(*metres), y.at(*dbm)), 1.5);
        }
        canvas.path(style, &dots);
    }
    let mut lost = Path::default();
    for ring in measured.rings.iter().filter(|ring| ring.delivered < ring.sent) {
        let share = 1.0 - ring.delivered as f64 / ring.sent as f64;
        let (left, right) = (
            x.at(ring.from_m).max(FRAME.left) + 1.0,
            x.at(ring.to_m).min(FRAME.right) - 1.0,
        );
        let top = FRAME.bottom - 1.5 - 20.0 * share;
        lost.shape(
            (0.0, 0.0),
            &[(left, FRAME.bottom), (left, top), (right, top), (right, FRAME.bottom)],
        );
    }
    canvas.path("f-cp", &lost);
    canvas.path("f-lo", &lost);
    if !law.is_empty() {
        band(&mut canvas, &law, &x, |point| {
            (y.at(point.level_dbm.low), y.at(point.level_dbm.high))
        });
        curve(&mut canvas, &law, &x, |point| y.at(point.level_dbm.median));
    }
    if let Some(need) = need {
        canvas.line("f-gl", (FRAME.left, y.at(need)), (FRAME.right, y.at(need)));
    }
    let mut entries = vec![
        (Sample::Dot("f-d3"), "exchanges, darker where many".to_owned()),
        (Sample::Patch("f-cp"), "share lost (full height: all)".to_owned()),
    ];
    if !law.is_empty() {
        entries.push((Sample::Line("f-s0"), "fitted law with its 95 % band".to_owned()));
    }
    if let Some(need) = need {
        entries.push((
            Sample::Line("f-gl"),
            format!("needed for 90 %: {} dBm", words::minus(need, 0)),
        ));
    }
    if let Some(words) = &range {
        entries.push((Sample::Line("f-ne"), words.clone()));
        entries.push((Sample::Patch("f-cu"), "95 % interval of that distance".to_owned()));
    }
    canvas.height = 392.0 + legend(&mut canvas, (12.0, 392.0), WIDTH - 20.0, &entries);
    let (near, far) = measured.span?;
    Some(canvas.finish(About {
        name: name.to_owned(),
        title: format!("Level by distance, {}", shortened(board.name, 40)),
        alt: format!(
            "{} exchanges of {} between {} and {}, {} lost. {}{}{}",
            words::count(measured.exchanges),
            shortened(board.name, 40),
            words::metres(near),
            words::metres(far),
            words::count(measured.lost),
            law_words(&law, board.why_no_law.as_deref()),
            need.map_or_else(
                || "What the board needs for 90 % is not known.".to_owned(),
                |need| format!("The board needs {} dBm to deliver 90 %.", words::minus(need, 0))
            ),
            range_words(board)
        ),
        caption: format!(
            "Levels {}, every exchange that counts outside sweeps. For reading, exchanges that share a distance (to 2 %) and a level (to 1 dB) are drawn as one dot; \
             nothing is left out of the figures.{}",
            board.reach.side.words(),
            if law.is_empty() {
                ""
            } else {
                " The law is the mean over places; single places scatter about it."
            }
        ),
    }))
}

/// Draws delivery by distance.
pub fn delivery(name: &str, board: &Board<'_>) -> Option<Figure> {
    let x = board.x()?;
    let measured = board.measured;
    if measured.rings.is_empty() {
        return None;
    }
    let law = board.law();
    let y = Axis::linear((0.0, FRAME.bottom), (1.0, FRAME.top + 8.0));
    let mut canvas = Canvas::new(WIDTH, 452.0);
    axes(
        &mut canvas,
        &FRAME,
        (&x, "metres to the station (each step to the right multiplies)"),
        (&y, "delivered, per cent"),
        |value| words::minus(value * 100.0, 0),
    );
    let range = board.draw_range(&mut canvas, &x);
    if !law.is_empty() {
        band(&mut canvas, &law, &x, |point| {
            (y.at(point.delivery.low), y.at(point.delivery.high))
        });
        curve(&mut canvas, &law, &x, |point| y.at(point.delivery.median));
    }
    canvas.line("f-gl", (FRAME.left, y.at(board.goal)), (FRAME.right, y.at(board.goal)));
    for ring in &measured.rings {
        let at = x.at(ring.mean_m);
        canvas.line("f-e0", (at, y.at(ring.interval.low)), (at, y.at(ring.interval.high)));
        let rate = ring.delivered as f64 / ring.sent as f64;
        Class::of(ring.delivered, ring.sent, board.goal).draw(&mut canvas, (at, y.at(rate)), 4.8);
    }
    let mut entries = vec![
        (Sample::Mark(Class::Goal), "at the goal or above".to_owned()),
        (Sample::Mark(Class::Between), "below it".to_owned()),
        (Sample::Mark(Class::Low), "half or less".to_owned()),
        (Sample::Line("f-gl"), format!("goal, {}", words::percent(board.goal))),
    ];
    if !law.is_empty() {
        entries.push((
            Sample::Line("f-s0"),
            "from the fitted law, interference counted, with its 95 % band".to_owned(),
        ));
    }
    if let Some(words) = &range {
        entries.push((Sample::Line("f-ne"), words.clone()));
        entries.push((Sample::Patch("f-cu"), "95 % interval of that distance".to_owned()));
    }
    canvas.height = 392.0 + legend(&mut canvas, (12.0, 392.0), WIDTH - 20.0, &entries);
    let ring_words: String = measured
        .rings
        .iter()
        .step_by(measured.rings.len().div_ceil(8))
        .map(|ring| {
            format!(
                " At {}: {} of {} ({}).",
                words::metres(ring.mean_m),
                words::percent(ring.delivered as f64 / ring.sent as f64),
                words::count(ring.sent),
                words::percents(ring.interval)
            )
        })
        .collect::<Vec<String>>()
        .concat();
    Some(canvas.finish(About {
        name: name.to_owned(),
        title: format!("Delivery by distance, {}", shortened(board.name, 40)),
        alt: format!(
            "Share of messages of {} delivered in {} rings about the station, goal {}.{ring_words}{}",
            shortened(board.name, 40),
            measured.rings.len(),
            words::percent(board.goal),
            range_words(board)
        ),
        caption: format!(
            "Each mark is a ring about the station with ten exchanges or more; its bar is the 95 % interval, bursts of losses allowed for as this \
             survey shows them.{}",
            if law.is_empty() {
                ""
            } else {
                " The curve is what the fitted law expects on average over places at that distance, with what interference takes; a range leaves \
                 that aside."
            }
        ),
    }))
}

fn law_words(law: &[LawPoint], why_not: Option<&str>) -> String {
    let (Some(first), Some(last)) = (law.first(), law.last()) else {
        return why_not.map_or_else(String::new, |why| format!("No law is fitted: {why}. "));
    };
    let at = |point: &LawPoint| {
        format!(
            "{} dBm at {} ({} to {})",
            words::minus(point.level_dbm.median, 0),
            words::metres(point.distance_m),
            words::minus(point.level_dbm.low, 0),
            words::minus(point.level_dbm.high, 0)
        )
    };
    format!("The fitted mean level falls from {} to {}. ", at(first), at(last))
}

fn range_words(board: &Board<'_>) -> String {
    board.range().map_or_else(String::new, |(share, low, best, high)| {
        format!(
            " {} is delivered out to {} ({} to {}){}.",
            words::percent(share),
            words::metres(best),
            words::metres(low),
            words::metres(high),
            board
                .reach
                .interference_share()
                .map_or_else(String::new, |share| format!(
                    ", {}",
                    reach_words::interference_aside(share)
                ))
        )
    })
}

/// The band of a law; where it leaves the frame it is cut.
fn band(canvas: &mut Canvas, law: &[LawPoint], x: &Axis, limits: impl Fn(&LawPoint) -> (f64, f64)) {
    let cut = |y: f64| y.clamp(FRAME.top, FRAME.bottom);
    let low = law.iter().map(|point| (x.at(point.distance_m), cut(limits(point).0)));
    let high = law
        .iter()
        .rev()
        .map(|point| (x.at(point.distance_m), cut(limits(point).1)));
    let mut path = Path::through(low.chain(high));
    path.close();
    canvas.path("f-a0", &path);
}

/// The law's line: dashed where it is extrapolated; nothing outside the frame.
fn curve(canvas: &mut Canvas, law: &[LawPoint], x: &Axis, at: impl Fn(&LawPoint) -> f64) {
    for (style, extrapolated) in [("f-s0", false), ("f-x0", true)] {
        let mut path = Path::default();
        for point in law {
            let y = at(point);
            if point.extrapolated == extrapolated && (FRAME.top..=FRAME.bottom).contains(&y) {
                path.to((x.at(point.distance_m), y));
            } else {
                path.lift();
            }
        }
        canvas.path(style, &path);
    }
}
