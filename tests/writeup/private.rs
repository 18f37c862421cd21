//! With privacy, no position leaves, nor, on request, a word.

use std::collections::BTreeSet;

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

/// Every way of writing a coordinate of the survey to some ten metres or closer: decimal degrees, and degrees with minutes as a
/// receiver sends them.
fn written_coordinates(samples: &str) -> BTreeSet<String> {
    let mut reader = csv::Reader::from_reader(samples.as_bytes());
    let head = reader.headers().unwrap().clone();
    let columns = ["lat_deg", "lon_deg"].map(|name| head.iter().position(|column| column == name).unwrap());
    let mut written = BTreeSet::new();
    for record in reader.records() {
        let record = record.unwrap();
        for (column, width) in columns.iter().zip([2, 3]) {
            let Ok(degrees) = record[*column].parse::<f64>() else {
                continue;
            };
            let degrees = degrees.abs();
            let whole = degrees.trunc();
            let minutes = (degrees - whole) * 60.0;
            let cut = |text: String, decimals: usize| {
                let point = text.find('.').unwrap();
                text[..=point + decimals].to_owned()
            };
            written.insert(cut(format!("{degrees:.9}"), 4));
            written.insert(cut(format!("{whole:0width$}{minutes:012.9}"), 2));
        }
    }
    written
}

/// The numbers with a point in a text, however they are set off.
fn numbers(text: &str) -> impl Iterator<Item = &str> {
    text.split(|sign: char| !(sign.is_ascii_digit() || sign == '.'))
        .filter(|word| word.contains('.'))
}

/// The number that tells a position, where there is one.
fn leak<'a>(written: &BTreeSet<String>, text: &'a str) -> Option<&'a str> {
    numbers(text).find(|number| {
        // Nothing sorts between a number and its own beginning but other beginnings of it.
        let beginnings = (1..=number.len()).filter_map(|end| number.get(..end));
        beginnings.into_iter().any(|beginning| written.contains(beginning))
    })
}

#[test]
fn no_private_output_writes_a_coordinate_of_the_survey() {
    let desk = Desk::with(&telling());
    let written = written_coordinates(&desk.export("csv", &[]));
    assert!(written.len() > 20, "{written:?}");
    assert!(written.iter().any(|one| one.starts_with("5206.")), "{written:?}");
    let figures = |more: &[&str]| {
        let mut arguments = vec!["figures", "2026-05-02-1941-orchard"];
        arguments.extend(more);
        let output = desk.run(&arguments).success().get_output().clone();
        String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap()
    };
    // The check finds what is told openly.
    assert!(leak(&written, &figures(&[])).is_some());
    assert!(leak(&written, &figures(&["--json"])).is_some());
    assert!(leak(&written, &desk.export("geojson", &[])).is_some());
    assert!(leak(&written, "$GPGGA,120000,5206.0012,N,00254.0001,W").is_some());
    for words in [&["--private"][..], &["--private", "--no-words"]] {
        let with = |more: &[&'static str]| [words, more].concat();
        for (name, text) in texts(&desk.report(&format!("report-{}", words.len()), words)) {
            assert_eq!(leak(&written, text), None, "{name}");
        }
        for form in ["csv", "geojson"] {
            assert_eq!(leak(&written, &desk.export(form, words)), None, "{form}");
        }
        for more in [&[][..], &["--json"]] {
            let text = figures(&with(more));
            assert_eq!(leak(&written, &text), None, "figures {more:?}");
            assert!(!text.contains("lat_deg"), "figures {more:?}");
            assert!(text.contains(" m E") || text.contains("east_m"), "figures {more:?}");
        }
    }
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
            "stile",
            "2026-05-02-1941-orchard",
        ] {
            assert!(!text.contains(word), "{name} tells {word}");
        }
    }
    for form in ["csv", "geojson"] {
        let text = desk.export(form, &["--private", "--no-words"]);
        assert!(!text.contains("Larkfield") && !text.contains("stile") && !text.contains("packing"));
    }
    for more in [&[][..], &["--json"]] {
        let arguments = [&["figures", "2026-05-02-1941-orchard", "--private", "--no-words"], more].concat();
        let output = desk.run(&arguments).success().get_output().clone();
        let text = String::from_utf8(output.stdout).unwrap();
        for word in ["Larkfield", "packing", "hedge", "stile", "2026-05-02-1941-orchard"] {
            assert!(!text.contains(word), "{word}: {text}");
        }
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
        let output = desk
            .run(&[
                "export",
                "2026-05-02-1941-orchard",
                "--as",
                form,
                "--out",
                &name,
                "--private",
            ])
            .failure()
            .code(2)
            .get_output()
            .clone();
        // A refusal names what to do instead.
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(said.contains("--as csv or --as geojson"), "{said}");
        assert!(!desk.at(&name).exists());
    }
}
