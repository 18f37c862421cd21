//! What a compass needle shows: the angle between magnetic and true north.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;
use serde::Serialize;
use thiserror::Error;
use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time::Date;
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;
use world_magnetic_model::uom::si::magnetic_flux_density::nanotesla;

use super::Position;
use crate::units::{Degrees, Metres, UtcMs};

/// Declination at a place and time, with how well it is known.
///
/// From the World Magnetic Model (NOAA/NCEI and BGS, technical reports of 2020 and 2025), reckoned in single precision: within
/// 0.006 degrees of the model's own test points. It knows the earth's core only: iron nearby, a phone in the same hand or the
/// ground itself can turn a needle by far more than `sigma_deg`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Declination {
    /// From true to magnetic north, east positive, -180 to 180.
    pub east_deg: Degrees,
    /// One standard deviation of it, √(0.26² + (5417 / H)²) for the model of 2025, H in nanotesla; at most 180.
    pub sigma_deg: Degrees,
    /// Strength of the level part of the field, nanotesla: what turns the needle.
    pub horizontal_nt: f64,
    /// How far a compass is to be trusted there.
    pub zone: CompassZone,
    /// Which edition it comes from.
    pub model: Model,
}

/// How far a compass is to be trusted (World Magnetic Model 2025, 1.8).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum CompassZone {
    /// Level field of 6000 nT or more.
    Normal,
    /// 2000 nT to below 6000 nT: a compass may be wrong.
    Caution,
    /// Below 2000 nT, about the magnetic poles: a compass is not to be used.
    Blackout,
}

/// An edition of the World Magnetic Model.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Model {
    /// 2020.0 up to 2025.0.
    #[serde(rename = "WMM2020")]
    Wmm2020,
    /// 2025.0 up to 2030.0.
    #[serde(rename = "WMM2025")]
    Wmm2025,
}

/// Why there is no declination.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum NoDeclination {
    /// The date is in no edition this program carries.
    #[error(
        "year {0:.2} is outside the magnetic models here (2020 to the end of 2029): give true bearings, or take a newer version"
    )]
    Year(f64),
    /// The moment is no date at all.
    #[error("the moment {0} ms since 1970 is not a date: set the computer's clock or wait for a fix")]
    Moment(i64),
    /// The height is outside the model.
    #[error(
        "height {0} m is outside the magnetic model (-1000 to 850000 m above the ellipsoid): leave it out, it hardly matters"
    )]
    Height(f64),
}

/// Declination at a place, `height` above the ellipsoid (100 m of it change nothing), at a moment, by the day.
///
/// # Errors
/// When the moment is before 2020 or after 2029, or the height outside the model.
pub fn declination(place: Position, height: Metres, when: UtcMs) -> Result<Declination, NoDeclination> {
    let (year, day) = year_and_day(when).ok_or(NoDeclination::Moment(when.0))?;
    let out_of_years = || NoDeclination::Year(decimal_year(when).unwrap_or(f64::from(year)));
    let model = Model::for_year(i32::from(year)).ok_or_else(out_of_years)?;
    if !(-1000.0..=850_000.0).contains(&height.0) {
        return Err(NoDeclination::Height(height.0));
    }
    let date = Date::from_ordinal_date(i32::from(year), day).map_err(|_| out_of_years())?;
    let field = GeomagneticField::new(
        Length::new::<meter>(height.0 as f32),
        Angle::new::<degree>(place.lat().0 as f32),
        Angle::new::<degree>(place.lon().0 as f32),
        date,
    )
    .map_err(|_| out_of_years())?;
    let horizontal_nt = f64::from(field.h().get::<nanotesla>());
    Ok(Declination {
        east_deg: Degrees(f64::from(field.declination().get::<degree>())),
        sigma_deg: Degrees(f64::from(field.declination_uncertainty().get::<degree>())),
        horizontal_nt,
        zone: CompassZone::of_field(horizontal_nt),
        model,
    })
}

impl Declination {
    /// The true bearing of what a compass shows, 0 to below 360; `None` when it is not finite.
    pub fn to_true(self, magnetic: Degrees) -> Option<Degrees> {
        true_bearing(magnetic, self.east_deg)
    }

