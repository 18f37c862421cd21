//! README says what the program does: its commands are understood, its example lines are read, its tables name the columns
//! that are written, and the parts between markers are made from the program itself.
//!
//! `UPDATE_README=1 cargo test --test readme` writes the parts between markers anew, and the pictures README shows.
#![expect(clippy::unwrap_used, reason = "a test's helper fails by panicking, as the test does")]

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::io::Write as _;
use std::path::PathBuf;
use std::str::FromStr as _;

use clap::{CommandFactory as _, Parser as _};
use farpace::app::subject;
use farpace::cli::Cli;
use farpace::findings::assumptions::Wanted;
use farpace::findings::together::member::Member;
use farpace::findings::{json, together};
use farpace::screens::keys::{BINDINGS, Command, Place};
use farpace::session::{format, setup_file};
use farpace::sources::Address;
use farpace::units::Metres;
use farpace::wire::node::{self, NodePattern};
use farpace::wire::{NodeLine, NodeRecord};
use farpace::writeup::compose::whole::document;
use farpace::writeup::document::Figure;
use farpace::writeup::export::features::COLUMNS;
use farpace::writeup::subject::{Making, Privacy, Subject};
use regex::Regex;

fn at(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn readme() -> String {
    fs::read_to_string(at("README.md")).unwrap().replace("\r\n", "\n")
}

/// The fenced blocks of a language.
fn blocks(text: &str, language: &str) -> Vec<String> {
    let fence = Regex::new(&format!("(?ms)^```{language}\n(.*?)^```$")).unwrap();
    let found: Vec<String> = fence.captures_iter(text).map(|block| block[1].to_owned()).collect();
    assert!(!found.is_empty(), "README has no block of {language}");
    found
}

/// What stands between the markers of a part.
fn part(text: &str, name: &str) -> String {
    let (begin, end) = markers(name);
    let from = text.find(&begin).unwrap_or_else(|| panic!("README has no {begin}")) + begin.len();
    let to = text.find(&end).unwrap_or_else(|| panic!("README has no {end}"));
    text[from..to].to_owned()
}

fn markers(name: &str) -> (String, String) {
    (format!("<!-- {name} -->\n"), format!("<!-- end of {name} -->"))
}

/// The rows of the table below a heading line: its cells, without the header.
fn table_after(text: &str, before: &str) -> Vec<Vec<String>> {
    let from = text.find(before).unwrap_or_else(|| panic!("README has no `{before}`"));
    text[from + before.len()..]
        .lines()
        .skip_while(|line| !line.starts_with('|'))
        .take_while(|line| line.starts_with('|'))
        .skip(2)
        .map(|line| {
            let inner = line.trim_matches('|');
            inner.split(" | ").map(|cell| cell.trim().to_owned()).collect()
        })
        .collect()
}

fn bare(cell: &str) -> &str {
    cell.trim_matches('`')
}

/// Words as a shell tells them apart, double quotes included.
fn words(line: &str) -> Vec<String> {
    let word = Regex::new(r#""([^"]*)"|(\S+)"#).unwrap();
    word.captures_iter(line)
        .map(|found| found.get(1).or_else(|| found.get(2)).unwrap().as_str().to_owned())
        .collect()
}

/// The picture: a page of the field screen as `tests/screens.rs` keeps it.
fn picture() -> String {
    let snapshot = fs::read_to_string(at("tests/snapshots/screens__point-80x24.snap")).unwrap();
    let page = snapshot.replace("\r\n", "\n");
    let page = page.splitn(3, "---\n").nth(2).unwrap().trim_end().to_owned();
    format!("```text\n{page}\n```\n")
}

/// The keys of a replay that a survey being made has not, or has for something else.
fn replay_keys() -> String {
    let mut out = "| key | what it does |\n| --- | --- |\n".to_owned();
    for binding in BINDINGS.iter().filter(|binding| binding.place == Place::Replay) {
        writeln!(out, "| `{}` | {} |", binding.name, binding.sentence).unwrap();
    }
    out
}

/// The keys of a survey.
fn keys() -> String {
    let mut out = "| key | what it does |\n| --- | --- |\n".to_owned();
    for binding in BINDINGS.iter().filter(|binding| binding.place != Place::Replay) {
        // On the help page itself the key for it means that page.
        let sentence = if binding.command == Command::Help {
            "Help: all keys."
        } else {
            binding.sentence
        };
        writeln!(out, "| `{}` | {sentence} |", binding.name).unwrap();
    }
    out
}

/// The commands and their flags, as `--help` has them.
fn commands() -> String {
    let mut top = Cli::command();
    top.build();
    let mut out = String::new();
    let about = |command: &clap::Command| command.get_about().unwrap().to_string();
    writeln!(out, "| command | what it does |\n| --- | --- |").unwrap();
    writeln!(
        out,
        "| `farpace` | the full screen: begin a survey, go on with the last one, replay one, rehearse, look at the gear |"
    )
    .unwrap();
    let shown = || top.get_subcommands().filter(|command| !command.is_hide_set());
    for command in shown() {
        writeln!(
            out,
            "| `{}` | {} |",
            called(command),
            about(command).trim_end_matches('.')
        )
        .unwrap();
    }
    out.push_str("\nFor all of them:\n\n");
    flags(&mut out, &top, true);
    for command in shown() {
        let mut own = String::new();
        flags(&mut own, command, false);
        if !own.is_empty() {
            write!(out, "\n`farpace {}`:\n\n{own}", command.get_name()).unwrap();
        }
    }
    out
}

/// How a command is called, its folders and what it must have included.
fn called(command: &clap::Command) -> String {
    let mut call = format!("farpace {}", command.get_name());
    for arg in command.get_positionals() {
        call.push_str(if arg.get_num_args().unwrap().max_values() > 1 {
            " FOLDER…"
        } else {
            " FOLDER"
        });
    }
    for arg in command.get_opts().filter(|arg| arg.is_required_set()) {
        write!(call, " {}", flag(arg)).unwrap();
    }
    call
}

fn flag(arg: &clap::Arg) -> String {
    let mut flag = format!("--{}", arg.get_long().unwrap());
    if arg.get_action().takes_values() {
        let name = arg.get_value_names().unwrap().first().unwrap();
        write!(flag, " {name}").unwrap();
    }
    flag
}

fn flags(out: &mut String, command: &clap::Command, global: bool) {
    for arg in command.get_arguments() {
        let built_in = matches!(arg.get_id().as_str(), "help" | "version");
        if built_in || arg.is_positional() || arg.is_hide_set() || arg.is_global_set() != global {
            continue;
        }
        let help = arg
            .get_help()
            .unwrap_or_else(|| panic!("{arg} has no help"))
            .to_string();
        write!(out, "- `{}`: {}", flag(arg), help.trim_end_matches('.')).unwrap();
        if arg.get_action().takes_values() {
            let values: Vec<String> = arg
                .get_possible_values()
                .iter()
                .map(|value| format!("`{}`", value.get_name()))
                .collect();
            if !values.is_empty() {
                write!(out, ": {}", values.join(", ")).unwrap();
            }
            if let Some(usual) = arg.get_default_values().first() {
                write!(out, " [default: {}]", usual.to_string_lossy()).unwrap();
            }
        }
        out.push('\n');
    }
}

/// The pictures README shows, as the write-up of a sample session draws them: file, session, figure, what README calls it.
const PICTURES: [(&str, &str, &str, &str); 4] = [
    ("places.svg", "walk", "places", "Where a node can go"),
    ("level.svg", "walk", "level-1", "Level by distance"),
    ("sweep.svg", "sweep", "sweep-1", "A board turned round"),
    (
        "two-boards.svg",
        "two-turned",
        "sweeps-overlaid",
        "Two boards turned round at the same spot",
    ),
];

/// The figures of a sample session's write-up that README shows.
fn figure(session: &str, name: &str) -> Figure {
    let folder = at("sample-sessions").join(session);
    let subjects = subject::read(&[folder], Privacy::default(), &Wanted::default(), |_| {}).unwrap();
    let found = document(&subjects, &Making::default()).figures;
    let named = found.into_iter().find(|figure| figure.name == name);
    named.unwrap_or_else(|| panic!("the write-up of {session} has no figure {name}"))
}

/// Words within a link or a table: what Markdown would obey is left away.
fn plain(text: &str) -> String {
    text.replace(['[', ']', '|', '\n'], " ")
}

/// The pictures, each with what it shows for who cannot see it.
fn pictures() -> String {
    let mut out = String::new();
    for (file, session, name, title) in PICTURES {
        let alt = plain(&figure(session, name).alt);
        writeln!(out, "![{title}. {alt}](tests/snapshots/pictures/{file})\n").unwrap();
    }
    out
}

/// Coordinates may differ in the last decimal where a system's own sines do; everything else may not.
fn nearly_same(found: &str, kept: &str) -> bool {
    let number = Regex::new(r"-?\d+(?:\.\d+)?").unwrap();
    let numbers = |text: &str| -> Vec<f64> {
        number
            .find_iter(text)
            .map(|found| found.as_str().parse().unwrap())
            .collect()
    };
    number.replace_all(found, "#") == number.replace_all(kept, "#")
        && numbers(found)
            .iter()
            .zip(numbers(kept))
            .all(|(one, other)| (one - other).abs() < 0.025)
}

#[test]
fn the_pictures_are_what_the_program_draws() {
    for (file, session, name, _) in PICTURES {
        let made = figure(session, name).file;
        let path = at("tests/snapshots/pictures").join(file);
        if std::env::var_os("UPDATE_README").is_some() {
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(&path, &made).unwrap();
        }
        let kept = fs::read_to_string(&path).unwrap_or_default().replace("\r\n", "\n");
        let same = made == kept || (!cfg!(target_os = "linux") && nearly_same(&made, &kept));
        assert!(
            same,
            "{} is stale; make it anew, and look at it:\nUPDATE_README=1 cargo test --test readme",
            path.display()
        );
    }
}

#[test]
fn what_stands_between_markers_is_what_the_program_says() {
    let mut text = readme();
    let parts = [
        ("picture", picture()),
        ("pictures", pictures()),
        ("keys", keys()),
        ("replay keys", replay_keys()),
        ("commands", commands()),
    ];
    if std::env::var_os("UPDATE_README").is_some() {
        for (name, made) in &parts {
            let (begin, end) = markers(name);
            let old = format!("{begin}{}{end}", part(&text, name));
            text = text.replace(&old, &format!("{begin}{made}{end}"));
        }
        // In one step: the other tests read it meanwhile.
        let mut file = tempfile::NamedTempFile::new_in(at(".")).unwrap();
        file.write_all(text.as_bytes()).unwrap();
        file.persist(at("README.md")).unwrap();
    }
    for (name, made) in &parts {
        assert!(
            part(&text, name) == *made,
            "the part `{name}` of README is not what the program says now; look at it with\n\
             UPDATE_README=1 cargo test --test readme\nit should be:\n{made}"
        );
    }
}

#[test]
fn every_command_named_is_understood() {
    let text = readme();
    let mut lines: Vec<String> = blocks(&text, "sh")
        .iter()
        .flat_map(|block| block.lines().map(str::to_owned).collect::<Vec<_>>())
        .collect();
    let inline = Regex::new("`((?:farpace|cargo run) [^`\n]+)`").unwrap();
    lines.extend(inline.captures_iter(&text).map(|found| found[1].to_owned()));
    let mut understood = 0;
    for line in lines {
        let given = words(&line);
        let args = match given.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
            // Named in a sentence, without what it would be given.
            ["farpace", command] if Cli::command().find_subcommand(command).is_some() => continue,
            ["farpace", ..] => given.clone(),
            ["cargo", "run", "--release", "--", ..] => given[3..].to_vec(),
            ["cargo", "test"] | ["cargo", "install", "--path", "."] => continue,
            _ => panic!("README names a command of another program: {line}"),
        };
        // A call as the table of commands shows it names forms and folders in capitals.
        let args = args.iter().map(|word| match word.as_str() {
            "FORMAT" => "geojson".to_owned(),
            _ => word.clone(),
        });
        if let Err(error) = Cli::try_parse_from(args) {
            panic!("README says `{line}`, and farpace does not understand it: {error}");
        }
        understood += 1;
    }
    assert!(understood >= 15, "README has lost its commands: {understood}");
}

#[test]
fn every_example_line_of_a_node_is_a_record() {
    let text = readme();
    let examples = part_of_text(&text, "## Node lines", "This is all that firmware");
    let mut words = Vec::new();
    for line in blocks(examples, "text")[0].lines() {
        words.push(record(line));
    }
    assert_eq!(words, ["hello", "echo", "lost", "note", "echo"]);
}

/// The word of the record a line is.
fn record(line: &str) -> &'static str {
    match node::read(line.as_bytes()) {
        Ok(NodeLine::Record { record, .. }) => match record {
            NodeRecord::Hello(hello) => {
                assert_eq!((hello.board.as_str(), hello.boot), ("fern", Some(7)));
                "hello"
            }
            NodeRecord::Echo(echo) => {
                assert!(echo.here.is_some() && echo.there.is_some());
                "echo"
            }
            NodeRecord::Lost(_) => "lost",
            NodeRecord::Note { .. } => "note",
        },
        other => panic!("`{line}` is no record: {other:?}"),
    }
}

