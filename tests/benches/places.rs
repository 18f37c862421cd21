//! What a map costs: gathering, fitting, answering, and a second of live use.

#![expect(
    clippy::expect_used,
    reason = "a benchmark of made-up input stops where the input is wrong"
)]

use std::f64::consts::TAU;
use std::hint::black_box;

use divan::Bencher;
use divan::counter::ItemsCount;
use farpace::stats::places::{
    Binned, Courses, Exchange, Frame, Goal, Intake, Model, Receiver, facing, locate, next_walk, normal_below,
};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

const STATION: (f64, f64) = (12.0, 95.0);

fn main() {
    divan::main();
}

/// Lanes over 300 m by 200 m at 10 exchanges a second, walked again and again with a small offset until there are `count`.
fn walk(count: usize) -> Vec<Exchange> {
    let mut rng = Pcg64::seed_from_u64(7);
    let (mut x, mut y, mut course, mut up) = (8.0_f64, 8.0_f64, 90.0_f64, true);
    let mut rows = Vec::with_capacity(count);
    while rows.len() < count {
        let (sin, cos) = course.to_radians().sin_cos();
        (x, y) = (x + 0.125 * sin, y + 0.125 * cos);
        if x > 292.0 && course == 90.0 || x < 8.0 && course == 270.0 {
            // A lane ends: 11 m across, then back; the next pass is a metre or so beside this one.
            let across = if up { 11.3 } else { -11.3 };
            y += across;
            if !(8.0..=192.0).contains(&y) {
                up = !up;
                y -= 2.0 * across + 1.1;
            }
            course = 360.0 - course;
        }
        let distance = (x - STATION.0).hypot(y - STATION.1).max(1.0);
        let ground = 5.0 * (TAU * x / 61.0).sin() * (TAU * y / 47.0).cos() + 3.0 * (TAU * (x + y) / 23.0).sin();
        let body = 9.0 * facing(course, x, y, STATION).unwrap_or(0.5);
        let normal: f64 = (0..6).map(|_| rng.random::<f64>() - 0.5).sum::<f64>() * 2.0_f64.sqrt();
        let level = -38.0 - 27.0 * (distance / 5.0).log10() + ground - body + 4.0 * normal;
        let lost = rng.random::<f64>() > 0.995 * normal_below((level + 98.0) / 1.2);
        rows.push(Exchange {
            x: x + rng.random::<f64>(),
            y: y + rng.random::<f64>(),
            t: rows.len() as f64 / 10.0,
            level: (!lost).then(|| level.round()),
            lost,
            speed: Some(1.25),
            course: Some(course),
        });
    }
    rows
}

fn gathered(count: usize) -> Binned {
    Intake::new(&walk(count), STATION, -98.0).records()
}

fn ground() -> Vec<(f64, f64)> {
    Frame {
        west: 0.0,
        south: 0.0,
        east: 300.0,
        north: 200.0,
    }
    .grid(4.0)
}

fn goal() -> Goal {
    Goal::new(0.95, 10.0).expect("a share between 0 and 1")
}

fn model(count: usize) -> Model {
    Model::build(&gathered(count), STATION, Receiver::at(-98.0)).expect("the walk has exchanges")
}

#[divan::bench(args = [100_000, 1_000_000], sample_count = 5)]
fn gather(bencher: Bencher<'_, '_>, count: usize) {
    let rows = walk(count);
    bencher
        .counter(ItemsCount::new(count))
        .bench(|| Intake::new(black_box(&rows), STATION, -98.0).records());
}

#[divan::bench(args = [100_000, 1_000_000], sample_count = 10)]
fn fit(bencher: Bencher<'_, '_>, count: usize) {
    let binned = gathered(count);
    println!(
        "{count} exchanges are {} records of {} m",
        binned.records.len(),
        binned.cell
    );
    bencher.bench(|| Model::build(black_box(&binned), STATION, Receiver::at(-98.0)));
}

#[divan::bench(args = [100_000], sample_count = 10)]
fn answer_3750_places(bencher: Bencher<'_, '_>, count: usize) {
    let (model, places) = (model(count), ground());
    assert_eq!(places.len(), 3750);
    bencher.bench(|| model.answer(&goal(), black_box(&places)));
}

/// Everything: gathering, fitting, answering 3750 places.
#[divan::bench(args = [100_000, 1_000_000], sample_count = 5)]
fn full_rebuild(bencher: Bencher<'_, '_>, count: usize) {
    let (rows, places) = (walk(count), ground());
    bencher.bench(|| {
        let binned = Intake::new(black_box(&rows), STATION, -98.0).records();
        Model::build(&binned, STATION, Receiver::at(-98.0)).map(|model| model.answer(&goal(), &places))
    });
}

/// A second of live use: ten exchanges taken in, the map resumed, places within 60 m answered.
#[divan::bench(args = [100_000, 1_000_000], sample_count = 10)]
fn live_second(bencher: Bencher<'_, '_>, count: usize) {
    let rows = walk(count + 10);
    let intake = Intake::new(&rows[..count], STATION, -98.0);
    let model = model(count);
    let last = rows[count + 9];
    let places: Vec<(f64, f64)> = ground()
        .into_iter()
        .filter(|place| (place.0 - last.x).hypot(place.1 - last.y) <= 60.0)
        .collect();
    bencher.with_inputs(|| intake.clone()).bench_values(|mut intake| {
        for row in &rows[count..] {
            intake.push(*row);
        }
        model
            .resume(&intake.records())
            .map(|model| model.answer(&goal(), &places))
    });
}

#[divan::bench(sample_count = 5)]
fn plan_the_next_walk(bencher: Bencher<'_, '_>) {
    let model = model(100_000);
    let frame = Frame {
        west: 0.0,
        south: 0.0,
        east: 300.0,
        north: 200.0,
    };
    bencher.bench(|| next_walk(&model, &goal(), (150.0, 100.0), &frame, |_, _| 1.0));
}

#[divan::bench(args = [100_000, 1_000_000], sample_count = 5)]
fn gather_courses(bencher: Bencher<'_, '_>, count: usize) {
    let rows = walk(count);
    bencher
        .counter(ItemsCount::new(count))
        .bench(|| Courses::gather(black_box(&rows)));
}

#[divan::bench(sample_count = 5)]
fn locate_the_station(bencher: Bencher<'_, '_>) {
    let rows = walk(100_000);
    let courses = Courses::gather(&rows);
    bencher.bench(|| locate(black_box(&courses), Receiver::at(-98.0), Some(STATION)));
}
