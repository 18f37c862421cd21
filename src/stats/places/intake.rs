//! Exchanges taken in one at a time, with outages left out as soon as they show.

use super::exchange::Exchange;
use super::outage::{Outage, SIDE, abrupt, long_silence};
use super::record::{Binned, Binning, CELL, COARSEN, MAX_RECORDS};

/// A survey being gathered live: the same records as gathering everything at once, without going back over it.
///
/// The cell stays fixed, so a record keeps its place in the list for as long as the intake lives. When
/// [`Intake::overfull`] says so, build a new one from all exchanges and rebuild the model.
#[derive(Clone, Debug)]
pub struct Intake {
    half_level: f64,
    binning: Binning,
    unusable: usize,
    // Exchanges not yet settled, after the last few settled ones, which a later judgement looks back at.
    tail: Vec<Exchange>,
    settled: usize,
    // Index in the whole survey of the first one in `tail`.
    offset: usize,
    // The delivered exchanges in `tail` around a long silence whose far side is not complete yet.
    judging: Option<(usize, usize)>,
    // The last delivered exchange looked at, and the next one to look at, both as indices in `tail`.
    delivered: Option<usize>,
    next: usize,
    outages: Vec<Outage>,
}

impl Intake {
    /// Gathers all of `exchanges` (in order of time) and stays open for more.
    ///
    /// `station` is metres (x, y); `half_level` is the receiver's level of 50 % delivery in dBm.
    pub fn new(exchanges: &[Exchange], station: (f64, f64), half_level: f64) -> Self {
        let mut cell = CELL;
        loop {
            let mut intake = Self::empty(station, half_level, cell);
            let fits = exchanges.iter().all(|exchange| {
                intake.push(*exchange);
                !intake.overfull()
            });
            if fits && intake.records().records.len() <= MAX_RECORDS {
                return intake;
            }
            cell *= COARSEN;
        }
    }

    fn empty(station: (f64, f64), half_level: f64, cell: f64) -> Self {
        Self {
            half_level,
            binning: Binning::new(station, cell),
            unusable: 0,
            tail: Vec::new(),
            settled: 0,
            offset: 0,
            judging: None,
            delivered: None,
            next: 0,
            outages: Vec::new(),
        }
    }

    /// Takes in the next exchange.
    pub fn push(&mut self, exchange: Exchange) {
        if !exchange.usable() {
            self.unusable += 1;
            return;
        }
        self.tail.push(exchange);
        self.settle();
        self.trim();
    }

    /// Whether there are now too many records for one map, so that the cells must grow.
    pub fn overfull(&self) -> bool {
        self.binning.len() > MAX_RECORDS
    }

    /// The outages found so far; indices count usable exchanges.
    pub fn outages(&self) -> &[Outage] {
        &self.outages
    }

    /// The records so far. Losses whose nature is still open count as the ground's, as they would at the end of a survey.
    pub fn records(&self) -> Binned {
        let mut binning = self.binning.clone();
        for exchange in &self.tail[self.settled..] {
            binning.push(exchange);
        }
        let mut binned = binning.binned();
        binned.unusable += self.unusable;
        binned
    }

    fn settle(&mut self) {
        loop {
            if let Some((last, now)) = self.judging {
                if self.tail.len() < now + SIDE {
                    return;
                }
                self.judging = None;
                if abrupt(&self.tail, last, now, self.half_level) {
                    self.outages.push(Outage {
                        first: self.offset + last + 1,
                        past: self.offset + now,
                        from: self.tail[last + 1].t,
                        to: self.tail[now - 1].t,
                    });
                    self.settled = now;
                }
                self.commit(now + 1);
            }
            let Some(now) = (self.next..self.tail.len()).find(|i| !self.tail[*i].lost) else {
                self.next = self.tail.len();
                // Before anything was delivered, and in a silence, nothing is settled: its end is not in sight.
                return;
            };
            self.next = now + 1;
            let before = self.delivered.replace(now);
            match before {
                Some(last) if long_silence(&self.tail, last, now) => self.judging = Some((last, now)),
                _ => self.commit(now + 1),
            }
        }
    }