fn part_of_text<'a>(text: &'a str, from: &str, to: &str) -> &'a str {
    let begin = text.find(from).unwrap_or_else(|| panic!("README has no `{from}`"));
    let end = begin + text[begin..].find(to).unwrap_or_else(|| panic!("README has no `{to}`"));
    &text[begin..end]
}

#[test]
fn what_the_example_firmware_prints_is_read() {
    let text = readme();
    let source = &blocks(&text, "c")[0];
    assert!(source.lines().count() <= 16, "short enough to be typed");
    let call = Regex::new(r#"printf\("((?:[^"\\]|\\.)*)\\n"((?:, \w+)*)\)"#).unwrap();
    let hole = Regex::new("%l?[dus]").unwrap();
    let mut printed = Vec::new();
    for found in call.captures_iter(source) {
        let names: Vec<&str> = found[2].split(", ").skip(1).collect();
        let mut line = found[1].to_owned();
        assert_eq!(hole.find_iter(&line).count(), names.len(), "{line}");
        for name in names {
            let value = match name {
                "boot" => "7",
                "n" => "1041",
                "here" | "there" => "-71",
                other => panic!("the firmware prints `{other}`"),
            };
            line = hole.replace(&line, value).into_owned();
        }
        printed.push(record(&line));
    }
    assert_eq!(printed, ["hello", "echo", "lost"]);
}

#[test]
fn every_key_of_the_records_table_is_read() {
    let text = readme();
    let rows = table_after(&text, "    printf(\"lost n=%lu\\n\", n);");
    let mut keys: Vec<(String, String)> = Vec::new();
    for row in &rows {
        let (word, key) = (bare(&row[0]), bare(&row[1]));
        keys.push((word.to_owned(), key.to_owned()));
        let required = match word {
            "hello" => "board=fern",
            "echo" | "lost" => "n=5",
            "note" => "text=x",
            other => panic!("there is no record `{other}`"),
        };
        let needs = row.last().unwrap().ends_with("; required");
        assert_eq!(needs, required.split('=').next() == Some(key), "{word} {key}");
        let value = match key {
            "board" | "fw" | "radio" | "text" => "x",
            "mhz" => "2437",
            "wrap" => "65536",
            _ => "1",
        };
        let rest = if needs { "" } else { required };
        let (_, unknown) = node::read_with_unknown_keys(format!("{word} {rest} {key}={value}").as_bytes()).unwrap();
        assert_eq!(unknown, Vec::<String>::new(), "`{key}` of `{word}` is not read");
    }
    // And the other way: every key the program itself can print stands in the table.
    let full = [
        r#"{"hello":{"board":"fern","boot":7,"fw":"0.3","radio":"ble","chan":6,"mhz":2437,"tx_dbm":15,"rate":10,"wrap":65536,"ref":1}}"#,
        r#"{"echo":{"n":5,"here":-70,"there":-71,"rtt_us":3000,"heard":5,"chan":6,"snr":20,"noise":-95,"tries":1}}"#,
        r#"{"lost":{"n":5,"chan":6}}"#,
        r#"{"note":{"text":"x"}}"#,
    ];
    let mut printed = Vec::new();
    for line in full {
        let Ok(NodeLine::Record { record, .. }) = node::read(line.as_bytes()) else {
            panic!("{line}");
        };
        let line = node::line(&record, false);
        let mut words = line.split_whitespace();
        let word = words.next().unwrap().to_owned();
        printed.extend(words.map(|pair| (word.clone(), pair.split('=').next().unwrap().to_owned())));
    }
    keys.sort();
    printed.sort();
    assert_eq!(keys, printed);
}

#[test]
fn the_tables_of_columns_are_the_columns_written() {
    let text = readme();
    let columns = |before: &str| -> Vec<String> {
        table_after(&text, before)
            .iter()
            .map(|row| bare(&row[0]).to_owned())
            .collect()
    };
    assert_eq!(columns("\n`samples.csv`:\n"), format::SAMPLE_COLUMNS);
    assert_eq!(columns("\n`points.csv`:\n"), format::POINT_COLUMNS);
    let exported = table_after(&text, "metres from the station.\n");
    let name = Regex::new("`([^`]+)`").unwrap();
    let mut named: Vec<&str> = exported
        .iter()
        .flat_map(|row| name.captures_iter(&row[0]).map(|found| found.extract::<1>().1[0]))
        .collect();
    let mut written: Vec<&str> = COLUMNS.iter().map(|(column, _)| *column).collect();
    named.sort_unstable();
    written.sort_unstable();
    assert_eq!(named, written);
    assert_eq!(
        columns("A folder for each, in"),
        [format::SETUP, format::JOURNAL, format::SAMPLES, format::POINTS]
    );
    assert!(text.contains(&format!("`{}`", format::TORN)));
}

#[test]
fn the_example_set_up_is_understood() {
    let text = readme();
    let read = setup_file::read(&blocks(&text, "toml")[0]).unwrap();
    assert_eq!(read.unknown, Vec::<String>::new());
    assert_eq!(read.setup.boards.len(), 1);
    NodePattern::new(read.setup.sources.node_pattern.as_deref().unwrap()).unwrap();
    for address in [&read.setup.sources.node, &read.setup.sources.gps] {
        Address::from_str(address.as_deref().unwrap()).unwrap();
    }
}

/// Names of the keys in `value`, however deep; those of counts by reason of exclusion are words of their own table.
fn keys_of(value: &serde_json::Value, into: &mut BTreeSet<String>) {
    match value {
        serde_json::Value::Array(values) => values.iter().for_each(|value| keys_of(value, into)),
        serde_json::Value::Object(object) => {
            for (key, value) in object {
                into.insert(key.clone());
                if key != "excluded" {
                    keys_of(value, into);
                }
            }
        }
        _ => {}
    }
}

#[test]
fn every_key_of_the_figures_is_told() {
    let said = part(&readme(), "keys of figures");
    let name = Regex::new("`(?:[a-z_]+(?:\\[\\])?\\.)*([a-z_0-9]+)`").unwrap();
    let told: BTreeSet<String> = name.captures_iter(&said).map(|found| found[1].to_owned()).collect();
    let mut there = BTreeSet::new();
    let read = |folders: &[&str], wanted: &Wanted| {
        let folders: Vec<PathBuf> = folders.iter().map(|name| at("sample-sessions").join(name)).collect();
        subject::read(&folders, Privacy::default(), wanted, |_| {}).unwrap()
    };
    let mounted = Wanted {
        mounted: Some(Metres(4.0)),
        ..Wanted::default()
    };
    for subjects in [
        read(&["walk", "first-look"], &Wanted::default()),
        read(&["boards", "sweep", "two-turned"], &Wanted::default()),
        read(&["trouble"], &mounted),
    ] {
        for subject in &subjects {
            let Subject {
                samples,
                setup,
                estimates,
                ..
            } = subject;
            keys_of(&json::survey("", samples, setup, estimates), &mut there);
        }
        let members: Vec<Member<'_>> = subjects
            .iter()
            .map(|subject| Member {
                name: &subject.folder,
                samples: &subject.samples,
                setup: &subject.setup,
                estimates: &subject.estimates,
            })
            .collect();
        keys_of(&together::json::json(&together::whole::together(&members)), &mut there);
    }
    let missing: Vec<&String> = there.difference(&told).collect();
    assert!(missing.is_empty(), "README does not tell of {missing:?}");
    // What these surveys do not show is told of only where it is written at all.
    let source = [
        "json.rs",
        "boards_json.rs",
        "loss_json.rs",
        "places/json.rs",
        "together/json.rs",
    ]
    .map(|file| fs::read_to_string(at("src/findings").join(file)).unwrap())
    .concat()
        + &fs::read_to_string(at("src/app/figures.rs")).unwrap()
        + &fs::read_to_string(at("src/app/in_metres.rs")).unwrap();
    let unknown: Vec<&String> = told
        .difference(&there)
        .filter(|key| !source.contains(&format!("\"{key}\"")))
        .collect();
    assert!(unknown.is_empty(), "README tells of {unknown:?}, which is nowhere");
}

#[test]
fn every_address_is_understood() {
    let text = readme();
    let rows = table_after(&text, "## Addresses");
    assert_eq!(rows.len(), 8);
    for row in rows {
        let address = bare(&row[0]);
        assert_eq!(Address::from_str(address).unwrap().to_string(), address);
    }
}

#[test]
fn the_scenarios_and_the_files_it_points_to_are_there() {
    let text = readme();
    let stories = part_of_text(&text, "Stories: ", ". The invented gear");
    let named: Vec<&str> = stories["Stories: ".len()..].split(", ").map(bare).collect();
    assert_eq!(named, farpace::rehearsal::NAMES);
    let link = Regex::new(r"\]\(([^)#]+)\)").unwrap();
    for found in link.captures_iter(&text) {
        assert!(
            at(&found[1]).exists(),
            "README points to {}, which is not there",
            &found[1]
        );
    }
    let anchor = Regex::new(r"\]\(#([^)]+)\)").unwrap();
    for found in anchor.captures_iter(&text) {
        let heading = format!("# {}", found[1].replace('-', " "));
        assert!(
            text.to_lowercase().contains(&heading),
            "README has no heading {heading}"
        );
    }
    let manifest: toml::Table = toml::from_str(&fs::read_to_string(at("Cargo.toml")).unwrap()).unwrap();
    let rust = manifest["package"]["rust-version"].as_str().unwrap();
    assert!(text.contains(&format!("the Rust toolchain, {rust} or later")));
    assert!(
        text.contains(&format!("### {}\n", env!("CARGO_PKG_VERSION"))),
        "release notes"
    );
}
