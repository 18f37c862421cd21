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
        // What boards taught here is none of the person's.
        .env("XDG_DATA_HOME", env!("CARGO_TARGET_TMPDIR"))
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
fn a_cut_journal_costs_no_table() {
    let below = tempfile::tempdir().unwrap();
    let folder = survey(below.path());
    let at = folder.to_str().unwrap();
    let (journal, samples) = (folder.join("journal.csv"), folder.join("samples.csv"));
    let (whole, table) = (std::fs::read(&journal).unwrap(), std::fs::read(&samples).unwrap());
    let points = std::fs::read(folder.join("points.csv")).unwrap();
    let before = || std::fs::read(folder.join("samples.csv.before")).unwrap();

    std::fs::write(&journal, &whole[..3000]).unwrap();
    for words in [&["figures", at][..], &["figures", "--json", at]] {
        let (_, err) = status(words, 0);
        assert!(err.contains("samples.csv holds 400 exchanges"), "{err}");
        assert!(err.contains("is not used") && !err.contains("set aside"), "{err}");
    }
    assert!(!folder.join("journal.torn").exists());
    let (_, err) = status(&["rebuild", at], 0);
    assert!(
        err.contains("held 400 exchanges") && err.contains("samples.csv.before"),
        "{err}"
    );
    assert_eq!(before(), table);
    assert_eq!(std::fs::read(folder.join("points.csv.before")).unwrap(), points);
    assert!(std::fs::read(&samples).unwrap().len() < table.len());
    // Again: nothing is shorter than it was, so nothing more is kept, and what was kept stays.
    status(&["rebuild", at], 0);
    assert_eq!(before(), table);
    assert!(!folder.join("samples.csv.before-2").exists());

    let header = whole.iter().position(|byte| *byte == b'\n').unwrap();
    let noise: Vec<u8> = (0..4000_u32).map(|n| (n * 7919 % 251) as u8).collect();
    for nothing in [&whole[..=header], &noise, b""] {
        std::fs::write(&samples, &table).unwrap();
        std::fs::write(&journal, nothing).unwrap();
        let (_, err) = status(&["rebuild", at], 1);
        assert!(
            err.contains("nothing was rebuilt") && err.contains("move samples.csv away"),
            "{err}"
        );
        assert_eq!(std::fs::read(&samples).unwrap(), table);
    }

    // Going on with it keeps them, too, and says so beforehand.
    std::fs::write(&journal, &whole[..3000]).unwrap();
    std::fs::remove_file(folder.join("samples.csv.before")).unwrap();
    std::fs::remove_file(folder.join("points.csv.before")).unwrap();
    let log = format!("file:{}", below.path().join("walk.log").display());
    let (_, err) = status(
        &[
            "walk",
            "--no-screen",
            "--node",
            &log,
            "--gps",
            &log,
            "--out",
            at,
            "--go-on",
        ],
        0,
    );
    assert!(err.contains("are set aside in journal.torn"), "{err}");
    assert!(err.contains("samples.csv holds 400 exchanges"), "{err}");

    // A whole journal warns of nothing.
    std::fs::write(&journal, &whole).unwrap();
    std::fs::write(&samples, &table).unwrap();
    let (_, err) = status(&["figures", at], 0);
    assert_eq!(err, "");
}

