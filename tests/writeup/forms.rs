//! Exports against the rules of their forms, and the published rows for them.

use farpace::writeup::document::{Cell, DataTable};
use farpace::writeup::export::geojson::Bounds;
use farpace::writeup::svg::polar::polar_xy;
use farpace::writeup::tables;
use serde_json::Value;

use super::Desk;
use super::made::Words;
use super::page::{guarded, well_formed};
use super::reference::rows;

const TABLE: &str = include_str!("../reference/fileformats.csv");

#[test]
fn polar_places_follow_the_published_rows() {
    let mut checked = 0;
    for row in rows(TABLE).iter().filter(|row| row.quantity == "svg_polar_xy") {
        let centre = (row.number("cx"), row.number("cy"));
        let (x, y) = polar_xy(centre, row.number("bearing_deg"), row.number("r"));
        row.assert_all_near(&[x, y]);
        checked += 1;
    }
    assert_eq!(checked, 5);
}

#[test]
fn bounds_follow_the_published_rows() {
    let mut checked = 0;
    for row in rows(TABLE).iter().filter(|row| row.quantity == "geojson_bbox") {
        let mut bounds: Option<Bounds> = None;
        for place in row.text("lonlat").split('|') {
            let (lon, lat) = place.split_once('/').unwrap();
            let (lon, lat) = (lon.parse().unwrap(), lat.parse().unwrap());
            match &mut bounds {
                Some(bounds) => bounds.add(lon, lat),
                None => bounds = Some(Bounds::of(lon, lat)),
            }
        }
        let expected: Vec<f64> = row.expected.split(',').map(|number| number.parse().unwrap()).collect();
        assert_eq!(bounds.unwrap().bbox(), expected, "{}", row.id);
        checked += 1;
    }
    assert_eq!(checked, 2);
}

#[test]
fn cells_are_quoted_as_published_and_never_run() {
    let written = |cell: Cell| {
        let table = DataTable {
            name: "t".to_owned(),
            head: vec!["a", "b"],
            rows: vec![vec![cell, Cell::Number("-71.5".to_owned())]],
        };
        let text = String::from_utf8(tables::csv(&table).unwrap()).unwrap();
        text.strip_prefix("a,b\n")
            .unwrap()
            .strip_suffix(",-71.5\n")
            .unwrap()
            .to_owned()
    };
    let mut checked = 0;
    for row in rows(TABLE) {
        match row.quantity.as_str() {
            // A line break does not stay in a cell here: it is written out, so that a row is a line.
            "csv_quote" if row.id != "FMT0052" => {
                assert_eq!(
                    written(Cell::Text(row.text("field").to_owned())),
                    row.expected,
                    "{}",
                    row.id
                );
            }
            "csv_formula_injection_note" => {
                let field = row.text("field");
                assert_eq!(written(Cell::Text(field.to_owned())), format!("'{field}"), "{}", row.id);
            }
            _ => continue,
        }
        checked += 1;
    }
    assert_eq!(checked, 7);
    assert_eq!(written(Cell::Text("a\r\nb".to_owned())), "a\\u{D}\\u{A}b");
}

#[test]
fn geojson_keeps_to_its_standard() {
    for words in [Words::plain(), Words::hostile()] {
        let text = Desk::with(&words).export("geojson", &[]);
        let collection: geojson::FeatureCollection = text.parse().unwrap();
        let json: Value = serde_json::from_str(&text).unwrap();
        assert_eq!(json["type"], "FeatureCollection");
        assert!(json.get("crs").is_none(), "RFC 7946, 4: no other reference system");
        let bbox: Vec<f64> = json["bbox"]
            .as_array()
            .unwrap()
            .iter()
            .map(|v| v.as_f64().unwrap())
            .collect();
        assert_eq!(bbox.len(), 4);
        let mut kinds = std::collections::BTreeSet::new();
        let mut placed = 0;
        for feature in json["features"].as_array().unwrap() {
            assert_eq!(feature["type"], "Feature");
            assert!(feature["properties"].is_object() && feature.get("geometry").is_some());
            kinds.insert(feature["properties"]["kind"].as_str().unwrap().to_owned());
            let Some(place) = feature["geometry"]["coordinates"].as_array() else {
                continue;
            };
            placed += 1;
            assert_eq!(feature["geometry"]["type"], "Point");
            assert_eq!(place.len(), 2, "a height above the sea is none above the ellipsoid");
            let (lon, lat) = (place[0].as_f64().unwrap(), place[1].as_f64().unwrap());
            assert!((bbox[0]..=bbox[2]).contains(&lon) && (bbox[1]..=bbox[3]).contains(&lat));
            assert!(
                (-2.95..-2.85).contains(&lon) && (52.05..52.15).contains(&lat),
                "longitude first"
            );
        }
        assert!(placed > 700 && collection.features.len() >= placed);
        for kind in ["station", "sample", "point", "place", "spot"] {
            assert!(kinds.contains(kind), "no {kind}");
        }
        assert!(!text.contains('\u{202E}') && !text.contains("\\u001b"));
    }
}

