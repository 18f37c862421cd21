//! What an hour's walk at ten pings a second costs, as numbers and as lines.

use std::hint::black_box;

use divan::Bencher;
use divan::counter::ItemsCount;
use farpace::rehearsal::draws::{Manner, drawn};
use farpace::rehearsal::plans::{Route, walk_scenario};
use farpace::rehearsal::{Scenario, perform, trial};

fn main() {
    divan::main();
}

/// A zigzag of an hour.
fn hour() -> Scenario {
    walk_scenario(&drawn(3, Manner::Plain), Route::Zigzag, 1430.0, 60.0)
}

#[divan::bench]
fn exchanges(bencher: Bencher) {
    let scenario = hour();
    bencher
        .counter(ItemsCount::new(scenario.script.seconds() as u64 * 10))
        .bench(|| {
            trial::exchanges(black_box(&scenario), 1)
                .filter(|row| row.exchange.echo_heard)
                .count()
        });
}

#[divan::bench]
fn lines(bencher: Bencher) {
    let scenario = hour();
    bencher
        .counter(ItemsCount::new(scenario.script.seconds() as u64 * 10))
        .bench(|| perform(black_box(scenario.clone()), 1).count());
}
