//! How long the figures of a spot take: delivery, verdict, level, boards.

use divan::{Bencher, black_box};
use farpace::stats::boards::{BoardCell, compare};
use farpace::stats::burst::{BurstMemory, INTERVAL_PRIOR, Outcomes, VERDICT_PRIOR, delivery};
use farpace::stats::cells::{Cell, CellModel, CellTable, Heard, Interference, MEANS, SCurve};
use farpace::stats::level::LevelModel;
use farpace::stats::verdict::judge;
use farpace::stats::watch::Watch;

fn main() {
    divan::main();
}

fn curve() -> SCurve {
    SCurve::new(-92.0, 1.0).unwrap_or_else(|| unreachable!("constants in range"))
}

/// A stream that loses one in eight, in runs of five.
fn stream(n: usize) -> Vec<bool> {
    (0..n).map(|i| i / 5 * 7919 % 64 >= 8).collect()
}

fn stop(n: usize) -> Vec<Heard> {
    (0..n)
        .map(|i| match i * 31 % 17 {
            0 => Heard::Lost,
            r => Heard::At(-80 - r as i32 % 9),
        })
        .collect()
}

/// A million exchanges in stops of a hundred: sums, inflation, interval and verdict of every stop.
#[divan::bench]
fn million_exchanges(bencher: Bencher) {
    let stream = stream(1_000_000);
    bencher.bench(|| {
        let mut session = BurstMemory::default();
        let mut widths = 0.0;
        for stop in stream.chunks(100) {
            let outcomes: Outcomes = stop.iter().copied().collect();
            session.add(&outcomes);
            let found = delivery(outcomes.delivered(), outcomes.exchanges(), &session, 0.95);
            widths += found.map_or(0.0, |d| d.interval.width());
        }
        widths
    });
}

/// One more message at a running stop: sums, and every twentieth time the verdict.
#[divan::bench]
fn thousand_messages_watched(bencher: Bencher) {
    let stream = stream(1000);
    bencher.bench(|| {
        let session = BurstMemory::default();
        let mut outcomes = Outcomes::default();
        let mut watch = Watch::new(0.95, 0.95);
        for delivered in &stream {
            outcomes.push(*delivered);
            if let Some(watch) = &mut watch {
                watch.see(outcomes.delivered(), outcomes.lost(), || {
                    session.with(&outcomes).inflation(VERDICT_PRIOR)
                });
            }
        }
        watch
    });
}

/// The judgement shown beside a running stop, with what is proven so far and the forecast.
#[divan::bench]
fn judgement(bencher: Bencher) {
    bencher.bench(|| judge(black_box(480), black_box(20), 3.0, 0.95, 0.95));
}

#[divan::bench]
fn inflation_of_a_session(bencher: Bencher) {
    let session = BurstMemory::default().with(&stream(5000).into_iter().collect());
    bencher.bench(|| black_box(&session).inflation(INTERVAL_PRIOR));
}

#[divan::bench]
fn cell_table() -> CellTable {
    CellTable::new(black_box(curve()), 6.0, 1.5)
}

#[divan::bench]
fn level_tables() -> LevelModel {
    LevelModel::new(black_box(curve()), 0.02)
}

/// A table in hand: one walk cell with plain interference.
#[divan::bench]
fn walk_cell(bencher: Bencher) {
    let model = CellModel::new(CellTable::new(curve(), 6.0, 1.5), &Interference::fixed(0.02));
    let cell = Cell::count(stop(60));
    let mut out = vec![0.0; MEANS];
    bencher.bench_local(|| {
        model.log_likelihood_into(black_box(&cell), 0.5, &mut out);
        out[100]
    });
}

#[divan::bench(args = [100, 1000])]
fn level_at_a_stop(bencher: Bencher, exchanges: usize) {
    let model = LevelModel::new(curve(), 0.02);
    let stop = stop(exchanges);
    bencher.bench(|| model.estimate(black_box(&stop), Some(3.0), 0.95));
}

/// A stop at which nothing arrived.
#[divan::bench]
fn silent_stop(bencher: Bencher) {
    let model = LevelModel::new(curve(), 0.02);
    bencher.bench(|| model.estimate(black_box(&[Heard::Lost; 100]), Some(3.0), 0.95));
}

/// Four boards at twelve stops, the reference twice at each.
#[divan::bench]
fn boards_at_twelve_stops(bencher: Bencher) {
    let model = CellModel::new(CellTable::new(curve(), 6.0, 0.0), &Interference::varying(0.02));
    let cells: Vec<BoardCell> = (0..12_usize)
        .flat_map(|s| [0, 1, 2, 3, 0].into_iter().enumerate().map(move |(t, b)| (s, t, b)))
        .map(|(s, t, b)| {
            let level = -76 - (s % 5) as i32 - 2 * b as i32 + (s * 3 + t) as i32 % 4;
            let cell = Cell::count((0..60).map(|i| Heard::At(level - i % 7)));
            let log_likelihood = model.log_likelihood(&cell, 0.3);
            BoardCell {
                stop: s,
                board: b,
                orientation: 0,
                time: t as f64,
                log_likelihood,
            }
        })
        .collect();
    bencher.bench(|| compare(black_box(&cells), 0, 0.95));
}
