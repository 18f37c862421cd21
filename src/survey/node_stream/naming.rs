//! Whose a line is: boards that say hello, name themselves in every line, are named by the surveyor, or by nobody.

use super::boot::{Boot, Identity};
use super::stream::NodeStream;
use super::told::{Moment, Told};
use crate::survey::numbering::Placed;
use crate::units::Elapsed;
use crate::wire::Hello;

/// The name of a board that nobody named.
const UNNAMED: &str = "unnamed";

impl NodeStream {
    /// The surveyor names the board in hand: it matters only where the board does not say so itself.
    pub fn name_board(&mut self, name: String, reference: Option<bool>) {
        self.surveyor_board = Some((name, reference));
        self.split = self.current().is_some_and(|boot| boot.identity.is_taken());
    }

    /// A board says who it is.
    pub fn hello(&mut self, hello: Hello, at: Elapsed) {
        self.breaks.hello_since = true;
        self.last_hello = Some(at);
        if self.names_another(&hello) {
            if self
                .announced
                .as_ref()
                .is_none_or(|known| known.board != hello.board || known.boot != hello.boot)
            {
                self.announced_checksums = 0;
            }
            self.announced = Some(hello);
            return;
        }
        self.announced = None;
        if let Some(index) = self.current {
            let boot = &mut self.boots[index];
            boot.hear(&hello, at);
        }
    }

    /// Whether a hello is of another board, or another start, than the lines that come now.
    pub(super) fn names_another(&self, hello: &Hello) -> bool {
        match self.current().map(|boot| &boot.identity) {
            Some(Identity::Told { board, boot }) => {
                *board != hello.board || (hello.boot.is_some() && *boot != hello.boot)
            }
            _ => true,
        }
    }

    /// The line itself names its board: boards may take turns on one stream, and that is no break.
    pub(super) fn select(&mut self, board: Option<&str>, boot: Option<u64>) {
        let in_hand = || self.surveyor_board.as_ref().map_or(UNNAMED, |(name, _)| name);
        let board = board.unwrap_or_else(in_hand).to_owned();
        let same = |known: &Boot| matches!(&known.identity, Identity::Told { board: b, boot: n } if *b == board && (boot.is_none() || *n == boot));
        if self.current().is_some_and(same) {
            return;
        }
        let index = self
            .boots
            .iter()
            .rposition(same)
            .unwrap_or_else(|| self.push(Boot::new(Identity::Told { board, boot })));
        self.current = Some(index);
        self.announced = None;
    }

    /// Begins, resumes or claims a boot for the board that said hello.
    pub(super) fn begin_announced(&mut self, hello: &Hello, told: &Told, moment: Moment) {
        let identity = Identity::Told {
            board: hello.board.clone(),
            boot: hello.boot,
        };
        if let Some(current) = self.current.filter(|_| !self.waiting.is_empty()) {
            if self.runs_on_from_waiting(current, told, moment) {
                let began = self.waiting[0].moment.at;
                let next = self.push(Boot::new(identity));
                self.follow(next, current);
                self.boots[next].hear(hello, began);
                self.current = Some(next);
                self.breaks.other_board(began);
                self.seat_waiting(next);
                return;
            }
            self.let_waiting_go(current);
        }
        let held = self
            .current
            .filter(|index| self.boots[*index].identity.is_taken() && self.boots[*index].runs_on(told.raw, moment.at));
        if let Some(held) = held {
            self.claim(held, identity, hello);
            return;
        }
        if self.current.is_some() {
            self.breaks.other_board(moment.at);
        }
        let known = self.boots.iter().rposition(|boot| {
            let same = match &boot.identity {
                Identity::Told { board, boot } => {
                    *board == hello.board && (hello.boot.is_none() || *boot == hello.boot)
                }
                Identity::Taken { .. } => false,
            };
            // A board that does not count its starts goes on only with a higher number.
            let higher = || hello.boot.is_some() || matches!((boot.place(told.raw, moment.at), boot.last()), (Placed::Number(n), Some(last)) if n > last);
            same && boot.runs_on(told.raw, moment.at) && higher()
        });
        let index = known.unwrap_or_else(|| self.push(Boot::new(identity)));
        self.boots[index].hear(hello, moment.at);
        self.current = Some(index);
        self.suspect = None;
        self.split = false;
    }

    /// Gives the boots that nobody had named, as far as their numbers run on, to the board that said hello.
    fn claim(&mut self, held: usize, identity: Identity, hello: &Hello) {
        let mut chain = vec![held];
        while let Some(before) = self.boots[chain[chain.len() - 1]].continues {
            let later = &self.boots[chain[chain.len() - 1]];
            let joined = later
                .exchanges
                .first()
                .is_some_and(|(n, first)| self.boots[before].runs_on(n, first.at));
            if !joined {
                break;
            }
            chain.push(before);
        }
        chain.reverse();
        let earliest = chain[0];
        let first = self.boots[earliest].exchanges.first().map(|(n, first)| (n, first.at));
        let known = self.boots.iter().rposition(|boot| {
            let goes_on = || first.is_some_and(|(n, at)| boot.runs_on(n, at));
            boot.identity == identity && hello.boot.is_some() && goes_on()
        });
        let target = known.unwrap_or(earliest);
        self.boots[target].identity = identity;
        let began = first.map_or(Elapsed::default(), |(_, at)| at);
        self.boots[target].hear(hello, began);
        self.order.touch(began);
        for source in chain {
            if source != target {
                self.pour(source, target);
            }
        }
        self.current = Some(target);
        self.suspect = None;
    }

    /// Tells the lines of one boot to another again, and leaves the first void.
    fn pour(&mut self, source: usize, target: usize) {
        self.order.strike(source);
        let checksummed = std::mem::take(&mut self.boots[source].checksummed);
        self.boots[target].checksummed += checksummed;
        for (n, exchange) in self.boots[source].exchanges.take_told() {
            let moment = Moment {
                at: exchange.at,
                wall: exchange.wall,
                line: exchange.line.unwrap_or(0),
            };
            let told = Told {
                raw: 0,
                fate: exchange.fate,
                channel: exchange.channel,
                board: None,
                boot: None,
            };
            self.insert(target, n, &told, moment);
        }
    }

    /// Begins a boot that nobody has named yet.
    pub(super) fn begin_taken(&mut self, continues: Option<usize>) -> usize {
        let (board, reference) = self
            .surveyor_board
            .clone()
            .unwrap_or_else(|| (UNNAMED.to_owned(), None));
        let mut boot = Boot::new(Identity::Taken { board });
        boot.reference = reference;
        boot.continues = continues;
        if let Some(before) = continues {
            boot.pace = self.boots[before].pace.clone();
            boot.wrap = self.boots[before].wrap;
        }
        let next = self.push(boot);
        self.current = Some(next);
        next
    }

    /// Adds a boot, and gives back its index.
    pub(super) fn push(&mut self, boot: Boot) -> usize {
        self.boots.push(boot);
        self.boots.len() - 1
    }
}
