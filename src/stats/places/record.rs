//! Exchanges gathered into records: one ground cell seen from one facing.

use super::exchange::{Ahead, Exchange, turned};
use super::visits::Visits;

/// The side of a ground cell in metres, before any coarsening.
pub(super) const CELL: f64 = 5.0;
/// What a cell grows by when there are too many records.
pub(super) const COARSEN: f64 = 1.25;
/// The most records a map is made from; cells grow until it holds.
pub const MAX_RECORDS: usize = 1500;
/// Metres walked for one independent fade: half a wavelength at 2.4 GHz.
const FADE_LENGTH: f64 = 0.0625;

/// What was seen in one ground cell from one facing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Record {
    /// Mean metres east.
    pub x: f64,
    /// Mean metres north.
    pub y: f64,
    /// Mean facing: 0 towards the station, 1 back turned, 0.5 where the course is unknown.
    pub facing: f64,
    /// Share of the exchanges whose course is unknown, 0 to 1.
    pub unknown: f64,
    /// Exchanges sent.
    pub sent: u32,
    /// Exchanges delivered, with a level.
    pub received: u32,
    /// Mean level of the delivered ones in dBm; `None` when nothing was delivered.
    pub level: Option<f64>,
    /// Sample variance of those levels in dB²; 0 for one or none.
    pub variance: f64,
    /// What one exchange counts in independent fades, above 0 and at most 1: standing still adds exchanges but no fades.
    pub weight: f64,
}

impl Record {
    /// Exchanges lost.
    pub const fn lost(&self) -> u32 {
        self.sent.saturating_sub(self.received)
    }

    /// Independent fades among the delivered exchanges.
    pub(super) fn received_weight(&self) -> f64 {
        self.weight * f64::from(self.received)
    }

    /// Independent fades among the lost exchanges.
    pub(super) fn lost_weight(&self) -> f64 {
        self.weight * f64::from(self.lost())
    }
}

/// Records with the cell they were made at.
#[derive(Clone, Debug, PartialEq)]
pub struct Binned {
    /// The records in order of first visit.
    pub records: Vec<Record>,
    /// Side of a ground cell in metres.
    pub cell: f64,
    /// Exchanges left out because position, time or level was not usable.
    pub unusable: usize,
}

/// Gathers `exchanges` (in order of time, outages already left out) into records around a `station` at metres (x, y).
///
/// Cells start at 5 m and grow by a quarter until there are at most [`MAX_RECORDS`].
pub fn bin(exchanges: &[Exchange], station: (f64, f64)) -> Binned {
    let mut cell = CELL;
    loop {
        let mut binning = Binning::new(station, cell);
        let fits = exchanges.iter().all(|exchange| {
            binning.push(exchange);
            binning.len() <= MAX_RECORDS
        });
        if fits {
            return binning.binned();
        }
        cell *= COARSEN;
    }
}

/// Records being gathered, one exchange at a time.
#[derive(Clone, Debug)]
pub(super) struct Binning {
    station: (f64, f64),
    visits: Visits,
    ahead: Ahead,
    tallies: Vec<Tally>,
    unusable: usize,
}

/// Sums over the exchanges of one record.
#[derive(Clone, Debug, Default)]
pub(super) struct Tally {
    sent: u32,
    received: u32,
    x: f64,
    y: f64,
    facing: f64,
    unknown: f64,
    walked: f64,
    mean: f64,
    squares: f64,
}

impl Binning {
    pub(super) fn new(station: (f64, f64), cell: f64) -> Self {
        Self {
            station,
            visits: Visits::new(cell),
            ahead: Ahead::default(),
            tallies: Vec::new(),
            unusable: 0,
        }
    }

    pub(super) fn len(&self) -> usize {
        self.tallies.len()
    }

    /// Adds one exchange.
    pub(super) fn push(&mut self, exchange: &Exchange) {
        if !exchange.usable() {
            self.unusable += 1;
            return;
        }
        let turned = exchange
            .steady_course()
            .and_then(|course| turned(self.ahead.of(course), exchange.x, exchange.y, self.station));
        // Facing, sideways, back turned, unknown.
        let group = match turned {
            Some(b) if b < 0.25 => 0,
            Some(b) if b <= 0.75 => 1,
            Some(_) => 2,
            None => 3,
        };
        let (at, elapsed) = self.visits.visit(exchange, group);
        if at == self.tallies.len() {
            self.tallies.push(Tally::default());
        }
        self.tallies[at].add(exchange, turned, elapsed);
    }

