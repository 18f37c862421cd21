//! Time of the walk fit: a usual walk of 2,200 exchanges and a long one, the board's curve learned or stored.

#[expect(dead_code, reason = "worlds drawn at random are for the calibration")]
#[path = "../walk_world/mod.rs"]
mod walk_world;

use divan::Bencher;
use farpace::stats::cells::SCurve;
use farpace::stats::walk::binning::{BinRules, WalkCell, WalkSample, bin_walk};
use farpace::stats::walk::fit::{Beforehand, fit_walk};
use farpace::stats::walk::inflation::Inflation;
use farpace::stats::walk::range::DELIVERIES;
use farpace::stats::walk::scurve::MeasuredSCurve;
use walk_world::{EXAMPLE, Path, World};

fn main() {
    divan::main();
}

/// Walks by name: how far out, and how; most of the third and fourth lies beyond the board's range, all of the fifth within it.
const WALKS: [&str; 5] = [
    "straight, 220 m",
    "out and back, 600 m",
    "out and back, 1600 m",
    "zigzag, 2500 m",
    "zigzag, 1500 m, heard",
];

fn samples(name: &str) -> Vec<WalkSample> {
    let world = match name {
        "straight, 220 m" => EXAMPLE,
        "out and back, 600 m" => World {
            length_m: 600.0,
            path: Path::OutAndBack,
            ..EXAMPLE
        },
        "out and back, 1600 m" => World {
            length_m: 1600.0,
            path: Path::OutAndBack,
            ..EXAMPLE
        },
        "zigzag, 1500 m, heard" => World {
            near_dbm: -25.0,
            n: 2.0,
            length_m: 1500.0,
            path: Path::Zigzag,
            ..EXAMPLE
        },
        _ => World {
            length_m: 2500.0,
            path: Path::Zigzag,
            ..EXAMPLE
        },
    };
    world.walk(7)
}

fn cells(name: &str) -> Vec<WalkCell> {
    bin_walk(&samples(name), &BinRules::by_heading()).cells
}

#[divan::bench(args = WALKS)]
fn cut_into_cells(bencher: Bencher, name: &str) {
    let walk = samples(name);
    bencher.bench_local(|| bin_walk(&walk, &BinRules::by_heading()));
}

#[divan::bench(args = WALKS)]
fn learn_the_curve(bencher: Bencher, name: &str) {
    let cells = cells(name);
    bencher.bench_local(|| fit_walk(&cells, &Beforehand::Nothing));
}

#[divan::bench(args = WALKS)]
fn stored_curve(bencher: Bencher, name: &str) {
    let cells = cells(name);
    let stored = SCurve::new(-92.0, 1.0).and_then(|curve| MeasuredSCurve::new(curve, [[0.09, 0.0], [0.0, 0.02]], 3));
    let Some(stored) = stored else { return };
    bencher.bench_local(|| fit_walk(&cells, &Beforehand::Curve(stored)));
}

#[divan::bench]
fn four_ranges(bencher: Bencher) {
    let Ok(fit) = fit_walk(&cells(WALKS[0]), &Beforehand::Nothing) else {
        return;
    };
    bencher.bench_local(|| DELIVERIES.map(|p| fit.describe_range(p, &Inflation::MEASURED)));
}
