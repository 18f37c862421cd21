//! Reducer scripts: lines in, rows out, one situation a file in `tests/scripts`.
//!
//! Above `---` stand the lines as `SECONDS SOURCE LINE`; `fix LAT LON HH:MM:SS` as a GPS line stands for a GGA sentence,
//! and a line that begins with `setup` is put into `survey.toml`. Below stand the columns to look at and the rows
//! expected, `-` for an empty cell. Every script is also replayed with the rows brought up to date after every single line: they must be
//! the same, whenever somebody looked.

#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a script that cannot be read is a failed test"
)]

use std::fs;
use std::path::Path;

use farpace::session::{samples_csv, setup_file};
use farpace::survey::{JournalLine, Source, Survey};
use farpace::units::{Elapsed, UtcMs};

struct Script {
    setup: String,
    lines: Vec<JournalLine>,
    columns: Vec<String>,
    expected: Vec<Vec<String>>,
}

fn parse(text: &str) -> Script {
    let (input, output) = text.split_once("\n---\n").expect("a script has a line `---`");
    let mut script = Script {
        setup: String::new(),
        lines: Vec::new(),
        columns: Vec::new(),
        expected: Vec::new(),
    };
    for line in input
        .lines()
        .filter(|line| !line.starts_with('#') && !line.trim().is_empty())
    {
        if let Some(setup) = line.strip_prefix("setup ") {
            script.setup.push_str(setup);
            script.setup.push('\n');
            continue;
        }
        let mut words = line.splitn(3, ' ');
        let seconds: f64 = words
            .next()
            .unwrap()
            .parse()
            .unwrap_or_else(|_| panic!("seconds in `{line}`"));
        let source = Source::from_word(words.next().unwrap()).unwrap_or_else(|| panic!("source in `{line}`"));
        let text = words.next().unwrap_or_default();
        let bytes = match text.strip_prefix("fix ") {
            Some(fix) => sentence(fix),
            None => text.to_owned(),
        };
        script.lines.push(JournalLine {
            at: Elapsed::from_seconds(seconds),
            wall: UtcMs(1_777_723_200_000 + (seconds * 1000.0).round() as i64),
            source,
            bytes: bytes.into_bytes(),
            left_out: 0,
        });
    }
    let mut rows = output.lines().filter(|line| !line.trim().is_empty());
    script.columns = rows.next().unwrap().split_whitespace().map(str::to_owned).collect();
    script.expected = rows
        .map(|row| row.split_whitespace().map(str::to_owned).collect())
        .collect();
    script
}

/// A GGA sentence (NMEA 0183) with quality 1, 8 satellites, HDOP 1.0.
fn sentence(fix: &str) -> String {
    let words: Vec<&str> = fix.split_whitespace().collect();
    let angle = |text: &str, width: usize, letters: [char; 2]| {
        let degrees: f64 = text.parse().unwrap();
        let minutes = degrees.abs().fract() * 60.0;
        let letter = if degrees < 0.0 { letters[1] } else { letters[0] };
        format!("{:0width$}{minutes:010.7},{letter}", degrees.abs().trunc())
    };
    let body = format!(
        "GPGGA,{},{},{},1,08,1.0,50.0,M,47.0,M,,",
        words[2].replace(':', ""),
        angle(words[0], 2, ['N', 'S']),
        angle(words[1], 3, ['E', 'W'])
    );
    let checksum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{checksum:02X}")
}

fn rows(survey: &mut Survey, columns: &[String]) -> Vec<Vec<String>> {
    let mut bytes = Vec::new();
    samples_csv::write(survey.samples(), &mut bytes).unwrap();
    let mut table = csv::Reader::from_reader(bytes.as_slice());
    let headers = table.headers().unwrap().clone();
    let wanted: Vec<usize> = columns
        .iter()
        .map(|column| {
            headers
                .iter()
                .position(|header| header == column)
                .unwrap_or_else(|| panic!("no column {column}"))
        })
        .collect();
    table
        .records()
        .map(|record| {
            let record = record.unwrap();
            let cell = |index: &usize| {
                if record[*index].is_empty() {
                    "-".to_owned()
                } else {
                    record[*index].replace(' ', "_")
                }
            };
            wanted.iter().map(cell).collect()
        })
        .collect()
}

fn run(script: &Script, look_often: bool) -> Vec<Vec<String>> {
    let setup = setup_file::read(&script.setup).unwrap().setup;
    let mut survey = Survey::new(setup, None);
    for line in &script.lines {
        survey.apply(line);
        if look_often {
            survey.samples();
        }
    }
    survey.settle();
    rows(&mut survey, &script.columns)
}

#[test]
fn every_script_gives_its_rows_whenever_somebody_looks() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scripts");
    let mut paths: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    assert!(paths.len() >= 12, "the scripts are missing");
    let mut failed = Vec::new();
    for path in paths {
        let script = parse(&fs::read_to_string(&path).unwrap());
        for look_often in [false, true] {
            let found = run(&script, look_often);
            if found != script.expected {
                let show = |rows: &[Vec<String>]| rows.iter().map(|row| row.join(" ")).collect::<Vec<_>>().join("\n");
                failed.push(format!(
                    "{} (looked {}):\nfound\n{}\nexpected\n{}\n",
                    path.file_name().unwrap().to_string_lossy(),
                    if look_often { "after every line" } else { "once" },
                    show(&found),
                    show(&script.expected)
                ));
            }
        }
    }
    assert!(failed.is_empty(), "{}", failed.join("\n"));
}
