//! What the map of places is to assume of the node that will stand there: a board, a mounting height, leaves to come.

use crate::findings::assumptions::Wanted;
use crate::units::{Db, Metres};

/// Heights above the ground that may be chosen, metres.
const MOUNTED_M: [f64; 11] = [0.3, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0];
/// What leaves may be chosen to take, dB.
const LEAVES_DB: [f64; 6] = [2.0, 4.0, 6.0, 8.0, 10.0, 15.0];

/// The choice as it stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AssumePlan {
    /// The board walked with, then those whose difference from it was measured.
    boards: Vec<String>,
    board: usize,
    /// 0: as carried.
    mounted: usize,
    /// 0: none.
    leaves: usize,
}

impl AssumePlan {
    /// How many things there are to choose.
    pub const ROWS: usize = 3;

    /// Begins with what is assumed already; `boards` are the one walked with and those that may stand in for it.
    pub fn of(wanted: &Wanted, boards: &[String]) -> Self {
        let rung = |value: Option<f64>, rungs: &[f64]| {
            value
                .and_then(|value| rungs.iter().position(|rung| *rung == value))
                .map_or(0, |index| index + 1)
        };
        let board = wanted.board.as_ref();
        Self {
            board: board
                .and_then(|wanted| boards.iter().position(|board| board == wanted))
                .unwrap_or(0),
            boards: boards.to_vec(),
            mounted: rung(wanted.mounted.map(|height| height.0), &MOUNTED_M),
            leaves: rung(wanted.leaves.map(|loss| loss.0), &LEAVES_DB),
        }
    }

    /// What is wanted by it.
    pub fn wanted(&self) -> Wanted {
        let rung = |index: usize, rungs: &[f64]| index.checked_sub(1).and_then(|index| rungs.get(index).copied());
        Wanted {
            board: (self.board > 0).then(|| self.boards.get(self.board).cloned()).flatten(),
            mounted: rung(self.mounted, &MOUNTED_M).map(Metres),
            leaves: rung(self.leaves, &LEAVES_DB).map(Db),
        }
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
            0 => turn(&mut self.board, self.boards.len().max(1)),
            1 => turn(&mut self.mounted, MOUNTED_M.len() + 1),
            _ => turn(&mut self.leaves, LEAVES_DB.len() + 1),
        }
    }

    /// What each row is called, what is chosen, and a word beside it.
    pub fn rows(&self) -> [(&'static str, String, &'static str); Self::ROWS] {
        let wanted = self.wanted();
        let walked = self.boards.first().map_or("the one walked with", String::as_str);
        [
            (
                "board",
                wanted.board.unwrap_or_else(|| walked.to_owned()),
                match self.boards.len() {
                    0 | 1 => "no other was compared with it",
                    _ if self.board == 0 => "as walked with",
                    _ => "by its measured difference",
                },
            ),
            (
                "mounted",
                wanted
                    .mounted
                    .map_or_else(|| "as carried".to_owned(), |height| format!("{} m", height.0)),
                "above the ground",
            ),
            (
                "leaves to come",
                wanted
                    .leaves
                    .map_or_else(|| "none".to_owned(), |loss| format!("{} dB", loss.0)),
                "more loss on every path",
            ),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_chosen_is_what_is_wanted() {
        let boards = ["yew".to_owned(), "fern".to_owned()];
        let mut plan = AssumePlan::of(&Wanted::default(), &boards);
        assert!(plan.wanted().is_nothing());
        plan.change(0, true);
        plan.change(1, false);
        plan.change(2, true);
        let wanted = plan.wanted();
        assert_eq!(wanted.board.as_deref(), Some("fern"));
        assert_eq!((wanted.mounted, wanted.leaves), (Some(Metres(8.0)), Some(Db(2.0))));
        assert_eq!(AssumePlan::of(&wanted, &boards), plan);
        plan.change(0, true);
        plan.change(1, true);
        plan.change(2, false);
        assert!(plan.wanted().is_nothing());
    }

    #[test]
    fn without_boards_there_is_still_height_and_leaves() {
        let mut plan = AssumePlan::of(&Wanted::default(), &[]);
        plan.change(0, true);
        plan.change(0, false);
        assert!(plan.wanted().is_nothing());
        assert_eq!(plan.rows()[0].1, "the one walked with");
    }
}
