//! Ways between one place and many near by, some thirty times quicker than a geodesic each.

use super::slant::{ECCENTRICITY_SQUARED, SEMI_MAJOR_M};
use super::{Position, separation};
use crate::units::{Degrees, Metres};

/// Places whose chord is longer than this, metres, are not near: they have the geodesic itself.
const NEAR_M: f64 = 10_000.0;

/// Angles up to this, radians, are taken by their series.
const SMALL: f64 = 4e-3;

/// A place from which ways to many others are reckoned.
///
/// The straight chord between two places of the ellipsoid is made the arc over it, `c (1 + (κ c)² / 24)` with Euler's
/// curvature κ of its direction; the direction of the normal section is turned into the geodesic's,
/// `e'² cos² lat s² sin 2α / (12 N²)` (G. Bomford, Geodesy, 4th edition, 1980; both from memory). Within 0.2 µm of the
/// geodesic (Karney 2013), along it and across, as far as 10 km; beyond, it is the geodesic.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vantage {
    position: Position,
    site: Site,
}

/// The way from one place to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    /// How far, over the ellipsoid.
    pub distance: Metres,
    /// True bearing at the place where it begins, 0 to below 360; `None` where the places coincide.
    pub bearing: Option<Degrees>,
}

/// What of a place does not depend on its longitude.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Site {
    sin: f64,
    cos: f64,
    /// Radius of curvature across the meridian, metres.
    normal: f64,
}

/// A way as metres east and north where it begins, before it is bent to the ground: its direction counts.
#[derive(Clone, Copy, Debug)]
struct Course {
    east: f64,
    north: f64,
    distance: f64,
}

impl Site {
    fn at(position: Position) -> Self {
        let (sin, cos) = position.lat().0.to_radians().sin_cos();
        Self::of(sin, cos)
    }

    fn of(sin: f64, cos: f64) -> Self {
        Self {
            sin,
            cos,
            normal: SEMI_MAJOR_M / (1.0 - ECCENTRICITY_SQUARED * sin * sin).sqrt(),
        }
    }

    /// The site a little further north, by the angle's own series where that is as good.
    fn further_north(&self, degrees: f64, place: Position) -> Self {
        let angle = degrees.to_radians();
        if angle.abs() > SMALL {
            return Self::at(place);
        }
        let (sin, cos) = small_sin_cos(angle);
        Self::of(self.sin * cos + self.cos * sin, self.cos * cos - self.sin * sin)
    }

    /// Distance from the axis and height over the equator's plane, metres.
    fn meridian(&self) -> (f64, f64) {
        (
            self.normal * self.cos,
            self.normal * (1.0 - ECCENTRICITY_SQUARED) * self.sin,
        )
    }

    /// The course from here to a place `degrees` further east; `None` where that is not near.
    fn course(&self, to: &Self, degrees: f64) -> Option<Course> {
        let angle = degrees.to_radians();
        let (sin, cos) = if angle.abs() > SMALL {
            angle.sin_cos()
        } else {
            small_sin_cos(angle)
        };
        let ((axis, height), (axis_there, height_there)) = (self.meridian(), to.meridian());
        let outwards = axis_there * cos - axis;
        let up = height_there - height;
        let east = axis_there * sin;
        let north = self.cos * up - self.sin * outwards;
        let chord = (outwards * outwards + east * east + up * up).sqrt();
        if chord > NEAR_M {
            return None;
        }
        let level = east * east + north * north;
        if level == 0.0 {
            return Some(Course {
                east: 0.0,
                north: 0.0,
                distance: 0.0,
            });
        }
        let across = 1.0 / self.normal;
        let along = (1.0 - ECCENTRICITY_SQUARED * self.sin * self.sin) / ((1.0 - ECCENTRICITY_SQUARED) * self.normal);
        let bent = (north * north * along + east * east * across) / level * chord;
        let distance = chord * (1.0 + bent * bent / 24.0);
        let flat = ECCENTRICITY_SQUARED / (1.0 - ECCENTRICITY_SQUARED) * (self.cos * distance * across).powi(2) / 12.0;
        let turn = flat * 2.0 * east * north / level;
        // So small a turn, at most 3e-9, is its own sine.
        Some(Course {
            east: east - turn * north,
            north: north + turn * east,
            distance,
        })
    }
}

/// Sine and cosine of an angle of at most [`SMALL`] radians, to the last digit.
fn small_sin_cos(angle: f64) -> (f64, f64) {
    let square = angle * angle;
    (
        angle * (1.0 - square / 6.0 * (1.0 - square / 20.0)),
        1.0 - square / 2.0 * (1.0 - square / 12.0 * (1.0 - square / 30.0)),
    )
}

