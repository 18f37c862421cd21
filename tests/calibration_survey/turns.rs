//! What is said of single turns of a sweep: their levels, the fitted level all round, the first turn again, and two sweeps
//! turn by turn.

use farpace::findings::sweeps::{Sweep, pairs};
use farpace::rehearsal::script::RATE;
use farpace::stats::level::MeanPower;
use farpace::stats::margin::Margin;
use farpace::stats::sweep::printed::{Estimate, Printed};
use farpace::stats::sweep::{Exchange, Step};

use crate::naive;
use crate::outing::Outing;
use crate::score::truth_of_rows;
use crate::sweeps::figure;
use crate::tally::Tallies;

/// The fitted level is looked at every so many degrees.
const LOOKED_AT_DEG: usize = 10;

/// Scores every turn of the sweeps of one survey, and the sweeps against each other.
pub fn score(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    let of = |name: &str| format!("{manner} turn {name}");
    stops(outing, manner, tallies);
    let sweeps = &outing.found.sweeps;
    for sweep in sweeps {
        for (step, taken) in sweep.figures.steps.iter().zip(&sweep.steps) {
            let held = as_held(outing, sweep, taken);
            figure(tallies, &of("level as held"), &step.level, held);
            figure(
                tallies,
                &of("level of the turn (no claim)"),
                &step.level,
                level(outing, sweep, taken, taken.turn_deg),
            );
            if let Some((low, mean, high)) = naive_level(taken) {
                tallies.interval(of("level as held, naive"), low, mean, high, held);
            }
        }
        if let Ok(pattern) = &sweep.figures.pattern {
            for turn in (0..pattern.level_dbm.len()).step_by(LOOKED_AT_DEG) {
                let truth = level_at(outing, sweep, turn as f64);
                tallies.interval(
                    of("fitted level"),
                    pattern.low_dbm[turn],
                    pattern.level_dbm[turn],
                    pattern.high_dbm[turn],
                    truth,
                );
            }
        }
        if let (Ok(closure), [first, .., last]) = (&sweep.figures.closure, sweep.steps.as_slice()) {
            // Nothing but the link's own change counts: how the hand met the turn is the step's affair.
            let (low, high) = closure.interval_db();
            let turn = closure.turn_deg;
            let truth = level(outing, sweep, last, turn) - level(outing, sweep, first, turn);
            tallies.interval(of("first again"), low, closure.difference_db, high, truth);
        }
    }
    for pair in pairs(sweeps) {
        let (first, second) = (&sweeps[pair.first], &sweeps[pair.second]);
        let truth = |turn: f64| level_at(outing, second, turn) - level_at(outing, first, turn);
        let (mut all, mut some) = (true, false);
        let mut heard = Vec::new();
        for turn in &pair.comparison.turns {
            let differs = truth(turn.turn_deg);
            let name = of("difference");
            match turn.alone_db {
                Printed::AtLeast { low, .. } => {
                    tallies.bound(format!("{name}, at least or most"), low, differs, low <= differs);
                }
                Printed::AtMost { high, .. } => {
                    tallies.bound(format!("{name}, at least or most"), high, differs, differs <= high);
                }
                Printed::Value(_) | Printed::NotPrinted(_) => figure(tallies, &name, &turn.alone_db, differs),
            }
            if let Some(held) = turn.together_db.holds(differs) {
                all &= held;
                some = true;
            }
            if turn.alone_db.value().is_some() {
                heard.push(differs);
            }
            if pair.comparison.sure_deg.contains(&turn.turn_deg) {
                let stronger = matches!(
                    turn.together_db,
                    Printed::Value(Estimate { low, .. }) | Printed::AtLeast { low, .. } if low > 0.0
                );
                tallies.add(of("difference called sure"), stronger == (differs > 0.0));
            }
            let steps = [first, second].map(|sweep| sweep.steps.iter().find(|step| step.turn_deg == turn.turn_deg));
            if let [Some(one), Some(other)] = steps
                && let (Some(one), Some(other)) = (naive_level(one), naive_level(other))
            {
                let half = (one.2 - one.1).hypot(other.2 - other.1);
                let middle = other.1 - one.1;
                tallies.interval(of("difference, naive"), middle - half, middle, middle + half, differs);
            }
        }
        if some {
            tallies.add(of("difference, all turns"), all);
        }
        let mean = heard.iter().sum::<f64>() / heard.len().max(1) as f64;
        figure(tallies, &of("difference in the mean"), &pair.comparison.mean_db, mean);
    }
}

