//! How often the walk fit's intervals hold the truth, in simulated worlds.

#![expect(clippy::unwrap_used, reason = "a world that cannot be set up is a failed test")]

#[expect(dead_code, reason = "the example walk is the benchmark's")]
mod walk_world;

use farpace::stats::cells::SCurve;
use farpace::stats::walk::binning::{BinRules, bin_walk};
use farpace::stats::walk::describe::RangeWording;
use farpace::stats::walk::fit::{Beforehand, fit_walk};
use farpace::stats::walk::inflation::Inflation;
use farpace::stats::walk::posterior::Spread;
use farpace::stats::walk::scurve::{MeasuredSCurve, pool_scurves};
use std::collections::BTreeMap;
use walk_world::{Path, World};

/// How far the truth lies from the median, in units of the interval's own arm on that side.
fn reach(spread: Spread, truth: f64) -> f64 {
    if truth < spread.median {
        (spread.median - truth) / (spread.median - spread.low)
    } else {
        (truth - spread.median) / (spread.high - spread.median)
    }
}

/// Reaches by quantity: an interval held the truth where its reach is at most 1.
#[derive(Default)]
struct Tally(BTreeMap<String, Vec<f64>>);

impl Tally {
    fn add(&mut self, what: &str, reach: f64) {
        self.0.entry(what.to_owned()).or_default().push(reach);
    }

    fn share(&self, what: &str) -> f64 {
        let all = &self.0[what];
        100.0 * all.iter().filter(|r| **r <= 1.0).count() as f64 / all.len() as f64
    }

    fn print(&mut self, title: &str) {
        println!("{title}\n{:34} {:>5} {:>7} {:>9}", "", "walks", "held %", "95 % need");
        for (what, all) in &mut self.0 {
            all.sort_by(f64::total_cmp);
            let held = 100.0 * all.iter().filter(|r| **r <= 1.0).count() as f64 / all.len() as f64;
            let need = all[(0.95 * all.len() as f64) as usize % all.len()];
            println!("{what:34} {:>5} {held:>7.1} {need:>9.2}", all.len());
        }
    }
}

fn measure(seeds: std::ops::Range<u64>, misfit: bool, stored: bool, inflation: &Inflation) -> Tally {
    let mut tally = Tally::default();
    for seed in seeds {
        let world = World::drawn(seed, misfit);
        let cells = bin_walk(&world.walk(seed), &BinRules::default()).cells;
        let beforehand = if stored {
            // What was kept is off by its own deviation, in a direction that changes from walk to walk.
            let (sd, ln_sd) = (0.5, 0.2);
            let angle = seed as f64 * 2.399_963;
            let m_dbm = world.m_dbm + sd * std::f64::consts::SQRT_2 * angle.cos();
            let s_db = world.s_db * (ln_sd * std::f64::consts::SQRT_2 * angle.sin()).exp();
            let covariance = [[sd * sd, 0.0], [0.0, ln_sd * ln_sd]];
            Beforehand::Curve(MeasuredSCurve::new(SCurve::new(m_dbm, s_db).unwrap(), covariance, 2).unwrap())
        } else {
            Beforehand::Nothing
        };
        let Ok(fit) = fit_walk(&cells, &beforehand) else {
            continue;
        };
        if let Ok(n) = fit.slope(inflation) {
            let r = reach(n, world.n);
            tally.add("n", r);
            tally.add(
                if world.path == Path::OutAndBack {
                    "n, out and back"
                } else {
                    "n, other paths"
                },
                r,
            );
        }
        let sigma = fit.shadowing_db(inflation);
        tally.add("sigma", reach(sigma.map(f64::ln), world.sigma_db.ln()));
        if let Some(curve) = fit.measured_scurve(inflation) {
            tally.add(
                "m",
                (curve.curve.m_dbm() - world.m_dbm).abs() / (1.96 * curve.m_sd_db()),
            );
            tally.add(
                "s",
                (curve.curve.s_db().ln() - world.s_db.ln()).abs() / (1.96 * curve.ln_s_sd()),
            );
        }
        for at in [0.3, 1.0] {
            let distance = at * fit.extent.farthest_m;
            if let Some(point) = fit.law(&[distance], inflation).first() {
                let truth = world.near_dbm - 10.0 * world.n * distance.log10();
                tally.add(&format!("level at {at} of the walk"), reach(point.level_dbm, truth));
            }
        }
        for delivery in [0.5, 0.9, 0.95, 0.99] {
            let truth = world.log10_range(delivery);
            let Some(range) = fit.range(delivery, inflation) else {
                continue;
            };
            let Some(median) = range.median else { continue };
            let spread = Spread {
                low: range.low,
                median,
                high: range.high.unwrap_or(f64::INFINITY),
            };
            if fit.sensitivity_reached {
                tally.add(&format!("range at {delivery}"), reach(spread, truth));
            }
            let metres = 10_f64.powf(truth);
            let (word, held) = match fit.describe_range(delivery, inflation) {
                RangeWording::AtLeast { metres: least } => ("said: at least", metres >= least),
                RangeWording::About { low, high, .. } => {
                    tally.add("said: about, lower end", if metres >= low { 0.0 } else { 2.0 });
                    ("said: about", metres >= low && high.is_none_or(|h| metres <= h))
                }
                RangeWording::Interval { low, high, .. } => {
                    ("said: interval", metres >= low && high.is_none_or(|h| metres <= h))
                }
                RangeWording::Below { metres: most } => ("said: below", metres <= most),
                RangeWording::Unreachable { .. } | RangeWording::NotMeasured(_) => continue,
            };
            tally.add(word, if held { 0.0 } else { 2.0 });
        }
    }
    tally
}

