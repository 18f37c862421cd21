//! Intervals and verdicts on simulated exchanges whose truth is known: do they hold it as often as they say?
//!
//! The worlds here are written apart from the estimates: two-state bursts (Gilbert 1960, Elliott 1963), Rician fading drawn
//! as a steady wave plus complex Gaussian scatter, a logistic receiver. Seeds are fixed; bounds lie two to three standard
//! errors below the stated confidence.

use farpace::stats::boards::{BoardCell, Effect, compare};
use farpace::stats::burst::{BurstMemory, Outcomes, VERDICT_PRIOR, delivery};
use farpace::stats::cells::{Cell, Heard, SCurve};
use farpace::stats::level::{LevelModel, MeanPower};
use farpace::stats::proportions::wilson;
use farpace::stats::verdict::Verdict;
use farpace::stats::watch::Watch;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_pcg::Pcg64Mcg;

/// Losses in bursts of `mean_length` messages, 0.9 lost within a burst, `loss` lost overall.
fn bursty(random: &mut Pcg64Mcg, n: usize, loss: f64, mean_length: f64) -> Vec<bool> {
    let share = loss / 0.9;
    let (leave, enter) = (1.0 / mean_length, share / (1.0 - share) / mean_length);
    let mut bad = random.random_bool(share);
    (0..n)
        .map(|_| {
            let delivered = !(bad && random.random_bool(0.9));
            bad = if bad {
                !random.random_bool(leave)
            } else {
                random.random_bool(enter)
            };
            delivered
        })
        .collect()
}

/// A level at a mean power, dBm.
fn faded(random: &mut Pcg64Mcg, mean_dbm: f64, k_db: f64) -> f64 {
    let k = 10_f64.powf(0.1 * k_db);
    let mut scatter = || random.sample::<f64, _>(StandardNormal) / (2.0 * (1.0 + k)).sqrt();
    let (x, y) = ((k / (1.0 + k)).sqrt() + scatter(), scatter());
    mean_dbm + 10.0 * (x * x + y * y).log10()
}

/// One exchange at a mean power, its fade independent of all others; no interference.
fn exchange(random: &mut Pcg64Mcg, mean_dbm: f64, k_db: f64, curve: SCurve) -> Heard {
    let level = faded(random, mean_dbm, k_db);
    if random.random_bool(curve.delivery(level)) {
        let noise: f64 = random.sample(StandardNormal);
        Heard::At((level + noise).round() as i32)
    } else {
        Heard::Lost
    }
}

fn curve() -> SCurve {
    SCurve::new(-92.0, 1.0).unwrap()
}

#[test]
fn delivery_intervals_hold_the_rate_where_plain_ones_do_not() {
    let mut random = Pcg64Mcg::seed_from_u64(31);
    let (mut held, mut held_plain, mut of) = (0, 0, 0);
    for _ in 0..250 {
        let mut session = BurstMemory::default();
        for stop in 0..5 {
            let outcomes: Outcomes = bursty(&mut random, 100, 0.1, 8.0).into_iter().collect();
            session.add(&outcomes);
            if stop == 0 {
                continue;
            }
            let found = delivery(outcomes.delivered(), 100, &session, 0.95).unwrap();
            held += u32::from(found.interval.holds(0.9));
            held_plain += u32::from(wilson(outcomes.delivered(), 100, 0.95).unwrap().holds(0.9));
            of += 1;
        }
    }
    let share = |n: u32| f64::from(n) / f64::from(of);
    assert!(share(held) > 0.91, "{}", share(held));
    assert!(share(held_plain) < 0.75, "{}", share(held_plain));
}

#[test]
fn verdicts_on_bursty_places_at_the_goal_are_seldom_wrong() {
    let mut random = Pcg64Mcg::seed_from_u64(32);
    let (mut meets, mut fails) = (0, 0);
    for _ in 0..600 {
        let session = BurstMemory::default();
        let mut outcomes = Outcomes::default();
        let mut watch = Watch::new(0.95, 0.95).unwrap();
        for delivered in bursty(&mut random, 1200, 0.05, 5.0) {
            outcomes.push(delivered);
            watch.see(outcomes.delivered(), outcomes.lost(), || {
                session.with(&outcomes).inflation(VERDICT_PRIOR)
            });
        }
        match watch.reached() {
            Some((Verdict::Meets, _)) => meets += 1,
            Some((Verdict::Fails, _)) => fails += 1,
            _ => {}
        }
    }
    // 5 % of 600 is 30.
    assert!(meets <= 30 && fails <= 30, "{meets} meets, {fails} fails of 600");
}

