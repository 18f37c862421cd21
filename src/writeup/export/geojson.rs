//! GeoJSON (RFC 7946): a feature for each thing, longitude before latitude, no height (the receiver's is above mean sea
//! level, the standard's above the ellipsoid: it stands among the properties as `alt_m`).
//!
//! With privacy a feature has no geometry, for coordinates there are degrees by the standard; metres east and north stand
//! among its properties.

use geojson::{Feature as Json, FeatureCollection, Geometry, JsonObject, JsonValue};

use super::features::{COLUMNS, Feature, each};
use crate::writeup::private::{Teller, Told};
use crate::writeup::subject::Subject;
use crate::writeup::text::clean;

/// Writes it.
pub fn write(subject: &Subject, teller: &Teller) -> Vec<u8> {
    let mut bounds: Option<Bounds> = None;
    let mut features = Vec::new();
    each(subject, teller, |feature| {
        if let Some(Told::Degrees(position)) = feature.place {
            let (lon, lat) = (position.lon().0, position.lat().0);
            match &mut bounds {
                Some(bounds) => bounds.add(lon, lat),
                None => bounds = Some(Bounds::of(lon, lat)),
            }
        }
        features.push(json(feature));
    });
    let mut members = JsonObject::new();
    if !subject.setup.title.is_empty() {
        members.insert("title".to_owned(), clean(&subject.setup.title).into());
    }
    let collection = FeatureCollection {
        bbox: bounds.map(|bounds| bounds.bbox()),
        features,
        foreign_members: (!members.is_empty()).then_some(members),
    };
    let mut bytes = geojson::GeoJson::from(collection).to_string().into_bytes();
    bytes.push(b'\n');
    bytes
}

fn json(feature: &Feature) -> Json {
    let mut properties = JsonObject::new();
    for ((column, number), cell) in COLUMNS.iter().zip(&feature.cells) {
        let value = match (cell.is_empty(), *number) {
            (true, _) => continue,
            (false, true) => as_number(cell),
            (false, false) => JsonValue::from(clean(cell)),
        };
        properties.insert((*column).to_owned(), value);
    }
    let geometry = match feature.place {
        Some(Told::Degrees(position)) => Some(Geometry::new_point([
            degrees(position.lon().0),
            degrees(position.lat().0),
        ])),
        Some(Told::Metres { east, north }) => {
            let centimetres = |metres: f64| JsonValue::from((metres * 100.0).round() / 100.0);
            properties.insert("east_m".to_owned(), centimetres(east));
            properties.insert("north_m".to_owned(), centimetres(north));
            None
        }
        None => None,
    };
    Json {
        bbox: None,
        geometry,
        id: None,
        properties: Some(properties),
        foreign_members: None,
    }
}

/// Degrees to 8 decimals, about a millimetre, as everywhere in the survey's files.
fn degrees(value: f64) -> f64 {
    (value * 1e8).round() / 1e8
}

fn as_number(cell: &str) -> JsonValue {
    if let Ok(whole) = cell.parse::<u64>() {
        return whole.into();
    }
    match cell.parse::<f64>() {
        Ok(number) if number.is_finite() => number.into(),
        _ => JsonValue::Null,
    }
}

/// What holds all places, also across the antimeridian, where west is then greater than east (RFC 7946, 5.2).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    first_lon: f64,
    west: f64,
    east: f64,
    south: f64,
    north: f64,
}

impl Bounds {
    /// Of one place, in degrees.
    pub fn of(lon: f64, lat: f64) -> Self {
        Self {
            first_lon: lon,
            west: 0.0,
            east: 0.0,
            south: lat,
            north: lat,
        }
    }

    /// Takes in another.
    pub fn add(&mut self, lon: f64, lat: f64) {
        // The short way from the first place: a survey is small against the globe.
        let away = (lon - self.first_lon + 540.0).rem_euclid(360.0) - 180.0;
        self.west = self.west.min(away);
        self.east = self.east.max(away);
        self.south = self.south.min(lat);
        self.north = self.north.max(lat);
    }

    /// West, south, east, north.
    pub fn bbox(&self) -> Vec<f64> {
        let wrapped = |away: f64| {
            let lon = self.first_lon + away;
            degrees(if lon > 180.0 {
                lon - 360.0
            } else if lon < -180.0 {
                lon + 360.0
            } else {
                lon
            })
        };
        vec![
            wrapped(self.west),
            degrees(self.south),
            wrapped(self.east),
            degrees(self.north),
        ]
    }
}
