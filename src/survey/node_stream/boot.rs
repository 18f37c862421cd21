//! One start of a board: whose it is, how it numbers and paces its pings, what it said of its channel.

use super::exchanges::Exchanges;
use crate::survey::exchange::Exchange;
use crate::survey::numbering::{Pace, Placed, place};
use crate::units::Elapsed;
use crate::wire::Hello;

/// How many numbers aside an inferred exchange's channel is looked for.
const LOOK_ASIDE: usize = 512;

/// A stretch of consistent numbering of one board: one start of it, unless its numbers were lost track of.
#[derive(Clone, Debug)]
pub struct Boot {
    /// Whose it is.
    pub identity: Identity,
    /// Whether a hello, or the surveyor, says that this is the reference board.
    pub reference: Option<bool>,
    /// The latest hello.
    pub hello: Option<Hello>,
    /// How fast it pings.
    pub pace: Pace,
    /// The modulus of its numbers, where it named one.
    pub(super) wrap: Option<u64>,
    /// Since when a hello named which channel.
    channels: Vec<(Elapsed, u32)>,
    /// Whether a line of its own ever named a channel.
    pub(super) lines_name_channel: bool,
    pub(super) exchanges: Exchanges,
    /// When its highest number came.
    pub(super) last_at: Elapsed,
    /// How many of its lines carried a checksum.
    pub(super) checksummed: u32,
    /// Whether it says itself which pings were lost.
    pub(super) printed_lost: bool,
    /// The boot it goes on from, where only the surveyor told them apart.
    pub(super) continues: Option<usize>,
}

/// Whose a boot is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Identity {
    /// A hello, or the line itself, says so.
    Told {
        /// The board.
        board: String,
        /// Its count of starts; counted from 1 by us where it does not say.
        boot: Option<u64>,
    },
    /// Nobody said hello so far: the surveyor's word, or `unnamed`; a hello may still claim it.
    Taken {
        /// The board.
        board: String,
    },
}

impl Identity {
    /// The board's name.
    pub fn board(&self) -> &str {
        match self {
            Self::Told { board, .. } | Self::Taken { board } => board,
        }
    }

    /// Whether the board itself counts its starts.
    pub(super) fn counts_starts(&self) -> bool {
        matches!(self, Self::Told { boot: Some(_), .. })
    }

    pub(super) fn is_taken(&self) -> bool {
        matches!(self, Self::Taken { .. })
    }
}

impl Boot {
    /// One without exchanges.
    pub(super) fn new(identity: Identity) -> Self {
        Self {
            identity,
            reference: None,
            hello: None,
            pace: Pace::default(),
            wrap: None,
            channels: Vec::new(),
            lines_name_channel: false,
            exchanges: Exchanges::default(),
            last_at: Elapsed::default(),
            checksummed: 0,
            printed_lost: false,
            continues: None,
        }
    }

    /// Whether nothing is left in it: its lines were given to another.
    pub fn is_void(&self) -> bool {
        self.exchanges.is_empty()
    }

    /// The exchange numbered `n`.
    pub fn exchange(&self, n: u64) -> Option<&Exchange> {
        self.exchanges.get(n)
    }

    /// The highest number.
    pub(super) fn last(&self) -> Option<u64> {
        self.exchanges.last()
    }

    /// Where a printed number belongs.
    pub(super) fn place(&self, raw: u64, now: Elapsed) -> Placed {
        match self.last() {
            None => Placed::Number(raw),
            Some(last) => place(raw, now, last, self.last_at, &self.pace, self.wrap),
        }
    }

    /// Whether `raw` could be this boot's next number.
    pub(super) fn runs_on(&self, raw: u64, now: Elapsed) -> bool {
        matches!(self.place(raw, now), Placed::Number(_)) && !self.exchanges.is_empty()
    }

    /// How far `raw` is from the number to expect now.
    pub(super) fn surprise(&self, raw: u64, now: Elapsed) -> f64 {
        match (self.place(raw, now), self.last()) {
            (Placed::Number(n), Some(last)) => {
                (n as f64 - last as f64 - self.pace.rate() * now.since(self.last_at).max(0.0)).abs()
            }
            _ => f64::INFINITY,
        }
    }

    /// Whether a number that no line tells of was not read, though the source was up.
    pub fn tells_losses(&self) -> bool {
        self.printed_lost
    }

    /// The channel of an exchange: its line's, else the hello's of that time; of an inferred one, what its neighbours say.
    pub fn channel(&self, n: u64) -> Option<u32> {
        let exchange = self.exchange(n)?;
        if exchange.channel.is_some() {
            return exchange.channel;
        }
        let told = self.channels.partition_point(|(since, _)| *since <= exchange.at);
        let hello = self.channels.get(told.saturating_sub(1)).map(|(_, channel)| *channel);
        if hello.is_some() || exchange.line.is_some() || !self.lines_name_channel {
            return hello;
        }
        let named = |n: u64| self.exchange(n).and_then(|neighbour| neighbour.channel);
        let first = self.exchanges.first().map_or(n, |(first, _)| first);
        let before = (first..n).rev().take(LOOK_ASIDE).find_map(named);
        let after = (n + 1..).take(LOOK_ASIDE).find_map(named);
        before.filter(|channel| after == Some(*channel))
    }

    /// Takes what a hello says of it.
    pub(super) fn hear(&mut self, hello: &Hello, at: Elapsed) {
        if let Some(rate) = hello.rate {
            self.pace.tell(rate);
        }
        if let Some(channel) = hello.chan
            && self.channels.last().is_none_or(|(_, last)| *last != channel)
        {
            self.channels.push((at, channel));
        }
        if hello.wrap.is_some() {
            self.wrap = hello.wrap;
        }
        if hello.reference.is_some() {
            self.reference = hello.reference;
        }
        self.hello = Some(hello.clone());
    }
}
