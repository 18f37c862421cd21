//! Time to read one orientation sweep, both directions of the link joined.

use divan::{Bencher, black_box};
use farpace::stats::cells::SCurve;
use farpace::stats::sweep::{Direction, Exchange, Step, SweepModel, analyse};

fn main() {
    divan::main();
}

/// A lobe of 12 dB with a slow swing of ±2 dB at each turn; the first turn comes again at the end.
fn steps(turns: u32) -> Vec<Step> {
    (0..=turns)
        .map(|place| {
            let turn_deg = 360.0 * f64::from(place % turns) / f64::from(turns);
            let level = -78.0 + 6.0 * (turn_deg - 60.0).to_radians().cos();
            Step {
                turn_deg,
                time_s: f64::from(place),
                path_m: None,
                exchanges: (0..40)
                    .map(|ping| {
                        let here = (level + f64::from(ping * 17 % 40) / 10.0 - 2.0).round() as i32;
                        Exchange::Echo {
                            here: Some(here),
                            there: Some(here - 3),
                        }
                    })
                    .collect(),
            }
        })
        .collect()
}

#[divan::bench(args = [8, 12, 16, 36])]
fn one_sweep(bencher: Bencher, turns: u32) {
    let model = model();
    let steps = steps(turns);
    bencher.bench(|| analyse(black_box(&steps), &model, Direction::Joint));
}

#[expect(clippy::expect_used, reason = "both constants are in range")]
#[divan::bench]
fn model() -> SweepModel {
    SweepModel::new(SCurve::new(-92.0, 1.0).expect("a level and a positive scale"), 0.02)
}
