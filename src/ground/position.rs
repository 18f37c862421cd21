//! A place on the ground.

use thiserror::Error;

use crate::units::Degrees;

/// A place on the WGS 84 ellipsoid, checked when made: both angles finite, latitude within ±90, longitude within ±180.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Position {
    lat: f64,
    lon: f64,
}

/// Why two numbers are no position.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum NoPosition {
    /// The latitude is not finite or beyond a pole.
    #[error("latitude {0} is not between -90 and 90 degrees: give LAT,LON in decimal degrees, south negative")]
    Latitude(f64),
    /// The longitude is not finite or more than half way round.
    #[error("longitude {0} is not between -180 and 180 degrees: give LAT,LON in decimal degrees, west negative")]
    Longitude(f64),
}

impl Position {
    /// A position from decimal degrees, north and east positive.
    ///
    /// # Errors
    /// When either angle is not finite or out of range.
    pub fn new(lat: Degrees, lon: Degrees) -> Result<Self, NoPosition> {
        if !(-90.0..=90.0).contains(&lat.0) {
            return Err(NoPosition::Latitude(lat.0));
        }
        if !(-180.0..=180.0).contains(&lon.0) {
            return Err(NoPosition::Longitude(lon.0));
        }
        Ok(Self { lat: lat.0, lon: lon.0 })
    }

    /// Latitude, north positive.
    pub const fn lat(self) -> Degrees {
        Degrees(self.lat)
    }

    /// Longitude, east positive.
    pub const fn lon(self) -> Degrees {
        Degrees(self.lon)
    }

    /// The place a share of the way from `self` (0) to `other` (1), the short way round the antimeridian.
    ///
    /// Linear in both angles: within 0.1 mm of the geodesic over the few metres between two fixes.
    #[must_use]
    pub fn between(self, other: Self, share: f64) -> Self {
        let mut east = other.lon - self.lon;
        if east > 180.0 {
            east -= 360.0;
        } else if east < -180.0 {
            east += 360.0;
        }
        let mut lon = self.lon + share * east;
        if lon > 180.0 {
            lon -= 360.0;
        } else if lon < -180.0 {
            lon += 360.0;
        }
        Self {
            lat: (self.lat + share * (other.lat - self.lat)).clamp(-90.0, 90.0),
            lon: lon.clamp(-180.0, 180.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn out_of_range_is_no_position() {
        assert_eq!(
            Position::new(Degrees(90.1), Degrees(0.0)),
            Err(NoPosition::Latitude(90.1))
        );
        assert_eq!(
            Position::new(Degrees(0.0), Degrees(-180.5)),
            Err(NoPosition::Longitude(-180.5))
        );
        assert!(Position::new(Degrees(f64::NAN), Degrees(0.0)).is_err());
    }

    #[test]
    fn between_crosses_the_antimeridian_the_short_way() {
        let west = Position::new(Degrees(0.0), Degrees(179.9999)).unwrap();
        let east = Position::new(Degrees(0.0), Degrees(-179.9999)).unwrap();
        let middle = west.between(east, 0.75);
        assert!((middle.lon().0 - -179.99995).abs() < 1e-9, "{middle:?}");
    }
}
