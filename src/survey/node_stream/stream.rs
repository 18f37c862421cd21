//! The exchanges of everything a node source has said, line by line.

use super::boot::Boot;
use super::breaks::Breaks;
use super::order::{Key, Order};
use super::told::{Effect, Moment, Told};
use super::waiting::FarBack;
use crate::survey::numbering::Placed;
use crate::units::Elapsed;
use crate::wire::Hello;

/// The exchanges of everything a node source has said, boot by boot.
#[derive(Clone, Debug, Default)]
pub struct NodeStream {
    pub(super) boots: Vec<Boot>,
    pub(super) order: Order,
    pub(super) breaks: Breaks,
    pub(super) current: Option<usize>,
    /// A hello that named another board or boot; the next exchange begins or resumes it.
    pub(super) announced: Option<Hello>,
    /// How many lines since that hello, itself included, carried a checksum.
    pub(super) announced_checksums: u32,
    pub(super) surveyor_board: Option<(String, Option<bool>)>,
    /// The surveyor named another board while nobody had said hello.
    pub(super) split: bool,
    /// The boot before one that a single line far back began.
    pub(super) suspect: Option<usize>,
    /// Lines far back in a boot that counts its starts: stragglers, or a new start whose hello was missed.
    pub(super) waiting: Vec<FarBack>,
    pub(super) last_hello: Option<Elapsed>,
    /// The last line that was too far ahead, and how many in a row agreed.
    pub(super) jump: Option<(u64, Elapsed, u32)>,
}

impl NodeStream {
    /// The boots so far; one without exchanges is void.
    pub fn boots(&self) -> &[Boot] {
        &self.boots
    }

    /// Every exchange in the order of the rows.
    pub fn order(&self) -> &[Key] {
        self.order.keys()
    }

    /// The boot whose lines come now.
    pub fn current(&self) -> Option<&Boot> {
        self.current.map(|index| &self.boots[index])
    }

    /// A board that has said hello and not yet pinged.
    pub fn announced(&self) -> Option<&Hello> {
        self.announced.as_ref()
    }

    /// Whether the source was lost, or another board spoke, since the last new exchange of the boot whose lines come now.
    pub fn is_broken_off(&self) -> bool {
        self.current()
            .is_some_and(|boot| self.breaks.lost_between(boot, Elapsed(u64::MAX)))
    }

    /// Takes the earliest row that may have changed, and forgets it.
    pub fn take_dirty(&mut self) -> Option<u64> {
        self.order.take_dirty()
    }

    /// Notes that a line came, whatever it says: it ends a silence.
    pub fn line_came(&mut self, at: Elapsed) {
        let current = self.current.map(|index| &self.boots[index]);
        self.breaks.line_came(at, current);
    }

    /// Notes that the source was lost.
    pub fn source_down(&mut self, at: Elapsed) {
        self.breaks.source_lost(at);
        for boot in &mut self.boots {
            boot.pace.interrupt();
        }
    }

    /// A line tells of a ping.
    pub fn tell(&mut self, told: Told, moment: Moment, checksummed: bool) -> Effect {
        if told.board.is_some() || told.boot.is_some() {
            self.select(told.board.as_deref(), told.boot);
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
            self.boots[current].checksummed += u32::from(checksummed);
            self.jump = None;
        }
        effect
    }
}
