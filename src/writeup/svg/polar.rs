//! Polar plots of orientation sweeps: the station at the top, turns clockwise, rings in dB below the strongest.

use super::canvas::{About, Anchor, Canvas, Path};
use super::marks::{Sample, legend};
use crate::findings::sweeps::Sweep;
use crate::findings::turning::many_lost;
use crate::findings::{sweep_words, words};
use crate::stats::sweep::Direction;
use crate::stats::sweep::analysis::{Pattern, StepLevel};
use crate::stats::sweep::printed::{Printed, WhyNot};
use crate::writeup::document::Figure;
use crate::writeup::text::shortened;

const WIDTH: f64 = 560.0;
const CENTRE: (f64, f64) = (280.0, 236.0);
const RADIUS: f64 = 168.0;
/// A band may reach so far beyond the strongest level, as a share of the radius.
const OVERSHOOT: f64 = 1.12;
/// Half the length of the strokes that close an interval's bar.
const CAP: f64 = 4.0;
/// Depth of the plot, dB, at least and at most.
const DEPTHS_DB: (f64, f64) = (10.0, 40.0);
/// Bars of sweeps laid over each other stand so many degrees apart, that none hides another.
const ASIDE_DEG: f64 = 2.4;
/// At most so many sweeps are laid over each other.
pub const MOST_OVERLAID: usize = 4;

/// Where a direction and a radius stand on a drawing whose y axis grows downward: degrees clockwise from the top.
pub fn polar_xy(centre: (f64, f64), turn_deg: f64, radius: f64) -> (f64, f64) {
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    (centre.0 + radius * sin, centre.1 - radius * cos)
}

/// Levels against a strongest one, as radii.
#[derive(Clone, Copy, Debug)]
struct Rings {
    strongest_dbm: f64,
    depth_db: f64,
}

impl Rings {
    fn of(levels: impl Iterator<Item = f64> + Clone) -> Option<Self> {
        let strongest = levels.clone().fold(f64::NEG_INFINITY, f64::max);
        let weakest = levels.fold(f64::INFINITY, f64::min);
        strongest.is_finite().then(|| Self {
            strongest_dbm: strongest,
            depth_db: (((strongest - weakest + 2.0) / 5.0).ceil() * 5.0).clamp(DEPTHS_DB.0, DEPTHS_DB.1),
        })
    }

    fn at(&self, turn_deg: f64, dbm: f64) -> (f64, f64) {
        let share = 1.0 - (self.strongest_dbm - dbm) / self.depth_db;
        // A band may reach a little beyond the strongest; what is deeper than the plot ends at its centre.
        polar_xy(CENTRE, turn_deg, RADIUS * share.clamp(0.0, OVERSHOOT))
    }
}

/// The level of a step, its upper limit where it heard nothing.
fn step_level(step: &StepLevel) -> Option<f64> {
    match &step.level {
        Printed::Value(level) => Some(level.value),
        Printed::AtMost { high, .. } => Some(*high),
        _ => None,
    }
}

/// Draws one sweep with its band and steps.
pub fn sweep(name: &str, sweep: &Sweep) -> Option<Figure> {
    let curve_dbm = sweep.figures.pattern.iter().flat_map(|pattern| &pattern.level_dbm);
    let rings = Rings::of(
        curve_dbm
            .copied()
            .chain(sweep.figures.steps.iter().filter_map(step_level)),
    )?;
    let mut canvas = Canvas::new(WIDTH, 536.0);
    grid(&mut canvas, &rings);
    if let Ok(pattern) = &sweep.figures.pattern {
        band(&mut canvas, &rings, pattern, 0.0, "f-a0");
        curve(&mut canvas, &rings, &pattern.level_dbm, 0.0, "f-s0");
    }
    for step in &sweep.figures.steps {
        draw_step(&mut canvas, &rings, step);
    }
    let steps = || sweep.figures.steps.iter();
    let mut entries = vec![(Sample::Dot("f-p0"), "a step with its 95 % interval".to_owned())];
    if steps().any(|step| step.delivered > 0 && is_lossy(step)) {
        entries.push((Sample::Patch("f-p1"), "more than a quarter lost".to_owned()));
    }
    if steps().any(|step| step.delivered == 0) {
        entries.push((
            Sample::Line("f-ne"),
            "nothing heard: at most where the arrow begins".to_owned(),
        ));
    }
    if sweep.figures.pattern.is_ok() {
        entries.push((Sample::Line("f-s0"), "fitted pattern".to_owned()));
        entries.push((Sample::Patch("f-a0"), "its 95 % band".to_owned()));
    }
    canvas.height = 486.0 + legend(&mut canvas, (12.0, 486.0), WIDTH - 20.0, &entries);
    let who = label(sweep);
    Some(canvas.finish(About {
        name: name.to_owned(),
        title: format!("Orientation sweep, {who}"),
        alt: format!(
            "Polar plot of {who}: {} steps, rings {} dB apart down to {} dB below the strongest, which is {} dBm. {}",
            sweep.figures.steps.len(),
            words::minus(ring_step(&rings), 0),
            words::minus(rings.depth_db, 0),
            words::minus(rings.strongest_dbm, 0),
            said(sweep)
        ),
        caption: format!(
            "The angle is how far the board's mark is turned clockwise, seen from above, from the direction to the station (at the top); the radius is the level, {}. \
             A square marks a step that lost more than a quarter of its messages, an arrow one that heard nothing.{}",
            direction_words(sweep.figures.direction),
            match &sweep.figures.pattern {
                Ok(_) => String::new(),
                Err(why) => format!(" No pattern is drawn: {why}."),
            }
        ),
    }))
}

