//! What is said of a sweep against the board's own pattern: in each whole survey, and pattern by pattern.

use farpace::app::rehearse::setup_of;
use farpace::findings::curves::Known;
use farpace::findings::reach::reach;
use farpace::findings::side::Side;
use farpace::findings::stop::{Gauge, USUAL_INTERFERENCE};
use farpace::findings::sweeps::{Sweep, sweeps};
use farpace::rehearsal::draws::{Manner, drawn, drawn_boards};
use farpace::rehearsal::pattern::{Pattern, Pose, Shape};
use farpace::rehearsal::place::Place;
use farpace::rehearsal::script::Script;
use farpace::rehearsal::truth::Truth;
use farpace::rehearsal::world::World;
use farpace::stats::sweep::analysis::Directivity;
use farpace::stats::sweep::{Estimate, Printed};

use crate::number;
use crate::outing::{Outing, samples, scenario, stance};
use crate::tally::Tallies;

/// Scores the sweep of one survey.
pub fn score(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    let gain = |turn: f64| outing.pattern.gain(turn);
    let gains: Vec<f64> = (0..360).map(|turn| gain(f64::from(turn))).collect();
    let peak = gains.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let null = gains.iter().copied().fold(f64::INFINITY, f64::min);
    let round = peak - null < 1e-9;
    let of = |name: &str| format!("{manner} sweep {name}");
    for sweep in &outing.found.sweeps {
        let figures = &sweep.figures;
        if round {
            let called = matches!(figures.directivity, Directivity::Shown { .. });
            tallies.add(of("round, not called directional"), !called);
        }
        if let Printed::Value(arc) = &figures.strongest {
            // Any turn within a tenth of a dB of the peak will do: two lobes have two.
            let held = (0..360).any(|turn| gains[turn] > peak - 0.1 && arc.holds(turn as f64));
            tallies.add(of("strongest turn"), held);
            // What is gained by facing the turn named instead of the one opposite.
            let turned_round = gain(arc.centre_deg) - gain(arc.centre_deg + 180.0);
            figure(
                tallies,
                &of("front to back at the turn named"),
                &figures.front_to_back_db,
                turned_round,
            );
        }
        figure(tallies, &of("null depth"), &figures.null_depth_db, peak - null);
        // Strongest directions alike to a fiftieth of a dB have one opposite; a round board has none in particular.
        let front = (0..360).filter(|turn| gains[*turn] > peak - 0.02);
        if let Some(turn) = front.take(1).next().filter(|_| !round) {
            let front_to_back = gains[turn] - gains[(turn + 180) % 360];
            figure(tallies, &of("front to back"), &figures.front_to_back_db, front_to_back);
        }
    }
}

fn figure(tallies: &mut Tallies, name: &str, figure: &Printed<Estimate>, truth: f64) {
    let Some(held) = figure.holds(truth) else { return };
    match figure {
        Printed::Value(said) => {
            let high = said.high.unwrap_or(f64::INFINITY);
            tallies.interval(name, said.low, said.value, high, truth);
        }
        Printed::AtLeast { .. } => drop(tallies.add(format!("{name}, at least"), held)),
        Printed::AtMost { .. } => drop(tallies.add(format!("{name}, at most"), held)),
        Printed::NotPrinted(_) => {}
    }
}

/// How often what is said of one figure holds.
#[derive(Default)]
struct Share {
    full: u64,
    bound: u64,
    held: u64,
}

impl Share {
    fn add<T>(&mut self, said: &Printed<T>, held: Option<bool>) {
        match said {
            Printed::Value(_) => self.full += 1,
            Printed::AtLeast { .. } | Printed::AtMost { .. } => self.bound += 1,
            Printed::NotPrinted(_) => return,
        }
        self.held += u64::from(held == Some(true));
    }

    fn true_in_100(&self) -> f64 {
        100.0 * self.held as f64 / (self.full + self.bound).max(1) as f64
    }

    fn print(&self) -> String {
        if self.full + self.bound == 0 {
            return "      –        ".to_owned();
        }
        format!("{:5.1} ({:3}+{:3})", self.true_in_100(), self.full, self.bound)
    }
}

