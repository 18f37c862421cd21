//! The command line from outside: its help, its exit statuses, what it prints where.
//!
//! After a change of `src/cli.rs` the pages are made anew by hand, and looked at:
//!
//! ```text
//! target/debug/farpace --help > tests/snapshots/help/farpace.txt
//! for word in walk rehearse gear plan replay rebuild figures report export; do
//!     target/debug/farpace $word --help > tests/snapshots/help/$word.txt
//! done
//! ```

#![expect(clippy::unwrap_used, reason = "a program that cannot be started is a failed test")]

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

fn farpace() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_farpace"));
    command
        .env_remove("FARPACE_SURVEYS")
        .env_remove("NO_COLOR")
        .env_remove("COLUMNS")
        .stdin(Stdio::null());
    command
}

fn run(words: &[&str]) -> Output {
    farpace().args(words).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Checks the exit status, and gives standard output and standard error.
fn status(words: &[&str], wanted: i32) -> (String, String) {
    let output = run(words);
    let (out, err) = (text(&output.stdout), text(&output.stderr));
    assert_eq!(output.status.code(), Some(wanted), "{words:?}\n{out}\n{err}");
    assert!(!err.contains("panicked"), "{words:?}\n{err}");
    (out, err)
}

/// Every ten pings of this board the seventh is lost; it walks north from the station at a metre a second.
fn log() -> String {
    use std::fmt::Write as _;
    let mut log = "hello board=fern boot=3 radio=802.11 chan=6 rate=10 tx_dbm=15\n".to_owned();
    for second in 0..40 {
        let body = format!(
            "GPGGA,1200{second:02}.000,52{:07.4},N,00254.0000,W,1,09,0.9,61.2,M,48.9,M,,",
            6.0 + f64::from(second) / 1852.0
        );
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        writeln!(log, "${body}*{sum:02X}").unwrap();
        for n in second * 10 + 1..=second * 10 + 10 {
            if n % 10 != 7 {
                writeln!(log, "echo n={n} here={} there={}", -60 - second, -62 - second).unwrap();
            }
        }
    }
    log
}

/// A survey made of that log, in a folder of its own.
fn survey(below: &Path) -> PathBuf {
    let (file, folder) = (below.join("walk.log"), below.join("survey"));
    std::fs::write(&file, log()).unwrap();
    let address = format!("file:{}", file.display());
    let (out, err) = status(
        &[
            "walk",
            "--no-screen",
            "--node",
            &address,
            "--gps",
            &address,
            "--station",
            "52.1,-2.9",
            "--out",
            folder.to_str().unwrap(),
        ],
        0,
    );
    assert_eq!(out, "", "a survey prints no results");
    assert!(err.contains("the survey is in"), "{err}");
    folder
}

#[test]
fn help_is_as_it_was() {
    let pages = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/snapshots/help");
    let mut seen = 0;
    for entry in std::fs::read_dir(pages).unwrap() {
        let path = entry.unwrap().path();
        let word = path.file_stem().unwrap().to_str().unwrap();
        let words = if word == "farpace" {
            vec!["--help"]
        } else {
            vec![word, "--help"]
        };
        let (out, err) = status(&words, 0);
        let wanted = std::fs::read_to_string(&path).unwrap();
        assert_eq!(out.replace("farpace.exe", "farpace"), wanted, "{word}");
        assert_eq!(err, "");
        seen += 1;
    }
    assert_eq!(seen, 10, "a page for the program and for each command");
}

#[test]
fn the_page_of_the_program_names_every_command() {
    let (out, _) = status(&["--help"], 0);
    for word in [
        "walk", "rehearse", "gear", "plan", "replay", "rebuild", "figures", "report", "export",
    ] {
        assert!(out.contains(&format!("\n  {word}")), "{word}");
        assert!(out.contains(word), "{word}");
    }
    let (version, _) = status(&["--version"], 0);
    assert_eq!(version.trim(), concat!("farpace ", env!("CARGO_PKG_VERSION")));
}

#[test]
fn words_that_cannot_be_used_are_wrong_usage() {
    let below = tempfile::tempdir().unwrap();
    let folder = below.path().join("survey");
    let out = ["--no-screen", "--out", folder.to_str().unwrap()];
    for words in [
        &["walk", "--station", "abc"][..],
        &["walk", "--station", "91,0"],
        &["walk", "--station", "52.1"],
        &["walk", "--station", "0,181"],
        &["walk", "--node", "zork:1"],
        &["walk", "--gps", "tcp:nowhere"],
        &["rehearse", "--scenario", "no-such-story"],
        &["rehearse", "--speed", "0"],
        &["rehearse", "--seed", "many"],
    ] {
        let words: Vec<&str> = words.iter().copied().chain(out).collect();
        let (out, err) = status(&words, 2);
        assert_eq!(out, "", "{words:?}");
        assert!(!err.trim().is_empty(), "{words:?}");
        assert!(!folder.exists(), "{words:?} began a survey");
    }
    for words in [
        &["no-such-command"][..],
        &["--no-such-flag"],
        &["walk", "--go-on"],
        &["figures"],
        &["report", "somewhere"],
        &["export", "somewhere", "--out", "x"],
        &["completions", "no-such-shell"],
    ] {
        let (out, err) = status(words, 2);
        assert_eq!(out, "", "{words:?}");
        assert!(!err.is_empty(), "{words:?}");
    }
}

#[test]
fn what_cannot_be_done_has_failed_and_says_why() {
    let below = tempfile::tempdir().unwrap();
    let nowhere = below.path().join("nowhere");
    let (nowhere, empty) = (nowhere.to_str().unwrap(), below.path().to_str().unwrap());
    for words in [
        &["rebuild", nowhere][..],
        &["rebuild", empty],
        &["figures", nowhere],
        &["figures", "--json", empty],
        &["report", nowhere, "--out", &format!("{nowhere}-report")],
        &["export", nowhere, "--as", "gpx", "--out", &format!("{nowhere}.gpx")],
    ] {
        let (out, err) = status(words, 1);
        assert_eq!(out, "", "{words:?}");
        assert!(err.starts_with("farpace: ") && err.contains(empty), "{words:?}\n{err}");
    }
}

#[test]
fn a_survey_is_made_rebuilt_and_figured() {
    let below = tempfile::tempdir().unwrap();
    let folder = survey(below.path());
    let at = folder.to_str().unwrap();
    let files = ["journal.csv", "points.csv", "samples.csv", "survey.toml"];
    for file in files {
        assert!(folder.join(file).is_file(), "{file}");
    }
    let samples = std::fs::read(folder.join("samples.csv")).unwrap();
    assert_eq!(text(&samples).lines().count(), 401, "a header and a row for each ping");

    let (out, err) = status(&["rebuild", at], 0);
    assert_eq!(out, "");
    assert!(err.contains("400 exchanges"), "{err}");
    assert_eq!(std::fs::read(folder.join("samples.csv")).unwrap(), samples);

    let (table, _) = status(&["figures", at], 0);
    assert!(table.contains("fern"), "{table}");
    let (json, _) = status(&["figures", "--json", at], 0);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["surveys"].as_array().unwrap().len(), 1);

    let (_, err) = status(&["walk", "--no-screen", "--node", "file:none", "--out", at], 1);
    assert!(err.contains("holds a survey already"), "{err}");
    assert_eq!(std::fs::read(folder.join("samples.csv")).unwrap(), samples);
}

#[test]
fn a_reader_that_has_seen_enough_is_no_failure() {
    let below = tempfile::tempdir().unwrap();
    let folder = survey(below.path());
    let at = folder.to_str().unwrap();
    for words in [
        &["figures", at][..],
        &["figures", "--json", at],
        &["plan"],
        &["plan", "--json"],
        &["gear", "--json"],
        &["completions", "bash"],
        &["--help"],
    ] {
        let mut child = farpace()
            .args(words)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // The reading end goes before anything is written.
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let err = text(&output.stderr);
        assert!(!err.contains("panicked"), "{words:?}\n{err}");
        assert_eq!(output.status.code(), Some(0), "{words:?}\n{err}");
    }
}

#[test]
fn shells_learn_the_words() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let (out, err) = status(&["completions", shell], 0);
        assert!(out.contains("rehearse") && out.contains("no-screen"), "{shell}");
        assert_eq!(err, "");
    }
}
