//! Which of the slower estimates speak of what is open now, and why there is no margin where none does.

use super::outlook::Outlook;
use super::scene::Scene;
use crate::findings::no_margin::NoMargin;
use crate::findings::now::Now;

/// Estimates that rest on so many fewer rows are not of this place any more.
const STALE_ROWS: usize = 250;

/// Why nothing can be said by level.
#[derive(Clone, Copy, Debug)]
pub enum Unsaid<'a> {
    /// No estimates have been made yet.
    NotYet,
    /// Those of this run are being worked out.
    InWork,
    /// What is missing of the board.
    For(&'a NoMargin),
    /// What arrived says nothing about the level.
    NothingOfLevel,
}

impl<'a> Scene<'a> {
    /// The slower estimates, where what they say of here is of the run, or step, that is open, and not of ground left behind
    /// long ago.
    pub fn fresh_outlook(&self) -> Option<&'a Outlook> {
        of_here(self.around.outlook, &self.now)
    }

    /// Why there is no margin.
    pub fn why_no_margin(&self) -> Unsaid<'a> {
        let Some(outlook) = self.around.outlook else {
            return Unsaid::NotYet;
        };
        // What a board needs is the same in the next run.
        let board = self.now.board.as_ref().map(|(board, _)| board);
        let of_board = outlook.why_no_margin.as_ref();
        match of_board.filter(|_| recent(outlook, &self.now) && outlook.board.as_ref() == board) {
            Some(why) => Unsaid::For(why),
            None if self.fresh_outlook().is_some() => Unsaid::NothingOfLevel,
            None => Unsaid::InWork,
        }
    }
}

/// The estimates, where those of here are of the run, or step, that is open.
pub fn of_here<'a>(outlook: Option<&'a Outlook>, now: &Now) -> Option<&'a Outlook> {
    outlook.filter(|outlook| outlook.stint == now.stint && recent(outlook, now))
}

fn recent(outlook: &Outlook, now: &Now) -> bool {
    outlook.rows + STALE_ROWS >= now.exchanges
}