fn is_lossy(step: &StepLevel) -> bool {
    many_lost(step.exchanges as u64, step.delivered as u64)
}

/// Draws one step: a disc, or a square where many messages were lost, on the bar of its interval; where nothing was heard an
/// arrow from the highest level it may have down to the centre.
fn draw_step(canvas: &mut Canvas, rings: &Rings, step: &StepLevel) {
    match &step.level {
        Printed::Value(level) => {
            let (low, high) = (level.low, level.high.unwrap_or(level.value));
            canvas.line("f-e0", rings.at(step.turn_deg, low), rings.at(step.turn_deg, high));
            for end in [low, high] {
                let (x, y) = rings.at(step.turn_deg, end);
                let (sin, cos) = step.turn_deg.to_radians().sin_cos();
                canvas.line("f-e0", (x - CAP * cos, y - CAP * sin), (x + CAP * cos, y + CAP * sin));
            }
            let at = rings.at(step.turn_deg, level.value);
            if is_lossy(step) {
                let mut mark = Path::default();
                mark.shape(at, &[(-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0)]);
                canvas.path("f-p1", &mark);
            } else {
                canvas.circle("f-p0", at, 5.0);
            }
        }
        Printed::AtMost { high, .. } => {
            let from = rings.at(step.turn_deg, *high);
            canvas.line("f-ne", from, CENTRE);
            let (sin, cos) = step.turn_deg.to_radians().sin_cos();
            // The tip points inwards, where the level may lie.
            let corner = |along: f64, across: f64| (along * sin + across * cos, across * sin - along * cos);
            let mut mark = Path::default();
            mark.shape(from, &[corner(0.0, -6.0), corner(0.0, 6.0), corner(-10.0, 0.0)]);
            canvas.path("f-p1", &mark);
        }
        Printed::AtLeast { .. } | Printed::NotPrinted(_) => {}
    }
}

/// Adds the sign of a sweep laid over others: a disc, a square, a diamond, a triangle.
fn sign(path: &mut Path, of: usize, at: (f64, f64)) {
    match of {
        0 => path.dot(at, 4.0),
        1 => path.shape(at, &[(-3.8, -3.8), (3.8, -3.8), (3.8, 3.8), (-3.8, 3.8)]),
        2 => path.shape(at, &[(0.0, -5.4), (5.4, 0.0), (0.0, 5.4), (-5.4, 0.0)]),
        _ => path.shape(at, &[(0.0, -5.2), (5.0, 3.8), (-5.0, 3.8)]),
    }
}

/// Draws the steps of one of several sweeps with their intervals, a little beside the turn; a step that heard nothing has
/// its sign at the highest level it may have, and dots from there to the centre.
fn draw_steps_beside(canvas: &mut Canvas, rings: &Rings, sweep: &Sweep, of: usize, style: &str, moved: (f64, f64)) {
    let (moved_db, aside_deg) = moved;
    let mut marks = Path::default();
    for step in &sweep.figures.steps {
        let turn_deg = step.turn_deg + aside_deg;
        match &step.level {
            Printed::Value(level) => {
                let (low, high) = (level.low + moved_db, level.high.unwrap_or(level.value) + moved_db);
                canvas.line(style, rings.at(turn_deg, low), rings.at(turn_deg, high));
                sign(&mut marks, of, rings.at(turn_deg, level.value + moved_db));
            }
            Printed::AtMost { high, .. } => {
                let from = rings.at(turn_deg, *high + moved_db);
                canvas.line("f-ne", from, CENTRE);
                sign(&mut marks, of, from);
            }
            Printed::AtLeast { .. } | Printed::NotPrinted(_) => {}
        }
    }
    canvas.path(style, &marks);
}

