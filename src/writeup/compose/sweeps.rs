//! Orientation sweeps: polar plots and figures.

use super::whole::Part;
use crate::findings::sweeps::{Sweep, pairs};
use crate::findings::{sweep_words, words};
use crate::stats::sweep::Direction;
use crate::stats::sweep::printed::{Arc, Estimate, Printed};
use crate::writeup::document::{Block, Cell, DataTable, Document, ReadTable, Section};
use crate::writeup::number;
use crate::writeup::svg::polar;

/// At most so many sweeps are drawn; the tables hold all.
const MOST_DRAWN: usize = 12;
/// At most so many comparisons are told; their table holds all.
const MOST_COMPARED: usize = 12;

/// The section, with its figures and tables.
pub fn section(part: &Part<'_>, document: &mut Document) -> Section {
    let sweeps = &part.subject.estimates.sweeps;
    if sweeps.is_empty() {
        let none = Block::Text(
            "No orientation sweep was made, so nothing is known of which way a board should face.".to_owned(),
        );
        return part.section("sweeps", "Polar plots", vec![none]);
    }
    // Where no sweep says anything, a table of dashes says no more; the reasons stand below each plot.
    let summary = summary(sweeps);
    let mut blocks = if summary.rows.is_empty() {
        Vec::new()
    } else {
        vec![Block::Table(summary)]
    };
    for (index, sweep) in sweeps.iter().take(MOST_DRAWN).enumerate() {
        if let Some(figure) = polar::sweep(&part.name(&format!("sweep-{}", index + 1)), sweep) {
            blocks.push(document.add_figure(figure));
        }
        let said = sweep_words::sentences(sweep);
        blocks.push(Block::Text(format!("{}: {}", polar::label(sweep), said.join(" "))));
    }
    if sweeps.len() > 1 {
        let all: Vec<&Sweep> = sweeps.iter().collect();
        if let Some(figure) = polar::overlay(&part.name("sweeps-overlaid"), &all) {
            blocks.push(document.add_figure(figure));
        }
    }
    for pair in pairs(sweeps).iter().take(MOST_COMPARED) {
        blocks.push(Block::Text(format!(
            "{} against {}: {}.",
            polar::label(&sweeps[pair.second]),
            polar::label(&sweeps[pair.first]),
            sweep_words::against(pair)
        )));
    }
    if sweeps.len() > MOST_DRAWN {
        blocks.push(Block::Text(format!(
            "The first {MOST_DRAWN} of {} sweeps are drawn; the tables hold all.",
            sweeps.len()
        )));
    }
    tables(part, document);
    part.section("sweeps", "Polar plots", blocks)
}

fn summary(sweeps: &[Sweep]) -> ReadTable {
    ReadTable {
        caption:
            "What each sweep says. Turns are those of the board's mark, clockwise from the direction to the station."
                .to_owned(),
        head: [
            ("sweep", false),
            ("distance", true),
            ("strongest at", false),
            ("weakest at", false),
            ("3 dB width", false),
            ("front to back", false),
            ("null depth", false),
            ("within 3 dB", false),
        ]
        .map(|(name, numeric)| (name.to_owned(), numeric))
        .to_vec(),
        rows: sweeps
            .iter()
            .map(|sweep| {
                let figures = &sweep.figures;
                vec![
                    polar::label(sweep),
                    sweep.distance_m.map_or_else(|| "–".to_owned(), words::metres),
                    short_turn(&figures.strongest),
                    short_turn(&figures.weakest),
                    short(&words::printed(&figures.beamwidth_deg, "°", 0)),
                    short(&words::printed(&figures.front_to_back_db, "dB", 0)),
                    short(&words::printed(&figures.null_depth_db, "dB", 0)),
                    short(&words::printed(&per_cent(&figures.share_within_3_db), "%", 0)),
                ]
            })
            .filter(|row| row.iter().skip(2).any(|said| said != "–"))
            .collect(),
    }
}

/// A figure without the reason why it is not said in full; that stands below the plot, once.
fn short(words: &str) -> String {
    if words.starts_with('—') {
        return "–".to_owned();
    }
    match (words.starts_with("at "), words.find(" (")) {
        (true, Some(at)) => words[..at].to_owned(),
        _ => words.to_owned(),
    }
}

fn short_turn(said: &Printed<Arc>) -> String {
    short(&sweep_words::turn(said))
}

/// A share as a figure in per cent.
fn per_cent(share: &Printed<Estimate>) -> Printed<Estimate> {
    match *share {
        Printed::Value(estimate) => Printed::Value(Estimate {
            value: estimate.value * 100.0,
            low: estimate.low * 100.0,
            high: estimate.high.map(|high| high * 100.0),
        }),
        Printed::AtLeast { low, why } => Printed::AtLeast { low: low * 100.0, why },
        Printed::AtMost { high, why } => Printed::AtMost {
            high: high * 100.0,
            why,
        },
        Printed::NotPrinted(why) => Printed::NotPrinted(why),
    }
}

