//! From node lines to exchanges: boots, gaps, late and double lines, boards that have not said who they are.

use super::exchange::{Exchange, Fate, Heard};
use super::numbering::{Pace, Placed, place};
use crate::units::{Elapsed, UtcMs};
use crate::wire::{Echo, Hello, Lost};
use std::collections::VecDeque;

/// The name of a board that nobody named.
pub const UNNAMED: &str = "unnamed";
/// How many lines of a boot must carry a checksum before one without is malformed.
const CHECKSUMS_EXPECTED_AFTER: u32 = 3;
/// How many lines far back must run on from each other before a new start without hello is believed.
const RESTART_BELIEVED_AFTER: usize = 3;
/// How many far-ahead lines must agree with each other before they are believed against the line before them.
const JUMPS_BELIEVED_AFTER: u32 = 10;

/// The exchanges of everything a node source has said, boot by boot.
#[derive(Clone, Debug, Default)]
pub struct NodeStream {
    boots: Vec<Boot>,
    /// Every exchange in the order of the rows.
    order: Vec<Key>,
    /// The earliest row that may have changed since the rows were last made, milliseconds.
    dirty_ms: Option<u64>,
    current: Option<usize>,
    /// A hello that named another board or boot; the next exchange begins or resumes it.
    announced: Option<Hello>,
    /// How many lines since that hello, itself included, carried a checksum.
    announced_checksums: u32,
    surveyor_board: Option<(String, Option<bool>)>,
    /// The surveyor named another board while nobody had said hello.
    split: bool,
    last_line: Option<Elapsed>,
    /// Ends and lengths (seconds) of the silences that may be breaks.
    silences: Vec<(Elapsed, f64)>,
    /// When the source was lost, or lines of another board came in between.
    breaks: Vec<Elapsed>,
    hello_since_break: bool,
    /// The boot before one that a single line far back began.
    suspect: Option<usize>,
    /// Lines far back in a boot that counts its starts: stragglers, or a new start whose hello was missed.
    waiting: Vec<(Told, Moment, bool)>,
    last_hello: Option<Elapsed>,
    /// The last line that was too far ahead, and how many in a row agreed.
    jump: Option<(u64, Elapsed, u32)>,
}

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
    wrap: Option<u64>,
    /// Since when a hello named which channel.
    channels: Vec<(Elapsed, u32)>,
    /// Whether a line of its own ever named a channel.
    lines_name_channel: bool,
    first: u64,
    exchanges: VecDeque<Exchange>,
    last_at: Elapsed,
    lines: u32,
    checksummed: u32,
    printed_lost: bool,
    continues: Option<usize>,
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
    fn counts_starts(&self) -> bool {
        matches!(self, Self::Told { boot: Some(_), .. })
    }

    fn is_taken(&self) -> bool {
        matches!(self, Self::Taken { .. })
    }
}

/// An exchange's place among the rows: by the milliseconds that are written, then by number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Key {
    /// Milliseconds since the survey began, rounded as they are written.
    pub ms: u64,
    /// The number within the boot.
    pub n: u64,
    /// Index of the boot.
    pub boot: usize,
}

/// What a line did, for counts and for the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effect {
    /// A new exchange stands.
    Exchange,
    /// An echo came late and corrected a loss.
    Corrected,
    /// The number stands already: the line changed nothing.
    Duplicate,
    /// The echo came too late to count.
    TooLate,
    /// The line lies far back: the next ones tell whether the board has started anew.
    Waiting,
    /// The number is too far from the ones before it.
    Malformed,
}

/// A line that tells of one ping.
#[derive(Clone, Debug)]
pub struct Told {
    raw: u64,
    fate: Fate,
    channel: Option<u32>,
    board: Option<String>,
    boot: Option<u64>,
}

impl From<Echo> for Told {
    fn from(echo: Echo) -> Self {
        let heard = Heard {
            here: echo.here.map(|level| level.0 as f32),
            there: echo.there.map(|level| level.0 as f32),
            rtt_us: echo.rtt_us,
            heard: echo.heard,
        };
        Self {
            raw: echo.n,
            fate: Fate::Echo(heard),
            channel: echo.chan,
            board: echo.board,
            boot: echo.boot,
        }
    }
}

