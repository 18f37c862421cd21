//! The sentences about boards at points: what is still to be measured, and all that is known of one cell.

use super::number::{metres, percents};
use super::scene::Scene;
use super::statements::{self, Likely};
use super::theme::Tone;
use crate::findings::grid::{self, POINTS_TO_COMPARE};
use crate::findings::no_margin::NoMargin;
use crate::findings::stop::Surer;
use crate::findings::words;
use crate::stats::verdict::Verdict;

/// What is still to be measured at the point at hand before moving on, or elsewhere; first of all sentences.
pub fn to_do(scene: &Scene<'_>) -> String {
    let grid = &scene.grid;
    let in_hand = scene.now.board.as_ref().map(|(board, _)| board.as_str());
    let (_, point) = scene.at_hand();
    let Some(name) = grid.points.get(point).map(|point| point.name) else {
        return "No point has been measured yet.".to_owned();
    };
    let stands = scene.stop.as_ref().is_some_and(|stop| stop.name == name);
    let left = grid::words(&grid.still(point, in_hand));
    if scene.doing.is_replay() {
        return open_so_far(scene, point, left);
    }
    if grid.boards.len() < 2 {
        let rest = "One board so far: measure others at the same points to compare them.";
        return match left {
            Some(left) => format!("At {name} still: {left}. {rest}"),
            None => rest.to_owned(),
        };
    }
    match (left, stands) {
        (Some(left), true) => format!("Here at {name} still: {left}."),
        (Some(left), false) => format!("Left open at {name}: {left}."),
        (None, _) => format!("All boards are measured at {name}. {}", elsewhere(scene, point)),
    }
}

/// The same of a survey that is played: what was open, and no order to measure it.
fn open_so_far(scene: &Scene<'_>, point: usize, left: Option<String>) -> String {
    let grid = &scene.grid;
    let name = grid.points[point].name;
    let one = if grid.boards.len() < 2 {
        "One board so far. "
    } else {
        ""
    };
    match left {
        Some(left) => format!("{one}Open so far at {name}: {left}."),
        None if grid.boards.len() < 2 => one.trim_end().to_owned(),
        None => format!("{name} is complete. {}", elsewhere(scene, point)),
    }
}

fn elsewhere(scene: &Scene<'_>, but: usize) -> String {
    let grid = &scene.grid;
    let others = (0..grid.points.len()).filter(|point| *point != but);
    let open: Vec<String> = others
        .filter_map(|point| {
            Some(format!(
                "{} at {}",
                grid::words(&grid.still(point, None))?,
                grid.points[point].name
            ))
        })
        .collect();
    let so_far = points(grid.points.len());
    match open.as_slice() {
        [] if grid.points.len() < POINTS_TO_COMPARE && scene.doing.is_replay() => {
            format!("So far {so_far} of the {POINTS_TO_COMPARE} at different distances that tell boards apart.")
        }
        [] if grid.points.len() < POINTS_TO_COMPARE => format!(
            "Go on to another: {so_far} of the {POINTS_TO_COMPARE} points at different distances that tell boards apart."
        ),
        [] => format!("So they are at every other point{}.", undecided(scene)),
        [one] => format!("Still open: {one}."),
        [first, rest @ ..] => format!("Still open: {first}; and {} more.", points(rest.len())),
    }
}

/// How many runs leave open whether the goal is met: measured as long as asked is not decided.
fn undecided(scene: &Scene<'_>) -> String {
    let grid = &scene.grid;
    let cells = (0..grid.boards.len()).flat_map(|board| (0..grid.points.len()).map(move |point| (board, point)));
    let cells: Vec<bool> = cells
        .filter_map(|(board, point)| grid.cell(board, point))
        .map(|cell| cell.row.standing.verdict == Verdict::KeepMeasuring)
        .collect();
    match cells.iter().filter(|open| **open).count() {
        0 => String::new(),
        open => format!("; not decided yet: {open} of {}", cells.len()),
    }
}

fn points(count: usize) -> String {
    format!("{count} {}", if count == 1 { "point" } else { "points" })
}

