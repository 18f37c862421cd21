//! Lines far back in a boot that counts its starts: stragglers, or a new start whose hello was missed.

use super::stream::NodeStream;
use super::told::{Effect, Moment, Told};
use crate::survey::exchange::Fate;
use crate::survey::numbering::{Placed, place};

/// How many lines far back must run on from each other before a new start without hello is believed, where one of them
/// cannot be the boot's own,
const RESTART_BELIEVED_AFTER: usize = 3;
/// and where all could be: of a fast board's late lines, three run on by chance now and then.
const RESTART_BELIEVED_ANYWAY: usize = 10;

/// A line far back, until the next ones tell what it is.
#[derive(Clone, Debug)]
pub struct FarBack {
    pub(super) told: Told,
    pub(super) moment: Moment,
    pub(super) checksummed: bool,
}

impl NodeStream {
    /// A line far back in a boot that counts its starts: it corrects a loss, or waits for the next ones.
    pub(super) fn wait(&mut self, index: usize, told: Told, moment: Moment, checksummed: bool) -> Effect {
        let correctable = self.boots[index]
            .exchange(told.raw)
            .is_some_and(|known| known.may_be_corrected(moment.at));
        if correctable && matches!(told.fate, Fate::Echo(_)) {
            return self.insert_again(index, told.raw, &told, moment);
        }
        self.waiting.push(FarBack {
            told,
            moment,
            checksummed,
        });
        Effect::Waiting
    }

    /// Whether a number runs on from the lines that wait, and better so than from the boot.
    pub(super) fn runs_on_from_waiting(&self, index: usize, told: &Told, moment: Moment) -> bool {
        let Some((last, at)) = self.waiting.last().map(|line| (line.told.raw, line.moment.at)) else {
            return false;
        };
        let boot = &self.boots[index];
        match place(told.raw, moment.at, last, at, &boot.pace, boot.wrap) {
            Placed::Number(n) if n > last => {
                let surprise = (n as f64 - last as f64 - boot.pace.rate() * moment.at.since(at).max(0.0)).abs();
                surprise < boot.surprise(told.raw, moment.at)
            }
            _ => false,
        }
    }

    /// Settles what becomes of the lines that wait, by the next one: many in a row are a new start, else they were late.
    pub(super) fn settle_waiting(
        &mut self,
        index: usize,
        told: &Told,
        moment: Moment,
        checksummed: bool,
    ) -> Option<Effect> {
        if self.waiting.is_empty() {
            return None;
        }
        if !self.runs_on_from_waiting(index, told, moment) {
            self.let_waiting_go(index);
            return None;
        }
        self.waiting.push(FarBack {
            told: told.clone(),
            moment,
            checksummed,
        });
        let own = self.waiting.iter().all(|line| self.may_be_late(index, &line.told));
        let enough = if own {
            RESTART_BELIEVED_ANYWAY
        } else {
            RESTART_BELIEVED_AFTER
        };
        if self.waiting.len() < enough {
            return Some(Effect::Waiting);
        }
        let next = self.begin_taken(None);
        self.follow(next, index);
        self.seat_waiting(next);
        Some(Effect::Exchange)
    }

    /// Whether a boot may have sent a line before: its number was lost there, or answered in just the same way.
    fn may_be_late(&self, index: usize, told: &Told) -> bool {
        let known = self.boots[index].exchange(told.raw).map(|known| known.fate);
        match (known, told.fate) {
            (None, _) => false,
            (Some(Fate::Echo(stands)), Fate::Echo(comes)) => stands == comes,
            (Some(_), _) => true,
        }
    }

    /// The lines that wait were stragglers of the boot: what they say of numbers that stand changes nothing any more.
    pub(super) fn let_waiting_go(&mut self, index: usize) {
        for FarBack { told, moment, .. } in std::mem::take(&mut self.waiting) {
            if self.boots[index].exchange(told.raw).is_some() {
                self.insert_again(index, told.raw, &told, moment);
            }
        }
    }

    /// Gives the lines that wait to the boot they began.
    pub(super) fn seat_waiting(&mut self, index: usize) {
        for line in std::mem::take(&mut self.waiting) {
            let FarBack {
                told,
                moment,
                checksummed,
            } = line;
            if let Placed::Number(n) = self.boots[index].place(told.raw, moment.at) {
                self.insert(index, n, &told, moment);
                self.boots[index].checksummed += u32::from(checksummed);
            }
        }
    }
}
