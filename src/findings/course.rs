//! A run at a point, or a step of a sweep, taken row by row: what counts of it, and whether the board was carried off.

use super::delivery::{Following, Stops};
use super::movement::Departure;
use super::points::MeanPosition;
use crate::ground::{Position, separation};
use crate::stats::proportions::{Interval, wilson};
use crate::survey::sample::{Activity, Sample, Samples};
use crate::survey::setup::Setup;
use crate::units::{Degrees, Elapsed, Metres};

/// A board that is carried off for so many seconds does not come back: what follows is of no one place.
const GONE_S: f64 = 3.0;

/// The plain log-keeper's figures of some rows.
#[derive(Clone, Debug, PartialEq)]
pub struct Plain {
    /// How many pings count.
    pub messages: u64,
    /// How many of them were answered.
    pub delivered: u64,
    /// Wilson's 95 % interval of the delivery rate, pings taken as independent (Wilson 1927, JASA 22:209).
    pub interval: Interval,
    /// Mean of the dBm figures, as the board heard the station.
    pub here_dbm: Option<f64>,
    /// Mean of the dBm figures, as the station heard the board.
    pub there_dbm: Option<f64>,
    /// Mean position of the rows.
    pub position: Option<Position>,
    /// Their mean sigma.
    pub sigma: Option<Metres>,
    /// Distance from the mean position to the station.
    pub distance: Option<Metres>,
    /// Bearing to the station from there.
    pub bearing: Option<Degrees>,
}

/// That a board was carried off from where its point began before the point was ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Left {
    /// How far, metres: the farthest.
    pub away_m: f64,
    /// The figures of all rows of the run, those it was carried off in too; what is said of the point leaves these aside.
    pub all: Plain,
}

#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    sum: f64,
    count: u64,
}

impl Mean {
    fn push(&mut self, number: Option<f64>) {
        if let Some(number) = number {
            self.sum += number;
            self.count += 1;
        }
    }

    fn value(self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / self.count as f64)
    }
}

/// Sums of rows that count.
#[derive(Clone, Debug, Default)]
struct Sums {
    messages: u64,
    delivered: u64,
    here: Mean,
    there: Mean,
    position: MeanPosition,
    sigma: Mean,
}

impl Sums {
    fn push(&mut self, samples: &Samples, row: &Sample) {
        if !row.counts() {
            return;
        }
        self.messages += 1;
        self.delivered += u64::from(row.delivered());
        self.here.push(row.here().map(f64::from));
        self.there.push(row.there().map(f64::from));
        if let Some(place) = row.place {
            self.position.push(place.position);
            self.sigma.push(samples.facts(&place).sigma.map(|(sigma, _)| sigma));
        }
    }

    fn plain(&self, setup: &Setup) -> Option<Plain> {
        let position = self.position.mean();
        let to_station = position
            .zip(setup.station.position)
            .map(|(here, station)| separation(here, station));
        Some(Plain {
            messages: self.messages,
            delivered: self.delivered,
            interval: wilson(self.delivered, self.messages, 0.95)?,
            here_dbm: self.here.value(),
            there_dbm: self.there.value(),
            position,
            sigma: self.sigma.value().map(Metres),
            distance: to_station.map(|way| way.distance),
            bearing: to_station
                .filter(|way| way.distance.0 >= 0.005)
                .and_then(|way| way.bearing),
        })
    }
}

/// A run or step as far as it has been taken.
#[derive(Clone, Debug)]
pub(super) struct Course {
    /// The first row that counts and is as held there.
    first: Option<usize>,
    held: Sums,
    all: Sums,
    stop: Following,
    departure: Departure,
    /// The row from which on the board is away, and when that was.
    away: Option<(usize, Elapsed)>,
    away_m: f64,
    /// Rows before this one have been taken.
    taken: usize,
}

impl Course {
    /// Begins at a row.
    pub(super) fn begin(stops: &Stops, begin: usize) -> Self {
        Self {
            first: None,
            held: Sums::default(),
            all: Sums::default(),
            stop: stops.begin(),
            departure: Departure::default(),
            away: None,
            away_m: 0.0,
            taken: begin,
        }
    }

    /// Rows before this one have been taken.
    pub(super) fn taken(&self) -> usize {
        self.taken
    }

    /// Takes the rows up to `end`, which is not taken.
    pub(super) fn go_on(&mut self, samples: &Samples, end: usize) {
        for index in self.taken..end {
            let row = &samples.rows[index];
            self.all.push(samples, row);
            // A sweep is turned on the spot, and says by itself where a step was taken elsewhere.
            let carried = match row.activity {
                Activity::Point(_) => self.departure.see(samples, row),
                Activity::Walk | Activity::Sweep { .. } => None,
            };
            match (self.away, carried) {
                (None, None) => self.hold(samples, index),
                (_, Some(metres)) => {
                    self.away.get_or_insert((index, row.at));
                    self.away_m = self.away_m.max(metres);
                }
                // Too short to be a walk away: the fix had wandered.
                (Some((from, since)), None) if row.place.is_some() && row.at.since(since) < GONE_S => {
                    (self.away, self.away_m) = (None, 0.0);
                    (from..=index).for_each(|held| self.hold(samples, held));
                }
                (Some(_), None) => {}
            }
        }
        self.taken = self.taken.max(end);
    }

    fn hold(&mut self, samples: &Samples, index: usize) {
        let row = &samples.rows[index];
        if row.counts() {
            self.first.get_or_insert(index);
        }
        self.held.push(samples, row);
        self.stop.push(row);
    }

    /// The first row that counts and is as held there; `None` where none is.
    pub(super) fn first(&self) -> Option<usize> {
        self.first
    }

    /// The figures of the rows as held there.
    pub(super) fn held(&self, setup: &Setup) -> Option<Plain> {
        self.held.plain(setup)
    }

    /// The first row after those as held there.
    pub(super) fn held_until(&self) -> usize {
        self.away.map_or(self.taken, |(from, _)| from)
    }

    /// That the board was carried off, if it was.
    pub(super) fn left(&self, setup: &Setup) -> Option<Left> {
        self.away?;
        Some(Left {
            away_m: self.away_m,
            all: self.all.plain(setup)?,
        })
    }

    /// The count as held there.
    pub(super) fn stop(&self) -> &Following {
        &self.stop
    }
}
