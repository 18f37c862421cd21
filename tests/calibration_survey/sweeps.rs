//! What is said of a sweep against the board's own pattern: in each whole survey, and pattern by pattern.
//!
//! The table of patterns: `cargo calibrate-survey sweeps_hold`. `CALIBRATION_SWEEPS` (200) says how many rehearsals a row,
//! `CALIBRATION_FIRST` (24000) from which seed on, `CALIBRATION_PATTERN` (all) which pattern alone. The widening was chosen on
//! seeds 12000 to 12361, and that of the null as at least once more after 22000 to 22199; seeds 24000 to 24199 gave, true in
//! 100 of what was said (of how many; `≥` as at least, `≤` as at most; below twenty statements the counts):
//!
//! | pattern | turns | directional | strongest turn | front to back | the same, as named | peak to null | weakest turn | 3 dB width | share within 3 dB |
//! | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
//! | round | 8 | 0.5 | – | 1 of 1 | – | – | – | – | – |
//! | round | 12 | 0.5 | – | 1 of 1, ≤ 100.0 (113) | – | ≤ 100.0 (113) | – | – | – |
//! | round | 16 | 2.0 | – | 4 of 4, ≤ 100.0 (91) | 2 of 2 | 0 of 2, ≥ 0 of 1, ≤ 100.0 (91) | – | – | – |
//! | one lobe | 8 | 32.5 | 100.0 (54) | 100.0 (38), ≥ 100.0 (24) | 100.0 (30), ≥ 100.0 (24) | ≥ 100.0 (60) | 100.0 (32) | – | – |
//! | one lobe | 12 | 52.0 | 97.8 (92) | 100.0 (56), ≥ 100.0 (37), ≤ 19 of 19 | 100.0 (49), ≥ 100.0 (35) | 100.0 (50), ≥ 98.0 (49), ≤ 19 of 19 | 100.0 (56) | 2 of 2 | 1 of 1 |
//! | one lobe | 16 | 65.5 | 100.0 (110) | 100.0 (84), ≥ 100.0 (36), ≤ 7 of 7 | 100.0 (71), ≥ 100.0 (30) | 100.0 (77), ≥ 98.0 (51), ≤ 7 of 7 | 100.0 (70) | – | – |
//! | two lobes | 8 | 24.0 | 3 of 3 | 100.0 (48) | 3 of 3 | ≥ 15 of 15 | 6 of 6 | – | – |
//! | two lobes | 12 | 47.0 | 11 of 11 | 100.0 (93), ≤ 7 of 7 | 11 of 11 | 100.0 (27), ≥ 100.0 (35), ≤ 7 of 7 | 9 of 9 | 100.0 (31) | – |
//! | two lobes | 16 | 67.5 | 16 of 16 | 99.3 (134), ≥ 0 of 1, ≤ 4 of 4 | 14 of 15, ≥ 0 of 1 | 100.0 (80), ≥ 18 of 19, ≤ 4 of 4 | 16 of 16 | 100.0 (51) | 0 of 1 |
//! | sharp nulls | 8 | 16.0 | 1 of 1 | 100.0 (32) | 1 of 1 | ≥ 5 of 5 | 4 of 4 | – | – |
//! | sharp nulls | 12 | 43.5 | 4 of 4 | 100.0 (87) | 4 of 4 | ≥ 100.0 (23) | 4 of 4 | 1 of 1 | – |
//! | sharp nulls | 16 | 70.0 | 8 of 8 | 99.3 (140) | 7 of 8 | 0 of 2, ≥ 100.0 (56) | 3 of 3 | 2 of 2 | – |
//! | all |  | 35.1 | 99.3 (299) | 99.7 (718), ≥ 99.0 (98), ≤ 100.0 (241) | 99.0 (194), ≥ 98.9 (90) | 98.3 (238), ≥ 98.7 (314), ≤ 100.0 (241) | 100.0 (200) | 100.0 (87) | 1 of 2 |

use std::sync::atomic::{AtomicU64, Ordering};

use farpace::app::rehearse::setup_of;
use farpace::findings::offsets::Offsets;
use farpace::findings::reach::reach;
use farpace::findings::side::Side;
use farpace::findings::stop::{Gauge, USUAL_INTERFERENCE};
use farpace::findings::sweep_words::sentences;
use farpace::findings::sweeps::{Sweep, sweeps};
use farpace::rehearsal::draws::{Manner, drawn, drawn_boards};
use farpace::rehearsal::pattern::{Pattern, Pose, Shape};
use farpace::rehearsal::place::Place;
use farpace::rehearsal::script::Script;
use farpace::rehearsal::truth::Truth;
use farpace::rehearsal::world::World;
use farpace::stats::circular::signed_difference;
use farpace::stats::sampled::SampledFigures;
use farpace::stats::stop_curve::NoCurve;
use farpace::stats::sweep::analysis::Directivity;
use farpace::stats::sweep::{Arc, Estimate, Printed};

