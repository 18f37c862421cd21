//! The page, its Markdown, figures and tables.

use sha2::Digest as _;

use super::made::Words;
use super::{Desk, texts};

#[test]
fn made_again_it_is_the_same_byte_for_byte() {
    let desk = Desk::with(&Words::plain());
    let first = desk.report("one", &[]);
    let second = desk.report("two", &[]);
    assert_eq!(first.keys().collect::<Vec<_>>(), second.keys().collect::<Vec<_>>());
    for (name, bytes) in &first {
        assert!(second[name] == *bytes, "{name} differs");
    }
    let elsewhere = Desk::with(&Words::plain()).report("deeper", &[]);
    assert!(first == elsewhere, "the place of the folders shows");
}

#[test]
fn everything_asked_for_is_in_it() {
    let desk = Desk::with(&Words::plain());
    let report = desk.report("out", &[]);
    for name in [
        "report.html",
        "report.md",
        "figures/map.svg",
        "figures/map.png",
        "figures/level-1.svg",
        "figures/delivery-1.png",
        "figures/boards-at-points.svg",
        "figures/sweep-1.svg",
        "figures/places.svg",
        "tables/boards.csv",
        "tables/points.csv",
        "tables/ranges.csv",
        "tables/sweeps.csv",
        "tables/spots.csv",
    ] {
        assert!(report.contains_key(name), "{name} is missing of {:?}", report.keys());
    }
    let page = String::from_utf8(report["report.html"].clone()).unwrap();
    let markdown = String::from_utf8(report["report.md"].clone()).unwrap();
    for said in [
        "overhead lines",
        "people licensed for the work come first",
        "walker's body takes",
        "(about 0.8 s at 10 messages a second)",
        "Good: 90 % or more; poor: 10 % or less",
        "A place needs a local mean level of",
        concat!("Version ", env!("CARGO_PKG_VERSION")),
    ] {
        assert!(markdown.contains(said), "{said}");
    }
    assert!(!markdown.contains("allow\\."));
    let mut place = 0;
    for heading in [
        "The answer",
        "Set-up and conditions",
        "Map",
        "Delivery and level by distance",
        "Points by boards",
        "Polar plots",
        "Places",
        "How it was measured and computed",
        "What it does not tell",
        "Cautions",
        "To make it again",
    ] {
        let at = page
            .find(&format!(">{heading}</h2>"))
            .unwrap_or_else(|| panic!("{heading} is missing"));
        assert!(at > place, "{heading} is out of order");
        place = at;
        assert!(
            markdown.contains(&format!("\n## {heading}\n")),
            "{heading} is missing in Markdown"
        );
    }
    for needed in [
        "gap in the hedge",
        "packing shed",
        "dry, light wind",
        env!("CARGO_PKG_VERSION"),
    ] {
        assert!(
            page.contains(needed) && markdown.contains(needed),
            "{needed} is missing"
        );
    }
    // The hash that stands there is that of the journal.
    let digest = sha2::Sha256::digest(std::fs::read(desk.survey().join("journal.csv")).unwrap());
    let digest: String = digest
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect::<Vec<String>>()
        .concat();
    assert!(page.contains(&digest) && markdown.contains(&digest));
}

#[test]
fn the_page_needs_no_network_and_no_script() {
    let report = Desk::with(&Words::plain()).report("out", &[]);
    let page = String::from_utf8(report["report.html"].clone()).unwrap();
    for outside in [
        "<script", "<link", "<img", "<iframe", "src=", "href=", "@import", "url(", "http://", "https://",
    ] {
        assert!(!page.contains(outside), "{outside} is in the page");
    }
    let figures = page.matches("<svg class=\"fig\"").count();
    assert!(figures >= 6, "{figures} figures");
    assert_eq!(page.matches("role=\"img\"").count(), figures);
    for figure in page.split("<svg class=\"fig\"").skip(1) {
        let told = figure.split("<desc id=").nth(1).unwrap().split('>').nth(1).unwrap();
        assert!(told.len() > 60 && told.chars().any(|c| c.is_ascii_digit()), "{told}");
    }
}