/// Lays up to [`MOST_OVERLAID`] sweeps over each other, told apart by dashes and by the signs of their steps.
///
/// Levels of different meters cannot be compared: where the sweeps have no meter in common, each is drawn below its own
/// strongest.
pub fn overlay(name: &str, sweeps: &[&Sweep]) -> Option<Figure> {
    let fitted = sweeps
        .iter()
        .filter_map(|sweep| Some((*sweep, sweep.figures.pattern.as_ref().ok()?)));
    let drawn: Vec<(&Sweep, &Pattern)> = fitted.take(MOST_OVERLAID).collect();
    let ((first, _), true) = (drawn.first()?, drawn.len() > 1) else {
        return None;
    };
    let together = drawn.iter().all(|(sweep, _)| sweep.one_scale(first));
    let moved = |pattern: &Pattern| if together { 0.0 } else { -highest(&pattern.level_dbm) };
    let levels = drawn.iter().flat_map(|(sweep, pattern)| {
        let steps = sweep.figures.steps.iter().filter_map(step_level);
        let curve = pattern.level_dbm.iter().copied();
        curve.chain(steps).map(|level| level + moved(pattern))
    });
    let rings = Rings::of(levels)?;
    let mut canvas = Canvas::new(WIDTH, 474.0 + 21.0 * drawn.len() as f64);
    grid(&mut canvas, &rings);
    let styles = [("f-s0", "f-b0"), ("f-s1", "f-b1"), ("f-s2", "f-b2"), ("f-s3", "f-b3")];
    for (row, ((style, of_steps), (sweep, pattern))) in styles.into_iter().zip(&drawn).enumerate() {
        curve(&mut canvas, &rings, &pattern.level_dbm, moved(pattern), style);
        let aside_deg = (row as f64 - (drawn.len() - 1) as f64 / 2.0) * ASIDE_DEG;
        draw_steps_beside(&mut canvas, &rings, sweep, row, of_steps, (moved(pattern), aside_deg));
        let y = 486.0 + 21.0 * row as f64;
        legend(&mut canvas, (12.0, y), WIDTH, &[(Sample::Line(style), label(sweep))]);
        let mut mark = Path::default();
        sign(&mut mark, row, (22.0, y));
        canvas.path(of_steps, &mark);
    }
    let listed: Vec<String> = drawn
        .iter()
        .map(|(sweep, _)| format!("{}: {}", label(sweep), said(sweep)))
        .collect();
    let below = if together {
        format!("the strongest of all, {} dBm", words::minus(rings.strongest_dbm, 0))
    } else {
        "the strongest of each".to_owned()
    };
    let caption = match (together, first.figures.direction) {
        (false, _) => {
            "Levels are of different meters, which nobody calibrated to each other: each curve is drawn below its own strongest, and only shapes compare."
        }
        (true, Direction::Here) => {
            "Levels are as the board's own meter read them. Those of different points compare in shape only."
        }
        (true, _) => "Levels are as the one station heard them. Those of different points compare in shape only.",
    };
    Some(canvas.finish(About {
        name: name.to_owned(),
        title: "Sweeps laid over each other".to_owned(),
        alt: format!(
            "Fitted patterns of {} sweeps, and their steps with 95 % intervals, on the same rings, down to {} dB below {below}. {}",
            drawn.len(),
            words::minus(rings.depth_db, 0),
            listed.join(" ")
        ),
        caption: format!(
            "Lines are fitted patterns, bars the 95 % intervals of steps, drawn a little beside their turn so that none hides another. {caption}"
        ),
    }))
}