#[test]
fn words_from_outside_never_reach_a_terminal_unescaped() {
    let below = tempfile::tempdir().unwrap();
    let evil = "\u{1b}[31mX\u{9b}2J\u{7}";
    let log = log().replace(
        "hello board=fern boot=3 radio=802.11 chan=6 rate=10 tx_dbm=15",
        r#"{"hello":{"board":"f\u001b[31m\u009b2J\nFORGED","boot":3,"rate":10}}"#,
    );
    let mut folders = Vec::new();
    for name in ["one", "two"] {
        let file = below.path().join(format!("{name}{evil}.log"));
        let folder = below.path().join(format!("{name}{evil}"));
        std::fs::write(&file, &log).unwrap();
        let set_up = below.path().join(format!("{name}{evil}.toml"));
        std::fs::write(
            &set_up,
            r#"title = "T\u001b[31m\nFORGED"
note = "N\u001b[31m"
"k\u001b[31m" = 1
[station]
name = "S\u001b[31m\u202e"
lat_deg = 52.1
lon_deg = -2.9
[radio]
kind = "R\u001b[31m"
[[board]]
name = "f\u001b[31m\u009b2J\nFORGED"
note = "B\u001b[31m"
[[leave_out]]
from_s = 2.0
to_s = 3.0
why = "W\u001b[31m"
"#,
        )
        .unwrap();
        let address = format!("file:{}", file.display());
        let words = [
            "walk",
            "--no-screen",
            "--node",
            &address,
            "--gps",
            &address,
            "--set-up",
            set_up.to_str().unwrap(),
            "--out",
            folder.to_str().unwrap(),
        ];
        quiet(&words, 0);
        folders.push(folder.to_str().unwrap().to_owned());
    }
    let (one, two) = (folders[0].as_str(), folders[1].as_str());
    let report = below.path().join(format!("report{evil}"));
    let report = report.to_str().unwrap();
    for words in [
        &["rebuild", one][..],
        &["figures", one],
        &["figures", one, two],
        &["figures", "--private", one],
        &["figures", "--json", one, two],
        &["export", one, "--as", "csv", "--out", "-"],
        &["export", one, "--as", "geojson", "--out", "-"],
        &["export", one, "--as", "gpx", "--out", "-"],
        &["export", one, "--as", "kml", "--out", "-"],
        &["report", one, "--out", report],
        &["plan"],
    ] {
        quiet(words, 0);
    }
    let nowhere = below.path().join(format!("nowhere{evil}"));
    let nowhere = nowhere.to_str().unwrap();
    for words in [
        &["figures", nowhere][..],
        &["rebuild", nowhere],
        &["report", one, "--out", report],
        &["export", one, "--as", "csv", "--out", &format!("{nowhere}/x.csv")],
        &["walk", "--no-screen", "--set-up", nowhere],
    ] {
        let output = run(words);
        assert!(output.status.code().is_some_and(|code| code > 0), "{words:?}");
        unescaped(words, &output);
    }
    for words in [
        &["figures", one, "--board", evil][..],
        &["plan", "--radio", evil],
        &["walk", "--no-screen", "--node", evil],
        &["rehearse", "--scenario", evil],
    ] {
        quiet(words, 2);
    }
}

fn quiet(words: &[&str], wanted: i32) {
    let output = run(words);
    assert_eq!(output.status.code(), Some(wanted), "{words:?}\n{output:?}");
    unescaped(words, &output);
}

/// Checks that nothing was printed that a terminal obeys, and no line that a name forged.
fn unescaped(words: &[&str], output: &Output) {
    for printed in [text(&output.stdout), text(&output.stderr)] {
        let obeyed = |c: char| c != '\n' && (c.is_control() || ('\u{202a}'..='\u{202e}').contains(&c));
        assert!(!printed.contains(obeyed), "{words:?}\n{}", printed.escape_debug());
        assert!(
            !printed.lines().any(|line| line.trim_start().starts_with("FORGED")),
            "{words:?}\n{printed}"
        );
    }
}

