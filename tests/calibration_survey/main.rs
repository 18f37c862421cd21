//! How honest a whole survey is: rehearsals with a known truth, read line by line, against every interval printed.
//!
//! Nothing is known of any board beforehand. Each survey draws its own world (or, `rough`, one that breaks what the models
//! suppose), walks it, compares four boards at four points, and turns two of them round. Beside each figure stands the
//! naive way: the mean of the dBm that arrived, Wilson's interval of messages taken as independent, the least-squares slope.
//!
//! Run with `cargo test --release --test calibration_survey -- --ignored --nocapture`; `CALIBRATION_SURVEYS` (400) and
//! `CALIBRATION_FIRST` (10000) choose how many and from which seed on. `CALIBRATION_MANNER`, `plain` or `rough`, takes worlds of
//! one kind only; `CALIBRATION_MISSES`, the beginning of a figure's name, prints each interval of it that missed.

#![expect(
    clippy::expect_used,
    reason = "a check may stop where its own scenario is not what it should be"
)]

mod assumed;
mod compared;
mod live;
mod losses;
mod naive;
mod outing;
mod score;
mod station;
mod sweeps;
mod tally;
mod together;
mod troubled;
mod turns;
mod walking;

use std::sync::atomic::{AtomicU64, Ordering};

use compared::score_changing;
use farpace::rehearsal::draws::Manner;
use outing::Outing;
use score::{Ground, score, score_again};
use tally::Tallies;

/// Seeds of second surveys lie so far beyond those of the first.
const AGAIN: u64 = 1_000_000;

fn number(name: &str, usual: u64) -> u64 {
    std::env::var(name)
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(usual)
}

#[test]
#[ignore = "calibration: minutes; run with --release"]
fn figures_hold_as_often_as_they_say() {
    let first = number("CALIBRATION_FIRST", 10_000);
    let surveys = number("CALIBRATION_SURVEYS", 400);
    let manner = std::env::var("CALIBRATION_MANNER").unwrap_or_default();
    let misses = std::env::var("CALIBRATION_MISSES").ok();
    let next = AtomicU64::new(0);
    let run = || {
        let (mut tallies, mut ground) = (Tallies::default(), Ground::default());
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= surveys {
                return (tallies, ground);
            }
            let manner = match manner.as_str() {
                "plain" => Manner::Plain,
                "rough" => Manner::Rough,
                // One world in four breaks the models.
                _ if index % 4 == 3 => Manner::Rough,
                _ => Manner::Plain,
            };
            let outing = Outing::of(first + index, manner);
            tallies.begin(first + index, misses.as_deref());
            score(&outing, &mut tallies, &mut ground);
            // Every other survey, half of them in worlds that break the models, is followed by one in which the link changes.
            if index % 2 == 1 {
                score_changing(&outing, &mut tallies);
            }
            // One survey in three is followed by another with the same boards.
            if index.is_multiple_of(3) {
                let again = outing.again(first + index + AGAIN);
                score_again(&again, &mut tallies);
            }
        }
    };
    let (tallies, ground) = std::thread::scope(|scope| {
        let other = scope.spawn(run);
        let (mut tallies, mut ground) = run();
        let (more, wider) = other.join().expect("no survey panics");
        tallies.merge(more);
        ground.merge(&wider);
        (tallies, ground)
    });
    println!("{surveys} surveys from seed {first}");
    tallies.print();
    tallies.print_for_readme();
    ground.print();
    score::check(&tallies, &ground, surveys);
}
