//! Which way the board's mark must point by a compass: the turn, the way to the station, and the declination of place and
//! year.

use crate::ground::declination::{Declination, NoDeclination, declination};
use crate::survey::sample::Samples;
use crate::units::{Degrees, Metres};

/// How a turn reads on a compass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heading {
    /// What the compass shows towards the mark's direction, 0 to below 360.
    pub magnetic: Degrees,
    /// The same against true north.
    pub true_north: Degrees,
    /// The declination used, with its uncertainty.
    pub declination: Declination,
}

/// The heading of a turn at the last place of some rows; `None` without a place or the station's position.
pub fn heading(samples: &Samples, turn: Degrees) -> Option<Result<Heading, NoDeclination>> {
    let (place, utc) = samples
        .rows
        .iter()
        .rev()
        .take(RECENT)
        .find_map(|row| Some((row.place?, row.utc)))?;
    let to_station = place.bearing?;
    let true_north = Degrees(to_station.0 + turn.0).normalised()?;
    let height = samples.facts(&place).alt_m.unwrap_or(0.0).clamp(-500.0, 9_000.0);
    match declination(place.position, Metres(height), utc) {
        Err(why) => Some(Err(why)),
        Ok(declination) => {
            let magnetic = declination.to_magnetic(true_north)?;
            Some(Ok(Heading {
                magnetic,
                true_north,
                declination,
            }))
        }
    }
}

/// Among how many of the last rows a place is looked for.
const RECENT: usize = 100;

/// A heading in words; `None` where there is none.
pub fn words(samples: &Samples, turn: Degrees) -> Option<String> {
    match heading(samples, turn)? {
        Err(why) => Some(format!("No compass bearing: {why}.")),
        Ok(heading) => {
            let east = heading.declination.east_deg.0;
            let side = if east < 0.0 { "west" } else { "east" };
            let care = heading
                .declination
                .zone
                .caution()
                .map_or(String::new(), |caution| format!(" {caution}."));
            Some(format!(
                "By compass {:03.0}° magnetic (declination {:.1}° {side}).{care}",
                heading.magnetic.0.round() % 360.0,
                east.abs()
            ))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::Position;
    use crate::survey::fixes::Facts;
    use crate::survey::sample::{Activity, BootName, Place, Sample};
    use crate::units::{Elapsed, UtcMs};

    fn at(lat: f64, lon: f64, utc: &str, bearing: f64) -> Samples {
        Samples {
            rows: vec![Sample {
                utc: UtcMs::parse(utc).unwrap(),
                at: Elapsed(0),
                boot: 0,
                run: 1,
                n: 1,
                echo: None,
                channel: None,
                place: Some(Place {
                    position: Position::new(Degrees(lat), Degrees(lon)).unwrap(),
                    facts: 0,
                    distance: Some(Metres(50.0)),
                    bearing: Some(Degrees(bearing)),
                }),
                activity: Activity::Walk,
                excluded: None,
            }],
            boots: vec![BootName {
                board: "yew".into(),
                boot: 1,
            }],
            facts: vec![Facts::default()],
            ..Samples::default()
        }
    }

    /// WMM2025's published test values (NOAA/NCEI and BGS 2024), 2025.0 at 0 km: 80° N 0° E has a declination of 1.28°
    /// east, 0° N 120° E of -0.16°, 80° S 240° E of 68.78° (from memory of the table; `tests/physics` reads all of it).
    #[test]
    fn declination_is_taken_off_a_true_bearing() {
        let samples = at(80.0, 0.0, "2025-01-01T00:00:00Z", 90.0);
        let found = heading(&samples, Degrees(45.0)).unwrap().unwrap();
        assert_eq!(found.true_north, Degrees(135.0));
        assert!((found.magnetic.0 - (135.0 - 1.28)).abs() < 0.02, "{found:?}");
    }

    #[test]
    fn out_of_the_models_years_it_says_so() {
        let samples = at(52.1, -2.9, "2031-06-01T00:00:00Z", 90.0);
        assert!(words(&samples, Degrees(0.0)).unwrap().contains("No compass bearing"));
    }

    #[test]
    fn without_a_place_there_is_none() {
        let mut samples = at(52.1, -2.9, "2026-06-01T00:00:00Z", 90.0);
        samples.rows[0].place = None;
        assert_eq!(words(&samples, Degrees(0.0)), None);
    }
}