#[test]
fn what_taught_a_board_is_named_and_keys_of_json_stay() {
    let sessions = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sessions");
    let at = |name: &str| sessions.join(name).to_str().unwrap().to_owned();
    let (walk, boards, sweep) = (at("walk"), at("boards"), at("sweep"));
    let (table, _) = status(&["figures", &walk, &boards, &sweep], 0);
    assert!(table.contains("from survey A; 1 walk"), "{table}");
    assert!(!table.contains("earlier surveys"), "{table}");
    assert!(table.contains("no range: nobody walked with it"), "{table}");
    let (json, _) = status(&["figures", "--json", &walk, &boards, &sweep], 0);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let all = |list: &str| -> Vec<serde_json::Value> {
        let surveys = json["surveys"].as_array().unwrap().iter();
        surveys
            .flat_map(|survey| survey[list].as_array().unwrap().clone())
            .collect()
    };
    let reaches: Vec<serde_json::Value> = all("boards").iter().map(|board| board["reach"].clone()).collect();
    let names = |value: &serde_json::Value| -> Vec<String> {
        let mut names: Vec<String> = value.as_object().unwrap().keys().cloned().collect();
        names.sort_unstable();
        names
    };
    assert!(reaches.len() > 4);
    for reach in &reaches {
        assert_eq!(names(reach), names(&reaches[0]));
        assert!(reach["exchanges"].is_null() || reach["exchanges"].is_u64(), "{reach}");
    }
    let sweeps = all("sweeps");
    assert!(!sweeps.is_empty());
    for sweep in &sweeps {
        assert!(sweep["levels_read_at"].is_string(), "{sweep}");
        for arc in ["strongest", "weakest"] {
            assert_eq!(names(&sweep[arc]), ["half_width_deg", "turn_deg", "why"]);
        }
        for figure in ["front_to_back_db", "null_depth_db", "beamwidth_deg"] {
            assert_eq!(names(&sweep[figure]), ["high", "low", "value", "why"]);
        }
    }
    let taught = |board: &serde_json::Value| board["need"]["learned_from"] == "survey A; 1 walk";
    assert!(all("boards").iter().any(taught));
}

#[test]
fn what_a_board_needs_is_pooled_over_surveys() {
    let walk = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sessions/walk");
    let below = tempfile::tempdir().unwrap();
    let copy = |name: &str| {
        let folder = below.path().join(name);
        std::fs::create_dir(&folder).unwrap();
        for file in ["samples.csv", "survey.toml"] {
            std::fs::copy(walk.join(file), folder.join(file)).unwrap();
        }
        folder.to_str().unwrap().to_owned()
    };
    let (first, second) = (copy("first"), copy("second"));
    let needs = |folders: &[&str]| -> Vec<serde_json::Value> {
        let (json, _) = status(&[&["figures", "--json"], folders].concat(), 0);
        let json: serde_json::Value = serde_json::from_str(&json).unwrap();
        let surveys = json["surveys"].as_array().unwrap();
        surveys
            .iter()
            .map(|survey| survey["boards"][0]["need"].clone())
            .collect()
    };
    let alone = needs(&[&first]).remove(0);
    assert_eq!(alone["learned_from"], "this survey; 1 walk");
    let both = needs(&[&first, &second]);
    assert_eq!(both[0]["learned_from"], "this survey and survey B; 2 walks");
    assert_eq!(both[1]["learned_from"], "this survey and survey A; 2 walks");
    let sd = |need: &serde_json::Value| need["level90_sd_db"].as_f64().unwrap();
    // Two walks alike say the same, half again as surely; what walks differ by anyway keeps it from more.
    for need in &both {
        assert_eq!(need["level90_dbm"], both[0]["level90_dbm"]);
        let surer = sd(&alone) / sd(need);
        assert!((1.3..=1.415).contains(&surer), "{surer}");
    }
}

/// What node and receiver said in a sample session, as a recording.
fn recording(session: &str) -> String {
    let journal = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("sample-sessions/{session}/journal.csv"));
    let mut rows = csv::Reader::from_path(journal).unwrap();
    let rows = rows.records().map(Result::unwrap);
    rows.filter(|row| row[2] == *"node" || row[2] == *"gps")
        .map(|row| format!("{}\n", &row[3]))
        .collect()
}