impl From<Lost> for Told {
    fn from(lost: Lost) -> Self {
        Self {
            raw: lost.n,
            fate: Fate::Lost,
            channel: lost.chan,
            board: lost.board,
            boot: lost.boot,
        }
    }
}

/// When a line came: both clocks and its ordinal in the journal.
#[derive(Clone, Copy, Debug)]
pub struct Moment {
    /// The survey's clock.
    pub at: Elapsed,
    /// The computer's clock.
    pub wall: UtcMs,
    /// The ordinal of the line in the journal.
    pub line: u32,
}

/// Milliseconds as they are written: rounded half up.
pub fn written_ms(at: Elapsed) -> u64 {
    at.0.saturating_add(500) / 1000
}

impl Boot {
    fn new(identity: Identity) -> Self {
        Self {
            identity,
            reference: None,
            hello: None,
            pace: Pace::default(),
            wrap: None,
            channels: Vec::new(),
            lines_name_channel: false,
            first: 0,
            exchanges: VecDeque::new(),
            last_at: Elapsed::default(),
            lines: 0,
            checksummed: 0,
            printed_lost: false,
            continues: None,
        }
    }

    /// Takes over the pace and modulus of the boot before it: most likely the same board.
    fn follow(&mut self, mut pace: Pace, wrap: Option<u64>) {
        pace.interrupt();
        self.pace = pace;
        self.wrap = wrap;
    }

    /// Whether nothing is left in it: its lines were given to another.
    pub fn is_void(&self) -> bool {
        self.exchanges.is_empty()
    }

    /// The exchange numbered `n`.
    pub fn exchange(&self, n: u64) -> Option<&Exchange> {
        let index = usize::try_from(n.checked_sub(self.first)?).ok()?;
        self.exchanges.get(index)
    }

    fn exchange_mut(&mut self, n: u64) -> Option<&mut Exchange> {
        let index = usize::try_from(n.checked_sub(self.first)?).ok()?;
        self.exchanges.get_mut(index)
    }

    fn last(&self) -> Option<u64> {
        (!self.exchanges.is_empty()).then(|| self.first + self.exchanges.len() as u64 - 1)
    }

    fn place(&self, raw: u64, now: Elapsed) -> Placed {
        match self.last() {
            None => Placed::Number(raw),
            Some(last) => place(raw, now, last, self.last_at, &self.pace, self.wrap),
        }
    }

    /// Whether `raw` could be this boot's next number.
    fn runs_on(&self, raw: u64, now: Elapsed) -> bool {
        matches!(self.place(raw, now), Placed::Number(_)) && !self.exchanges.is_empty()
    }

    /// How far `raw` is from the number to expect now.
    fn surprise(&self, raw: u64, now: Elapsed) -> f64 {
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
        let before = (self.first..n).rev().take(LOOK_ASIDE).find_map(named);
        let after = (n + 1..).take(LOOK_ASIDE).find_map(named);
        before.filter(|channel| after == Some(*channel))
    }

