//! Numbers that do not run on: a new start that no hello told of, or numbers that were lost track of.

use super::boot::{Boot, Identity};
use super::stream::NodeStream;
use super::told::{Effect, Moment, Told};
use crate::survey::exchange::LATE_S;
use crate::survey::numbering::{Placed, place};

/// How many far-ahead lines must agree with each other before they are believed against the line before them.
const JUMPS_BELIEVED_AFTER: u32 = 10;

impl NodeStream {
    /// Whether a number of 1 or less is a new start: it is, unless it stands already and its line may be late or double.
    pub(super) fn is_restart_at_one(&self, index: usize, n: u64, moment: Moment) -> bool {
        let boot = &self.boots[index];
        if n > 1 || boot.last().is_none_or(|last| n >= last) {
            return false;
        }
        let new_since =
            self.last_hello.is_some_and(|hello| hello > boot.last_at) || self.breaks.lost_between(boot, moment.at);
        let known = boot
            .exchange(n)
            .filter(|known| moment.at.since(known.settled) <= LATE_S);
        new_since || known.is_none()
    }

    /// Begins a boot with a line that lies far back, in one that does not count its starts.
    pub(super) fn restart(&mut self, index: usize, told: &Told, moment: Moment) -> Effect {
        let broken = !self.breaks.hello_since && self.breaks.any_between(&self.boots[index], moment.at);
        let next = match &self.boots[index].identity {
            Identity::Told { board, boot: None } if !broken => {
                let identity = Identity::Told {
                    board: board.clone(),
                    boot: None,
                };
                self.begin_like(index, identity, moment)
            }
            _ => {
                let next = self.begin_taken(None);
                if !broken {
                    self.follow(next, index);
                }
                next
            }
        };
        self.current = Some(next);
        self.suspect = (!broken).then_some(index);
        self.insert(next, told.raw, told, moment)
    }

    /// A single line far back began a boot; if the next one runs on from before it, that line was damaged.
    pub(super) fn settle_suspicion(&mut self, index: usize, told: &Told, moment: Moment) -> usize {
        let Some(before) = self.suspect.take() else {
            return index;
        };
        if index == before
            || self.boots[before].surprise(told.raw, moment.at) >= self.boots[index].surprise(told.raw, moment.at)
        {
            return index;
        }
        self.touch_boot(index);
        self.order.strike(index);
        self.boots[index].exchanges = super::exchanges::Exchanges::default();
        self.current = Some(before);
        before
    }

    /// A line too far ahead is damaged, unless many in a row agree: then the numbers were lost track of.
    pub(super) fn jump(&mut self, index: usize, told: &Told, moment: Moment) -> Effect {
        let pace = &self.boots[index].pace;
        let agreed = match self.jump {
            Some((raw, at, count)) if matches!(place(told.raw, moment.at, raw, at, pace, None), Placed::Number(n) if n > raw) => {
                count + 1
            }
            _ => 1,
        };
        self.jump = Some((told.raw, moment.at, agreed));
        if agreed < JUMPS_BELIEVED_AFTER {
            return Effect::Malformed;
        }
        let next = self.begin_like(index, self.boots[index].identity.clone(), moment);
        self.current = Some(next);
        self.insert(next, told.raw, told, moment)
    }

    /// Begins a boot of the same board, which has said hello before.
    fn begin_like(&mut self, index: usize, identity: Identity, moment: Moment) -> usize {
        let mut next = Boot::new(identity);
        if let Some(hello) = self.boots[index].hello.clone() {
            next.hear(&hello, moment.at);
        }
        next.reference = self.boots[index].reference;
        self.push(next)
    }

    /// Lets a boot take over the pace and modulus of the one before it: most likely the same board.
    pub(super) fn follow(&mut self, next: usize, before: usize) {
        let (mut pace, wrap) = (self.boots[before].pace.clone(), self.boots[before].wrap);
        pace.interrupt();
        self.boots[next].pace = pace;
        self.boots[next].wrap = wrap;
    }
}
