//! Boards at points and boards compared, as JSON.

use serde_json::{Value, json};

use super::compared_words;
use super::estimates::Estimates;
use super::grid::Still;
use super::json::margin;
use super::words;
use crate::stats::boards::Effect;
use crate::survey::setup::Setup;

/// The grid of boards at points: for each cell the run that stands for it, and for each point what is still to be measured.
pub fn boards_at_points(estimates: &Estimates, setup: &Setup) -> Value {
    let grid = estimates.grid(setup);
    let cells = (0..grid.boards.len()).flat_map(|board| (0..grid.points.len()).map(move |point| (board, point)));
    let cells: Vec<Value> = cells
        .map(|(board, point)| {
            let run = grid.cell(board, point);
            let row = run.map(|run| run.row);
            let figures = row.and_then(|row| estimates.figures_of(row));
            let spare = figures.and_then(|figures| figures.margin.as_ref()).map(margin);
            let spare = |key: &str| spare.as_ref().map(|margin| margin[key].clone());
            let why = match (row, figures) {
                (Some(row), Some(figures)) => estimates.why_no_margin(row, figures).map(|why| why.to_string()),
                (Some(_), None) => Some("no answer carried a level".to_owned()),
                (None, _) => Some("not measured".to_owned()),
            };
            json!({
                "board": grid.boards[board],
                "point": grid.points[point].name,
                "runs": grid.runs(board, point).len(),
                "run": row.map(|row| row.run),
                "distance_m": row.and_then(|row| row.distance).map(|distance| distance.0),
                "messages": row.map(|row| row.messages),
                "delivered": row.map(|row| row.delivered),
                "rate": row.and_then(|row| row.standing.delivery.rate),
                "rate_low": row.map(|row| row.standing.delivery.interval.low),
                "rate_high": row.map(|row| row.standing.delivery.interval.high),
                "verdict": row.map(|row| row.standing.word()),
                "margin_db": spare("margin_db"),
                "margin_low_db": spare("margin_low_db"),
                "margin_high_db": spare("margin_high_db"),
                "margin_why_not": why,
            })
        })
        .collect();
    let points: Vec<Value> = grid
        .points
        .iter()
        .enumerate()
        .map(|(index, point)| {
            json!({
                "point": point.name,
                "distance_m": point.distance.map(|distance| distance.0),
                "places_apart_m": grid.two_places(index).map(|apart| apart.0),
                "maybe_same_as": grid.maybe_same(index).map(|(other, apart)| json!({ "point": other, "apart_m": apart.0 })),
                "still_to_measure": grid.still(index, None).iter().map(|one| match one {
                    Still::Measure(board) => json!({ "board": board, "why": "not measured", "more_messages": null }),
                    Still::Finish(board, more) => json!({ "board": board, "why": "cut short", "more_messages": more }),
                    Still::Again(board) => {
                        json!({ "board": board, "why": "reference not measured after the others", "more_messages": null })
                    }
                }).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({ "reference": grid.reference, "boards": grid.boards, "points": points, "cells": cells })
}

/// What each board gives over the reference, what drifted, or why nothing is said.
pub fn comparison(estimates: &Estimates) -> Value {
    let Some(boards) = &estimates.comparison else {
        return Value::Null;
    };
    let found = match &boards.comparison {
        Err(why) => {
            return json!({
                "reference": boards.names.first(), "boards": boards.names, "points": boards.points,
                "why_not": words::no_comparison(*why), "putting_back_sd_db": null,
                "putting_back_why_not": words::no_comparison(*why), "degrees_of_freedom": null,
                "confidence": null, "drifts_db": [], "needs_unknown": boards.needs_unknown,
            });
        }
        Ok(found) => found,
    };
    let points_of =
        |points: &[usize]| -> Vec<String> { points.iter().map(|point| boards.point(*point).to_owned()).collect() };
    let putting_back = boards.putting_back_db();
    let effects: Vec<Value> = found
        .boards
        .iter()
        .map(|effect| {
            let mut value = json!({
                "board": boards.names.get(effect.board), "cells": effect.cells,
                "cells_with_level": effect.two_sided, "points_both_heard": boards.meter.both(effect.board, 0),
                "not_heard_at": points_of(&boards.meter.silent(effect.board, 0)),
                "reference_not_heard_at": points_of(&boards.meter.silent(0, effect.board)),
                "why_not": boards.nothing_said(effect).map(|why| compared_words::nothing_said(boards, effect.board, why)),
                "over_reference_db": null,
                "standard_error_db": null, "alone_low_db": null, "alone_high_db": null, "together_low_db": null,
                "together_high_db": null, "told_apart": null, "at_least_db": null, "at_most_db": null,
            });
            match effect.effect {
                Effect::Measured {
                    estimate_db,
                    standard_error_db,
                    individual,
                    simultaneous,
                } => {
                    value["over_reference_db"] = json!(estimate_db);
                    value["standard_error_db"] = json!(standard_error_db);
                    value["alone_low_db"] = json!(individual.low);
                    value["alone_high_db"] = json!(individual.high);
                    value["together_low_db"] = json!(simultaneous.low);
                    value["together_high_db"] = json!(simultaneous.high);
                    value["told_apart"] = json!(!simultaneous.holds(0.0));
                }
                Effect::OpenEnded { low_db, high_db } => {
                    value["at_least_db"] = json!(low_db);
                    value["at_most_db"] = json!(high_db);
                }
            }
            value
        })
        .collect();
    json!({
        "reference": boards.names.first(),
        "points": boards.points,
        "boards": effects,
        "putting_back_sd_db": putting_back,
        "putting_back_why_not": putting_back.is_none().then_some("no board was measured against another"),
        "degrees_of_freedom": putting_back.map(|_| found.degrees),
        "confidence": found.confidence,
        "drifts_db": boards.drifts.iter().map(|of| {
            let drift = of.drift.ok();
            json!({
                "point": boards.point(of.point),
                "drift_db": drift.map(|drift| drift.estimate_db),
                "standard_error_db": drift.map(|drift| drift.standard_error_db),
                "low_db": drift.map(|drift| drift.interval.low),
                "high_db": drift.map(|drift| drift.interval.high),
                "taken_out": drift.is_some(),
                "why_not": of.drift.err().map(|why| compared_words::no_drift(boards, why)),
            })
        }).collect::<Vec<_>>(),
        "needs_unknown": boards.needs_unknown,
        "why_not": null,
    })
}
