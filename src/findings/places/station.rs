//! Whether the station stands where the set-up has it, as far as levels can tell.

use crate::stats::places::{Courses, Receiver, locate};
use crate::units::{Degrees, Metres};

/// How much more likely another place must be, in natural logarithms. Chosen on whole rehearsals of five forms of walk, one world in
/// two rough (`a_wrong_station_is_noticed` in the calibration of surveys): at 9 none of 200 true stations was doubted and a station
/// 20, 40, 60, 100 m off was in 6, 26, 37 and 51 of 100; at 6.5, of 180, one true station was and 9, 35, 49 and 65 of 100.
const MORE_LIKELY: f64 = 6.5;
/// Nearer than this the difference is that of positions, metres.
const LEAST_M: f64 = 20.0;

/// The levels fit another place for the station much better than the one noted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StationDoubt {
    /// Where they would have it; `None` where they only tell that it is not there, as a straight walk does, which has two
    /// sides alike.
    pub rather: Option<Rather>,
}

/// Another place for the station.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rather {
    /// How far it is from where the set-up has the station.
    pub away: Metres,
    /// Which way from there, true.
    pub towards: Option<Degrees>,
    /// How well it is known: 90 % of the likelihood lies within, which takes all for certain but the place. On whole rehearsals the
    /// true place lay within in 96.0 of 100 (of 251 named, seeds 12500 to 12619 and 13000 to 13119; 90.5 of 84 on walks in loops).
    pub radius: Metres,
}

/// Holds the station, noted at the origin of `courses`, against the levels; `half_level` in dBm is the level of 50 % delivery.
/// `None` where they do not speak against it, which is no proof that it is right.
pub fn doubt(courses: &Courses, half_level: f64) -> Option<StationDoubt> {
    let found = locate(courses, Receiver::at(half_level), Some((0.0, 0.0)))?;
    let away = found.x.hypot(found.y);
    if found.over_given? < MORE_LIKELY || away < LEAST_M {
        return None;
    }
    Some(StationDoubt {
        rather: (away >= found.radius).then(|| Rather {
            away: Metres(away),
            towards: Some(Degrees(found.x.atan2(found.y).to_degrees().rem_euclid(360.0))),
            radius: Metres(found.radius),
        }),
    })
}