use crate::number;
use crate::outing::{Outing, samples, scenario, stance};
use crate::tally::Tallies;

/// Scores the sweeps of one survey.
pub fn score(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    let of = |name: &str| format!("{manner} sweep {name}");
    for sweep in &outing.found.sweeps {
        let pattern = outing.pattern(sweep);
        let gain = |turn: f64| pattern.gain(turn);
        let gains: Vec<f64> = (0..360).map(|turn| gain(f64::from(turn))).collect();
        let peak = gains.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let null = gains.iter().copied().fold(f64::INFINITY, f64::min);
        let round = peak - null < 1e-9;
        let figures = &sweep.figures;
        if round {
            let called = matches!(figures.directivity, Directivity::Shown { .. });
            tallies.add(of("round, not called directional"), !called);
        }
        // Any turn within a tenth of a dB of the extreme will do: two lobes have two.
        let off = |arc: &Arc, extreme: f64| {
            let turns = (0..360).filter(|turn| (gains[*turn] - extreme).abs() < 0.1);
            let off = turns.map(|turn| signed_difference(arc.centre_deg, turn as f64));
            off.min_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap_or(180.0)
        };
        if let Printed::Value(arc) = &figures.strongest {
            let half = arc.half_width_deg;
            tallies.interval(of("strongest turn"), -half, 0.0, half, off(arc, peak));
            // What is gained by facing the turn named instead of the one opposite.
            let turned_round = gain(arc.centre_deg) - gain(arc.centre_deg + 180.0);
            figure(
                tallies,
                &of("front to back at the turn named"),
                &figures.front_to_back_db,
                turned_round,
            );
        }
        if let Printed::Value(arc) = &figures.weakest {
            let half = arc.half_width_deg;
            tallies.interval(of("weakest turn"), -half, 0.0, half, off(arc, null));
        }
        figure(tallies, &of("null depth"), &figures.null_depth_db, peak - null);
        // Strongest directions alike to a fiftieth of a dB have one opposite; a round board has none in particular.
        let front = (0..360).filter(|turn| gains[*turn] > peak - 0.02);
        if let Some(turn) = front.take(1).next().filter(|_| !round) {
            let front_to_back = gains[turn] - gains[(turn + 180) % 360];
            figure(tallies, &of("front to back"), &figures.front_to_back_db, front_to_back);
        }
        let truth = SampledFigures::of(&gains).expect("a pattern of 360 turns");
        // A pattern that never falls 3 dB is within them all round.
        let width = truth.beamwidth_deg.unwrap_or(360.0);
        figure(tallies, &of("3 dB width"), &figures.beamwidth_deg, width);
        figure(
            tallies,
            &of("share within 3 dB"),
            &figures.share_within_3_db,
            truth.share_within_3_db,
        );
    }
}

/// Counts a figure by the way it is said.
pub fn figure(tallies: &mut Tallies, name: &str, figure: &Printed<Estimate>, truth: f64) {
    let Some(held) = figure.holds(truth) else { return };
    match figure {
        Printed::Value(said) => {
            let high = said.high.unwrap_or(f64::INFINITY);
            tallies.interval(name, said.low, said.value, high, truth);
        }
        Printed::AtLeast { low, .. } => tallies.bound(format!("{name}, at least"), *low, truth, held),
        Printed::AtMost { high, .. } => tallies.bound(format!("{name}, at most"), *high, truth, held),
        Printed::NotPrinted(_) => {}
    }
}

/// Kinds of statement: as an interval, as at least, as at most.
const KINDS: [&str; 3] = ["", "≥ ", "≤ "];

/// Fewer statements than this are given as counts: they say nothing about reliability.
const FEW: u64 = 20;

/// Of every hundred statements so many must be true.
const TRUE_IN_100: f64 = 93.0;

/// The figures of a sweep that are scored.
const FIGURES: [&str; 7] = [
    "strongest turn",
    "front to back",
    "the same, as named",
    "peak to null",
    "weakest turn",
    "3 dB width",
    "share within 3 dB",
];

/// How often what is said of one figure holds, by kind of statement: true ones, and all.
#[derive(Clone, Copy, Default)]
struct Share([(u64, u64); KINDS.len()]);

impl Share {
    fn add<T>(&mut self, said: &Printed<T>, held: Option<bool>) {
        let kind = match said {
            Printed::Value(_) => 0,
            Printed::AtLeast { .. } => 1,
            Printed::AtMost { .. } => 2,
            Printed::NotPrinted(_) => return,
        };
        self.0[kind].0 += u64::from(held == Some(true));
        self.0[kind].1 += 1;
    }