#[test]
fn a_survey_without_a_screen_teaches_the_next() {
    let below = tempfile::tempdir().unwrap();
    let (file, folder) = (below.path().join("walk.log"), below.path().join("survey"));
    std::fs::write(&file, recording("first-look")).unwrap();
    let address = format!("file:{}", file.display());
    let walked = farpace()
        .env("XDG_DATA_HOME", below.path())
        .args(["walk", "--no-screen", "--node", &address, "--gps", &address])
        .args(["--station", "52.09999043,-2.900010881", "--out"])
        .arg(&folder)
        .output()
        .unwrap();
    assert!(walked.status.success(), "{}", text(&walked.stderr));
    let known = std::fs::read_to_string(below.path().join("farpace/boards.json")).unwrap();
    let known: serde_json::Value = serde_json::from_str(&known).unwrap();
    assert_eq!(known["boards"]["fern"][0]["survey"], "survey", "{known}");
}

#[test]
fn words_that_make_no_sense_are_refused_with_a_reason() {
    let below = tempfile::tempdir().unwrap();
    let folder = survey(below.path());
    let at = folder.to_str().unwrap();
    let other = below.path().join("other");
    let other = other.to_str().unwrap();
    for (words, why) in [
        (
            &["figures", at, "--mounted", "0"][..],
            "--mounted 0: give a height between 0.1 and 30 m",
        ),
        (&["figures", at, "--mounted", "-3"], "--mounted -3: give a height"),
        (
            &["figures", at, "--leaves", "1000"],
            "--leaves 1000: give a loss between 0 and 60 dB",
        ),
        (&["figures", at, "--leaves", "-5"], "--leaves -5: give a loss"),
        (
            &["figures", at, "--leaves", "nan"],
            "--leaves is no number: give a loss",
        ),
        (
            &["replay", at, "--speed", "1000"],
            "--speed 1000: give a number between 1 and 500",
        ),
        (&["replay", at, "--speed", "-1"], "--speed -1: give a number"),
        (
            &["plan", "--at", "-5"],
            "distance to look at -5 m is outside 1 to 20000 m",
        ),
        (
            &["plan", "--node-height", "-1"],
            "height of the node's aerial -1 m is outside",
        ),
        (
            &["figures", at, "--board", "nettle"],
            "--board nettle: no such board, there are fern",
        ),
        (
            &["report", at, "--board", "nettle", "--out", other],
            "no such board, there are fern",
        ),
        (
            &["export", at, "--board", "nettle", "--as", "csv", "--out", other],
            "no such board",
        ),
        (&["figures", at, at], "is given twice"),
        (&["report", at, at, "--out", other], "is given twice"),
        (&["replay", at, at], "is given twice"),
        (&["report", at, "--out", "-"], "several files"),
        (
            &["export", at, "--private", "--as", "gpx", "--out", other],
            "no place for metres",
        ),
    ] {
        let (out, err) = status(words, 2);
        assert_eq!(out, "", "{words:?}");
        assert!(err.starts_with("farpace: ") && err.contains(why), "{words:?}\n{err}");
        assert!(!err.contains("these words cannot be used"), "{err}");
    }
    let deep = format!("{other}/deeper/x.csv");
    let (_, err) = status(&["export", at, "--as", "csv", "--out", &deep], 1);
    assert!(
        err.contains("there is no folder") && err.contains("make it first"),
        "{err}"
    );
    let (out, _) = status(&["export", at, "--as", "csv", "--out", "-"], 0);
    assert!(out.starts_with("kind,name,"), "{out}");

    let set_up = folder.join("survey.toml");
    let mut toml = std::fs::read_to_string(&set_up).unwrap();
    toml.push_str("\n[[leave_out]]\nfrom_s = 50.0\nto_s = 10.0\nwhy = \"a tractor\"\n");
    std::fs::write(&set_up, toml).unwrap();
    let (_, err) = status(&["figures", at], 0);
    assert!(err.contains("begins at 50 s and ends before that, at 10 s"), "{err}");
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
