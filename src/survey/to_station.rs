//! The way from a row to the station, as `samples.csv` will say it.

use crate::ground::{Position, Vantage, Way, separation};
use crate::units::{Degrees, Metres};

/// Nearer than this the bearing is left out: the distance is written as 0.00.
const NO_BEARING_M: f64 = 0.005;
/// How far a quick way may lie beside the geodesic, metres: five times what [`Vantage`] promises.
const DOUBT_M: f64 = 1e-6;

/// The way from `place` to the station; the bearing is left out where the distance is written as 0.00.
///
/// It is the geodesic (Karney 2013) within a micrometre, and what is written of it (centimetres, tenths of a degree) is the
/// geodesic's to the last digit: where the doubt could tip the rounding, the geodesic itself is worked out.
pub fn to_station(station: &Vantage, place: Position) -> Way {
    let quick = station.from(place);
    let way = if may_tip(quick) {
        let exact = separation(place, station.position());
        Way {
            distance: exact.distance,
            bearing: exact.bearing,
        }
    } else {
        quick
    };
    Way {
        bearing: way.bearing.filter(|_| way.distance.0 >= NO_BEARING_M),
        ..way
    }
}

/// Whether the doubt reaches across a half of what is written last.
fn may_tip(way: Way) -> bool {
    let near_half = |steps: f64, doubt: f64| ((steps - steps.floor()) - 0.5).abs() <= doubt;
    let Metres(metres) = way.distance;
    near_half(metres * 100.0, DOUBT_M * 100.0)
        || way
            .bearing
            .is_none_or(|Degrees(degrees)| near_half(degrees * 10.0, (DOUBT_M / metres).to_degrees() * 10.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::destination;

    /// As the columns are written: centimetres and tenths of a degree below 360.
    fn written(distance: Metres, bearing: Option<Degrees>) -> (String, Option<String>) {
        let tenths = bearing.map(|bearing| (bearing.0 * 10.0).round() % 3600.0);
        (
            format!("{:.2}", distance.0),
            tenths.map(|tenths| format!("{:.1}", tenths / 10.0)),
        )
    }

    /// Places on a walk outwards, all round, half of them so near a half that only the geodesic can tell.
    #[test]
    fn what_is_written_is_the_geodesic_to_the_last_digit() {
        let here = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        let station = Vantage::at(here);
        let mut tipped = 0;
        for step in 0..60_000_u32 {
            let metres = f64::from(step) * 0.005 + f64::from(step % 7) * 1e-8;
            let place = destination(here, Degrees(f64::from(step) * 0.35 + 0.05), Metres(metres)).unwrap();
            let exact = separation(place, here);
            let bearing = exact.bearing.filter(|_| exact.distance.0 >= NO_BEARING_M);
            let way = to_station(&station, place);
            assert_eq!(
                written(way.distance, way.bearing),
                written(exact.distance, bearing),
                "{place:?}"
            );
            tipped += u32::from(may_tip(station.from(place)));
        }
        assert!(tipped > 20_000, "halves were asked for: {tipped}");
    }
}
