//! The walk fit against figures of an independent implementation, on stored walks.

use farpace::stats::cells::{Cell, Heard, SCurve};
use farpace::stats::walk::binning::{BinRules, WalkCell, WalkSample, bin_walk};
use farpace::stats::walk::describe::RangeWording;
use farpace::stats::walk::fit::{Beforehand, NoFit, WalkFit, fit_walk};
use farpace::stats::walk::inflation::Inflation;
use farpace::stats::walk::posterior::Spread;
use serde_json::Value;

fn reference(name: &str) -> Value {
    let path = format!("{}/tests/reference/walk/{name}", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn cells(from: &Value) -> Vec<WalkCell> {
    from["cells"]
        .as_array()
        .unwrap()
        .iter()
        .map(|cell| WalkCell {
            east_m: cell["x"].as_f64().unwrap(),
            north_m: cell["y"].as_f64().unwrap(),
            log10_distance: cell["log10d"].as_f64().unwrap(),
            heard: Cell {
                readings: numbers(&cell["values"])
                    .iter()
                    .zip(numbers(&cell["counts"]))
                    .map(|(v, c)| (*v as i32, c))
                    .collect(),
                unread: 0.0,
                lost: cell["lost"].as_f64().unwrap(),
            },
            revisited: cell["revisited"].as_f64().unwrap() > 0.0,
        })
        .collect()
}

fn numbers(from: &Value) -> Vec<f64> {
    from.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

/// Relative to the wanted value; inputs and outputs carry seven digits.
fn close(what: &str, got: f64, wanted: f64, relative: f64) {
    assert!(
        (got - wanted).abs() <= relative * wanted.abs(),
        "{what}: {got}, wanted {wanted}"
    );
}

fn spread_close(what: &str, got: Spread, wanted: &Value, relative: f64) {
    let wanted = numbers(wanted);
    close(what, got.low, wanted[0], relative);
    close(what, got.median, wanted[1], relative);
    close(what, got.high, wanted[2], relative);
}

fn compare(fit: &WalkFit, expect: &Value, relative: f64) {
    let none = Inflation::NONE;
    spread_close("n", fit.slope(&none).unwrap(), &expect["n"], relative);
    spread_close("sigma", fit.shadowing_db(&none), &expect["sigma"], relative);
    for (delivery, wanted) in expect["log10_range"].as_object().unwrap() {
        let range = fit.range(delivery.parse().unwrap(), &none).unwrap();
        let got = Spread {
            low: range.low,
            median: range.median.unwrap(),
            high: range.high.unwrap(),
        };
        spread_close(&format!("range at {delivery}"), got, wanted, relative);
    }
    for (delivery, wanted) in expect["print_range"].as_object().unwrap() {
        assert_eq!(wanted[0], "interval");
        let RangeWording::Interval { low, metres, high } = fit.describe_range(delivery.parse().unwrap(), &none) else {
            panic!("range at {delivery} is no interval");
        };
        let got = Spread {
            low,
            median: metres,
            high: high.unwrap(),
        };
        // Metres are powers of ten of the figures above.
        spread_close(&format!("printed range at {delivery}"), got, &wanted[1], 5.0 * relative);
    }
    let f64_of = |key: &str| expect[key].as_f64().unwrap();
    close("K", fit.k_db, f64_of("K"), relative);
    close("m", fit.curve.m_dbm(), f64_of("m"), relative);
    close("s", fit.curve.s_db(), f64_of("s"), relative);
    close("f", fit.interference, f64_of("f"), relative);
    close("within", fit.within_db, f64_of("sw"), relative);
    close("reference", fit.posterior.log10_reference, f64_of("lref"), relative);
    close("farthest", fit.extent.farthest_m, f64_of("dmax"), 5.0 * relative);
    for (i, wanted) in numbers(&expect["sd_board"]).iter().enumerate() {
        close("deviation of the board", fit.covariance[i][i].sqrt(), *wanted, relative);
    }
    assert_eq!(fit.no_slope.is_none(), expect["n_measured"].as_bool().unwrap());
    assert_eq!(fit.sensitivity_reached, expect["sens_reached"].as_bool().unwrap());
}

#[test]
fn a_walk_with_a_known_board() {
    let file = reference("cells.json");
    let beforehand = Beforehand::All {
        curve: SCurve::new(-92.0, 1.0).unwrap(),
        k_db: 6.0,
        interference: 0.02,
    };
    let fit = fit_walk(&cells(&file), &beforehand).unwrap();
    compare(&fit, &file["known_board"]["expect"], 1e-6);
    let truth = &file["truth"];
    let n = fit.slope(&Inflation::NONE).unwrap();
    assert!(n.low < truth["n"].as_f64().unwrap() && n.high > truth["n"].as_f64().unwrap());
}

#[test]
fn a_walk_that_teaches_its_board_too() {
    let file = reference("cells.json");
    let fit = fit_walk(&cells(&file), &Beforehand::Nothing).unwrap();
    compare(&fit, &file["unknown_board"]["expect"], 1e-6);
}

#[test]
fn a_raw_walk_gives_the_same_cells() {
    let file = reference("raw.json");
    let samples: Vec<WalkSample> = numbers(&file["x"])
        .iter()
        .zip(numbers(&file["y"]))
        .zip(numbers(&file["rssi"]))
        .map(|((&east_m, north_m), level)| WalkSample {
            east_m,
            north_m,
            heard: if level < -900.0 {
                Heard::Lost
            } else {
                Heard::At(level as i32)
            },
        })
        .collect();
    let binned = bin_walk(&samples, &BinRules::default());
    let wanted = file["cells"].as_array().unwrap();
    assert_eq!(binned.cells.len(), wanted.len());
    for (cell, wanted) in binned.cells.iter().zip(wanted) {
        close("x", cell.east_m, wanted["x"].as_f64().unwrap(), 1e-6);
        close("y", cell.north_m, wanted["y"].as_f64().unwrap(), 1e-6);
        close("log10 d", cell.log10_distance, wanted["log10d"].as_f64().unwrap(), 1e-6);
        assert_eq!(cell.heard.delivered(), wanted["received"].as_f64().unwrap());
        assert_eq!(cell.heard.lost, wanted["lost"].as_f64().unwrap());
    }
}

#[test]
fn what_cannot_be_fitted_says_why() {
    assert_eq!(fit_walk(&[], &Beforehand::Nothing).unwrap_err(), NoFit::NoCells);
    let mut silent = cells(&reference("cells.json"));
    for cell in &mut silent {
        cell.heard = Cell {
            lost: 50.0,
            ..Cell::default()
        };
    }
    assert_eq!(
        fit_walk(&silent, &Beforehand::Nothing).unwrap_err(),
        NoFit::NothingReceived
    );
    for cell in &mut silent {
        cell.heard.unread = 3.0;
    }
    assert_eq!(fit_walk(&silent, &Beforehand::Nothing).unwrap_err(), NoFit::NoLevels);
}
