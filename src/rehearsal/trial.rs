//! A scenario as numbers instead of lines: the quick way for calibration.

use super::air::{Air, Exchange};
use super::receiver::{Fix, Receiver};
use super::scenario::Scenario;
use super::script::{Event, RATE};
use super::walker::Moment;
use super::world::World;

/// One exchange with all that lay behind it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// When, seconds since the beginning.
    pub at_s: f64,
    /// Which of the scenario's boards.
    pub board: usize,
    /// Where the walker truly was and how the board was held.
    pub moment: Moment,
    /// What became of it.
    pub exchange: Exchange,
}

/// The exchanges of the board in hand at an even rate, from its start on; whatever else befalls the gear does not show.
///
/// The luck is drawn as in [`super::perform()`], yet there a board pings on its own crystal, so the rows are others.
pub fn exchanges(scenario: &Scenario, seed: u64) -> impl Iterator<Item = Row> {
    let mut air = Air::new(World::new(scenario.params.clone(), seed), seed);
    let pings = (scenario.script.seconds() * RATE).floor() as u64;
    let track = scenario.script.track().clone();
    let boards = scenario.boards.clone();
    let mut changes = changes(scenario).into_iter().peekable();
    let mut in_hand = None;
    (1..=pings).filter_map(move |n| {
        let at_s = n as f64 / RATE;
        while let Some((_, board)) = changes.next_if(|(from_s, _)| *from_s <= at_s) {
            in_hand = board;
        }
        let board = in_hand?;
        let moment = track.at(at_s);
        let exchange = air.exchange(at_s, boards.get(board)?, &moment.stance, true);
        Some(Row {
            at_s,
            board,
            moment,
            exchange,
        })
    })
}

/// When which board is in hand, in order of time.
fn changes(scenario: &Scenario) -> Vec<(f64, Option<usize>)> {
    let happenings = scenario.script.happenings().iter();
    happenings
        .filter_map(|happening| match happening.event {
            Event::PowerOn(board) => Some((happening.at_s, Some(board))),
            Event::PowerOff => Some((happening.at_s, None)),
            _ => None,
        })
        .collect()
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
    use crate::rehearsal::draws::{Manner, drawn, drawn_boards};
    use crate::rehearsal::plans::{Route, boards_scenario, walk_scenario};
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
        let boards = walk_boards();
        let changed: Vec<usize> = exchanges(&boards, 3).map(|row| row.board).collect();
        assert!((0..3).all(|board| changed.iter().filter(|other| **other == board).count() > 200));
        let fixes: Vec<_> = fixes(&scenario, 3).collect();
        assert_eq!(fixes.len(), scenario.script.seconds().floor() as usize);
    }

    fn walk_boards() -> Scenario {
        boards_scenario(&drawn(3, Manner::Plain), &drawn_boards(3, 3), &[20.0, 50.0], 40.0, 100)
    }
}
