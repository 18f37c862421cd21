//! Figures for other eyes: metres east and north of the station for every coordinate.

use serde_json::{Value, json};

use crate::ground::Position;
use crate::ground::local::LocalPlane;
use crate::units::Degrees;

/// Turns every `lat_deg` and `lon_deg` in `value`, however deep, into `east_m` and `north_m` about the plane's origin; without
/// a plane there is nothing to count from, and they are null.
pub fn in_metres(value: &mut Value, plane: Option<&LocalPlane>) {
    match value {
        Value::Array(values) => values.iter_mut().for_each(|value| in_metres(value, plane)),
        Value::Object(object) => {
            let (lat, lon) = (object.remove("lat_deg"), object.remove("lon_deg"));
            if lat.is_some() || lon.is_some() {
                let (east, north) = metres(place(lat, lon), plane);
                object.insert("east_m".to_owned(), east);
                object.insert("north_m".to_owned(), north);
            }
            object.values_mut().for_each(|value| in_metres(value, plane));
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

fn place(lat: Option<Value>, lon: Option<Value>) -> Option<Position> {
    let degrees = |value: Option<Value>| Some(Degrees(value?.as_f64()?));
    Position::new(degrees(lat)?, degrees(lon)?).ok()
}

fn metres(place: Option<Position>, plane: Option<&LocalPlane>) -> (Value, Value) {
    let offset = place.zip(plane).map(|(place, plane)| plane.offset(place));
    let centimetres = |metres: f64| json!((metres * 100.0).round() / 100.0);
    offset.map_or((Value::Null, Value::Null), |offset| {
        (centimetres(offset.east.0), centimetres(offset.north.0))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_become_metres_however_deep() {
        let station = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        let plane = LocalPlane::about(station);
        let value = || {
            json!({
                "station": { "lat_deg": 52.1, "lon_deg": -2.9, "name": "shed" },
                "points": [{ "lat_deg": 52.101, "lon_deg": -2.9 }, { "lat_deg": null, "lon_deg": null }],
            })
        };
        let mut told = value();
        in_metres(&mut told, Some(&plane));
        assert_eq!(
            told["station"],
            json!({ "east_m": 0.0, "north_m": 0.0, "name": "shed" })
        );
        assert!((told["points"][0]["north_m"].as_f64().unwrap() - 111.27).abs() < 0.1);
        assert_eq!(told["points"][1], json!({ "east_m": null, "north_m": null }));
        let mut nowhere = value();
        in_metres(&mut nowhere, None);
        assert_eq!(nowhere["points"][0], json!({ "east_m": null, "north_m": null }));
    }
}