#[test]
fn hostile_words_stay_words() {
    let desk = Desk::with(&Words::hostile());
    let report = desk.report("out", &[]);
    for (name, text) in texts(&report) {
        for hidden in ['\u{202E}', '\u{1B}', '\u{7}', '\u{2028}'] {
            assert!(!text.contains(hidden), "{hidden:?} is in {name}");
        }
        if !name.ends_with(".csv") && !name.ends_with(".md") {
            for markup in ["<script", "<img", "<iframe", "<b onmouseover", "</style></svg>", "<i>"] {
                assert!(!text.contains(markup), "{markup} is in {name}");
            }
        }
        if name.ends_with(".svg") {
            well_formed(name, text);
        }
        if name.ends_with(".csv") {
            guarded(name, text);
        }
    }
    let markdown = String::from_utf8(report["report.md"].clone()).unwrap();
    for (at, _) in markdown.match_indices('<') {
        assert!(
            markdown[..at].ends_with('\\'),
            "markup in Markdown: {}",
            &markdown[at..at + 20]
        );
    }
    for (at, _) in markdown.match_indices("](") {
        let after = &markdown[at + 2..];
        assert!(
            after.starts_with("figures/") || markdown[..at].ends_with('\\'),
            "a link in Markdown: {}",
            after.lines().next().unwrap()
        );
    }
    let page = std::str::from_utf8(&report["report.html"]).unwrap();
    assert!(page.contains("\\u{202E}gnp"), "what was hidden is not shown");
}

/// Reads XML to its end.
pub(crate) fn well_formed(name: &str, text: &str) {
    let mut reader = quick_xml::Reader::from_str(text);
    reader.config_mut().check_end_names = true;
    let mut depth = 0;
    loop {
        match reader.read_event() {
            Ok(quick_xml::events::Event::Start(_)) => depth += 1,
            Ok(quick_xml::events::Event::End(_)) => depth -= 1,
            Ok(quick_xml::events::Event::Eof) => break,
            Ok(_) => {}
            Err(error) => panic!("{name}: {error} at {}", reader.buffer_position()),
        }
    }
    assert_eq!(depth, 0, "{name} ends within an element");
}

/// Checks that no cell would run in a spreadsheet: what begins like a formula is a number.
pub(crate) fn guarded(name: &str, text: &str) {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let width = reader.headers().unwrap().len();
    let mut rows = 0;
    for record in reader.records() {
        let record = record.unwrap();
        assert_eq!(record.len(), width, "{name}");
        rows += 1;
        for cell in record.iter().filter(|cell| cell.starts_with(['=', '+', '-', '@'])) {
            assert!(cell.parse::<f64>().is_ok(), "{name}: {cell:?} would run");
        }
    }
    assert!(rows > 0, "{name} is empty");
}

#[test]
fn nothing_is_written_over_unasked() {
    let desk = Desk::with(&Words::plain());
    desk.report("out", &[]);
    let before = super::files(&desk.at("out"));
    let refused = desk
        .run(&["report", "2026-05-02-1941-orchard", "--out", "out"])
        .failure()
        .code(1);
    let said = String::from_utf8(refused.get_output().stderr.clone()).unwrap();
    assert!(said.contains("--force"), "{said}");
    assert!(before == super::files(&desk.at("out")));
    desk.report("out", &["--force"]);
}

#[test]
fn several_surveys_make_one_write_up() {
    let desk = Desk::with(&Words::plain());
    super::made::survey(&desk.at("other"), &Words::hostile());
    desk.run(&["report", "2026-05-02-1941-orchard", "other", "--out", "both"])
        .success();
    let report = super::files(&desk.at("both"));
    let page = std::str::from_utf8(&report["report.html"]).unwrap();
    assert!(page.contains("<h1>2 surveys</h1>") && page.contains("id=\"s2-points\""));
    assert!(report.contains_key("figures/s1-map.svg") && report.contains_key("tables/s2-points.csv"));
    // What is named twice could not be pointed at.
    let mut names: Vec<&str> = page
        .split(" id=\"")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .collect();
    let count = names.len();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), count);
}
