//! What two surveys measured at one place, and by how much they differ there.

use crate::stats::difference::{Limited, difference};

/// What one survey measured at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// Messages that count.
    pub sent: u64,
    /// Of them delivered.
    pub delivered: u64,
    /// The delivery rate, 95 % limits, bursts allowed for.
    pub rate: Limited,
    /// The local mean level, dBm, 95 % limits, losses counted in.
    pub level: Limited,
}

/// What both measured there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compared {
    /// The first survey's and the second's.
    pub of: [Measured; 2],
    /// The second's rate less the first's, 95 % limits.
    pub delivery: Limited,
    /// The second's level less the first's, dB, 95 % limits.
    pub level: Limited,
}

impl Compared {
    /// Compares what each measured.
    pub fn new(of: [Measured; 2]) -> Self {
        let [first, second] = of;
        Self {
            of,
            delivery: difference(first.rate, second.rate),
            level: difference(first.level, second.level),
        }
    }
}
