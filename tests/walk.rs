//! The walk fit against figures of an independent implementation, on stored walks.

#![expect(clippy::unwrap_used, reason = "a reference that cannot be read is a failed test")]

use farpace::stats::cells::{Cell, Heard, SCurve};
use farpace::stats::walk::binning::{BinRules, WalkCell, WalkSample, bin_walk};
use farpace::stats::walk::describe::RangeWording;
use farpace::stats::walk::fit::{Beforehand, FitWarning, NoFit, WalkFit, fit_walk};
use farpace::stats::walk::inflation::Inflation;
use farpace::stats::walk::posterior::Spread;
use farpace::stats::walk::scurve::MeasuredSCurve;
use serde_json::Value;
use walk_world::{Path, World};

#[expect(dead_code, reason = "the example walk is the benchmark's")]
mod walk_world;

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
            away: None,
            same_place: false,
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

fn raw_walk(file: &Value) {
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
        if let Some(revisited) = wanted["revisited"].as_f64() {
            assert_eq!(cell.revisited, revisited > 0.0);
        }
    }
}

#[test]
fn a_raw_walk_gives_the_same_cells() {
    raw_walk(&reference("raw.json"));
    raw_walk(&reference("raw_back.json"));
}

/// A figure, or infinity where the file says "open".
fn open_number(from: &Value) -> f64 {
    from.as_f64().unwrap_or(f64::INFINITY)
}

#[test]
fn walks_of_every_kind() {
    let none = Inflation::NONE;
    for walk in reference("more.json")["walks"].as_array().unwrap() {
        let name = walk["name"].as_str().unwrap();
        let expect = &walk["expect"];
        let fit = fit_walk(&cells(walk), &Beforehand::Nothing).unwrap();
        let number = |key: &str| expect[key].as_f64().unwrap();
        spread_close(name, fit.posterior.slope(), &expect["n"], 1e-6);
        spread_close(name, fit.shadowing_db(&none), &expect["sigma"], 1e-6);
        for (key, got) in [
            ("K", fit.k_db),
            ("m", fit.curve.m_dbm()),
            ("s", fit.curve.s_db()),
            ("f", fit.interference),
            ("sw", fit.within_db),
            ("lref", fit.posterior.log10_reference),
            ("dmin", fit.extent.nearest_m),
            ("dmax", fit.extent.farthest_m),
            ("outer", fit.extent.outer_delivery),
            ("loglik", fit.log_likelihood),
        ] {
            close(&format!("{name}: {key}"), got, number(key), 1e-6);
        }
        for (row, wanted) in fit.covariance.iter().zip(expect["cov"].as_array().unwrap()) {
            for (got, wanted) in row.iter().zip(numbers(wanted)) {
                assert!(
                    (got - wanted).abs() < 1e-5 * fit.covariance[0][0].max(1.0),
                    "{name}: {got} {wanted}"
                );
            }
        }
        for (delivery, wanted) in expect["log10_range"].as_object().unwrap() {
            let range = fit.range(delivery.parse().unwrap(), &none).unwrap();
            close(name, range.low, open_number(&wanted[0]), 1e-6);
            close(name, range.median.unwrap(), open_number(&wanted[1]), 1e-6);
            match range.high {
                Some(high) => close(name, high, open_number(&wanted[2]), 1e-6),
                None => assert_eq!(open_number(&wanted[2]), f64::INFINITY, "{name}"),
            }
        }
        assert_eq!(
            fit.sensitivity_reached,
            expect["sens_reached"].as_bool().unwrap(),
            "{name}"
        );
        assert_eq!(
            fit.no_slope.is_none(),
            expect["n_measured"].as_bool().unwrap(),
            "{name}"
        );
        let bend = numbers(&expect["bend"]);
        assert!(
            (fit.bend.evidence - bend[0]).abs() < 1e-6,
            "{name}: {:?} {bend:?}",
            fit.bend
        );
        close(name, fit.bend.at_m, bend[1], 1e-6);
        close(name, fit.bend.change, bend[2], 1e-6);
        words(&fit, name, &expect["print_range"]);
    }
}

/// The class of words agrees with the reference, save that a crossing beyond the walk is "about" here, and a delivery
/// that interference rules out is unreachable.
fn words(fit: &WalkFit, name: &str, expect: &Value) {
    for (delivery, wanted) in expect.as_object().unwrap() {
        let delivery: f64 = delivery.parse().unwrap();
        let figure = |i: usize| open_number(&wanted[1][i]);
        let kind = wanted[0].as_str().unwrap();
        match fit.describe_range(delivery, &Inflation::NONE) {
            RangeWording::Interval { low, metres, high } => {
                assert_eq!(kind, "interval", "{name}");
                close(name, low, figure(0), 1e-5);
                close(name, metres, figure(1), 1e-5);
                assert_eq!(high.is_none(), figure(2).is_infinite(), "{name}");
            }
            RangeWording::AtLeast { metres } => {
                assert_eq!(kind, "at least", "{name}");
                assert!(!fit.sensitivity_reached && metres <= fit.extent.farthest_m);
                close(name, metres, figure(0), 1e-5);
            }
            RangeWording::About { low, metres, .. } => {
                assert_eq!(kind, "at least", "{name}");
                assert!(fit.sensitivity_reached && metres.unwrap() > fit.extent.farthest_m);
                close(name, low, figure(0), 1e-5);
            }
            RangeWording::Unreachable { interference } => assert!(delivery > 1.0 - interference),
            RangeWording::Below { metres } => {
                assert_eq!(kind, "below", "{name}");
                close(name, metres, figure(0), 1e-5);
            }
            RangeWording::NotMeasured(why) => panic!("{name}: {why:?}"),
        }
    }
}

