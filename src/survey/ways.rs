//! Ways to the station from places between fixes, without a geodesic for each.

use super::fixes::Fix;
use crate::ground::{Position, separation};
use crate::units::{Degrees, Elapsed, Metres};

/// Fixes farther apart than this, metres, have a geodesic for every place between them.
const LONGEST_M: f64 = 20.0;
/// So has everything farther from the station, metres,
const FARTHEST_M: f64 = 10_000.0;
/// and nearer to a pole, degrees of latitude.
const HIGHEST_LAT: f64 = 75.0;

/// The way from a place to the station.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    /// How far, on the ground.
    pub distance: Metres,
    /// Which way, true, 0 to below 360; `None` where the places coincide.
    pub bearing: Option<Degrees>,
}

/// Remembers the ways from the last fixes asked about.
#[derive(Clone, Debug, Default)]
pub struct Ways {
    from: Option<Seen>,
    to: Option<Seen>,
}

/// A fix and its way to the station.
#[derive(Clone, Copy, Debug)]
struct Seen {
    index: usize,
    way: Way,
    /// Metres east and north from there to the station, in the frame of the fix.
    vector: (f64, f64),
}

impl Ways {
    /// The way to `station` from `position`, which lies at `at` on the straight between the fix `index` of `good` and the next.
    ///
    /// Within 0.1 mm of the geodesic, along it and across: over at most 20 m between fixes, 10 km to the station and up to
    /// 75 degrees of latitude, the vectors to the station at both fixes are mixed by share. Neglected are the turn of
    /// north between the fixes (`L tan(lat) / R`, worth a quarter of `L² tan(lat) / R`, 0.06 mm) and the bend of a straight
    /// in latitude and longitude (an eighth of it, 0.03 mm). Beyond that the geodesic itself is worked out.
    pub fn to(&mut self, station: Position, good: &[Fix], index: usize, at: Elapsed, position: Position) -> Way {
        let (Some(earlier), Some(later)) = (good.get(index), good.get(index + 1)) else {
            return geodesic(position, station);
        };
        let from = self.seen(station, index, earlier);
        if position == earlier.position {
            return from.way;
        }
        let to = self.seen(station, index + 1, later);
        let apart = later.at.since(earlier.at);
        let across = (to.vector.0 - from.vector.0).hypot(to.vector.1 - from.vector.1);
        let far = from.way.distance.0.max(to.way.distance.0);
        let high = earlier.position.lat().0.abs().max(later.position.lat().0.abs());
        if !(apart > 0.0 && across <= LONGEST_M && far <= FARTHEST_M && high <= HIGHEST_LAT) {
            return geodesic(position, station);
        }
        let share = at.since(earlier.at) / apart;
        let mix = |one: f64, other: f64| one + share * (other - one);
        let (east, north) = (mix(from.vector.0, to.vector.0), mix(from.vector.1, to.vector.1));
        let distance = east.hypot(north);
        Way {
            distance: Metres(distance),
            bearing: (distance > 0.0)
                .then(|| Degrees(east.atan2(north).to_degrees()).normalised())
                .flatten(),
        }
    }

    fn seen(&mut self, station: Position, index: usize, fix: &Fix) -> Seen {
        for known in [self.from, self.to].into_iter().flatten() {
            if known.index == index {
                return known;
            }
        }
        let way = geodesic(fix.position, station);
        let (sin, cos) = way.bearing.map_or(0.0, |bearing| bearing.0).to_radians().sin_cos();
        let seen = Seen {
            index,
            way,
            vector: (way.distance.0 * sin, way.distance.0 * cos),
        };
        self.from = self.to;
        self.to = Some(seen);
        seen
    }
}

fn geodesic(position: Position, station: Position) -> Way {
    let way = separation(position, station);
    Way {
        distance: way.distance,
        bearing: way.bearing,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::destination;
    use crate::survey::fixes::Facts;
    use crate::units::UtcMs;

    fn fix(position: Position, second: u64) -> Fix {
        Fix {
            at: Elapsed(second * 1_000_000),
            utc: UtcMs(0),
            wall_us: 0,
            position,
            facts: Facts::default(),
        }
    }

    /// Against the geodesic itself (Karney 2013), from pole-near to equator, near and far, all round.
    #[test]
    fn it_keeps_within_a_tenth_of_a_millimetre_of_the_geodesic() {
        let mut most: f64 = 0.0;
        for lat in [-75.0, -52.1, -10.0, 0.0, 33.0, 60.0, 74.9] {
            let station = Position::new(Degrees(lat), Degrees(179.99)).unwrap();
            for (away, step) in [(0.3, 1.3), (14.0, 1.4), (180.0, 5.0), (2_000.0, 19.0), (9_900.0, 19.9)] {
                for turn in 0..12 {
                    let bearing = Degrees(30.0 * f64::from(turn));
                    let one = destination(station, bearing, Metres(away)).unwrap();
                    if one.lat().0.abs() > HIGHEST_LAT {
                        continue;
                    }
                    let other = destination(one, Degrees(77.0 * f64::from(turn) + 13.0), Metres(step)).unwrap();
                    let good = [fix(one, 5), fix(other, 6)];
                    let mut ways = Ways::default();
                    for tenth in 1..10_u32 {
                        let share = f64::from(tenth) / 10.0;
                        let place = one.between(other, share);
                        let at = Elapsed(5_000_000 + u64::from(tenth) * 100_000);
                        let quick = ways.to(station, &good, 0, at, place);
                        let exact = separation(place, station);
                        let along = (quick.distance.0 - exact.distance.0).abs();
                        let turned = quick.bearing.unwrap().0 - exact.bearing.unwrap().0;
                        let turned = (turned + 540.0).rem_euclid(360.0) - 180.0;
                        let across = turned.to_radians().abs() * exact.distance.0;
                        assert!(
                            along < 1e-4 && across < 1e-4,
                            "{lat}° {away} m {step} m: {along} along, {across} across"
                        );
                        most = most.max(along).max(across);
                    }
                }
            }
        }
        // It is a quick way and not the geodesic after all.
        assert!(most > 1e-9, "{most}");
    }

    #[test]
    fn far_apart_fixes_have_the_geodesic_itself() {
        let station = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        let one = destination(station, Degrees(80.0), Metres(100.0)).unwrap();
        let other = destination(one, Degrees(10.0), Metres(60.0)).unwrap();
        let good = [fix(one, 1), fix(other, 2)];
        let place = one.between(other, 0.5);
        let way = Ways::default().to(station, &good, 0, Elapsed(1_500_000), place);
        assert_eq!(way.distance, separation(place, station).distance);
    }
}
