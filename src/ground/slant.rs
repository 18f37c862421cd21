//! Straight lines between two places with heights: the way the radio goes.

use super::Position;
use crate::units::{Degrees, Metres};

/// WGS 84 semi-major axis, metres (NGA.STND.0036, 2014).
pub(super) const SEMI_MAJOR_M: f64 = 6_378_137.0;
/// WGS 84 flattening (same source).
const FLATTENING: f64 = 1.0 / 298.257_223_563;
/// First eccentricity squared, f (2 - f).
pub(super) const ECCENTRICITY_SQUARED: f64 = FLATTENING * (2.0 - FLATTENING);

/// Where one point lies from another in the level plane at the first: metres east, north and up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Topocentric {
    /// East of the first point.
    pub east: Metres,
    /// North of it.
    pub north: Metres,
    /// Above its level plane, which the earth falls away from: 8 cm in a kilometre.
    pub up: Metres,
}

impl Topocentric {
    /// The straight-line distance.
    pub fn slant_range(self) -> Metres {
        Metres(self.east.0.hypot(self.north.0).hypot(self.up.0))
    }

    /// The angle above the level plane, -90 to 90; `None` where the points coincide.
    pub fn elevation(self) -> Option<Degrees> {
        let level = self.east.0.hypot(self.north.0);
        (level > 0.0 || self.up.0 != 0.0).then(|| Degrees(self.up.0.atan2(level).to_degrees()))
    }
}

/// The straight line from one point to another, heights above the ellipsoid (EPSG Guidance Note 373-7-2, methods 9602 and
/// 9837). `None` when a height is not finite.
pub fn topocentric(from: Position, from_height: Metres, to: Position, to_height: Metres) -> Option<Topocentric> {
    if !from_height.0.is_finite() || !to_height.0.is_finite() {
        return None;
    }
    let a = geocentric(from, from_height.0);
    let b = geocentric(to, to_height.0);
    let (dx, dy, dz) = (b.0 - a.0, b.1 - a.1, b.2 - a.2);
    let (sin_lat, cos_lat) = from.lat().0.to_radians().sin_cos();
    let (sin_lon, cos_lon) = from.lon().0.to_radians().sin_cos();
    let outwards = cos_lon * dx + sin_lon * dy;
    Some(Topocentric {
        east: Metres(-sin_lon * dx + cos_lon * dy),
        north: Metres(-sin_lat * outwards + cos_lat * dz),
        up: Metres(cos_lat * outwards + sin_lat * dz),
    })
}

/// The straight line as it is usually reckoned, √(ground distance² + difference of heights²): short of [`topocentric`] by
/// millimetres over the distances walked here.
pub fn slant_range(ground: Metres, height_difference: Metres) -> Metres {
    Metres(ground.0.hypot(height_difference.0))
}

/// Earth-centred coordinates, metres.
fn geocentric(place: Position, height: f64) -> (f64, f64, f64) {
    let (sin_lat, cos_lat) = place.lat().0.to_radians().sin_cos();
    let (sin_lon, cos_lon) = place.lon().0.to_radians().sin_cos();
    let normal = SEMI_MAJOR_M / (1.0 - ECCENTRICITY_SQUARED * sin_lat * sin_lat).sqrt();
    let level = (normal + height) * cos_lat;
    (
        level * cos_lon,
        level * sin_lon,
        (normal * (1.0 - ECCENTRICITY_SQUARED) + height) * sin_lat,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_has_no_elevation_from_itself() {
        let here = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        let none = topocentric(here, Metres(3.0), here, Metres(3.0)).unwrap();
        assert_eq!(none.elevation(), None);
        assert_eq!(none.slant_range(), Metres(0.0));
        assert_eq!(topocentric(here, Metres(f64::NAN), here, Metres(3.0)), None);
    }
}