/// A short walk and a sweep of one board with a given pattern, in a drawn world, from lines to figures.
fn swept(seed: u64, shape: &Shape, turns: u32) -> (Pattern, Vec<Sweep>) {
    let drawn = drawn(seed, Manner::Plain);
    let pattern = Pattern {
        peak: 0.0,
        towards: (seed * 61 % 360) as f64,
        shape: shape.clone(),
    };
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
    let found = sweeps(&samples, |board| {
        let side = Side::of(&samples, board)?;
        let reach = reach(&samples, &setup, board, Known::default().curve(board, side, None), side);
        let gauge = Gauge::new(&samples, board, side, reach.need, reach.interference())?;
        let interference = reach.interference().unwrap_or(USUAL_INTERFERENCE);
        Some((side, gauge.model().curve(), interference))
    });
    (pattern, found)
}

#[test]
#[ignore = "calibration: minutes; run with --release"]
fn sweeps_hold_pattern_by_pattern() {
    let first = number("CALIBRATION_FIRST", 50_000);
    let sweeps = number("CALIBRATION_SWEEPS", 200);
    let shapes = [
        ("round", Shape::Round),
        ("one lobe", Shape::OneLobe { depth: 10.6 }),
        ("two lobes", Shape::TwoLobes { depth: 9.4 }),
        ("sharp nulls", Shape::SharpNulls { depth: 22.0 }),
    ];
    println!("per cent true of what was said (said in full + as a bound, of {sweeps} rehearsals)");
    println!("pattern      turns  directional  strongest turn  front-to-back   the same, named  peak-to-null");
    let mut failures = Vec::new();
    for (name, shape) in shapes {
        for turns in [8, 12, 16] {
            let mut directional = 0;
            let mut shares: [Share; 4] = Default::default();
            for seed in first..first + sweeps {
                let (pattern, found) = swept(seed, &shape, turns);
                let [sweep] = &found[..] else {
                    failures.push(format!("{name}, {turns} turns, seed {seed}: {} sweeps", found.len()));
                    continue;
                };
                let figures = &sweep.figures;
                directional += u64::from(matches!(figures.directivity, Directivity::Shown { .. }));
                let gains: Vec<f64> = (0..360).map(|turn| pattern.gain(f64::from(turn))).collect();
                let peak = gains.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                let null = gains.iter().copied().fold(f64::INFINITY, f64::min);
                let opposite = pattern.gain(pattern.towards) - pattern.gain(pattern.towards + 180.0);
                let held = |arc: &farpace::stats::sweep::Arc| {
                    (0..360).any(|turn| gains[turn] > peak - 0.1 && arc.holds(turn as f64))
                };
                // A round board has no strongest turn: naming one is what the second column counts.
                if shape != Shape::Round {
                    shares[0].add(&figures.strongest, figures.strongest.value().map(held));
                }
                let ratio = &figures.front_to_back_db;
                shares[1].add(ratio, ratio.holds(opposite));
                if let Some(arc) = figures.strongest.value() {
                    let named = pattern.gain(arc.centre_deg) - pattern.gain(arc.centre_deg + 180.0);
                    shares[2].add(ratio, ratio.holds(named));
                }
                shares[3].add(&figures.null_depth_db, figures.null_depth_db.holds(peak - null));
            }
            println!(
                "{name:12} {turns:4} {:10.1}     {}",
                100.0 * directional as f64 / sweeps as f64,
                shares.iter().map(Share::print).collect::<Vec<_>>().join("  ")
            );
            if shape == Shape::Round && directional * 20 > sweeps {
                failures.push(format!(
                    "round at {turns} turns: called directional {directional} times"
                ));
            }
            for (share, figure) in shares
                .iter()
                .zip(["strongest", "front to back", "front to back as named", "null"])
            {
                // Fewer than twenty statements say nothing about their reliability.
                if share.full + share.bound >= 20 && share.true_in_100() < 93.0 {
                    failures.push(format!(
                        "{name} at {turns} turns: {figure} true in {:.1} %",
                        share.true_in_100()
                    ));
                }
            }
        }
    }
    assert!(failures.is_empty(), "{failures:#?}");
}
