//! The turns of a sweep, in order: which comes next, which were left out, the first again at the end.

use crate::wire::SurveyorRecord;

/// The numbers of turns that may be chosen.
pub const STEPS: [u32; 5] = [8, 12, 16, 24, 36];
/// How a board may be held; the surveyor may have another word.
pub const POSES: [&str; 3] = ["flat", "upright", "edge"];
/// Messages a turn that may be chosen.
pub const MESSAGES: [u32; 4] = [20, 40, 60, 100];

/// How a sweep is to be, and how far it has come.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SweepPlan {
    steps: usize,
    pose: usize,
    messages: usize,
    /// Index of the next turn; the number of turns stands for the first one again, one more for the end.
    next: u32,
    /// Turns left out.
    left_out: Vec<u32>,
}

impl Default for SweepPlan {
    /// Eight turns, flat, forty messages each.
    fn default() -> Self {
        Self { steps: 0, pose: 0, messages: 1, next: 0, left_out: Vec::new() }
    }
}

impl SweepPlan {
    /// How many things there are to choose.
    pub const ROWS: usize = 3;

    /// The number of turns, without the repeated first.
    pub fn steps(&self) -> u32 {
        STEPS[self.steps]
    }

    /// How the board is held.
    pub fn pose(&self) -> &'static str {
        POSES[self.pose]
    }

    /// Messages a turn.
    pub fn messages(&self) -> u32 {
        MESSAGES[self.messages]
    }

    /// Chooses the next (or the one before) of a row.
    pub fn change(&mut self, row: usize, on: bool) {
        let turn = |index: &mut usize, length: usize| {
            *index = if on { (*index + 1) % length } else { (*index + length - 1) % length };
        };
        match row {
            0 => turn(&mut self.steps, STEPS.len()),
            1 => turn(&mut self.pose, POSES.len()),
            _ => turn(&mut self.messages, MESSAGES.len()),
        }
    }

    /// The record that begins it.
    pub fn record(&self) -> SurveyorRecord {
        SurveyorRecord::Sweep {
            name: None,
            pose: Some(self.pose().to_owned()),
            steps: Some(self.steps()),
            messages: Some(self.messages()),
        }
    }

    /// The next turn, degrees clockwise from the direction to the station; `None` when all are done.
    pub fn next(&self) -> Option<f64> {
        let steps = self.steps();
        (self.next <= steps).then(|| f64::from(self.next % steps) * 360.0 / f64::from(steps))
    }

    /// Which turn comes next, counted from 1, of how many, the repeated first included.
    pub fn progress(&self) -> (u32, u32) {
        (self.next.min(self.steps()) + 1, self.steps() + 1)
    }

    /// Whether the next turn is the first one again.
    pub fn is_closing(&self) -> bool {
        self.next == self.steps()
    }

    /// Takes the next turn as begun.
    pub fn take_next(&mut self) -> Option<f64> {
        let next = self.next()?;
        self.next += 1;
        Some(next)
    }

    /// The last turn is to be measured again.
    pub fn again(&mut self) {
        self.next = self.next.saturating_sub(1);
    }

    /// The next turn is left out.
    pub fn leave_out(&mut self) {
        if self.next <= self.steps() {
            self.left_out.push(self.next);
            self.next += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eight_turns_and_the_first_again() {
        let mut plan = SweepPlan::default();
        let turns: Vec<f64> = std::iter::from_fn(|| plan.take_next()).collect();
        assert_eq!(turns, [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0, 0.0]);
    }

    #[test]
    fn a_turn_may_be_repeated_or_left_out() {
        let mut plan = SweepPlan::default();
        plan.take_next();
        plan.again();
        assert_eq!(plan.next(), Some(0.0));
        plan.leave_out();
        assert_eq!(plan.next(), Some(45.0));
    }
}