impl Vantage {
    /// The vantage at a place.
    pub fn at(position: Position) -> Self {
        Self {
            position,
            site: Site::at(position),
        }
    }

    /// The place itself.
    pub const fn position(&self) -> Position {
        self.position
    }

    /// The way from another place to this one.
    pub fn from(&self, place: Position) -> Way {
        let course = self.site_of(place).course(&self.site, self.east_of(place));
        course.map_or_else(
            || {
                let way = separation(place, self.position);
                Way {
                    distance: way.distance,
                    bearing: way.bearing,
                }
            },
            |course| Way {
                distance: Metres(course.distance),
                bearing: (course.distance > 0.0)
                    .then(|| Degrees(course.east.atan2(course.north).to_degrees()).normalised())
                    .flatten(),
            },
        )
    }

    /// Metres east and north of this place at which another lies: its distance, in its direction.
    pub fn offset(&self, place: Position) -> (f64, f64) {
        let course = self.site.course(&self.site_of(place), -self.east_of(place));
        if let Some(course) = course {
            let level = (course.east * course.east + course.north * course.north).sqrt();
            let scale = if level > 0.0 { course.distance / level } else { 0.0 };
            return (course.east * scale, course.north * scale);
        }
        let way = separation(self.position, place);
        way.bearing.map_or((0.0, 0.0), |bearing| {
            let (sin, cos) = bearing.0.to_radians().sin_cos();
            (way.distance.0 * sin, way.distance.0 * cos)
        })
    }

    fn site_of(&self, place: Position) -> Site {
        self.site.further_north(place.lat().0 - self.position.lat().0, place)
    }

    /// Degrees by which this place lies east of another, the short way round.
    fn east_of(&self, place: Position) -> f64 {
        let east = self.position.lon().0 - place.lon().0;
        if east > 180.0 {
            east - 360.0
        } else if east < -180.0 {
            east + 360.0
        } else {
            east
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::destination;

    /// What the documentation promises, metres.
    const PROMISED_M: f64 = 2e-7;

    /// Places all over the ellipsoid, each with others from a millimetre to the end of near, all round.
    fn pairs() -> impl Iterator<Item = (Position, Position)> {
        let lats = [
            -90.0, -89.9999, -75.0, -52.1, -10.0, 0.0, 1e-6, 33.0, 45.0, 60.0, 85.0, 89.99,
        ];
        let from = lats.into_iter().flat_map(|lat| {
            [-180.0, -2.9, 0.0, 179.999_99].map(|lon| Position::new(Degrees(lat), Degrees(lon)).unwrap())
        });
        from.flat_map(|from| {
            let away = [0.001, 0.3, 5.0, 87.3, 1_203.0, 4_999.0, 9_990.0, 10_050.0, 60_000.0];
            away.into_iter().flat_map(move |away| {
                (0..24).map(move |turn| {
                    let bearing = Degrees(15.0 * f64::from(turn) + 0.7);
                    (from, destination(from, bearing, Metres(away)).unwrap())
                })
            })
        })
    }

    /// Against the geodesic itself (Karney 2013, J. Geodesy 87:43-55).
    #[test]
    fn it_keeps_its_promise_along_the_geodesic_and_across() {
        for (here, place) in pairs() {
            let vantage = Vantage::at(here);
            let (quick, exact) = (vantage.from(place), separation(place, here));
            let along = (quick.distance.0 - exact.distance.0).abs();
            let turned = quick.bearing.unwrap().turn_to(exact.bearing.unwrap()).0;
            let across = turned.abs().to_radians() * exact.distance.0;
            assert!(
                along < PROMISED_M && across < PROMISED_M,
                "{here:?} {place:?}: {along} along, {across} across"
            );
            let way = separation(here, place);
            let (sin, cos) = way.bearing.unwrap().0.to_radians().sin_cos();
            let (east, north) = vantage.offset(place);
            let off = (east - way.distance.0 * sin).hypot(north - way.distance.0 * cos);
            assert!(off < PROMISED_M, "{here:?} {place:?}: {off} off");
        }
    }

    #[test]
    fn a_place_lies_no_way_from_itself() {
        let here = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        let none = Vantage::at(here).from(here);
        assert_eq!((none.distance, none.bearing), (Metres(0.0), None));
        assert_eq!(Vantage::at(here).offset(here), (0.0, 0.0));
    }
}
