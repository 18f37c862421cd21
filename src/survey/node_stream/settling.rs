//! Entering a number into its boot: what is missing before it, what a second line for it may still change.

use super::stream::NodeStream;
use super::told::{Effect, Moment, Told};
use crate::survey::exchange::{Exchange, Fate};
use crate::units::Elapsed;

/// A silence is no break where the numbers ran on with the time passed, within this share.
const RAN_ON: f64 = 0.2;

impl NodeStream {
    /// Puts number `n` into a boot, with what is missing between it and its neighbour.
    pub(super) fn insert(&mut self, index: usize, n: u64, told: &Told, moment: Moment) -> Effect {
        if told.fate == Fate::Lost && !self.boots[index].printed_lost {
            self.boots[index].printed_lost = true;
            self.touch_boot(index);
        }
        if self.boots[index].exchange(n).is_some() {
            return self.insert_again(index, n, told, moment);
        }
        self.boots[index].lines_name_channel |= told.channel.is_some();
        let exchange = Exchange {
            at: moment.at,
            wall: moment.wall,
            settled: moment.at,
            line: Some(moment.line),
            fate: told.fate,
            channel: told.channel,
        };
        match self.boots[index].exchanges.first().map(|(first, _)| first) {
            Some(first) if n < first => {
                // Its line came late; nothing is known of a break before a boot's first line.
                self.boots[index].exchanges.prepend(n, exchange);
                self.enlist(index, n, first - 1);
            }
            _ => self.append(index, n, exchange),
        }
        Effect::Exchange
    }

    /// Puts a number higher than any into a boot.
    fn append(&mut self, index: usize, n: u64, exchange: Exchange) {
        let at = exchange.at;
        let last = self.boots[index].last();
        let fate = last.map_or(Fate::Missing, |last| self.fate_of_gap(index, last, n, at));
        let boot = &mut self.boots[index];
        boot.exchanges.append(n, exchange, fate);
        boot.last_at = at;
        if fate == Fate::Unread && last.is_some_and(|last| n > last + 1) {
            boot.pace.interrupt();
        }
        boot.pace.see(n, at);
        self.enlist(index, last.map_or(n, |last| last + 1), n);
    }

    /// A second line for a number: an echo beats a loss while it may, the first echo stands.
    pub(super) fn insert_again(&mut self, index: usize, n: u64, told: &Told, moment: Moment) -> Effect {
        let Some(known) = self.boots[index].exchanges.get_mut(n) else {
            return Effect::Duplicate;
        };
        let effect = match (known.fate, told.fate) {
            (Fate::Echo(_), _) | (Fate::Lost, Fate::Lost | Fate::Missing | Fate::Unread) => return Effect::Duplicate,
            (_, Fate::Echo(_)) if !known.may_be_corrected(moment.at) => return Effect::TooLate,
            (_, Fate::Echo(_)) => Effect::Corrected,
            _ => Effect::Exchange,
        };
        known.fate = told.fate;
        known.channel = told.channel.or(known.channel);
        known.line.get_or_insert(moment.line);
        self.order.touch(known.at);
        effect
    }

    /// What became of the numbers between two lines that no line tells of.
    fn fate_of_gap(&self, index: usize, last: u64, n: u64, at: Elapsed) -> Fate {
        let boot = &self.boots[index];
        if self.breaks.lost_between(boot, at) {
            return Fate::Unread;
        }
        if self.breaks.silent_between(boot, at) {
            let run_on = boot.pace.rate() * at.since(boot.last_at);
            if !boot.pace.is_known() || ((n - last) as f64 - run_on).abs() > RAN_ON * run_on {
                return Fate::Unread;
            }
        }
        Fate::Missing
    }

    /// Enters the numbers `from` to `to` of a boot among the rows.
    fn enlist(&mut self, index: usize, from: u64, to: u64) {
        let boot = &self.boots[index];
        let entered = (from..=to).filter_map(|n| Some((n, boot.exchange(n)?.at)));
        self.order.enlist(index, entered);
    }

    /// Notes that every row of a boot may have changed.
    pub(super) fn touch_boot(&mut self, index: usize) {
        if let Some((_, first)) = self.boots[index].exchanges.first() {
            self.order.touch(first.at);
        }
    }
}