#[test]
fn xml_forms_are_well_formed_and_in_order() {
    for words in [Words::plain(), Words::hostile()] {
        let desk = Desk::with(&words);
        let gpx = desk.export("gpx", &[]);
        well_formed("gpx", &gpx);
        assert!(gpx.contains("version=\"1.1\"") && gpx.contains("creator=\"farpace\""));
        let (metadata, wpt, trk) = (gpx.find("<metadata>"), gpx.find("<wpt "), gpx.find("<trk>"));
        assert!(metadata < wpt && wpt < trk && metadata.is_some());
        let track = gpx.matches("<trkpt ").count();
        assert!(track > 150, "{track}");
        // Station, two boards at two points each, a sweep, spots.
        assert!(gpx.matches("<wpt ").count() >= 6);
        let kml = desk.export("kml", &[]);
        well_formed("kml", &kml);
        for folder in ["stations", "samples", "points", "places", "spots"] {
            assert!(kml.contains(&format!("<name>{folder}</name>")), "no {folder}");
        }
        for text in [&gpx, &kml] {
            assert!(!text.contains("<script") && !text.contains('\u{202E}') && !text.contains('\u{1B}'));
        }
        // What a viewer of KML would take for HTML once the XML is read.
        assert!(!kml.contains("&lt;script") && !kml.contains("&lt;iframe"));
    }
}

#[test]
fn points_are_handed_on_with_level_margin_and_what_is_proven() {
    let desk = Desk::with(&Words::plain());
    let json: Value = serde_json::from_str(&desk.export("geojson", &[])).unwrap();
    let of_kind = |kind: &'static str| {
        let features = json["features"].as_array().unwrap().iter();
        features
            .map(|feature| &feature["properties"])
            .filter(move |of| of["kind"] == kind)
    };
    let runs: Vec<&Value> = of_kind("point").filter(|of| of["activity"] == "point").collect();
    assert!(!runs.is_empty());
    for run in &runs {
        for key in [
            "delivered_low",
            "delivered_high",
            "level_dbm",
            "level_low_dbm",
            "level_high_dbm",
        ] {
            assert!(run[key].is_number(), "{key} of {run}");
        }
        assert!(run.get("rate_low").is_none(), "{run}");
    }
    assert!(runs.iter().any(|run| run["proven"].is_number()));
    assert!(of_kind("second").all(|place| place.get("chance").is_none_or(Value::is_null)));
    let gpx = desk.export("gpx", &[]);
    assert!(gpx.contains(" % sure to meet the goal, "), "{gpx}");
    let digits = regex::Regex::new(r"<desc>[^<]*\d\.\d\d[^<]*</desc>").unwrap();
    assert!(!digits.is_match(&gpx), "{:?}", digits.find(&gpx));
}

#[test]
fn the_csv_export_opens_without_running() {
    for words in [Words::plain(), Words::hostile()] {
        let desk = Desk::with(&words);
        let text = desk.export("csv", &[]);
        guarded("export", &text);
        assert_eq!(text, desk.export("csv", &[]), "made again it is the same");
    }
}

#[test]
fn an_export_is_not_written_over_unasked() {
    let desk = Desk::with(&Words::plain());
    std::fs::write(desk.at("mine.csv"), "precious").unwrap();
    desk.run(&["export", "2026-05-02-1941-orchard", "--as", "csv", "--out", "mine.csv"])
        .failure()
        .code(1);
    assert_eq!(std::fs::read_to_string(desk.at("mine.csv")).unwrap(), "precious");
    desk.run(&["export", "2026-05-02-1941-orchard", "--as", "shapefile", "--out", "x"])
        .failure()
        .code(2);
}
