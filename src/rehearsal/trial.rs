//! A scenario as numbers instead of lines: the quick way for calibration.

use super::air::{Air, Exchange};
use super::receiver::{Fix, Receiver};
use super::scenario::Scenario;
use super::script::RATE;
use super::walker::Moment;
use super::world::World;

/// One exchange with all that lay behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// When, seconds since the beginning.
    pub at_s: f64,
    /// The ping's number, from 1.
    pub n: u64,
    /// Where the walker truly was and how the board was held.
    pub moment: Moment,
    /// What became of it.
    pub exchange: Exchange,
}

/// The exchanges of a scenario's first board at an even rate, whatever befalls its gear.
///
/// The luck is drawn as in [`super::perform`], yet a performance pings from the board's start on its own crystal, so
/// its rows are others.
pub fn exchanges(scenario: &Scenario, seed: u64) -> impl Iterator<Item = Row> {
    let mut air = Air::new(World::new(scenario.params.clone(), seed), seed);
    let pings = (scenario.script.seconds() * RATE).floor() as u64;
    let track = scenario.script.track().clone();
    let board = scenario.boards.first().cloned();
    (1..=pings).map_while(move |n| {
        let at_s = n as f64 / RATE;
        let moment = track.at(at_s);
        let exchange = air.exchange(at_s, board.as_ref()?, &moment.stance, true);
        Some(Row {
            at_s,
            n,
            moment,
            exchange,
        })
    })
}

/// The receiver's fixes at each second from 1 on, whatever befalls it: the same as in a performance.
pub fn fixes(scenario: &Scenario, seed: u64) -> impl Iterator<Item = (f64, Fix)> {
    let mut receiver = Receiver::new(scenario.params.receiver, seed);
    let track = scenario.script.track().clone();
    (1..=scenario.script.seconds().floor() as u64).map(move |second| {
        let at_s = second as f64;
        (at_s, receiver.epoch(&track.at(at_s)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::draws::{Manner, Route, drawn, walk_scenario};
    use crate::rehearsal::truth::Truth;

    #[test]
    fn a_trial_repeats_itself_and_agrees_with_the_truth() {
        let scenario = walk_scenario(&drawn(3, Manner::Rough), Route::Straight, 150.0, 40.0);
        let rows: Vec<Row> = exchanges(&scenario, 3).collect();
        assert_eq!(rows, exchanges(&scenario, 3).collect::<Vec<Row>>());
        assert!(rows.len() > 1000);
        let truth = Truth::of(World::new(scenario.params.clone(), 3));
        for row in rows.iter().step_by(97) {
            let mean = truth.local_mean(&scenario.boards[0], &row.moment.stance);
            assert!((mean.0 - row.exchange.local_mean).abs() < 1e-9);
        }
        let fixes: Vec<_> = fixes(&scenario, 3).collect();
        assert_eq!(fixes.len(), scenario.script.seconds().floor() as usize);
    }
}
