//! With privacy, no position leaves, nor, on request, a word.

use super::made::Words;
use super::{Desk, texts};

/// The beginnings of the station's coordinates as any file would write them, and of the receiver's sentences.
const COORDINATES: [&str; 5] = ["52.1", "-2.9", "−2.9", "5206.", "00253."];

fn telling() -> Words {
    Words {
        note: "shed at 52.10000, -2.90000".to_owned(),
        title: "Larkfield 52.10012".to_owned(),
        ..Words::plain()
    }
}

#[test]
fn no_coordinate_is_in_a_private_report() {
    let desk = Desk::with(&telling());
    let open = desk.report("open", &[]);
    assert!(
        texts(&open).any(|(_, text)| text.contains("52.1")),
        "the check finds nothing"
    );
    let report = desk.report("closed", &["--private"]);
    for (name, text) in texts(&report) {
        for coordinate in COORDINATES {
            // Statistics may hold the same digits: only what is written like a coordinate counts.
            for (at, _) in text.match_indices(coordinate) {
                let decimals = text[at + coordinate.len()..]
                    .bytes()
                    .take_while(u8::is_ascii_digit)
                    .count();
                assert!(decimals < 3, "{name}: {}", &text[at..at + coordinate.len() + decimals]);
            }
        }
        assert!(!text.contains("lat_deg"), "{name}");
    }
    let points = std::str::from_utf8(&report["tables/points.csv"]).unwrap();
    assert!(points.lines().next().unwrap().contains("east_m,north_m"));
    let page = std::str::from_utf8(&report["report.html"]).unwrap();
    assert!(page.contains("packing shed"), "words stay unless asked for");
}

#[test]
fn no_word_is_in_it_on_request() {
    let desk = Desk::with(&Words::plain());
    let report = desk.report("closed", &["--private", "--no-words"]);
    for (name, text) in texts(&report) {
        for word in [
            "Larkfield",
            "packing",
            "light wind",
            "hedge",
            "gate",
            "2026-05-02-1941-orchard",
        ] {
            assert!(!text.contains(word), "{name} tells {word}");
        }
    }
    for form in ["csv", "geojson"] {
        let text = desk.export(form, &["--private", "--no-words"]);
        assert!(!text.contains("Larkfield") && !text.contains("gate") && !text.contains("packing"));
    }
}

#[test]
fn private_exports_give_metres() {
    let desk = Desk::with(&telling());
    let text = desk.export("csv", &["--private"]);
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head = reader.headers().unwrap().clone();
    let column = |name: &str| head.iter().position(|column| column == name).unwrap();
    let (east, north, distance, alt) = (
        column("east_m"),
        column("north_m"),
        column("distance_m"),
        column("alt_m"),
    );
    let mut compared = 0;
    for record in reader.records() {
        let record = record.unwrap();
        assert_eq!(&record[alt], "", "a height above the sea tells of the place");
        if let (Ok(east), Ok(north), Ok(distance)) = (
            record[east].parse::<f64>(),
            record[north].parse::<f64>(),
            record[distance].parse::<f64>(),
        ) {
            assert!((east.hypot(north) - distance).abs() < 0.02, "{record:?}");
            compared += 1;
        }
    }
    assert!(compared > 500, "{compared}");
    let json: serde_json::Value = serde_json::from_str(&desk.export("geojson", &["--private"])).unwrap();
    assert!(json.get("bbox").is_none());
    for feature in json["features"].as_array().unwrap() {
        assert!(feature["geometry"].is_null());
    }
    assert!(json["features"][5]["properties"]["east_m"].is_number());
    for form in ["gpx", "kml"] {
        let name = format!("x.{form}");
        desk.run(&[
            "export",
            "2026-05-02-1941-orchard",
            "--as",
            form,
            "--out",
            &name,
            "--private",
        ])
        .failure()
        .code(1);
        assert!(!desk.at(&name).exists());
    }
}
