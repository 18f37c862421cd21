//! Distance and bearing over the ellipsoid.

use std::sync::LazyLock;

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

use super::Position;
use crate::units::{Degrees, Metres};

/// The ellipsoid's coefficients, some hundred numbers worked out once.
static WGS84: LazyLock<Geodesic> = LazyLock::new(Geodesic::wgs84);

/// How far and which way one place lies from another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Separation {
    /// Length of the shortest path over the WGS 84 ellipsoid.
    pub distance: Metres,
    /// True bearing at the first place towards the second, 0 to below 360; `None` where the places coincide.
    pub bearing: Option<Degrees>,
    /// True bearing at the second place towards the first, 0 to below 360; `None` where the places coincide.
    pub back: Option<Degrees>,
}

/// The geodesic from `from` to `to` (Karney 2013, J. Geodesy 87:43-55), good to nanometres.
pub fn separation(from: Position, to: Position) -> Separation {
    let (distance, azimuth, azimuth_there, _): (f64, f64, f64, f64) =
        WGS84.inverse(from.lat().0, from.lon().0, to.lat().0, to.lon().0);
    let bearing = |azimuth: f64| (distance > 0.0).then(|| Degrees(azimuth).normalised()).flatten();
    Separation {
        distance: Metres(distance),
        bearing: bearing(azimuth),
        back: bearing(azimuth_there + 180.0),
    }
}

/// The place reached from `from` by going `distance` on a true `bearing`; `None` when an argument is not finite.
pub fn destination(from: Position, bearing: Degrees, distance: Metres) -> Option<Position> {
    let (lat, lon): (f64, f64) = WGS84.direct(from.lat().0, from.lon().0, bearing.0, distance.0);
    Position::new(Degrees(lat), Degrees(lon)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_lies_no_way_from_itself() {
        let here = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        let none = separation(here, here);
        assert_eq!((none.distance, none.bearing, none.back), (Metres(0.0), None, None));
    }

    #[test]
    fn nowhere_is_reached_by_an_endless_walk() {
        let here = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        assert_eq!(destination(here, Degrees(f64::NAN), Metres(1.0)), None);
        assert_eq!(destination(here, Degrees(0.0), Metres(f64::INFINITY)), None);
    }
}