/// Scores what each step says as a short stop of its own: what was delivered, and level and margin as at a point.
fn stops(outing: &Outing, manner: &str, tallies: &mut Tallies) {
    let of = |name: &str| format!("{manner} turn {name}");
    for (row, figures) in outing.found.points.iter().filter(|(row, _)| row.activity == "sweep") {
        let (level, as_held, _) = truth_of_rows(outing, &row.board, &outing.samples.rows[row.rows.clone()]);
        let delivery = &row.standing.delivery;
        let rate = row.delivered as f64 / row.messages.max(1) as f64;
        tallies.interval(
            of("delivered"),
            delivery.interval.low,
            rate,
            delivery.interval.high,
            as_held,
        );
        match figures.level.as_ref().map(|level| level.mean_power) {
            Some(MeanPower::Between { median_dbm, interval }) => {
                tallies.interval(
                    of("level as at a point"),
                    interval.low,
                    median_dbm,
                    interval.high,
                    level,
                );
            }
            Some(MeanPower::AtMost { high_dbm }) => {
                let name = of("level as at a point, at least or most");
                tallies.bound(name, high_dbm, level, level <= high_dbm);
            }
            Some(MeanPower::AtLeast { low_dbm }) => {
                let name = of("level as at a point, at least or most");
                tallies.bound(name, low_dbm, level, level >= low_dbm);
            }
            Some(MeanPower::Open) | None => {}
        }
        let board = outing.board(&row.board);
        let needed = outing.truth.level_for(board, 0.9);
        if let (Some(margin), Some(needed)) = (figures.margin, needed) {
            let truth = level - needed.0 - outing.at_station(board);
            let bounded = of("margin, at least or most");
            match margin {
                Margin::Between { estimate_db, interval } => {
                    tallies.interval(of("margin"), interval.low, estimate_db, interval.high, truth);
                }
                Margin::AtMost { high_db } => tallies.bound(bounded, high_db, truth, truth <= high_db),
                Margin::AtLeast { low_db } => tallies.bound(bounded, low_db, truth, truth >= low_db),
            }
        }
    }
}

/// The level at the station's meter while a step was taken, dBm of mean power: the fade it stood in is part of it.
fn as_held(outing: &Outing, sweep: &Sweep, step: &Step) -> f64 {
    let board = outing.board(&sweep.board);
    let world = outing.truth.world();
    let count = step.exchanges.len().max(1);
    let power: f64 = (0..count)
        .map(|message| {
            let at_s = step.time_s + message as f64 / RATE;
            let stance = outing.scenario.script.track().at(at_s).stance;
            let fade = world.fading.at(stance.aerial, at_s, world.k_db(stance.aerial));
            10_f64.powf((outing.truth.local_mean(board, &stance).0 + fade) / 10.0)
        })
        .sum();
    10.0 * (power / count as f64).log10() + outing.at_station(board)
}

/// The mean level at the station's meter with the mark at a turn, dBm, where the board was during a step; without fading.
fn level(outing: &Outing, sweep: &Sweep, step: &Step, turn: f64) -> f64 {
    let board = outing.board(&sweep.board);
    let mut stance = outing.scenario.script.track().at(step.time_s).stance;
    stance.turn = turn;
    outing.truth.local_mean(board, &stance).0 + outing.at_station(board)
}

/// The same on average over the places of all steps.
fn level_at(outing: &Outing, sweep: &Sweep, turn: f64) -> f64 {
    let levels = sweep.steps.iter().map(|step| level(outing, sweep, step, turn));
    levels.sum::<f64>() / sweep.steps.len() as f64
}

/// The mean of the dBm that arrived at the station, with its usual 95 % interval.
fn naive_level(step: &Step) -> Option<(f64, f64, f64)> {
    let levels = step.exchanges.iter().filter_map(|exchange| match exchange {
        Exchange::Echo { there, .. } => there.map(f64::from),
        Exchange::Lost => None,
    });
    naive::mean(levels)
}
