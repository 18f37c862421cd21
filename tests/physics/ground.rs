//! Distance, bearing, local plane, declination and compass words against published values.

use farpace::ground::declination::{CompassZone, Model, NoDeclination, decimal_year, declination, true_bearing};
use farpace::ground::local::metres_per_degree;
use farpace::ground::slant::{Topocentric, slant_range, topocentric};
use farpace::ground::{LocalPlane, Position, Separation, compass, destination, separation};
use farpace::units::{Degrees, Metres, UtcMs};

use crate::checks::{Check, Outcome, run};

fn place(check: &Check, which: &str) -> Position {
    Position::new(
        Degrees(check.input(&format!("lat{which}"))),
        longitude(check.input(&format!("lon{which}"))),
    )
    .unwrap()
}

/// Some published points count longitude on past 180 degrees.
fn longitude(degrees: f64) -> Degrees {
    Degrees(0.0).turn_to(Degrees(degrees))
}

fn way(check: &Check) -> Separation {
    separation(place(check, "1"), place(check, "2"))
}

fn line(check: &Check) -> Topocentric {
    topocentric(
        place(check, "1"),
        Metres(check.input("h1")),
        place(check, "2"),
        Metres(check.input("h2")),
    )
    .unwrap()
}

/// A bearing in the turn nearest to the printed one, so that 359.999… meets 0.
fn towards(check: &Check, bearing: Option<Degrees>) -> Option<f64> {
    let expected: f64 = check.expected.parse().ok()?;
    Some(expected + Degrees(expected).turn_to(bearing?).0)
}

/// The same ground distance on a sphere of radius 6371008.8 m, to show how far off a sphere is.
fn haversine(from: Position, to: Position) -> f64 {
    let (a, b) = (from.lat().0.to_radians(), to.lat().0.to_radians());
    let half = |angle: f64| (angle / 2.0).sin().powi(2);
    let east = (to.lon().0 - from.lon().0).to_radians();
    2.0 * 6_371_008.8 * (half(b - a) + a.cos() * b.cos() * half(east)).sqrt().asin()
}

/// Rows on other ellipsoids are left out of the table; those on GRS 80 differ from WGS 84 by less than 0.1 mm.
#[test]
fn every_distance_and_bearing() {
    let counts = run(include_str!("../reference/geodesy.csv"), |check| {
        let direct = || {
            let bearing = Degrees(check.input("azi1"));
            destination(place(check, "1"), bearing, Metres(check.input("s12"))).unwrap()
        };
        let offset = || LocalPlane::about(place(check, "1")).offset(place(check, "2"));
        Outcome::Number(match check.quantity.as_str() {
            "geodesic_distance" => Some(way(check).distance.0),
            "initial_azimuth_true" => towards(check, way(check).bearing),
            "back_azimuth_true" => towards(check, way(check).back),
            "direct_lat2" => Some(direct().lat().0),
            "direct_lon2_wrapped" => towards(check, Some(direct().lon())),
            "slant_range" => Some(line(check).slant_range().0),
            "elevation_angle" => line(check).elevation().map(Degrees::get),
            "enu_east" => Some(line(check).east.0),
            "enu_north" => Some(line(check).north.0),
            "enu_up" => Some(line(check).up.0),
            "slant_range_pythagoras_on_geodesic" => {
                let rise = Metres(check.input("h2") - check.input("h1"));
                Some(slant_range(way(check).distance, rise).0)
            }
            "local_east" => Some(offset().east.0),
            "local_north" => Some(offset().north.0),
            "metres_per_degree_latitude" => Some(metres_per_degree(Degrees(check.input("lat"))).unwrap().0.0),
            "metres_per_degree_longitude" => Some(metres_per_degree(Degrees(check.input("lat"))).unwrap().1.0),
            "haversine_error_percent" => {
                let true_distance = way(check).distance.0;
                let sphere = haversine(place(check, "1"), place(check, "2"));
                Some((sphere / true_distance - 1.0) * 100.0)
            }
            "magnetic_to_true_bearing" => true_bearing(
                Degrees(check.input("magnetic")),
                Degrees(check.input("declination_east_positive")),
            )
            .map(Degrees::get),
            other => panic!("{}: no formula for {other}", check.id),
        })
    });
    assert_eq!(counts.values().sum::<usize>(), 298);
    assert_eq!(counts["geodesic_distance"], 58);
}

/// The moment of a decimal year, from the two new years about it.
fn moment(year: f64) -> UtcMs {
    let new_year = |year: f64| UtcMs::parse(&format!("{year:04}-01-01T00:00:00Z")).unwrap().0 as f64;
    let (from, to) = (new_year(year.floor()), new_year(year.floor() + 1.0));
    UtcMs((from + (year - year.floor()) * (to - from)).round() as i64)
}

#[test]
fn every_declination() {
    let counts = run(include_str!("../reference/declination.csv"), |check| {
        let at = || {
            declination(
                Position::new(Degrees(check.input("lat")), longitude(check.input("lon"))).unwrap(),
                Metres(check.input("height_km") * 1000.0),
                moment(check.input("decimal_year")),
            )
            .unwrap()
        };
        match check.quantity.as_str() {
            "declination" => Outcome::Number(Some(at().east_deg.0)),
            "declination_1sigma_error" => Outcome::Number(Some(at().sigma_deg.0)),
            "horizontal_intensity" => Outcome::Number(Some(at().horizontal_nt)),
            "model_date_validity" => {
                let here = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
                let found = declination(here, Metres(0.0), moment(check.input("decimal_year")));
                let in_edition = found.is_ok_and(|found| found.model == Model::Wmm2025);
                Outcome::Word(if in_edition { "valid" } else { "out_of_range" }.to_owned())
            }
            "compass_zone" => Outcome::Word(
                match CompassZone::of_field(check.input("H_nT")) {
                    CompassZone::Normal => "normal",
                    CompassZone::Caution => "caution",
                    CompassZone::Blackout => "blackout",
                }
                .to_owned(),
            ),
            "decimal_year" => {
                let time = check.word("time").trim_end_matches('Z');
                let text = format!("{}T{time}:00Z", check.word("date"));
                Outcome::Number(decimal_year(UtcMs::parse(&text).unwrap()))
            }
            other => panic!("{}: no formula for {other}", check.id),
        }
    });
    assert_eq!(counts.values().sum::<usize>(), 183);
}

#[test]
fn past_the_last_model_there_is_no_declination() {
    let here = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
    let late = declination(here, Metres(0.0), moment(2031.5));
    assert!(
        matches!(late, Err(NoDeclination::Year(year)) if (year - 2031.5).abs() < 1e-6),
        "{late:?}"
    );
}

#[test]
fn every_compass_point() {
    let counts = run(include_str!("../reference/compass.csv"), |check| {
        let bearing = Degrees(check.input("deg"));
        match check.quantity.as_str() {
            "compass_point_16" => Outcome::Word(compass::point(bearing).unwrap().to_owned()),
            "normalize_bearing" => Outcome::Number(bearing.normalised().map(Degrees::get)),
            other => panic!("{}: no formula for {other}", check.id),
        }
    });
    assert_eq!(counts.values().sum::<usize>(), 9);
}