#[test]
#[ignore = "calibration: minutes; run with --release"]
fn tuning_worlds_show_what_the_intervals_need() {
    for (misfit, stored) in [(false, false), (true, false), (false, true), (true, true)] {
        let title = format!("tuning, not widened, misfit {misfit}, stored curve {stored}");
        measure(0..400, misfit, stored, &Inflation::NONE).print(&title);
    }
}

#[test]
#[ignore = "calibration: minutes; run with --release"]
fn held_out_worlds_show_what_the_fit_alone_covers() {
    for misfit in [false, true] {
        let title = format!("held out, not widened, misfit {misfit}");
        measure(100_000..100_400, misfit, false, &Inflation::NONE).print(&title);
    }
}

#[test]
#[ignore = "calibration: minutes; run with --release"]
fn held_out_worlds_are_covered_as_said() {
    for (misfit, stored) in [(false, false), (true, false), (false, true), (true, true)] {
        let mut tally = measure(100_000..100_400, misfit, stored, &Inflation::MEASURED);
        tally.print(&format!("held out, widened, misfit {misfit}, stored curve {stored}"));
        let mut promised = vec![
            "n",
            "sigma",
            "level at 0.3 of the walk",
            "level at 1 of the walk",
            "range at 0.5",
            "range at 0.9",
            "range at 0.95",
            "range at 0.99",
        ];
        if !stored {
            promised.extend(["m", "s"]);
        }
        for what in promised {
            let share = tally.share(what);
            // 93 promised; 400 walks know a share of 93 to about one and a quarter.
            assert!(share >= 91.8, "{what}: {share}");
        }
    }
}

/// Boards walked four times in different places: what is pooled must hold the truth, and be surer than one walk.
#[test]
#[ignore = "calibration: minutes; run with --release"]
fn pooled_curves_are_covered_as_said() {
    let mut tally = Tally::default();
    for board in 0..100_u64 {
        let own = World::drawn(500_000 + board, true);
        let mut measured = Vec::new();
        for walk in 0..4 {
            let mut place = World::drawn(600_000 + 4 * board + walk, board % 2 == 0);
            let half = place.log10_range(0.5);
            (place.m_dbm, place.s_db) = (own.m_dbm, own.s_db);
            // Walked as far as the place drawn was, for its own range.
            place.length_m = (place.length_m * 10_f64.powf(place.log10_range(0.5) - half)).clamp(60.0, 600.0);
            let cells = bin_walk(&place.walk(board), &BinRules::default()).cells;
            let fit = fit_walk(&cells, &Beforehand::Nothing);
            measured.extend(fit.ok().and_then(|fit| fit.measured_scurve(&Inflation::MEASURED)));
        }
        let Some(pooled) = pool_scurves(&measured) else {
            continue;
        };
        let walks = if pooled.walks == 1 { "one walk" } else { "several walks" };
        let m = (pooled.curve.m_dbm() - own.m_dbm).abs() / (1.96 * pooled.m_sd_db());
        let s = (pooled.curve.s_db() / own.s_db).ln().abs() / (1.96 * pooled.ln_s_sd());
        let level90 = pooled.curve.level90_dbm() - own.m_dbm - own.s_db * 9.0_f64.ln();
        tally.add(&format!("m, {walks}"), m);
        tally.add(&format!("s, {walks}"), s);
        tally.add(
            &format!("90 % level, {walks}"),
            level90.abs() / (1.96 * pooled.level90_sd_db()),
        );
        tally.add(
            &format!("error of m in dB under 0.5, {walks}"),
            2.0 * (pooled.curve.m_dbm() - own.m_dbm).abs(),
        );
    }
    tally.print("pooled curves of 100 boards");
    for what in ["m, several walks", "s, several walks", "90 % level, several walks"] {
        // 95 promised; 100 boards know it to about two.
        assert!(tally.share(what) >= 91.0, "{what}: {}", tally.share(what));
    }
}
