//! How the next sweep is to be: turns, pose, messages a turn.

use crate::wire::SurveyorRecord;

/// The numbers of turns that may be chosen.
pub const STEPS: [u32; 5] = [8, 12, 16, 24, 36];
/// How a board may be held; the surveyor may type another word.
pub const POSES: [&str; 3] = ["flat", "upright", "edge"];
/// Messages a turn that may be chosen.
pub const MESSAGES: [u32; 4] = [20, 40, 60, 100];
/// Letters a typed pose may have.
const POSE_LETTERS: usize = 24;

/// How the next sweep is to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SweepPlan {
    steps: usize,
    pose: usize,
    typed: String,
    messages: usize,
}

impl Default for SweepPlan {
    /// Eight turns, flat, forty messages each.
    fn default() -> Self {
        Self {
            steps: 0,
            pose: 0,
            typed: String::new(),
            messages: 1,
        }
    }
}

impl SweepPlan {
    /// How many things there are to choose.
    pub const ROWS: usize = 3;
    /// Which of them is the pose.
    pub const POSE_ROW: usize = 1;

    /// The number of turns, without the repeated first.
    pub fn steps(&self) -> u32 {
        STEPS[self.steps]
    }

    /// How the board is held.
    pub fn pose(&self) -> &str {
        if self.typed.is_empty() {
            POSES[self.pose]
        } else {
            &self.typed
        }
    }

    /// Messages a turn.
    pub fn messages(&self) -> u32 {
        MESSAGES[self.messages]
    }

    /// Chooses the next (or the one before) of a row.
    pub fn change(&mut self, row: usize, on: bool) {
        let turn = |index: &mut usize, length: usize| {
            *index = if on {
                (*index + 1) % length
            } else {
                (*index + length - 1) % length
            };
        };
        match row {
            0 => turn(&mut self.steps, STEPS.len()),
            Self::POSE_ROW if !self.typed.is_empty() => self.typed.clear(),
            Self::POSE_ROW => turn(&mut self.pose, POSES.len()),
            _ => turn(&mut self.messages, MESSAGES.len()),
        }
    }

    /// Adds a letter to a pose of the surveyor's own.
    pub fn type_pose(&mut self, letter: char) {
        if self.typed.chars().count() < POSE_LETTERS && !letter.is_control() {
            self.typed.push(letter);
        }
    }

    /// Takes the last letter of it back.
    pub fn untype_pose(&mut self) {
        self.typed.pop();
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
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_typed_pose_stands_until_another_is_chosen() {
        let mut plan = SweepPlan::default();
        plan.type_pose('p');
        plan.type_pose('o');
        assert_eq!(plan.pose(), "po");
        plan.untype_pose();
        assert_eq!(plan.pose(), "p");
        plan.change(SweepPlan::POSE_ROW, true);
        assert_eq!(plan.pose(), "flat");
        plan.change(SweepPlan::POSE_ROW, true);
        assert_eq!(plan.pose(), "upright");
        plan.change(0, false);
        assert_eq!(plan.steps(), 36);
    }
}