    pub(super) fn binned(&self) -> Binned {
        Binned {
            records: self.tallies.iter().map(Tally::record).collect(),
            cell: self.visits.cell,
            unusable: self.unusable,
        }
    }
}

impl Tally {
    /// Adds one exchange with its facing, `elapsed` seconds after the one before.
    pub(super) fn add(&mut self, exchange: &Exchange, turned: Option<f64>, elapsed: f64) {
        self.sent = self.sent.saturating_add(1);
        self.x += exchange.x;
        self.y += exchange.y;
        self.facing += turned.unwrap_or(0.5);
        self.unknown += if turned.is_none() { 1.0 } else { 0.0 };
        self.walked += exchange.walked(elapsed);
        if let Some(level) = exchange.delivered() {
            self.received = self.received.saturating_add(1);
            // Welford 1962, Technometrics 4:419-420: mean and squares in one pass without cancellation.
            let step = level - self.mean;
            self.mean += step / f64::from(self.received);
            self.squares += step * (level - self.mean);
        }
    }

    /// The record these sums make.
    pub(super) fn record(&self) -> Record {
        let n = f64::from(self.sent.max(1));
        Record {
            x: self.x / n,
            y: self.y / n,
            facing: self.facing / n,
            unknown: self.unknown / n,
            sent: self.sent,
            received: self.received,
            level: (self.received > 0).then_some(self.mean),
            variance: if self.received > 1 {
                self.squares / f64::from(self.received - 1)
            } else {
                0.0
            },
            weight: n.min(1.0 + self.walked / FADE_LENGTH) / n,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(x: f64, t: f64, course: f64) -> Exchange {
        Exchange {
            x,
            y: 2.0,
            t,
            level: Some(-60.0 - x),
            lost: false,
            speed: Some(1.0),
            course: Some(course),
        }
    }

    #[test]
    fn out_and_back_are_two_records_of_one_cell() {
        let rows = [
            step(1.0, 0.0, 90.0),
            step(2.0, 1.0, 90.0),
            step(2.0, 2.0, 270.0),
            step(1.0, 3.0, 270.0),
        ];
        let binned = bin(&rows, (-50.0, 2.0));
        assert_eq!(binned.records.len(), 2);
        assert!((binned.records[0].facing - 1.0).abs() < 1e-12);
        assert!(binned.records[1].facing < 1e-12);
        assert_eq!(binned.records[0].level, Some(-61.5));
        assert!((binned.records[0].variance - 0.5).abs() < 1e-12);
    }

    #[test]
    fn a_minute_of_standing_is_about_one_fade() {
        let rows: Vec<Exchange> = (0..600)
            .map(|i| Exchange {
                speed: Some(0.0),
                ..step(1.0, f64::from(i) / 10.0, 0.0)
            })
            .collect();
        let binned = bin(&rows, (-50.0, 2.0));
        assert_eq!(binned.records.len(), 1);
        assert!((binned.records[0].received_weight() - 1.0).abs() < 1e-9);
        assert_eq!(binned.records[0].unknown, 1.0);
        assert_eq!(binned.records[0].facing, 0.5);
    }

    #[test]
    fn cells_grow_until_the_records_fit() {
        let rows: Vec<Exchange> = (0..4000)
            .map(|i| Exchange {
                level: Some(-80.0),
                ..step(f64::from(i) * 5.0, f64::from(i), 90.0)
            })
            .collect();
        let binned = bin(&rows, (0.0, 0.0));
        // 20 km of straight walk: a cell per record, so the first cell that fits is 5 m times 1.25 five times over.
        assert!(binned.records.len() <= MAX_RECORDS);
        assert!((binned.cell - CELL * COARSEN.powi(5)).abs() < 1e-9, "{}", binned.cell);
        assert_eq!(binned.records.iter().map(|record| record.sent).sum::<u32>(), 4000);
    }

    #[test]
    fn unusable_exchanges_are_counted_and_left_out() {
        let bad = Exchange {
            x: f64::NAN,
            ..step(1.0, 0.0, 0.0)
        };
        let binned = bin(&[bad, step(1.0, 1.0, 0.0)], (0.0, 0.0));
        assert_eq!((binned.records.len(), binned.unusable), (1, 1));
        assert!(bin(&[], (0.0, 0.0)).records.is_empty());
    }
}