    fn hear(&mut self, hello: &Hello, at: Elapsed) {
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

/// How many numbers aside an inferred exchange's channel is looked for.
const LOOK_ASIDE: usize = 512;

impl NodeStream {
    /// The boots so far; one without exchanges is void.
    pub fn boots(&self) -> &[Boot] {
        &self.boots
    }

    /// Every exchange in the order of the rows.
    pub fn order(&self) -> &[Key] {
        &self.order
    }

    /// The boot whose lines come now.
    pub fn current(&self) -> Option<&Boot> {
        self.current.map(|index| &self.boots[index])
    }

    /// A board that has said hello and not yet pinged.
    pub fn announced(&self) -> Option<&Hello> {
        self.announced.as_ref()
    }

    /// When the last line of the node came, whatever it said.
    pub fn last_line(&self) -> Option<Elapsed> {
        self.last_line
    }

    /// Takes the earliest row that may have changed, and forgets it.
    pub fn take_dirty(&mut self) -> Option<u64> {
        self.dirty_ms.take()
    }

    /// Notes that a line came, whatever it says: it ends a silence.
    pub fn line_came(&mut self, at: Elapsed) {
        if let Some(last) = self.last_line {
            let silence = at.since(last);
            if silence > 2.0 {
                self.silences.push((at, silence));
            }
            if silence > self.current().map_or(2.0, |boot| boot.pace.break_after()) {
                self.hello_since_break = false;
            }
        }
        self.last_line = Some(at);
    }

    /// Notes that the source was lost.
    pub fn source_down(&mut self, at: Elapsed) {
        self.breaks.push(at);
        self.hello_since_break = false;
        for boot in &mut self.boots {
            boot.pace.interrupt();
        }
    }

    /// The surveyor names the board in hand: it matters only where the board does not say so itself.
    pub fn name_board(&mut self, name: String, reference: Option<bool>) {
        self.surveyor_board = Some((name, reference));
        self.split = self.current().is_some_and(|boot| boot.identity.is_taken());
    }

    /// Whether a line without checksum is malformed now. `hello` is the identity it claims, if it is a hello.
    pub fn wants_checksum(&self, hello: Option<&Hello>) -> bool {
        let Some(boot) = self.current() else { return false };
        let same = hello.is_none_or(|hello| !self.names_another(hello));
        same && self.announced.is_none() && boot.checksummed >= CHECKSUMS_EXPECTED_AFTER
    }

    /// Counts a line that carried its checksum.
    pub fn count_checksum(&mut self) {
        if self.announced.is_some() {
            self.announced_checksums += 1;
        } else if let Some(index) = self.current {
            self.boots[index].checksummed += 1;
        }
    }

    fn names_another(&self, hello: &Hello) -> bool {
        match self.current().map(|boot| &boot.identity) {
            Some(Identity::Told { board, boot }) => {
                *board != hello.board || (hello.boot.is_some() && *boot != hello.boot)
            }
            _ => true,
        }
    }

    /// A board says who it is.
    pub fn hello(&mut self, hello: Hello, at: Elapsed) {
        self.hello_since_break = true;
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

    /// A line tells of a ping.
    pub fn tell(&mut self, told: Told, moment: Moment, checksummed: bool) -> Effect {
        if told.board.is_some() || told.boot.is_some() {
            let in_hand = || self.surveyor_board.as_ref().map_or(UNNAMED, |(name, _)| name);
            let board = told.board.as_deref().unwrap_or_else(in_hand).to_owned();
            self.select(board, told.boot);
        } else if let Some(hello) = self.announced.take() {
            self.begin_announced(&hello, &told, moment);
            if let Some(index) = self.current {
                self.boots[index].checksummed += std::mem::take(&mut self.announced_checksums);
            }
        }
        let index = match self.current {
            None => self.begin_taken(None),
            Some(index) if self.split => self.begin_taken(Some(index)),
            Some(index) => index,
        };
        self.split = false;
        let index = self.settle_suspicion(index, &told, moment);
        if let Some(effect) = self.settle_waiting(index, &told, moment, checksummed) {
            return effect;
        }
        let effect = match self.boots[index].place(told.raw, moment.at) {
            Placed::Number(n) if !self.is_restart_at_one(index, n, moment) => self.insert(index, n, &told, moment),
            Placed::Number(_) | Placed::Restart if self.boots[index].identity.counts_starts() => {
                return self.wait(index, told, moment, checksummed);
            }
            Placed::Number(_) | Placed::Restart => self.restart(index, &told, moment),
            Placed::Jump => self.jump(index, &told, moment),
        };
        if !matches!(effect, Effect::Malformed)
            && let Some(current) = self.current
        {
            self.boots[current].lines += 1;
            self.boots[current].checksummed += u32::from(checksummed);
            self.jump = None;
        }
        effect
    }

    /// The line itself names its board: boards may take turns on one stream, and that is no break.
    fn select(&mut self, board: String, boot: Option<u64>) {
        let same = |known: &Boot| matches!(&known.identity, Identity::Told { board: b, boot: n } if *b == board && (boot.is_none() || *n == boot));
        if self.current().is_some_and(same) {
            return;
        }
        let index = self.boots.iter().rposition(same).unwrap_or_else(|| {
            self.boots.push(Boot::new(Identity::Told { board, boot }));
            self.boots.len() - 1
        });
        self.current = Some(index);
        self.announced = None;
    }

    /// Begins, resumes or claims a boot for the board that said hello.
    fn begin_announced(&mut self, hello: &Hello, told: &Told, moment: Moment) {
        let identity = Identity::Told {
            board: hello.board.clone(),
            boot: hello.boot,
        };
        if let Some(current) = self.current.filter(|_| !self.waiting.is_empty()) {
            if self.runs_on_from_waiting(current, told, moment) {
                let (pace, wrap) = (self.boots[current].pace.clone(), self.boots[current].wrap);
                let began = self.waiting[0].1.at;
                let mut boot = Boot::new(identity);
                boot.follow(pace, wrap);
                boot.hear(hello, began);
                self.boots.push(boot);
                self.current = Some(self.boots.len() - 1);
                self.breaks.push(began);
                self.seat_waiting(self.boots.len() - 1);
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
            self.breaks.push(moment.at);
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
        let index = known.unwrap_or_else(|| {
            self.boots.push(Boot::new(identity));
            self.boots.len() - 1
        });
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
                .front()
                .is_some_and(|first| self.boots[before].runs_on(later.first, first.at));
            if !joined {
                break;
            }
            chain.push(before);
        }
        chain.reverse();
        let earliest = chain[0];
        let known = self.boots.iter().rposition(|boot| {
            let first = self.boots[earliest].exchanges.front();
            boot.identity == identity
                && hello.boot.is_some()
                && first.is_some_and(|first| boot.runs_on(self.boots[earliest].first, first.at))
        });
        let target = known.unwrap_or(earliest);
        self.boots[target].identity = identity;
        let began = self.boots[earliest]
            .exchanges
            .front()
            .map_or(Elapsed::default(), |first| first.at);
        self.boots[target].hear(hello, began);
        self.touch(written_ms(began));
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
        self.order.retain(|key| key.boot != source);
        let first = self.boots[source].first;
        let exchanges = std::mem::take(&mut self.boots[source].exchanges);
        let checksummed = std::mem::take(&mut self.boots[source].checksummed);
        self.boots[target].checksummed += checksummed;
        for (offset, exchange) in exchanges.into_iter().enumerate() {
            if matches!(exchange.fate, Fate::Missing | Fate::Unread) {
                continue;
            }
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
            self.insert(target, first + offset as u64, &told, moment);
        }
    }

    /// Begins a boot that nobody has named yet.
    fn begin_taken(&mut self, continues: Option<usize>) -> usize {
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
        self.boots.push(boot);
        self.current = Some(self.boots.len() - 1);
        self.boots.len() - 1
    }

    /// A single line far back began a boot; if the next one runs on from before it, that line was damaged.
    fn settle_suspicion(&mut self, index: usize, told: &Told, moment: Moment) -> usize {
        let Some(before) = self.suspect.take() else {
            return index;
        };
        if index == before
            || self.boots[before].surprise(told.raw, moment.at) >= self.boots[index].surprise(told.raw, moment.at)
        {
            return index;
        }
        if let Some(first) = self.boots[index].exchanges.front() {
            let ms = written_ms(first.at);
            self.touch(ms);
        }
        self.order.retain(|key| key.boot != index);
        self.boots[index].exchanges.clear();
        self.current = Some(before);
        before
    }

    /// Whether a number of 1 or less is a new start: it is, unless it stands already and its line may be late or double.
    fn is_restart_at_one(&self, index: usize, n: u64, moment: Moment) -> bool {
        let boot = &self.boots[index];
        if n > 1 || boot.last().is_none_or(|last| n >= last) {
            return false;
        }
        let new_since = self.last_hello.is_some_and(|hello| hello > boot.last_at) || self.lost_between(boot, moment.at);
        let known = boot
            .exchange(n)
            .filter(|known| moment.at.since(known.settled) <= super::exchange::LATE_S);
        new_since || known.is_none()
    }

    /// A line far back in a boot that counts its starts: it corrects a loss, or waits for the next ones.
    fn wait(&mut self, index: usize, told: Told, moment: Moment, checksummed: bool) -> Effect {
        let correctable = self.boots[index]
            .exchange(told.raw)
            .is_some_and(|known| known.may_be_corrected(moment.at));
        if correctable && matches!(told.fate, Fate::Echo(_)) {
            return self.insert_again(index, told.raw, &told, moment);
        }
        self.waiting.push((told, moment, checksummed));
        Effect::Waiting
    }

    /// Whether a number runs on from the lines that wait, and better so than from the boot.
    fn runs_on_from_waiting(&self, index: usize, told: &Told, moment: Moment) -> bool {
        let Some((last, at)) = self.waiting.last().map(|(told, moment, _)| (told.raw, moment.at)) else {
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
    fn settle_waiting(&mut self, index: usize, told: &Told, moment: Moment, checksummed: bool) -> Option<Effect> {
        if self.waiting.is_empty() {
            return None;
        }
        if !self.runs_on_from_waiting(index, told, moment) {
            self.let_waiting_go(index);
            return None;
        }
        self.waiting.push((told.clone(), moment, checksummed));
        if self.waiting.len() < RESTART_BELIEVED_AFTER {
            return Some(Effect::Waiting);
        }
        let next = self.begin_taken(None);
        let (pace, wrap) = (self.boots[index].pace.clone(), self.boots[index].wrap);
        self.boots[next].follow(pace, wrap);
        self.seat_waiting(next);
        Some(Effect::Exchange)
    }

    /// The lines that wait were stragglers of the boot: what they say of numbers that stand changes nothing any more.
    fn let_waiting_go(&mut self, index: usize) {
        for (told, moment, _) in std::mem::take(&mut self.waiting) {
            if self.boots[index].exchange(told.raw).is_some() {
                self.insert_again(index, told.raw, &told, moment);
            }
        }
    }

    /// Gives the lines that wait to the boot they began.
    fn seat_waiting(&mut self, index: usize) {
        for (told, moment, checksummed) in std::mem::take(&mut self.waiting) {
            if let Placed::Number(n) = self.boots[index].place(told.raw, moment.at) {
                self.insert(index, n, &told, moment);
                self.boots[index].lines += 1;
                self.boots[index].checksummed += u32::from(checksummed);
            }
        }
    }

    fn restart(&mut self, index: usize, told: &Told, moment: Moment) -> Effect {
        let broken = !self.hello_since_break && self.broke_between(&self.boots[index], moment.at);
        let next = match &self.boots[index].identity {
            Identity::Told { board, boot: None } if !broken => {
                let mut next = Boot::new(Identity::Told {
                    board: board.clone(),
                    boot: None,
                });
                if let Some(hello) = self.boots[index].hello.clone() {
                    next.hear(&hello, moment.at);
                }
                next.reference = self.boots[index].reference;
                self.boots.push(next);
                self.boots.len() - 1
            }
            _ => {
                let next = self.begin_taken(None);
                if !broken {
                    let (pace, wrap) = (self.boots[index].pace.clone(), self.boots[index].wrap);
                    self.boots[next].follow(pace, wrap);
                }
                next
            }
        };
        self.current = Some(next);
        self.suspect = (!broken).then_some(index);
        self.insert(next, told.raw, told, moment)
    }

    /// A line too far ahead is damaged, unless many in a row agree: then the numbers were lost track of.
    fn jump(&mut self, index: usize, told: &Told, moment: Moment) -> Effect {
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
        let mut next = Boot::new(self.boots[index].identity.clone());
        if let Some(hello) = self.boots[index].hello.clone() {
            next.hear(&hello, moment.at);
        }
        next.reference = self.boots[index].reference;
        self.boots.push(next);
        self.current = Some(self.boots.len() - 1);
        self.insert(self.boots.len() - 1, told.raw, told, moment)
    }

    /// Whether the source was broken off between a boot's last line and `now`.
    fn broke_between(&self, boot: &Boot, now: Elapsed) -> bool {
        self.lost_between(boot, now) || self.silent_between(boot, now)
    }

    fn lost_between(&self, boot: &Boot, now: Elapsed) -> bool {
        let later = self.breaks.iter().rev().take_while(|broke| **broke > boot.last_at);
        later.into_iter().any(|broke| *broke <= now)
    }

    fn silent_between(&self, boot: &Boot, now: Elapsed) -> bool {
        let long = boot.pace.break_after();
        let later = self.silences.iter().rev().take_while(|(end, _)| *end > boot.last_at);
        later.into_iter().any(|(end, length)| *end <= now && *length > long)
    }

    /// Puts number `n` into a boot, with what is missing between it and its neighbour.
    fn insert(&mut self, index: usize, n: u64, told: &Told, moment: Moment) -> Effect {
        if told.fate == Fate::Lost && !self.boots[index].printed_lost {
            self.boots[index].printed_lost = true;
            if let Some(first) = self.boots[index].exchanges.front() {
                let ms = written_ms(first.at);
                self.touch(ms);
            }
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
        let boot = &self.boots[index];
        let Some(last) = boot.last() else {
            let boot = &mut self.boots[index];
            boot.first = n;
            boot.exchanges.push_back(exchange);
            boot.last_at = moment.at;
            boot.pace.see(n, moment.at);
            self.enlist(index, n, n);
            return Effect::Exchange;
        };
        if n < boot.first {
            self.insert_before(index, n, exchange);
            return Effect::Exchange;
        }
        let fate = self.fate_of_gap(index, last, n, moment.at);
        let boot = &mut self.boots[index];
        if let Some(before) = boot.exchanges.back().cloned() {
            for missing in last + 1..n {
                let share = (missing - last) as f64 / (n - last) as f64;
                let mut gap = between(&before, &exchange, share);
                gap.settled = moment.at;
                gap.fate = fate;
                boot.exchanges.push_back(gap);
            }
        }
        boot.exchanges.push_back(exchange);
        boot.last_at = moment.at;
        if fate == Fate::Unread && n > last + 1 {
            boot.pace.interrupt();
        }
        boot.pace.see(n, moment.at);
        self.enlist(index, last + 1, n);
        Effect::Exchange
    }

    fn insert_again(&mut self, index: usize, n: u64, told: &Told, moment: Moment) -> Effect {
        let Some(known) = self.boots[index].exchange_mut(n) else {
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
        let ms = written_ms(known.at);
        self.touch(ms);
        effect
    }

    /// A number below the boot's first: its line came late.
    fn insert_before(&mut self, index: usize, n: u64, exchange: Exchange) {
        let boot = &mut self.boots[index];
        let first = boot.first;
        if let Some(after) = boot.exchanges.front().cloned() {
            for missing in (n + 1..first).rev() {
                let share = (missing - n) as f64 / (first - n) as f64;
                let mut gap = between(&exchange, &after, share);
                gap.settled = exchange.at;
                gap.fate = Fate::Missing;
                boot.exchanges.push_front(gap);
            }
        }
        boot.exchanges.push_front(exchange);
        boot.first = n;
        self.enlist(index, n, first - 1);
    }

    /// What became of the numbers between two lines that no line tells of.
    fn fate_of_gap(&self, index: usize, last: u64, n: u64, at: Elapsed) -> Fate {
        let boot = &self.boots[index];
        if self.lost_between(boot, at) {
            return Fate::Unread;
        }
        if self.silent_between(boot, at) {
            let run_on = boot.pace.rate() * at.since(boot.last_at);
            if !boot.pace.is_known() || ((n - last) as f64 - run_on).abs() > 0.2 * run_on {
                return Fate::Unread;
            }
        }
        Fate::Missing
    }

    /// Enters the numbers `from` to `to` of a boot among the rows.
    fn enlist(&mut self, index: usize, from: u64, to: u64) {
        let before = self.order.len();
        let boot = &self.boots[index];
        let mut least: Option<Key> = None;
        for n in from..=to {
            if let Some(exchange) = boot.exchange(n) {
                let key = Key {
                    ms: written_ms(exchange.at),
                    n,
                    boot: index,
                };
                least = Some(least.map_or(key, |least| least.min(key)));
                self.order.push(key);
            }
        }
        let Some(least) = least else { return };
        let sorted_to = self.order[..before].partition_point(|key| *key < least);
        if sorted_to < before || to > from {
            self.order[sorted_to..].sort_unstable();
        }
        self.touch(least.ms);
    }

    fn touch(&mut self, ms: u64) {
        self.dirty_ms = Some(self.dirty_ms.map_or(ms, |dirty| dirty.min(ms)));
    }
}

/// The exchange a share of the way from one to another, timed evenly between them; its fate is the caller's to fill.
fn between(before: &Exchange, after: &Exchange, share: f64) -> Exchange {
    let at = before.at.0 as f64 + share * (after.at.0 as f64 - before.at.0 as f64);
    let wall = before.wall.0 as f64 + share * (after.wall.0 - before.wall.0) as f64;
    Exchange {
        at: Elapsed(at.round() as u64),
        wall: UtcMs(wall.round() as i64),
        settled: after.at,
        line: None,
        fate: Fate::Missing,
        channel: None,
    }
}
