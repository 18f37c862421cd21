//! The order of the rows, and from where on it has changed.

use crate::units::Elapsed;

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

/// Milliseconds as they are written: rounded half up.
pub fn written_ms(at: Elapsed) -> u64 {
    at.0.saturating_add(500) / 1000
}

/// Every exchange in the order of the rows.
#[derive(Clone, Debug, Default)]
pub struct Order {
    keys: Vec<Key>,
    /// The earliest row that may have changed since the rows were last made, milliseconds.
    dirty_ms: Option<u64>,
}

impl Order {
    /// All of it.
    pub fn keys(&self) -> &[Key] {
        &self.keys
    }

    /// Takes the earliest row that may have changed, and forgets it.
    pub fn take_dirty(&mut self) -> Option<u64> {
        self.dirty_ms.take()
    }

    /// Notes that rows may have changed from the one at `at` on.
    pub fn touch(&mut self, at: Elapsed) {
        let ms = written_ms(at);
        self.dirty_ms = Some(self.dirty_ms.map_or(ms, |dirty| dirty.min(ms)));
    }

    /// Enters further exchanges of a boot by their numbers and times; nearly always they are the last.
    pub fn enlist(&mut self, boot: usize, exchanges: impl Iterator<Item = (u64, Elapsed)>) {
        let before = self.keys.len();
        self.keys.extend(exchanges.map(|(n, at)| Key {
            ms: written_ms(at),
            n,
            boot,
        }));
        let Some(least) = self.keys[before..].iter().min().copied() else {
            return;
        };
        self.dirty_ms = Some(self.dirty_ms.map_or(least.ms, |dirty| dirty.min(least.ms)));
        // Nearly always it is one more behind all others.
        if self.keys.len() == before + 1 && before.checked_sub(1).is_none_or(|last| self.keys[last] < least) {
            return;
        }
        let sorted_to = self.keys[..before].partition_point(|key| *key < least);
        if sorted_to < before || self.keys.len() > before + 1 {
            self.keys[sorted_to..].sort_unstable();
        }
    }

    /// Strikes out every exchange of a boot.
    pub fn strike(&mut self, boot: usize) {
        self.keys.retain(|key| key.boot != boot);
    }
}