fn tables(part: &Part<'_>, document: &mut Document) {
    let mut figures = Vec::new();
    let mut steps = Vec::new();
    let mut patterns = Vec::new();
    for sweep in &part.subject.estimates.sweeps {
        let who = || {
            vec![
                number::words(&sweep.name),
                number::words(sweep.pose.as_deref().unwrap_or_default()),
                number::words(&sweep.board),
                number::whole(Some(u64::from(sweep.run))),
            ]
        };
        let said = &sweep.figures;
        let mut row = who();
        row.push(Cell::Number(sweep.begin.rfc3339().unwrap_or_default()));
        row.push(number::words(match said.direction {
            Direction::Joint => "both",
            Direction::Here => "here",
            Direction::There => "there",
        }));
        row.push(number::cell(sweep.distance_m, 2));
        for arc in [&said.strongest, &said.weakest] {
            row.extend(arc_cells(arc));
        }
        for estimate in [
            &said.beamwidth_deg,
            &said.front_to_back_db,
            &said.null_depth_db,
            &said.share_within_3_db,
        ] {
            row.extend(estimate_cells(estimate));
        }
        let closure = said.closure.as_ref().ok();
        row.push(number::cell(closure.map(|closure| closure.difference_db), 2));
        row.push(number::cell(closure.map(|closure| closure.standard_error_db), 2));
        figures.push(row);
        for step in &said.steps {
            let mut row = who();
            row.push(number::cell(Some(step.turn_deg), 1));
            row.push(number::whole(Some(step.exchanges as u64)));
            row.push(number::whole(Some(step.delivered as u64)));
            row.extend(estimate_cells(&step.level));
            steps.push(row);
        }
        if let Ok(pattern) = &said.pattern {
            for turn in 0..pattern.level_dbm.len() {
                let mut row = who();
                row.push(number::whole(Some(turn as u64)));
                row.push(number::cell(pattern.level_dbm.get(turn).copied(), 2));
                row.push(number::cell(pattern.low_dbm.get(turn).copied(), 2));
                row.push(number::cell(pattern.high_dbm.get(turn).copied(), 2));
                patterns.push(row);
            }
        }
    }
    let mut table = |name: &str, more: &[&'static str], rows: Vec<Vec<Cell>>| {
        let mut head = vec!["sweep", "pose", "board", "run"];
        head.extend(more);
        document.tables.push(DataTable {
            name: part.name(name),
            head,
            rows,
        });
    };
    table(
        "sweeps",
        &[
            "begin_utc",
            "direction",
            "distance_m",
            "strongest_deg",
            "strongest_half_width_deg",
            "weakest_deg",
            "weakest_half_width_deg",
            "beamwidth_deg",
            "beamwidth_low_deg",
            "beamwidth_high_deg",
            "front_to_back_db",
            "front_to_back_low_db",
            "front_to_back_high_db",
            "null_depth_db",
            "null_depth_low_db",
            "null_depth_high_db",
            "share_within_3_db",
            "share_within_3_db_low",
            "share_within_3_db_high",
            "closure_db",
            "closure_standard_error_db",
        ],
        figures,
    );
    table(
        "sweep-steps",
        &[
            "turn_deg",
            "exchanges",
            "delivered",
            "level_dbm",
            "level_low_dbm",
            "level_high_dbm",
        ],
        steps,
    );
    table(
        "sweep-patterns",
        &["turn_deg", "level_dbm", "level_low_dbm", "level_high_dbm"],
        patterns,
    );
    compared(part, document);
}

/// How sweeps that differ in one thing differ, turn by turn, the second less the first.
fn compared(part: &Part<'_>, document: &mut Document) {
    let sweeps = &part.subject.estimates.sweeps;
    let mut rows = Vec::new();
    for pair in pairs(sweeps) {
        for turn in &pair.comparison.turns {
            let mut row = Vec::new();
            for sweep in [&sweeps[pair.first], &sweeps[pair.second]] {
                row.push(number::words(&sweep.name));
                row.push(number::words(sweep.pose.as_deref().unwrap_or_default()));
                row.push(number::words(&sweep.board));
            }
            row.push(number::cell(pair.apart_m, 1));
            row.push(number::cell(Some(turn.turn_deg), 1));
            row.extend(estimate_cells(&turn.alone_db));
            row.extend(estimate_cells(&turn.together_db));
            rows.push(row);
        }
    }
    if rows.is_empty() {
        return;
    }
    document.tables.push(DataTable {
        name: part.name("sweeps-compared"),
        head: vec![
            "first",
            "first_pose",
            "first_board",
            "second",
            "second_pose",
            "second_board",
            "apart_m",
            "turn_deg",
            "difference_db",
            "difference_low_db",
            "difference_high_db",
            "difference_all_turns_db",
            "difference_all_turns_low_db",
            "difference_all_turns_high_db",
        ],
        rows,
    });
}

fn arc_cells(arc: &Printed<Arc>) -> [Cell; 2] {
    let arc = arc.value();
    [
        Cell::Number(number::direction(arc.map(|arc| arc.centre_deg), 1)),
        number::cell(arc.map(|arc| arc.half_width_deg), 1),
    ]
}

fn estimate_cells(said: &Printed<Estimate>) -> [Cell; 3] {
    let (value, low, high) = match said {
        Printed::Value(estimate) => (Some(estimate.value), Some(estimate.low), estimate.high),
        Printed::AtLeast { low, .. } => (None, Some(*low), None),
        Printed::AtMost { high, .. } => (None, None, Some(*high)),
        Printed::NotPrinted(_) => (None, None, None),
    };
    [number::cell(value, 3), number::cell(low, 3), number::cell(high, 3)]
}