    fn merge(&mut self, other: &Self) {
        for (own, more) in self.0.iter_mut().zip(other.0) {
            own.0 += more.0;
            own.1 += more.1;
        }
    }

    /// All kinds together.
    fn all(&self) -> (u64, u64) {
        let sum = |of: fn(&(u64, u64)) -> u64| self.0.iter().map(of).sum();
        (sum(|kind| kind.0), sum(|kind| kind.1))
    }

    fn print(&self) -> String {
        let said = KINDS.iter().zip(self.0).filter(|(_, (_, of))| *of > 0);
        let words: Vec<String> = said
            .map(|(sign, (held, of))| {
                if of < FEW {
                    format!("{sign}{held} of {of}")
                } else {
                    format!("{sign}{:.1} ({of})", in_100((held, of)))
                }
            })
            .collect();
        if words.is_empty() {
            "–".to_owned()
        } else {
            words.join(", ")
        }
    }
}

fn in_100((held, of): (u64, u64)) -> f64 {
    100.0 * held as f64 / of.max(1) as f64
}

/// What became of the sweeps of one row.
#[derive(Clone, Default)]
struct Row {
    sweeps: u64,
    directional: u64,
    shares: [Share; FIGURES.len()],
}

impl Row {
    fn merge(&mut self, other: &Self) {
        self.sweeps += other.sweeps;
        self.directional += other.directional;
        for (own, more) in self.shares.iter_mut().zip(&other.shares) {
            own.merge(more);
        }
    }

    fn print(&self, name: &str, turns: &str) {
        let cells: Vec<String> = self.shares.iter().map(Share::print).collect();
        println!(
            "| {name} | {turns} | {:.1} | {} |",
            in_100((self.directional, self.sweeps)),
            cells.join(" | ")
        );
    }

    /// Compares everything one sweep says with the pattern it was made from.
    fn add(&mut self, pattern: &Pattern, sweep: &Sweep, seed: u64, misses: Option<&str>) {
        let before = self.shares;
        let figures = &sweep.figures;
        let gain = |turn: f64| pattern.gain(turn);
        let levels: Vec<f64> = (0..3600).map(|tenth| gain(f64::from(tenth) / 10.0)).collect();
        let truth = SampledFigures::of(&levels).expect("a pattern has figures");
        let turns = |near: &dyn Fn(f64) -> bool| -> Vec<f64> {
            (0..3600_u32)
                .map(|tenth| f64::from(tenth) / 10.0)
                .filter(|turn| near(gain(*turn)))
                .collect()
        };
        // Any turn within a tenth of a dB will do: two lobes have two strongest and two weakest.
        let peaks = turns(&|level| level > truth.maximum_db - 0.1);
        let nulls = turns(&|level| level < truth.minimum_db + 0.1);
        let on = |arc: &Arc, turns: &[f64]| turns.iter().any(|turn| arc.holds(*turn));
        self.sweeps += 1;
        self.directional += u64::from(matches!(figures.directivity, Directivity::Shown { .. }));
        let [strongest, back, named, null, weakest, width, share] = &mut self.shares;
        // A round board has no strongest turn: naming one is what the column of directional ones counts.
        if pattern.shape != Shape::Round {
            strongest.add(&figures.strongest, figures.strongest.value().map(|arc| on(arc, &peaks)));
            weakest.add(&figures.weakest, figures.weakest.value().map(|arc| on(arc, &nulls)));
        }
        let ratio = &figures.front_to_back_db;
        let opposite = gain(pattern.towards) - gain(pattern.towards + 180.0);
        back.add(ratio, ratio.holds(opposite));
        if let Some(arc) = figures.strongest.value() {
            named.add(ratio, ratio.holds(gain(arc.centre_deg) - gain(arc.centre_deg + 180.0)));
        }
        let depth = &figures.null_depth_db;
        null.add(depth, depth.holds(truth.maximum_db - truth.minimum_db));
        if let Some(beamwidth) = truth.beamwidth_deg {
            width.add(&figures.beamwidth_deg, figures.beamwidth_deg.holds(beamwidth));
        }
        let within = &figures.share_within_3_db;
        share.add(within, within.holds(truth.share_within_3_db));
        for ((was, is), name) in before.iter().zip(&self.shares).zip(FIGURES) {
            let missed = is.all().1 > was.all().1 && is.all().0 == was.all().0;
            if missed && misses.is_some_and(|misses| name.starts_with(misses)) {
                println!(
                    "seed {seed}: {name}: {}, τ {:.1} dB",
                    sentences(sweep).join(" "),
                    figures.spread().0
                );
            }
        }
    }
}