/// All that is known of a cell: what was measured, what the count proves, what the level makes likely, how the board compares.
/// `brief`: without what to do about a level that is not known.
pub fn about_cell(scene: &Scene<'_>, (board, point): (usize, usize), brief: bool) -> Vec<(String, Tone)> {
    let grid = &scene.grid;
    let (Some(name), Some(place)) = (grid.boards.get(board), grid.points.get(point)) else {
        return Vec::new();
    };
    let run = grid.cell(board, point).and_then(|cell| cell.row.distance);
    let far = run
        .or(place.distance)
        .map_or_else(String::new, |distance| format!(", {}", metres(distance.0)));
    let mut said = Vec::new();
    match grid.cell(board, point) {
        None => said.push((
            format!("{name} at {}{far}: not measured yet.", place.name),
            Tone::Strong,
        )),
        Some(cell) => {
            let row = cell.row;
            let runs = match grid.runs(board, point).len() {
                0 | 1 => String::new(),
                runs => format!(", the last whole one of {runs} runs"),
            };
            said.push((
                format!(
                    "{name} at {}{far}: {} of {} delivered ({}){runs}.",
                    place.name,
                    row.delivered,
                    row.messages,
                    percents(row.standing.delivery.interval)
                ),
                Tone::Strong,
            ));
            let running = scene.stop.is_some() && scene.samples.rows.last().is_some_and(|last| last.run == row.run);
            said.push((
                if scene.doing.is_replay() {
                    statements::by_count_played(&row.standing)
                } else if running {
                    statements::by_count_briefly(&row.standing)
                } else {
                    statements::by_count_of_a_run(&row.standing)
                },
                Tone::Text,
            ));
            said.push((by_level(scene, row.run, running, brief), Tone::Text));
        }
    }
    if let Some(apart) = grid.two_places(point) {
        said.push((grid::two_places_words(place.name, apart), Tone::Close));
    }
    if let Some(near) = grid.maybe_same(point) {
        said.push((grid::maybe_same_words(place.name, near), Tone::Close));
    }
    said.extend(compared(scene, name, place.name).map(|words| (words, Tone::Text)));
    said
}

/// How a board compares with the reference, where one of them fell silent, and what drifted at a point meanwhile.
fn compared(scene: &Scene<'_>, board: &str, point: &str) -> Option<String> {
    let (outlook, reference) = (scene.around.outlook?, scene.grid.reference?);
    let drift = outlook
        .drifts
        .get(point)
        .map(|drift| format!("Drift at {point}: {drift}."));
    if board == reference {
        return drift;
    }
    if let Some(why) = outlook.not_compared {
        return Some(format!("Against {reference}: not compared, for {why}."));
    }
    let against = outlook.against_reference.get(board)?;
    let silent = against.fell_silent.as_deref().map(words::sentence);
    let first = format!(
        "Against {reference}, as the station heard both at {}: {}.",
        against.both_heard, against.sentence
    );
    Some(
        [Some(first), silent, drift]
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join(" "),
    )
}

fn by_level(scene: &Scene<'_>, run: u32, running: bool, brief: bool) -> String {
    let wanted = scene.setup.goal.margin_db;
    let replay = scene.doing.is_replay();
    let Some(figures) = scene.around.outlook.and_then(|outlook| outlook.runs.get(&run)) else {
        return "By level: being worked out.".to_owned();
    };
    let Some(margin) = &figures.margin else {
        let Some(why) = &figures.why_no_margin else {
            return "By level: not known yet.".to_owned();
        };
        let level = figures
            .level
            .as_ref()
            .map_or_else(String::new, |level| format!("{level}; "));
        let NoMargin { what, to_do, .. } = why;
        let to_do = to_do.as_ref().filter(|_| !brief && !replay);
        let to_do = to_do.map_or_else(String::new, |to_do| format!(" {}", words::sentence(to_do)));
        return format!("By level: {level}open, for {what}.{to_do}");
    };
    let likely = Likely::of(margin, wanted);
    let how = match figures.surer {
        _ if likely != Likely::Open => String::new(),
        Some(surer) if replay => format!(" {}", statements::surer_played(surer, figures.path_m)),
        Some(surer) if running => format!(" {}", statements::surer(surer, figures.path_m)),
        Some(Surer::Move { .. }) => {
            " The board stood still: one fading sample. Measured again moving slowly through five metres it gets surer."
                .to_owned()
        }
        _ => String::new(),
    };
    let level = figures
        .level
        .as_ref()
        .map_or_else(String::new, |level| format!("{level}, "));
    format!(
        "By level: {level}{} to spare, goal {wanted:.0}: {}.{how}",
        words::margin(margin),
        likely.short()
    )
}
