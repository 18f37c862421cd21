//! The rehearsal's own ground: metres east and north of the station.

use crate::ground::{Position, geodesy};
use crate::units::{Degrees, Metres};

/// A spot on the level plane with the station at its middle: bearings and distances from the station are geodesic.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Place {
    /// Metres east of the station.
    pub east: f64,
    /// Metres north of the station.
    pub north: f64,
}

impl Place {
    /// The spot so many metres east and north of the station.
    pub const fn new(east: f64, north: f64) -> Self {
        Self { east, north }
    }

    /// The spot at a distance in metres and a true bearing in degrees, both from the station.
    pub fn out(distance: f64, bearing: f64) -> Self {
        Self::default().beside(distance, bearing)
    }

    /// The spot so many metres from here on a true bearing in degrees.
    pub fn beside(self, distance: f64, bearing: f64) -> Self {
        let (sin, cos) = bearing.to_radians().sin_cos();
        Self {
            east: self.east + distance * sin,
            north: self.north + distance * cos,
        }
    }

    /// Metres to the station along the ground.
    pub fn distance(self) -> f64 {
        self.east.hypot(self.north)
    }

    /// Metres to another spot.
    pub fn distance_to(self, other: Self) -> f64 {
        (other.east - self.east).hypot(other.north - self.north)
    }

    /// True bearing from here to another spot, degrees, 0 to below 360; north where they coincide.
    pub fn bearing_to(self, other: Self) -> f64 {
        (other.east - self.east)
            .atan2(other.north - self.north)
            .to_degrees()
            .rem_euclid(360.0)
    }

    /// True bearing from here to the station, degrees.
    pub fn bearing_to_station(self) -> f64 {
        self.bearing_to(Self::default())
    }

    /// The spot a share of the way from here (0) to another (1).
    pub fn towards(self, other: Self, share: f64) -> Self {
        Self {
            east: self.east + share * (other.east - self.east),
            north: self.north + share * (other.north - self.north),
        }
    }

    /// Where on the globe this is, for a station at `station`; the station itself where the plane's numbers are not
    /// finite.
    pub fn position(self, station: Position) -> Position {
        let bearing = Degrees(Self::default().bearing_to(self));
        geodesy::destination(station, bearing, Metres(self.distance())).unwrap_or(station)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::separation;

    #[test]
    fn the_plane_keeps_the_distance_and_bearing_of_the_station() {
        let station = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        let place = Place::out(140.0, 75.0);
        let found = separation(station, place.position(station));
        assert!((found.distance.0 - 140.0).abs() < 1e-6);
        assert!((found.bearing.unwrap().0 - 75.0).abs() < 1e-6);
        assert!((place.bearing_to_station() - 255.0).abs() < 1e-9);
    }
}
