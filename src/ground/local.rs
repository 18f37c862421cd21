//! A flat map about the station: metres east and north, and back.

use super::slant::{ECCENTRICITY_SQUARED, SEMI_MAJOR_M};
use super::{Position, Vantage, destination};
use crate::units::{Degrees, Metres};

/// A plane that keeps distance and bearing from its origin (azimuthal equidistant; J. P. Snyder, USGS Professional Paper 1395
/// (1987), 191; C. F. F. Karney 2013, J. Geodesy 87:43-55, 8).
///
/// Distances between two other places are true within 1.1 parts in 10^7 as long as both are within 5 km of the origin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocalPlane {
    origin: Vantage,
}

/// A place on a [`LocalPlane`].
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Offset {
    /// East of the origin.
    pub east: Metres,
    /// North of the origin.
    pub north: Metres,
}

impl LocalPlane {
    /// The plane about `origin`.
    pub fn about(origin: Position) -> Self {
        Self {
            origin: Vantage::at(origin),
        }
    }

    /// Where the plane touches the ground.
    pub const fn origin(self) -> Position {
        self.origin.position()
    }

    /// Where a position falls on the plane.
    pub fn offset(self, place: Position) -> Offset {
        let (east, north) = self.origin.offset(place);
        Offset {
            east: Metres(east),
            north: Metres(north),
        }
    }

    /// The position at a place of the plane: the inverse of [`Self::offset`]. `None` when the offset is not finite.
    pub fn position(self, offset: Offset) -> Option<Position> {
        destination(self.origin(), offset.bearing().unwrap_or_default(), offset.distance())
    }
}

impl Offset {
    /// Distance from the origin.
    pub fn distance(self) -> Metres {
        Metres(self.east.0.hypot(self.north.0))
    }

    /// True bearing from the origin, 0 to below 360; `None` at the origin.
    pub fn bearing(self) -> Option<Degrees> {
        if self.east.0 == 0.0 && self.north.0 == 0.0 {
            return None;
        }
        Degrees(self.east.0.atan2(self.north.0).to_degrees()).normalised()
    }
}

/// Metres to a degree of latitude and to one of longitude, at a latitude (Snyder 1987, eq. 4-19 to 4-21); `None` past the poles.
pub fn metres_per_degree(lat: Degrees) -> Option<(Metres, Metres)> {
    if !(-90.0..=90.0).contains(&lat.0) {
        return None;
    }
    let (sin, cos) = lat.0.to_radians().sin_cos();
    let root = (1.0 - ECCENTRICITY_SQUARED * sin * sin).sqrt();
    let meridian = SEMI_MAJOR_M * (1.0 - ECCENTRICITY_SQUARED) / root.powi(3);
    let parallel = SEMI_MAJOR_M / root * cos;
    Some((Metres(meridian.to_radians()), Metres(parallel.to_radians())))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::separation;

    #[test]
    fn there_and_back_is_the_same_place() {
        for (lat, lon) in [(52.1, -2.9), (-33.9, 151.2), (0.0, 179.9999), (89.9995, 12.0)] {
            let plane = LocalPlane::about(Position::new(Degrees(lat), Degrees(lon)).unwrap());
            for (east, north) in [(0.0, 0.0), (120.0, -35.5), (-2000.0, 1500.0), (0.001, 0.0)] {
                let offset = Offset {
                    east: Metres(east),
                    north: Metres(north),
                };
                let back = plane.offset(plane.position(offset).unwrap());
                let off = (back.east.0 - east).hypot(back.north.0 - north);
                assert!(off < 2e-8, "{lat} {lon} {offset:?} comes back {off} m off");
            }
        }
    }

    #[test]
    fn distances_across_the_plane_are_true() {
        let plane = LocalPlane::about(Position::new(Degrees(52.1), Degrees(-2.9)).unwrap());
        let at = |bearing: f64| destination(plane.origin(), Degrees(bearing), Metres(5000.0)).unwrap();
        for (one, other) in [(10.0, 12.0), (0.0, 90.0), (200.0, 290.0)] {
            let true_distance = separation(at(one), at(other)).distance.0;
            let (a, b) = (plane.offset(at(one)), plane.offset(at(other)));
            let flat = (a.east.0 - b.east.0).hypot(a.north.0 - b.north.0);
            assert!(
                (flat / true_distance - 1.0).abs() < 1.1e-7,
                "{one} {other}: {flat} {true_distance}"
            );
        }
    }

    #[test]
    fn an_endless_offset_is_nowhere() {
        let plane = LocalPlane::about(Position::new(Degrees(52.1), Degrees(-2.9)).unwrap());
        let endless = Offset {
            east: Metres(f64::INFINITY),
            north: Metres(0.0),
        };
        assert_eq!(plane.position(endless), None);
        assert_eq!(metres_per_degree(Degrees(91.0)), None);
    }
}