#[test]
fn a_stored_curve_carries_its_doubt_into_ranges() {
    let cells = cells(&reference("cells.json"));
    let curve = SCurve::new(-92.0, 1.0).unwrap();
    let width = |sd: f64| {
        let stored = MeasuredSCurve::new(curve, [[sd * sd, 0.0], [0.0, 0.0]], 3).unwrap();
        let fit = fit_walk(&cells, &Beforehand::Curve(stored)).unwrap();
        assert!(fit.sensitivity_reached && fit.measured_scurve(&Inflation::NONE).is_none());
        let range = fit.range(0.9, &Inflation::NONE).unwrap();
        (
            range.high.unwrap() - range.low,
            fit.slope(&Inflation::NONE).unwrap().median,
        )
    };
    let ((sure, n), (vague, _)) = (width(0.0), width(2.0));
    // Two decibels are 2 / (10 n) decades.
    let arms = 2.0 * 1.96 * 2.0 / (10.0 * n);
    assert!(
        vague > sure && (vague - sure.hypot(arms)).abs() < 0.15 * vague,
        "{sure} {vague} {arms}"
    );
}

#[test]
fn widening_moves_the_ends_and_not_the_middle() {
    let fit = fit_walk(&cells(&reference("cells.json")), &Beforehand::Nothing).unwrap();
    let (plain, wide) = (
        fit.slope(&Inflation::NONE).unwrap(),
        fit.slope(&Inflation::MEASURED).unwrap(),
    );
    assert_eq!(plain.median, wide.median);
    let factor = Inflation::MEASURED.slope;
    assert!(((wide.high - wide.low) / (plain.high - plain.low) - factor).abs() < 1e-9);
    let narrow = fit.range(0.9, &Inflation::NONE).unwrap();
    let broad = fit.range(0.9, &Inflation::MEASURED).unwrap();
    assert!(broad.low < narrow.low && broad.high > narrow.high);
    let (one, other) = (
        fit.measured_scurve(&Inflation::NONE).unwrap(),
        fit.measured_scurve(&Inflation::MEASURED).unwrap(),
    );
    assert!((other.m_sd_db() / one.m_sd_db() - Inflation::MEASURED.sensitivity).abs() < 1e-9);
}

#[test]
fn the_law_falls_with_distance_and_says_where_it_guesses() {
    let fit = fit_walk(&cells(&reference("cells.json")), &Beforehand::Nothing).unwrap();
    let law = fit.law(&[5.0, 50.0, 100.0, 400.0, -1.0, f64::NAN], &Inflation::MEASURED);
    assert_eq!(law.len(), 4);
    for pair in law.windows(2) {
        assert!(pair[1].level_dbm.median < pair[0].level_dbm.median);
        assert!(pair[1].delivery.median <= pair[0].delivery.median);
    }
    for point in &law {
        assert!(point.delivery.low <= point.delivery.median && point.delivery.median <= point.delivery.high);
        assert!((0.0..=1.0 - fit.interference).contains(&point.delivery.median));
        assert!((0.0..1.0).contains(&point.delivery.low) && point.delivery.high < 1.0);
        assert_eq!(point.extrapolated, point.distance_m < 12.0 || point.distance_m > 200.0);
    }
    // Near the station all that is not known is what interference takes.
    let lost = fit.interference_share(&Inflation::MEASURED);
    let near = law[0].delivery;
    assert!(
        (1.0 - lost.high - near.low).abs() < 0.1 * lost.high,
        "{near:?} {lost:?}"
    );
    assert!((near.high - 1.0 + lost.low).abs() < 0.5 * lost.low, "{near:?} {lost:?}");
    let half = fit.range(0.5, &Inflation::NONE).unwrap().median.unwrap();
    let there = fit.law(&[10_f64.powf(half)], &Inflation::NONE)[0].delivery.median;
    // The range averages over the shadowing's spread, the law takes its middle.
    assert!((there / (1.0 - fit.interference) - 0.5).abs() < 0.02, "{there}");
}

