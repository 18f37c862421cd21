//! The same files through other people's programs; `.ci/install-outside` fetches them.

use std::path::Path;
use std::process::Command;

use super::made::Words;
use super::{Desk, files};

fn output(program: &str, arguments: &[&str]) -> String {
    let output = Command::new(program)
        .args(arguments)
        .output()
        .unwrap_or_else(|error| panic!("{program}: {error}; .ci/install-outside installs it"));
    let said = format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    assert!(output.status.success(), "{program} {arguments:?}: {said}");
    said
}

#[test]
#[ignore = "needs gdal-bin"]
fn a_gis_opens_every_form() {
    for words in [Words::plain(), Words::hostile()] {
        let desk = Desk::with(&words);
        for form in ["geojson", "gpx", "kml"] {
            desk.export(form, &[]);
            let file = desk.at(&format!("out.{form}"));
            let said = output("ogrinfo", &["-al", "-so", file.to_str().unwrap()]);
            assert!(!said.contains("ERROR") && !said.contains("Warning"), "{said}");
            // A layer of KML has no kind of geometry of its own.
            let geometry = if form == "kml" { "Unknown (any)" } else { "Point" };
            assert!(said.contains(&format!("Geometry: {geometry}")), "{said}");
            assert!(said.contains("4326"), "{form} is not taken for WGS 84: {said}");
            let extent = said
                .lines()
                .find(|line| line.starts_with("Extent: (-2.9"))
                .unwrap_or_default();
            assert!(
                extent.contains("52.1") || extent.contains("52.09"),
                "{form} lies elsewhere: {said}"
            );
        }
        let text = desk.export("csv", &[]);
        let file = desk.at("out.csv");
        let rows = output(
            "ogrinfo",
            &[
                "-al",
                "-so",
                "-oo",
                "X_POSSIBLE_NAMES=lon_deg",
                "-oo",
                "Y_POSSIBLE_NAMES=lat_deg",
                file.to_str().unwrap(),
            ],
        );
        assert!(rows.contains("Geometry: Point"), "{rows}");
        assert!(
            rows.contains(&format!("Feature Count: {}", text.lines().count() - 1)),
            "{rows}"
        );
    }
}

#[test]
#[ignore = "needs libxml2-utils and the schema in target/outside/gpx.xsd"]
fn gpx_is_valid_by_its_schema() {
    let schema = format!("{}/target/outside/gpx.xsd", env!("CARGO_MANIFEST_DIR"));
    for words in [Words::plain(), Words::hostile()] {
        let desk = Desk::with(&words);
        desk.export("gpx", &[]);
        output(
            "xmllint",
            &[
                "--noout",
                "--nonet",
                "--schema",
                &schema,
                desk.at("out.gpx").to_str().unwrap(),
            ],
        );
    }
}

/// What a browser made of a file, after two seconds of its own time.
fn made_of(file: &Path) -> String {
    let address = format!("file://{}", file.display());
    let asked = [
        "--headless=new",
        "--no-sandbox",
        "--disable-gpu",
        "--virtual-time-budget=2000",
        "--dump-dom",
        &address,
    ];
    output("chromium", &asked)
}

#[test]
#[ignore = "needs chromium"]
fn a_browser_runs_nothing_of_hostile_words() {
    let desk = Desk::with(&Words::hostile());
    super::made::survey(&desk.at("other"), &Words::hostile());
    desk.report("one", &[]);
    desk.run(&["report", "2026-05-02-1941-orchard", "other", "--out", "two"])
        .success();
    for out in ["one", "two"] {
        let dom = made_of(&desk.at(out).join("report.html"));
        let title = if out == "one" {
            "<title>&lt;script&gt;"
        } else {
            "<title>2 surveys"
        };
        assert!(dom.contains(title), "{out} has no {title}");
        // The figures for themselves too: a browser runs the scripts of a picture that is opened alone.
        let pictures = files(&desk.at(out)).into_keys().filter(|name| name.ends_with(".svg"));
        let figures: Vec<(String, String)> = pictures
            .map(|name| (made_of(&desk.at(out).join(&name)), name))
            .collect();
        assert!(figures.len() > 3, "{out} has figures");
        assert!(figures.iter().all(|(dom, _)| dom.contains("<svg")));
        for (dom, name) in figures.into_iter().chain([(dom, "report.html".to_owned())]) {
            // A script that ran would have set the title to this word alone.
            assert!(!dom.contains(">ran</title>"), "{out}/{name}: a script ran");
            for made in ["<script", "<iframe", "<img", "onmouseover=\"", "<b onmouseover"] {
                assert!(!dom.contains(made), "{out}/{name}: {made} came to be");
            }
        }
    }
}