#[test]
fn levels_near_sensitivity_are_unbiased_and_hold_the_truth() {
    let mut random = Pcg64Mcg::seed_from_u64(33);
    let model = LevelModel::new(curve(), 0.001);
    for (mean, k) in [(-70.0, 0.0), (-90.0, 0.0), (-93.0, 6.0)] {
        let (mut held, mut error, mut plain) = (0, 0.0, 0.0);
        for _ in 0..200 {
            let stop: Vec<Heard> = (0..60).map(|_| exchange(&mut random, mean, k, curve())).collect();
            let level = model.estimate(&stop, Some(4.8), 0.95).unwrap();
            let MeanPower::Between { median_dbm, interval } = level.mean_power else {
                panic!("{level:?}")
            };
            held += u32::from(interval.holds(mean));
            error += (median_dbm - mean) / 200.0;
            let read: Vec<f64> = stop
                .iter()
                .filter_map(|e| {
                    if let Heard::At(r) = e {
                        Some(f64::from(*r))
                    } else {
                        None
                    }
                })
                .collect();
            plain += (read.iter().sum::<f64>() / read.len() as f64 - mean) / 200.0;
        }
        assert!(held >= 182, "{mean} dBm: {held} of 200");
        assert!(error.abs() < 0.3, "{mean} dBm: {error}");
        assert!(plain.abs() > 0.9, "{mean} dBm: the mean of dBm is off by {plain}");
    }
}

#[test]
fn a_limit_from_silence_is_seldom_wrong_however_short_the_path() {
    let mut random = Pcg64Mcg::seed_from_u64(35);
    let model = LevelModel::new(curve(), 0.001);
    for (exchanges, path_m, fades) in [(60, 0.0, 1), (60, 0.16, 3), (60, 0.72, 10)] {
        let silence = model
            .estimate(&vec![Heard::Lost; exchanges], Some(path_m), 0.95)
            .unwrap();
        let MeanPower::AtMost { high_dbm } = silence.mean_power else {
            panic!("{silence:?}")
        };
        // Just above the limit, K as likely as the estimate takes it to be on average: 6 dB.
        let silent = (0..2000)
            .filter(|_| {
                (0..fades).all(|_| {
                    let level = faded(&mut random, high_dbm + 0.1, 6.0);
                    (0..exchanges / fades).all(|_| !random.random_bool(curve().delivery(level)))
                })
            })
            .count();
        assert!(silent <= 70, "{path_m} m: silent in {silent} of 2000 at {high_dbm} dBm");
    }
}

#[test]
fn board_effects_hold_the_truth_at_the_edge() {
    let mut random = Pcg64Mcg::seed_from_u64(34);
    let model = LevelModel::new(curve(), 0.001);
    let effects = [0.0, -3.0, 2.0];
    let (mut held, mut of, mut error) = (0, 0, 0.0);
    for _ in 0..60 {
        let mut cells = Vec::new();
        for stop in 0..6 {
            let base = random.random_range(-92.0..-84.0);
            for (t, board) in [0, 1, 2, 0].into_iter().enumerate() {
                let put: f64 = random.sample(StandardNormal);
                let mean = base + effects[board] + 2.0 * put;
                let exchanges: Vec<Heard> = (0..40).map(|_| exchange(&mut random, mean, 6.0, curve())).collect();
                cells.push((stop, board, t as f64, Cell::count(exchanges)));
            }
        }
        let weighed: Vec<(Cell, f64)> = cells.iter().map(|c| (c.3.clone(), 1.0)).collect();
        let (_, table) = model.pooled_k(&weighed).unwrap();
        let rows: Vec<BoardCell> = cells
            .iter()
            .map(|(stop, board, time, cell)| BoardCell {
                stop: *stop,
                board: *board,
                orientation: 0,
                time: *time,
                log_likelihood: table.log_likelihood(cell, 1.0),
            })
            .collect();
        for effect in compare(&rows, 0, 0.95).unwrap().boards {
            let Effect::Measured {
                estimate_db,
                individual,
                ..
            } = effect.effect
            else {
                panic!("{effect:?}")
            };
            held += u32::from(individual.holds(effects[effect.board]));
            error += estimate_db - effects[effect.board];
            of += 1;
        }
    }
    assert!(f64::from(held) > 0.89 * f64::from(of), "{held} of {of}");
    assert!((error / f64::from(of)).abs() < 0.4, "{}", error / f64::from(of));
}
