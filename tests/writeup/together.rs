//! Two surveys of the same ground in one write-up: the figures of `farpace figures`, private where asked, harmless.

use std::collections::BTreeMap;

use super::made::{self, Words};
use super::{Desk, files, texts};

const SURVEYS: [&str; 2] = ["2026-05-02-1941-orchard", "2026-05-23-1010-orchard"];

fn desk(words: &Words) -> Desk {
    let desk = Desk::with(words);
    made::survey(&desk.at(SURVEYS[1]), words);
    desk
}

fn report(desk: &Desk, name: &str, more: &[&str]) -> BTreeMap<String, Vec<u8>> {
    let mut arguments = vec!["report", SURVEYS[0], SURVEYS[1], "--out", name];
    arguments.extend(more);
    desk.run(&arguments).success();
    files(&desk.at(name))
}

fn figures(desk: &Desk) -> serde_json::Value {
    let output = desk.run(&["figures", SURVEYS[0], SURVEYS[1], "--json"]).success();
    serde_json::from_slice(&output.get_output().stdout).unwrap()
}

#[test]
fn what_it_says_of_both_is_what_figures_say() {
    let desk = desk(&Words::plain());
    let made = report(&desk, "one", &[]);
    assert!(made == report(&desk, "two", &[]), "made again it differs");
    let page = String::from_utf8(made["report.html"].clone()).unwrap();
    let markdown = String::from_utf8(made["report.md"].clone()).unwrap();
    let told = figures(&desk);
    let pairs = told["together"]["pairs"].as_array().unwrap();
    assert_eq!(pairs.len(), 2, "both boards are in both surveys");
    for (index, pair) in pairs.iter().enumerate() {
        let answer = pair["answer"].as_str().unwrap();
        assert!(
            page.contains(&answer.replace('\'', "&#39;")),
            "the page lacks: {answer}"
        );
        assert!(markdown.contains(&answer[..40]), "Markdown lacks: {answer}");
        let Some(table) = made.get(&format!("tables/together-{}-places.csv", index + 1)) else {
            assert_eq!(pair["places"].as_array().unwrap().len(), 0);
            continue;
        };
        let mut rows = csv::Reader::from_reader(table.as_slice());
        let head = rows.headers().unwrap().clone();
        let column = |name: &str| head.iter().position(|head| head == name).unwrap();
        let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
        let places = pair["places"].as_array().unwrap();
        assert_eq!(rows.len(), places.len());
        for (row, place) in rows.iter().zip(places) {
            let number = |name: &str| row[column(name)].parse::<f64>().ok();
            let close = |found: Option<f64>, told: &serde_json::Value, within: f64| match (found, told.as_f64()) {
                (Some(found), Some(told)) => assert!((found - told).abs() <= within, "{found} is not {told}"),
                (found, told) => assert_eq!(found, told),
            };
            close(number("east_m"), &place["east_m"], 0.0);
            close(number("a_messages"), &place["first"]["messages"], 0.0);
            close(number("b_rate_low"), &place["second"]["rate"]["low"], 6e-5);
            close(
                number("rate_difference_high"),
                &place["delivery_difference"]["high"],
                6e-5,
            );
            close(
                number("level_difference_db"),
                &place["level_difference_db"]["value"],
                6e-3,
            );
        }
        assert!(made.contains_key(&format!("figures/together-{}-map.png", index + 1)));
    }
}

#[test]
fn both_stay_private() {
    let words = Words {
        title: "Larkfield 52.10012".to_owned(),
        ..Words::plain()
    };
    let desk = desk(&words);
    for (name, text) in texts(&report(&desk, "closed", &["--private"])) {
        for coordinate in ["52.1", "-2.9", "−2.9"] {
            for (at, _) in text.match_indices(coordinate) {
                let rest = text[at + coordinate.len()..].bytes();
                assert!(rest.take_while(u8::is_ascii_digit).count() < 3, "{name} tells where");
            }
        }
        assert!(!text.contains("lat_deg"), "{name}");
    }
    for (name, text) in texts(&report(&desk, "silent", &["--private", "--no-words"])) {
        for word in ["Larkfield", "packing", "stile", "hedge", SURVEYS[1]] {
            assert!(!text.contains(word), "{name} tells {word}");
        }
    }
}

#[test]
fn hostile_words_stay_words() {
    let desk = desk(&Words::hostile());
    for (name, text) in texts(&report(&desk, "hostile", &[])) {
        // Markdown keeps the words, each sign that could be obeyed behind a backslash.
        let text = text.replace("\\<", "");
        if !name.ends_with(".csv") {
            for markup in ["<script", "<img", "<iframe", "<b onmouseover", "\u{202E}", "\u{2028}"] {
                assert!(!text.contains(markup), "{name} holds {markup}");
            }
        }
    }
}
