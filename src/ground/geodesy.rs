//! Distance and bearing over the ellipsoid.

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

use super::Position;
use crate::units::{Degrees, Metres};

/// How far and which way one place lies from another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Separation {
    /// Length of the shortest path over the WGS 84 ellipsoid.
    pub distance: Metres,
    /// True bearing at the first place towards the second, 0 to below 360; `None` where the places coincide.
    pub bearing: Option<Degrees>,
}

/// The geodesic from `from` to `to` (Karney 2013, J. Geodesy 87:43-55), good to nanometres.
pub fn separation(from: Position, to: Position) -> Separation {
    let (distance, azimuth, _, _): (f64, f64, f64, f64) =
        Geodesic::wgs84().inverse(from.lat().0, from.lon().0, to.lat().0, to.lon().0);
    Separation {
        distance: Metres(distance),
        bearing: if distance > 0.0 {
            Degrees(azimuth).normalised()
        } else {
            None
        },
    }
}

/// The place reached from `from` by going `distance` on a true `bearing`; `None` when an argument is not finite.
pub fn destination(from: Position, bearing: Degrees, distance: Metres) -> Option<Position> {
    let (lat, lon): (f64, f64) = Geodesic::wgs84().direct(from.lat().0, from.lon().0, bearing.0, distance.0);
    Position::new(Degrees(lat), Degrees(lon)).ok()
}
