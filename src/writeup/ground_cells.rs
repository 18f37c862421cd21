//! The walk gathered into squares of ground, so that a million exchanges still make one readable map.

use std::collections::BTreeMap;

use crate::findings::points::mean_position;
use crate::ground::Position;
use crate::ground::local::metres_per_degree;
use crate::survey::sample::Samples;
use crate::survey::setup::Setup;
use crate::units::Degrees;

/// Sides of squares tried, metres.
const SIDES_M: [f64; 12] = [
    2.0, 3.0, 5.0, 10.0, 20.0, 30.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 5000.0,
];
/// At most so many squares are drawn.
pub const MOST_CELLS: usize = 1200;
/// A square holds so many exchanges at least, in the median, as long as it is no wider than [`WIDE_M`]: fewer would show
/// single losses, not places.
const TYPICAL: u64 = 20;
const WIDE_M: f64 = 10.0;

/// A map's origin and how long its degrees are: metres east and north to a few centimetres within some kilometres, which is
/// finer than anything drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flat {
    origin: Position,
    metres: (f64, f64),
    /// Whether the origin is the station; else it is the middle of the walk.
    pub about_station: bool,
}

/// What was sent and delivered on one square of ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GroundCell {
    /// Metres east of the origin, its middle.
    pub east: f64,
    /// Metres north of the origin, its middle.
    pub north: f64,
    /// Exchanges that count.
    pub sent: u64,
    /// Of them delivered.
    pub delivered: u64,
}

/// The ground walked.
#[derive(Clone, Debug, PartialEq)]
pub struct Walked {
    /// Side of a square, metres.
    pub side_m: f64,
    /// The squares, from the south-west, row by row.
    pub cells: Vec<GroundCell>,
    /// Exchanges in them.
    pub exchanges: u64,
}

impl Flat {
    /// About the station or, where that is not known, about the middle of the walk.
    pub fn of(samples: &Samples, setup: &Setup) -> Option<Self> {
        let walked = || {
            mean_position(
                samples
                    .rows
                    .iter()
                    .step_by(samples.rows.len() / 1000 + 1)
                    .filter_map(|row| Some(row.place?.position)),
            )
        };
        let origin = setup.station.position.or_else(walked)?;
        let (north, east) = metres_per_degree(origin.lat())?;
        Some(Self {
            origin,
            metres: (east.0, north.0),
            about_station: setup.station.position.is_some(),
        })
    }

    /// Metres east and north of the origin.
    pub fn at(&self, place: Position) -> (f64, f64) {
        let turn = Degrees(self.origin.lon().0).turn_to(Degrees(place.lon().0));
        (
            turn.0 * self.metres.0,
            (place.lat().0 - self.origin.lat().0) * self.metres.1,
        )
    }
}

/// Gathers every exchange that counts and has a place, in squares as small as leaves at most [`MOST_CELLS`] and shows places.
pub fn walked(samples: &Samples, flat: &Flat) -> Walked {
    let places: Vec<(f64, f64, bool)> = samples
        .rows
        .iter()
        .filter(|row| row.counts())
        .filter_map(|row| {
            let (east, north) = flat.at(row.place?.position);
            Some((east, north, row.delivered()))
        })
        .collect();
    let last = SIDES_M[SIDES_M.len() - 1];
    // A pass ends as soon as there are too many squares, so the fine ones cost little.
    for side_m in SIDES_M {
        let mut cells: BTreeMap<(i64, i64), (u64, u64)> = BTreeMap::new();
        let mut whole = true;
        for (east, north, delivered) in &places {
            let key = ((north / side_m).floor() as i64, (east / side_m).floor() as i64);
            let cell = cells.entry(key).or_default();
            cell.0 += 1;
            cell.1 += u64::from(*delivered);
            if cells.len() > MOST_CELLS && side_m < last {
                whole = false;
                break;
            }
        }
        let mut sent: Vec<u64> = cells.values().map(|cell| cell.0).collect();
        let middle = sent.len() / 2;
        let thin = side_m < WIDE_M && !sent.is_empty() && *sent.select_nth_unstable(middle).1 < TYPICAL;
        if whole && !thin {
            let middle = |index: i64| (index as f64 + 0.5) * side_m;
            return Walked {
                side_m,
                exchanges: places.len() as u64,
                cells: cells
                    .into_iter()
                    .take(4 * MOST_CELLS)
                    .map(|((north, east), (sent, delivered))| GroundCell {
                        east: middle(east),
                        north: middle(north),
                        sent,
                        delivered,
                    })
                    .collect(),
            };
        }
    }
    Walked {
        side_m: last,
        cells: Vec::new(),
        exchanges: 0,
    }
}