#[test]
fn odd_walks_do_not_panic() {
    let base = cells(&reference("cells.json"));
    let one = |at: f64, readings: Vec<(i32, f64)>, lost: f64| WalkCell {
        log10_distance: at,
        heard: Cell {
            readings,
            unread: 0.0,
            lost,
        },
        ..base[0].clone()
    };
    let walks = [
        vec![base[0].clone()],
        base[..2].to_vec(),
        vec![one(1.5, vec![(-60, 1.0)], 0.0); 3],
        vec![one(1.5, vec![(-128, 5.0)], 1e6), one(2.0, vec![(0, 5.0)], 0.0)],
        vec![one(-3.0, vec![(-60, 1e6)], 0.0), one(7.0, vec![(-60, 1e6)], 1e6)],
        vec![one(2.0, vec![(-300, 1.0), (900, 1.0), (-70, 1.0)], 3.0)],
    ];
    for walk in walks {
        let Ok(fit) = fit_walk(&walk, &Beforehand::Nothing) else {
            continue;
        };
        assert!(fit.no_slope.is_some() || fit.extent.cells >= 8);
        for delivery in [0.0, 0.5, 0.9999, 1.0, f64::NAN] {
            let _ = fit.describe_range(delivery, &Inflation::MEASURED);
        }
        assert!(fit.posterior.slope().median.is_finite());
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

/// A walk out, and back if asked for, with so much taken by the body; shadow and noise from a short series of numbers.
fn shaded_walk(body_db: f64, back: bool) -> Vec<WalkCell> {
    let steps = 2400;
    let out = (0..steps).map(|i| (15.0 + 0.1 * f64::from(i), 1.0));
    let home = (0..steps).rev().map(|i| (15.0 + 0.1 * f64::from(i), 0.0));
    let mut state = 7_u64;
    let mut uniform = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let samples: Vec<WalkSample> = out
        .chain(home.take(if back { steps as usize } else { 0 }))
        .map(|(distance, away): (f64, f64)| {
            let shadow = 3.0 * (distance / 7.0).sin() + 2.0 * (distance / 23.0).cos();
            let fade = 4.0 * (uniform() + uniform() + uniform() - 1.5);
            let level = -37.0 - 25.0 * distance.log10() + shadow + fade - body_db * away;
            let answered = uniform() < 1.0 / (1.0 + (-(level + 92.0)).exp());
            WalkSample {
                east_m: distance,
                north_m: 0.0,
                heard: if answered {
                    Heard::At(level.round() as i32)
                } else {
                    Heard::Lost
                },
            }
        })
        .collect();
    bin_walk(&samples, &BinRules::by_heading()).cells
}

#[test]
fn what_the_body_takes_is_told_from_the_law_by_a_walk_both_ways() {
    let fit = fit_walk(&shaded_walk(7.0, true), &Beforehand::Nothing).unwrap();
    let body = fit.body_db(&Inflation::MEASURED).unwrap();
    assert!(body.low <= 7.0 && 7.0 <= body.high && body.low > 3.0, "{body:?}");
    // The range is that of a board that faces the station: as if there were no body.
    let bare = fit_walk(&shaded_walk(0.0, true), &Beforehand::Nothing).unwrap();
    let body = bare.body_db(&Inflation::MEASURED).unwrap();
    assert!(body.low <= 0.0 && 0.0 <= body.high, "{body:?}");
    let range = |fit: &WalkFit| fit.range(0.9, &Inflation::MEASURED).unwrap();
    let (shaded, bare) = (range(&fit), range(&bare));
    assert!(
        (shaded.median.unwrap() - bare.median.unwrap()).abs() < 0.1,
        "{shaded:?} {bare:?}"
    );
    assert!(shaded.low <= bare.median.unwrap() && bare.median.unwrap() <= shaded.high.unwrap());
}

#[test]
fn a_walk_one_way_says_that_the_body_is_in_its_ranges() {
    let fit = fit_walk(&shaded_walk(7.0, false), &Beforehand::Nothing).unwrap();
    assert_eq!(fit.body_db(&Inflation::MEASURED), None);
    assert!(fit.warnings.contains(&FitWarning::OneWay));
    // Fixtures know no headings: nothing is said of them.
    let fit = fit_walk(&cells(&reference("cells.json")), &Beforehand::Nothing).unwrap();
    assert!(!fit.warnings.contains(&FitWarning::OneWay));
}

/// How well a board's need is known must not leap while a walk goes on: a fit whose ascent was cut short knew it to 20 dB where the
/// same walk some metres on had it to 2.
#[test]
fn what_a_board_needs_is_not_lost_again_while_the_walk_goes_on() {
    let mut known = 0;
    for seed in 0..12 {
        let world = World {
            path: Path::OutAndBack,
            ..World::drawn(seed, seed % 2 == 1)
        };
        let walk = world.walk(seed);
        let mut before: Option<f64> = None;
        for share in 10..=20 {
            let cells = bin_walk(&walk[..walk.len() * share / 20], &BinRules::by_heading()).cells;
            let fit = fit_walk(&cells, &Beforehand::Nothing).unwrap();
            let curve = fit.measured_scurve(&Inflation::MEASURED);
            if before.is_some() {
                assert!(curve.is_some(), "seed {seed}, {share} of 20: no longer known");
            }
            let Some(curve) = curve else { continue };
            let sd = curve.level90_sd_db();
            if let Some(before) = before {
                assert!(sd < 2.5 * before, "seed {seed}, {share} of 20: {before} then {sd} dB");
            }
            known += 1;
            before = Some(sd);
        }
    }
    assert!(known > 50, "{known}");
}
