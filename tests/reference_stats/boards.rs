//! Three boards at five stops, worked out apart from this program with numpy and scipy.

use crate::{close, number, numbers, reference};
use farpace::stats::boards::{BoardCell, Effect, compare};
use farpace::stats::cells::{Cell, SCurve};
use farpace::stats::dunnett::dunnett_critical;
use farpace::stats::level::LevelModel;

/// The fit stops at 0.0001 dB: sums taken in another order may stop a little elsewhere.
#[track_caller]
fn near(got: f64, wanted: f64, what: &str) {
    assert!(
        (got - wanted).abs() <= 1e-6 * wanted.abs().max(1.0),
        "{what}: {got} is not {wanted}"
    );
}

#[test]
fn boards_agree() {
    let reference = reference("d_compare");
    let model = LevelModel::new(SCurve::new(-92.0, 1.0).unwrap(), 0.02);
    let cells: Vec<(Cell, f64)> = reference["hist"]
        .as_array()
        .unwrap()
        .iter()
        .map(|h| {
            let readings = numbers(&h["values"])
                .iter()
                .map(|v| *v as i32)
                .zip(numbers(&h["counts"]))
                .collect();
            (
                Cell {
                    readings,
                    unread: 0.0,
                    lost: number(&h["lost"]),
                },
                number(&h["weight"]),
            )
        })
        .collect();
    let (k, table) = model.pooled_k(&cells).unwrap();
    close(k, number(&reference["pooled_K"]), "pooled K");
    let rows: Vec<BoardCell> = reference["rows"]
        .as_array()
        .unwrap()
        .iter()
        .zip(&cells)
        .map(|(row, (cell, weight))| BoardCell {
            stop: number(&row["stop"]) as usize,
            board: number(&row["board"]) as usize,
            orientation: 0,
            time: number(&row["t"]),
            log_likelihood: table.log_likelihood(cell, *weight),
        })
        .collect();
    let comparison = compare(&rows, 0, 0.95).unwrap();
    near(comparison.spread_db, number(&reference["tau"]), "spread");
    near(comparison.degrees, number(&reference["df"]), "degrees");
    assert_eq!(
        (comparison.stops, comparison.cells, comparison.drifts.len()),
        (5, 20, 5)
    );
    for (got, wanted) in comparison.fit.cell_means.iter().zip(numbers(&reference["cell_mean"])) {
        near(*got, wanted, "cell mean");
    }
    for (got, wanted) in comparison
        .fit
        .cell_variances
        .iter()
        .zip(numbers(&reference["cell_var"]))
    {
        near(*got, wanted, "cell variance");
    }
    assert_eq!(comparison.boards.len(), 2);
    for board in &comparison.boards {
        let expect = &reference["expect"][board.board.to_string()];
        let Effect::Measured {
            estimate_db,
            standard_error_db,
            individual,
            simultaneous,
        } = board.effect
        else {
            panic!("{board:?}")
        };
        near(estimate_db, number(&expect["est"]), "estimate");
        near(standard_error_db, number(&expect["se"]), "standard error");
        near(individual.low, number(&expect["lo"]), "low");
        near(individual.high, number(&expect["hi"]), "high");
        near(simultaneous.low, number(&expect["slo"]), "simultaneous low");
        near(simultaneous.high, number(&expect["shi"]), "simultaneous high");
    }
}

#[test]
fn dunnett_agrees() {
    for case in reference("d_compare")["dunnett"].as_array().unwrap() {
        let got = dunnett_critical(number(&case["k"]) as usize, number(&case["df"]), 0.95).unwrap();
        close(got, number(&case["crit"]), "critical value");
    }
}
