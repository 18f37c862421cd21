//! Whether the station stands where the set-up has it, as far as levels can tell.

use super::map::Places;
use super::walked::exchanges;
use crate::ground::local::LocalPlane;
use crate::stats::places::{Exchange, Receiver, locate};
use crate::survey::sample::Samples;
use crate::survey::setup::Setup;
use crate::units::{Degrees, Metres};

/// How much more likely another place must be, in natural logarithms: true places reach 13 in one world of ten.
const MORE_LIKELY: f64 = 25.0;
/// Nearer than this the difference is that of positions, metres.
const LEAST_M: f64 = 20.0;

/// Another place for the station that the levels fit much better.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StationDoubt {
    /// How far it is from where the set-up has the station.
    pub away: Metres,
    /// Which way from there, true.
    pub towards: Option<Degrees>,
    /// How well it is known: 90 % of the likelihood lies within.
    pub radius: Metres,
}

impl Places {
    /// Holds the station's position against the levels, and keeps what is found in [`Places::station_doubt`].
    ///
    /// It takes some tenths of a second: for figures and write-ups, not for every second of a walk.
    pub fn check_station(&mut self, samples: &Samples, setup: &Setup) {
        let Some(station) = setup.station.position else { return };
        let plane = LocalPlane::about(station);
        let heard = |exchange: &Exchange| {
            let silent = |silence: &crate::stats::places::Outage| (silence.from..=silence.to).contains(&exchange.t);
            !(exchange.lost && self.silences.iter().any(silent))
        };
        let mut rows = exchanges(samples, &plane, &self.board, self.side);
        rows.retain(heard);
        self.station_doubt = locate(&rows, Receiver::at(self.half_level()), Some((0.0, 0.0)))
            .filter(|found| found.over_given.is_some_and(|over| over >= MORE_LIKELY))
            .map(|found| StationDoubt {
                away: Metres(found.x.hypot(found.y)),
                towards: Some(Degrees(found.x.atan2(found.y).to_degrees().rem_euclid(360.0))),
                radius: Metres(found.radius),
            })
            .filter(|doubt| doubt.away.0 >= LEAST_M.max(doubt.radius.0));
    }
}