    /// What a compass shows towards a true bearing, 0 to below 360; `None` when it is not finite.
    pub fn to_magnetic(self, bearing: Degrees) -> Option<Degrees> {
        true_bearing(bearing, Degrees(-self.east_deg.0))
    }
}

/// A magnetic bearing made true: plus the declination, east positive.
pub fn true_bearing(magnetic: Degrees, east: Degrees) -> Option<Degrees> {
    Degrees(magnetic.0 + east.0).normalised()
}

impl CompassZone {
    /// The zone of a level field strength in nanotesla.
    pub fn of_field(horizontal_nt: f64) -> Self {
        if horizontal_nt < 2000.0 {
            Self::Blackout
        } else if horizontal_nt < 6000.0 {
            Self::Caution
        } else {
            Self::Normal
        }
    }

    /// What to say about it; `None` where nothing need be said.
    pub const fn caution(self) -> Option<&'static str> {
        match self {
            Self::Normal => None,
            Self::Caution => {
                Some("so near a magnetic pole a compass may be well off: take bearings from positions instead")
            }
            Self::Blackout => {
                Some("about a magnetic pole a compass shows nothing of use: take bearings from positions instead")
            }
        }
    }
}

impl Model {
    /// The edition in force in a year; `None` when this program carries none.
    pub const fn for_year(year: i32) -> Option<Self> {
        match year {
            2020..=2024 => Some(Self::Wmm2020),
            2025..=2029 => Some(Self::Wmm2025),
            _ => None,
        }
    }
}

/// The moment as a year with its part, Y + (day of year - 1 + part of day) / days in year; `None` outside the calendar.
pub fn decimal_year(when: UtcMs) -> Option<f64> {
    let date = civil(when)?.date();
    let into_day = when.0.rem_euclid(UtcMs::DAY) as f64 / UtcMs::DAY as f64;
    let days = f64::from(date.day_of_year()) - 1.0 + into_day;
    Some(f64::from(date.year()) + days / f64::from(date.days_in_year()))
}

fn year_and_day(when: UtcMs) -> Option<(i16, u16)> {
    let date = civil(when)?.date();
    Some((date.year(), u16::try_from(date.day_of_year()).ok()?))
}

fn civil(when: UtcMs) -> Option<DateTime> {
    Some(Offset::UTC.to_datetime(Timestamp::from_millisecond(when.0).ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Result<Declination, NoDeclination> {
        let place = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        declination(place, Metres(80.0), UtcMs::parse(text).unwrap())
    }

    #[test]
    fn outside_its_years_it_says_so_in_words() {
        assert!(at("2020-01-01T00:00:00Z").is_ok());
        assert!(at("2029-12-31T23:59:59.999Z").is_ok());
        let error = at("2030-01-01T00:00:00Z").unwrap_err();
        assert_eq!(error, NoDeclination::Year(2030.0));
        assert!(error.to_string().contains("2020 to the end of 2029"), "{error}");
        assert!(at("2019-12-31T23:59:59Z").is_err());
    }

    #[test]
    fn neither_wild_moments_nor_heights_get_an_answer() {
        let place = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        assert_eq!(
            declination(place, Metres(0.0), UtcMs(i64::MAX)),
            Err(NoDeclination::Moment(i64::MAX))
        );
        let when = UtcMs::parse("2026-05-02T00:00:00Z").unwrap();
        assert!(matches!(
            declination(place, Metres(f64::NAN), when),
            Err(NoDeclination::Height(_))
        ));
    }

    #[test]
    fn a_bearing_comes_back_from_the_compass() {
        let here = at("2026-05-02T00:00:00Z").unwrap();
        let bearing = Degrees(359.9);
        let back = here.to_true(here.to_magnetic(bearing).unwrap()).unwrap();
        assert!((back.0 - bearing.0).abs() < 1e-9, "{back:?}");
        assert_eq!(here.model, Model::Wmm2025);
        assert_eq!(here.zone.caution(), None);
    }
}
