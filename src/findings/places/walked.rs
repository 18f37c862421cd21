//! What a map of places is made from: the exchanges of one board that have a place, as metres about the station.

use super::map::NoPlaces;
use crate::findings::no_link::in_reach;
use crate::findings::offsets::Offsets;
use crate::findings::side::Side;
use crate::ground::Position;
use crate::ground::local::{LocalPlane, Offset};
use crate::stats::places::{Exchange, Frame};
use crate::survey::sample::{Activity, Sample, Samples};

/// The map reaches so many metres beyond what was walked.
const AROUND_M: f64 = 40.0;

/// The exchanges of the board a map is made for.
#[derive(Debug)]
pub struct Walk {
    /// The board.
    pub board: String,
    /// Where its levels are read.
    pub side: Side,
    /// Metres about the station.
    pub(super) plane: LocalPlane,
    /// The station.
    pub(super) station: Position,
    /// Its exchanges, in order of time.
    pub(super) exchanges: Vec<Exchange>,
}

impl Walk {
    /// Takes them from a survey's rows; `offsets` are those about the station, where its position is known.
    ///
    /// # Errors
    /// When the station's position is not known, or is none this walk can have been about.
    pub fn of(samples: &Samples, offsets: Option<&Offsets<'_>>, board: &str, side: Side) -> Result<Self, NoPlaces> {
        let offsets = offsets.ok_or(NoPlaces::NoStation)?;
        let mut exchanges = exchanges(samples, offsets, board, side);
        in_reach(&mut exchanges, |exchange| exchange.x.hypot(exchange.y)).map_err(NoPlaces::StationFar)?;
        Ok(Self {
            exchanges,
            board: board.to_owned(),
            side,
            plane: offsets.plane(),
            station: offsets.plane().origin(),
        })
    }
}

/// Exchanges of one board that count and have a place, save those of sweeps, where the board was held otherwise.
fn exchanges(samples: &Samples, offsets: &Offsets<'_>, board: &str, side: Side) -> Vec<Exchange> {
    let usable = |(row, _): &(&Sample, Offset)| !matches!(row.activity, Activity::Sweep { .. });
    let mut exchanges: Vec<Exchange> = Vec::new();
    let mut facts_before = None;
    for (row, offset) in offsets.counted(board).filter(usable) {
        let Some(place) = row.place else { continue };
        let facts = samples.facts(&place);
        let (x, y, t) = (offset.east.0, offset.north.0, row.at.seconds());
        // A receiver that tells no speed still tells where it was: from fix to fix.
        let (speed, course) = match (facts.speed_mps, exchanges.last()) {
            (Some(speed), _) => (Some(speed), facts.course_deg),
            (None, Some(before)) if facts_before == Some(place.facts) => (before.speed, before.course),
            (None, Some(before)) if t > before.t && t - before.t <= 3.0 => {
                let (east, north) = (x - before.x, y - before.y);
                (
                    Some(east.hypot(north) / (t - before.t)),
                    Some(east.atan2(north).to_degrees().rem_euclid(360.0)),
                )
            }
            _ => (None, None),
        };
        facts_before = Some(place.facts);
        exchanges.push(Exchange {
            x,
            y,
            t,
            level: side.level(row).map(f64::from),
            lost: !row.delivered(),
            speed,
            course,
        });
    }
    exchanges
}

/// The ground a map of these exchanges covers.
pub fn frame(exchanges: &[Exchange]) -> Frame {
    let nowhere = Frame {
        west: f64::INFINITY,
        south: f64::INFINITY,
        east: f64::NEG_INFINITY,
        north: f64::NEG_INFINITY,
    };
    let walked = exchanges.iter().fold(nowhere, |frame, exchange| Frame {
        west: frame.west.min(exchange.x),
        south: frame.south.min(exchange.y),
        east: frame.east.max(exchange.x),
        north: frame.north.max(exchange.y),
    });
    Frame {
        west: walked.west - AROUND_M,
        south: walked.south - AROUND_M,
        east: walked.east + AROUND_M,
        north: walked.north + AROUND_M,
    }
}