    fn commit(&mut self, until: usize) {
        for exchange in &self.tail[self.settled..until] {
            self.binning.push(exchange);
        }
        self.settled = until;
    }

    /// Drops settled exchanges no later judgement looks back at.
    fn trim(&mut self) {
        // Dropped in larger pieces, so that moving the rest down costs nothing worth counting.
        if self.settled < 4 * SIDE {
            return;
        }
        let earliest = self.delivered.unwrap_or(self.settled).min(self.settled);
        let spare = (earliest + 1).saturating_sub(SIDE);
        let spare = spare.min(
            self.judging
                .map_or(usize::MAX, |(last, _)| (last + 1).saturating_sub(SIDE)),
        );
        self.tail.drain(..spare);
        self.offset += spare;
        self.settled -= spare;
        self.next -= spare;
        self.delivered = self.delivered.map(|at| at - spare);
        self.judging = self.judging.map(|(last, now)| (last - spare, now - spare));
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::outage::outages;
    use super::super::record::bin;
    use super::*;

    fn survey(pattern: &[(u8, u16)]) -> Vec<Exchange> {
        let mut rows = Vec::new();
        for (kind, count) in pattern {
            for _ in 0..*count {
                let i = rows.len() as f64;
                let level = match kind {
                    0 => None,
                    1 => Some(-60.0),
                    2 => Some(-92.0),
                    _ => Some(f64::NAN),
                };
                rows.push(Exchange {
                    x: i * 0.13,
                    y: (i * 0.01).sin() * 20.0,
                    t: i / 10.0,
                    level,
                    lost: level.is_none(),
                    speed: Some(1.3),
                    course: (*kind != 2).then_some(i % 360.0),
                });
            }
        }
        rows
    }

    fn at_once(rows: &[Exchange]) -> (Binned, Vec<Outage>) {
        let usable: Vec<Exchange> = rows.iter().copied().filter(Exchange::usable).collect();
        let silent = outages(&usable, -98.0);
        let kept: Vec<Exchange> = usable
            .iter()
            .enumerate()
            .filter(|(i, _)| !silent.iter().any(|spell| (spell.first..spell.past).contains(i)))
            .map(|(_, row)| *row)
            .collect();
        let mut binned = bin(&kept, (0.0, 0.0));
        binned.unusable = rows.len() - usable.len();
        (binned, silent)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn one_at_a_time_is_all_at_once(pattern in prop::collection::vec((0u8..4, 1u16..70), 1..14)) {
            let rows = survey(&pattern);
            let (expected, silent) = at_once(&rows);
            let mut live = Intake::new(&[], (0.0, 0.0), -98.0);
            for row in &rows {
                live.push(*row);
            }
            prop_assert_eq!(&live.records(), &expected);
            prop_assert_eq!(live.outages(), &silent[..]);
            let started = Intake::new(&rows, (0.0, 0.0), -98.0);
            prop_assert_eq!(&started.records(), &expected);
        }
    }

    #[test]
    fn losses_still_open_count_as_ground() {
        let rows = survey(&[(1, 30), (0, 80)]);
        let live = Intake::new(&rows, (0.0, 0.0), -98.0);
        let lost: u32 = live.records().records.iter().map(super::super::Record::lost).sum();
        assert_eq!(lost, 80);
        let mut ended = live;
        for row in survey(&[(1, 30), (0, 80), (1, 12)]).split_off(110) {
            ended.push(row);
        }
        assert_eq!(ended.outages().len(), 1);
        assert_eq!(
            ended
                .records()
                .records
                .iter()
                .map(super::super::Record::lost)
                .sum::<u32>(),
            0
        );
    }
}