/// A short walk and a sweep of one board with a given pattern, in a drawn world, from lines to figures.
fn swept(seed: u64, pattern: &Pattern, turns: u32) -> Vec<Sweep> {
    let drawn = drawn(seed, Manner::Plain);
    let bearing = (seed * 37 % 360) as f64;
    let mut boards = drawn_boards(seed, 1);
    boards[0].patterns[0] = pattern.clone();
    let truth = Truth::of(World::new(drawn.params.clone(), seed));
    let half = truth.range(&boards[0], &stance(Place::out(20.0, bearing)), bearing, 0.5);
    let half = half.map_or(20.0, |range| range.0).clamp(45.0, 400.0);
    let script = Script::begin(Place::out(8.0, bearing))
        .hand(seed)
        .stand(3.0)
        .walking()
        .walk(Place::out((0.25 * half).max(12.0), bearing + 20.0))
        .sweep("S1", Pose::Flat, turns, 40)
        .finish();
    let scenario = scenario(&drawn, boards, script);
    let setup = setup_of(&scenario, seed);
    let samples = samples(&scenario, &setup, seed);
    // As in the estimates of a whole survey, the map of places left aside: it says nothing of sweeps and takes longest.
    sweeps(&samples, |board| {
        let side = Side::of(&samples, board)?;
        let offsets = setup.station.position.map(|station| Offsets::about(station, &samples));
        let reach = reach(&samples, offsets.as_ref(), &setup, board, &[], side, || {
            Err(NoCurve::NoStop)
        });
        let gauge = Gauge::new(&samples, board, side, reach.need, reach.interference())?;
        let interference = reach.interference().unwrap_or(USUAL_INTERFERENCE);
        Some((side, gauge.model().curve(), interference))
    })
}

/// So many sweeps of a pattern, each in another world and begun at another turn.
fn row(shape: &Shape, turns: u32, first: u64, sweeps: u64) -> Row {
    let next = AtomicU64::new(first);
    let misses = std::env::var("CALIBRATION_MISSES").ok();
    let run = || {
        let mut row = Row::default();
        loop {
            let seed = next.fetch_add(1, Ordering::Relaxed);
            if seed >= first + sweeps {
                return row;
            }
            let pattern = Pattern {
                peak: 0.0,
                towards: (seed * 61 % 360) as f64,
                shape: shape.clone(),
            };
            let found = swept(seed, &pattern, turns);
            assert_eq!(found.len(), 1, "one sweep of {turns} turns, seed {seed}");
            row.add(&pattern, &found[0], seed, misses.as_deref());
        }
    };
    std::thread::scope(|scope| {
        let other = scope.spawn(run);
        let mut row = run();
        row.merge(&other.join().expect("no sweep panics"));
        row
    })
}

#[test]
#[ignore = "calibration: minutes; run with --release"]
fn sweeps_hold_pattern_by_pattern() {
    let first = number("CALIBRATION_FIRST", 24_000);
    let sweeps = number("CALIBRATION_SWEEPS", 200);
    let only = std::env::var("CALIBRATION_PATTERN").ok();
    let shapes = [
        ("round", Shape::Round),
        ("one lobe", Shape::OneLobe { depth: 10.6 }),
        ("two lobes", Shape::TwoLobes { depth: 9.4 }),
        ("sharp nulls", Shape::SharpNulls { depth: 22.0 }),
    ];
    println!("True in 100 of what was said (of how many), {sweeps} rehearsals a row from seed {first};");
    println!("≥ said as at least, ≤ as at most; below {FEW} statements the counts.");
    println!("| pattern | turns | directional | {} |", FIGURES.join(" | "));
    println!("| --- | --- | --- |{}", " --- |".repeat(FIGURES.len()));
    let mut failures = Vec::new();
    let mut all = Row::default();
    for (name, shape) in shapes {
        if only.as_ref().is_some_and(|only| only != name) {
            continue;
        }
        for turns in [8, 12, 16] {
            let row = row(&shape, turns, first, sweeps);
            row.print(name, &turns.to_string());
            if shape == Shape::Round && row.directional * 20 > row.sweeps {
                failures.push(format!(
                    "round at {turns} turns: called directional {} times",
                    row.directional
                ));
            }
            for (share, figure) in row.shares.iter().zip(FIGURES) {
                let said = share.all();
                if said.1 >= FEW && in_100(said) < TRUE_IN_100 {
                    failures.push(format!(
                        "{name} at {turns} turns: {figure} true in {} of {}",
                        said.0, said.1
                    ));
                }
            }
            all.merge(&row);
        }
    }
    all.print("all", "");
    for (share, figure) in all.shares.iter().zip(FIGURES) {
        for (said, sign) in share.0.into_iter().zip(KINDS) {
            if said.1 >= FEW && in_100(said) < TRUE_IN_100 {
                failures.push(format!("{sign}{figure}, all rows: true in {} of {}", said.0, said.1));
            }
        }
    }
    assert!(failures.is_empty(), "{failures:#?}");
}