fn highest(levels: &[f64]) -> f64 {
    levels.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

fn ring_step(rings: &Rings) -> f64 {
    if rings.depth_db <= 15.0 {
        3.0
    } else if rings.depth_db <= 25.0 {
        5.0
    } else {
        10.0
    }
}

fn grid(canvas: &mut Canvas, rings: &Rings) {
    let step = ring_step(rings);
    let count = (rings.depth_db / step).ceil() as u32;
    for index in 0..count {
        let below = f64::from(index) * step;
        canvas.circle(
            if index == 0 { "f-ax" } else { "f-gr" },
            CENTRE,
            RADIUS * (1.0 - below / rings.depth_db),
        );
    }
    for turn in 0..12 {
        let turn = f64::from(turn) * 30.0;
        canvas.line("f-gr", CENTRE, polar_xy(CENTRE, turn, RADIUS));
        let (x, y) = polar_xy(CENTRE, turn, RADIUS * OVERSHOOT + 17.0);
        let words = format!("{turn:.0}°");
        if turn != 0.0 {
            canvas.text("f-ts", (x, y + 4.5), Anchor::Middle, &words);
        }
    }
    let mut arrow = Path::default();
    arrow.shape(
        (CENTRE.0, CENTRE.1 - RADIUS * OVERSHOOT - 11.0),
        &[(0.0, -7.0), (6.0, 4.0), (-6.0, 4.0)],
    );
    canvas.path("f-st", &arrow);
    canvas.text(
        "f-tx",
        (CENTRE.0, CENTRE.1 - RADIUS * OVERSHOOT - 24.0),
        Anchor::Middle,
        "mark towards the station, 0°",
    );
    // Ring labels stand between two spokes, where no step of a usual sweep falls.
    for index in 1..count {
        let below = f64::from(index) * step;
        let at = polar_xy(CENTRE, 15.0, RADIUS * (1.0 - below / rings.depth_db));
        canvas.text("f-ha", (at.0, at.1 + 4.5), Anchor::Middle, &format!("−{below:.0} dB"));
        canvas.text("f-ts", (at.0, at.1 + 4.5), Anchor::Middle, &format!("−{below:.0} dB"));
    }
}

/// A fitted curve, moved by some decibels.
fn curve(canvas: &mut Canvas, rings: &Rings, levels: &[f64], moved_db: f64, style: &str) {
    let mut path = Path::through(
        (0_u32..)
            .zip(levels)
            .map(|(turn, dbm)| rings.at(f64::from(turn), dbm + moved_db)),
    );
    path.close();
    canvas.path(style, &path);
}

/// The band about a fitted curve, moved by some decibels.
fn band(canvas: &mut Canvas, rings: &Rings, pattern: &Pattern, moved_db: f64, style: &str) {
    let edge = |levels: &[f64]| -> Vec<(f64, f64)> {
        let turns = (0_u32..).zip(levels);
        turns
            .map(|(turn, dbm)| rings.at(f64::from(turn), dbm + moved_db))
            .collect()
    };
    let mut band = Path::through(edge(&pattern.high_dbm));
    band.close();
    // The inner edge runs the other way round, so that the ring between is filled and its middle is not.
    for place in edge(&pattern.low_dbm).into_iter().rev() {
        band.to(place);
    }
    band.close();
    canvas.path(style, &band);
}

/// Which sweep it is, in a few words.
pub fn label(sweep: &Sweep) -> String {
    let pose = sweep
        .pose
        .as_deref()
        .map_or_else(String::new, |pose| format!(", {}", shortened(pose, 16)));
    format!(
        "{}{pose} at {}",
        shortened(&sweep.board, 24),
        shortened(&sweep.name, 16)
    )
}

fn direction_words(direction: Direction) -> &'static str {
    match direction {
        Direction::Joint => "from both directions of the link together, on the station's scale",
        Direction::Here => "as the board hears the station",
        Direction::There => "as the station hears the board",
    }
}

/// What a sweep says, in a sentence.
fn said(sweep: &Sweep) -> String {
    use crate::stats::sweep::analysis::Directivity;
    let figures = &sweep.figures;
    match figures.directivity {
        Directivity::Shown { .. } => format!(
            "Strongest with the mark at {}; weakest at {}; strongest less weakest {}.",
            sweep_words::turn(&figures.strongest),
            sweep_words::turn(&figures.weakest),
            words::printed(&figures.null_depth_db, "dB", 0)
        ),
        Directivity::NotShown { p, needed } => format!("{}.", WhyNot::NoDirectivity { p, needed }),
        Directivity::NotTested(why) => format!("Directivity was not tested: {why}."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_run_clockwise_from_the_top() {
        for (turn, radius, x, y) in [
            (0.0, 100.0, 200.0, 100.0),
            (90.0, 100.0, 300.0, 200.0),
            (180.0, 50.0, 200.0, 250.0),
            (270.0, 100.0, 100.0, 200.0),
        ] {
            let at = polar_xy((200.0, 200.0), turn, radius);
            assert!((at.0 - x).abs() < 1e-9 && (at.1 - y).abs() < 1e-9, "{at:?}");
        }
    }
}
