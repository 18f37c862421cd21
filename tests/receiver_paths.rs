//! The whole way of a receiver's lines: through a pseudo-terminal into `farpace walk`, its journal, and the rows of
//! pings in between.
//!
//! After the lines of each epoch the board pings once. Where its row must lie follows from the expected series of the log
//! and from the arrival times in the journal alone, by the rules of the format: a fix stands at its UTC plus the smallest
//! delay so far, is believed if somebody can have moved there, and a row lies between two fixes or at the last one. So
//! it does not matter how fast the machine is.
#![cfg(unix)]
#![expect(clippy::unwrap_used, reason = "a log that cannot be played is a failed test")]

use std::collections::HashMap;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use farpace::ground::{Position, separation};
use farpace::session::journal;
use farpace::sources::pty::{PtyPair, Written};
use farpace::survey::{JournalLine, Source};
use farpace::units::{Degrees, Elapsed, UtcMs};
use farpace::wire::{Epoch, epoch::EpochReader};

/// Far above what anything here needs.
const LIMIT: Duration = Duration::from_secs(60);
/// Positions agree within a millimetre or so: the files hold eight decimals.
const DEGREES: f64 = 3e-8;

/// What a log went into.
struct Played {
    journal: Vec<JournalLine>,
    /// Rows by the number of their ping: cells by column.
    rows: HashMap<u64, HashMap<String, String>>,
}

fn write(cable: &mut PtyPair, bytes: &[u8]) {
    let mut rest = bytes;
    while let Written::Partly(count) = cable.write(rest).unwrap() {
        rest = &rest[count..];
    }
    assert!(cable.wait_until_read(LIMIT).unwrap(), "nobody reads");
}

/// Plays a log, a ping after each epoch.
fn play(log: &[u8]) -> Played {
    let below = tempfile::tempdir().unwrap();
    let mut node = PtyPair::with_link(below.path().join("node")).unwrap();
    let mut gps = PtyPair::with_link(below.path().join("gps")).unwrap();
    let folder = below.path().join("survey");
    let mut walk = Command::new(env!("CARGO_BIN_EXE_farpace"))
        .env("XDG_DATA_HOME", env!("CARGO_TARGET_TMPDIR"))
        .args(["walk", "--no-screen", "--out"])
        .arg(&folder)
        .arg("--node")
        .arg(format!("serial:{}", node.path()))
        .arg("--gps")
        .arg(format!("serial:{}@9600", gps.path()))
        .env_remove("FARPACE_SURVEYS")
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    write(&mut node, b"hello board=fern boot=1 rate=10\n");
    let mut reader = EpochReader::new();
    let mut pings = 0;
    let mut waiting = Vec::new();
    for line in log.split_inclusive(|&byte| byte == b'\n') {
        if !reader.feed(line, Elapsed(0), UtcMs(0)).is_empty() {
            write(&mut gps, &std::mem::take(&mut waiting));
            pings += 1;
            write(&mut node, format!("echo n={pings} here=-70\n").as_bytes());
        }
        waiting.extend_from_slice(line);
    }
    write(&mut gps, &waiting);
    write(&mut node, format!("echo n={} here=-70\n", pings + 1).as_bytes());
    let told = Command::new("kill")
        .args(["-TERM", &walk.id().to_string()])
        .status()
        .unwrap();
    assert!(told.success() && walk.wait().unwrap().success());
    let mut table = csv::Reader::from_path(folder.join("samples.csv")).unwrap();
    let columns = table.headers().unwrap().clone();
    let rows = table
        .records()
        .map(|row| {
            let row = row.unwrap();
            let cells: HashMap<_, _> = columns
                .iter()
                .zip(&row)
                .map(|(column, cell)| (column.to_owned(), cell.to_owned()))
                .collect();
            (cells["n"].parse().unwrap(), cells)
        })
        .collect();
    Played {
        journal: journal::read(&folder).unwrap().lines,
        rows,
    }
}

/// What an expected series says of an epoch's fix.
#[derive(Clone, Debug)]
struct Expected {
    place: Position,
    /// Cells of the row that must hold the same number, and the number.
    facts: Vec<(&'static str, f64)>,
}

/// A fix on the survey's clock.
struct Placed {
    at_s: f64,
    utc_ms: i64,
    fix: Expected,
}

/// Where UTC stands on the survey's clock: the smallest delay so far, unless a clock jumped.
#[derive(Default)]
struct Delays {
    least: Option<f64>,
    other: Option<(f64, u32)>,
}

impl Delays {
    fn place(&mut self, utc_s: f64, arrival_s: f64) -> f64 {
        let delay = arrival_s - utc_s;
        let least = *self.least.get_or_insert(delay);
        if (delay - least).abs() <= 5.0 {
            self.other = None;
            self.least = Some(least.min(delay));
            return utc_s + least.min(delay);
        }
        let agreed = match self.other {
            Some((other, count)) if (delay - other).abs() <= 0.5 => count + 1,
            _ => 1,
        };
        self.other = Some((delay, agreed));
        if agreed >= 3 {
            self.least = Some(delay);
            self.other = None;
        }
        arrival_s
    }
}

fn can_have_moved(from: &Placed, to: &Placed) -> bool {
    let by_utc = (to.utc_ms - from.utc_ms) as f64 / 1000.0;
    let seconds = if by_utc > 0.0 {
        by_utc
    } else {
        (to.at_s - from.at_s).max(0.1)
    };
    separation(from.fix.place, to.fix.place).distance.0 <= 100.0 * seconds
}

/// The fixes that are to be believed: the first when the next agrees, a far one when three in a row agree.
fn believed(epochs: &[Epoch], expected: &[Option<Expected>]) -> Vec<Placed> {
    let (mut good, mut aside) = (Vec::<Placed>::new(), Vec::<Placed>::new());
    let mut delays = Delays::default();
    // Counted from the first, so that a microsecond is not lost beside a date.
    let origin = epochs.first().map_or(0, |epoch| epoch.utc.0);
    for (epoch, fix) in epochs.iter().zip(expected) {
        let Some(fix) = fix else { continue };
        let next = Placed {
            at_s: delays.place((epoch.utc.0 - origin) as f64 / 1000.0, epoch.arrival.seconds()),
            utc_ms: epoch.utc.0,
            fix: fix.clone(),
        };
        if good.last().is_some_and(|last| can_have_moved(last, &next)) {
            aside.clear();
            good.push(next);
            continue;
        }
        if aside.last().is_some_and(|last| !can_have_moved(last, &next)) {
            aside.clear();
        }
        aside.push(next);
        if aside.len() >= if good.is_empty() { 2 } else { 3 } {
            good.append(&mut aside);
        }
    }
    for index in 1..good.len() {
        if good[index].at_s <= good[index - 1].at_s {
            good[index].at_s = good[index - 1].at_s + 1e-6;
        }
    }
    good
}

/// Where a row at `at_s` must lie, and the fix whose facts it must carry.
fn located(good: &[Placed], at_s: f64) -> Option<(f64, f64, &Expected)> {
    let after = good.partition_point(|fix| fix.at_s <= at_s + 1e-9);
    let earlier = &good[after.checked_sub(1)?];
    let (lat, lon) = (earlier.fix.place.lat().0, earlier.fix.place.lon().0);
    if let Some(later) = good.get(after)
        && later.at_s - earlier.at_s <= 3.0
    {
        let share = (at_s - earlier.at_s) / (later.at_s - earlier.at_s);
        let across = Degrees(later.fix.place.lon().0 - lon).0;
        let across = (across + 180.0).rem_euclid(360.0) - 180.0;
        return Some((
            lat + share * (later.fix.place.lat().0 - lat),
            lon + share * across,
            &earlier.fix,
        ));
    }
    (at_s - earlier.at_s <= 2.0).then_some((lat, lon, &earlier.fix))
}

/// Plays a log and checks every row; says how many rows had a place.
fn check(name: &str, log: &[u8], expected: impl FnOnce(&[Epoch]) -> Vec<Option<Expected>>) -> usize {
    let played = play(log);
    let kept: Vec<&[u8]> = played
        .journal
        .iter()
        .filter(|line| line.source == Source::Gps)
        .map(|line| line.bytes.as_slice())
        .collect();
    let sent: Vec<&[u8]> = log
        .split(|&byte| byte == b'\n')
        .map(|line| line.strip_suffix(b"\r").unwrap_or(line))
        .collect();
    let full = |lines: Vec<&[u8]>| -> Vec<String> {
        let text = lines.into_iter().filter(|line| !line.is_empty());
        text.map(|line| line.escape_ascii().to_string()).collect()
    };
    assert_eq!(full(kept), full(sent), "{name}: the journal is not what was sent");

    let mut reader = EpochReader::new();
    let mut epochs = Vec::new();
    let mut pings = Vec::new();
    for line in &played.journal {
        match line.source {
            Source::Gps => epochs.extend(reader.feed(&line.bytes, line.at, line.wall)),
            Source::Node if line.bytes.starts_with(b"echo ") => pings.push(line.at),
            _ => {}
        }
    }
    epochs.extend(reader.finish());
    let expected = expected(&epochs);
    assert_eq!(epochs.len(), expected.len(), "{name}: epochs");
    let good = believed(&epochs, &expected);
    let mut placed = 0;
    for (number, at) in (1_u64..).zip(&pings) {
        let row = &played.rows[&number];
        let Some((lat, lon, fix)) = located(&good, at.seconds()) else {
            assert_eq!(
                (row["lat_deg"].as_str(), row["alt_m"].as_str()),
                ("", ""),
                "{name}: ping {number}"
            );
            continue;
        };
        let number_of = |column: &str| -> f64 {
            let cell = &row[column];
            cell.parse()
                .unwrap_or_else(|_| panic!("{name}: ping {number}: {column} is `{cell}`"))
        };
        let apart = (number_of("lon_deg") - lon + 180.0).rem_euclid(360.0) - 180.0;
        assert!(
            (number_of("lat_deg") - lat).abs() <= DEGREES && apart.abs() <= DEGREES,
            "{name}: ping {number} at {} {}, expected {lat:.9} {lon:.9}",
            row["lat_deg"],
            row["lon_deg"]
        );
        for (column, value) in &fix.facts {
            assert!(
                (number_of(column) - value).abs() < 1e-3,
                "{name}: ping {number}: {column}"
            );
        }
        placed += 1;
    }
    assert_eq!(played.rows.len(), pings.len(), "{name}: a row for each ping");
    placed
}

fn position(lat: &str, lon: &str) -> Option<Position> {
    Position::new(Degrees(lat.parse().ok()?), Degrees(lon.parse().ok()?)).ok()
}

/// The series of an invented log.
fn series(path: &Path) -> Vec<Option<Expected>> {
    let text = std::fs::read_to_string(path).unwrap();
    let text: String = text
        .lines()
        .filter(|line| !line.starts_with('#'))
        .map(|line| format!("{line}\n"))
        .collect();
    let mut table = csv::Reader::from_reader(text.as_bytes());
    let columns = table.headers().unwrap().clone();
    let rows = table.records().map(|row| {
        let row = row.unwrap();
        let cell = |name: &str| row[columns.iter().position(|column| column == name).unwrap()].to_owned();
        let facts = ["alt_m", "fix", "sats", "hdop", "sigma_m"]
            .into_iter()
            .filter_map(|name| Some((name, cell(name).parse().ok()?)))
            // A quality of 0 is written as an empty cell.
            .filter(|(name, value)| *name != "fix" || *value > 0.0)
            .collect();
        position(&cell("lat_deg"), &cell("lon_deg")).map(|place| Expected { place, facts })
    });
    rows.collect()
}

#[test]
fn every_invented_log_comes_through() {
    let (mut logs, mut placed) = (0, 0);
    for entry in std::fs::read_dir("tests/reference/nmea").unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap();
        // A server's reports do not come through a serial port.
        if path.extension().is_none_or(|extension| extension != "nmea") || name == "gpsd" {
            continue;
        }
        placed += check(name, &std::fs::read(&path).unwrap(), |_| {
            series(&path.with_extension("csv"))
        });
        logs += 1;
    }
    assert!(logs >= 14 && placed >= 50, "{logs} logs, {placed} rows with a place");
}

/// The judge's series: positions by time of day.
fn judged(shared: &Path, log: &Path) -> HashMap<String, Vec<Position>> {
    let output = Command::new("python3")
        .arg(shared.join("check_nmea.py"))
        .arg("--expected")
        .args([log, &log.with_extension("chk")])
        .output()
        .unwrap();
    assert!(output.status.success());
    let mut series: HashMap<String, Vec<Position>> = HashMap::new();
    for row in String::from_utf8(output.stdout).unwrap().lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        if let Some(place) = position(cells[1], cells[2]) {
            series.entry(time_of_day(cells[0])).or_default().push(place);
        }
    }
    series
}

fn time_of_day(utc: &str) -> String {
    utc.rsplit('T').next().unwrap().trim_end_matches('Z').to_owned()
}

#[test]
#[ignore = "needs ../shared and python3"]
fn every_log_of_a_real_receiver_comes_through() {
    let shared = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/gps");
    let (mut logs, mut placed) = (0, 0);
    for entry in std::fs::read_dir(shared.join("open")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|extension| extension != "log") {
            continue;
        }
        let mut log = Vec::new();
        // No receiver sends the remarks, nor leaves its last line open.
        for line in std::fs::read(&path).unwrap().split_inclusive(|&byte| byte == b'\n') {
            if !line.starts_with(b"#") {
                log.extend_from_slice(line);
            }
        }
        if !log.ends_with(b"\n") {
            log.push(b'\n');
        }
        let name = path.file_stem().unwrap().to_str().unwrap();
        let judge = judged(&shared, &path);
        let (mut by_judge, mut disputed) = (0, 0);
        let found = check(name, &log, |epochs| {
            (by_judge, disputed) = (0, 0);
            let expected = epochs.iter().map(|epoch| {
                let own = epoch.fix.as_ref()?;
                let places = judge.get(&time_of_day(&epoch.utc.rfc3339().unwrap()));
                let nearest = places.into_iter().flatten().copied().min_by(|one, other| {
                    let far = |place: &Position| separation(own.position, *place).distance.0;
                    far(one).total_cmp(&far(other))
                });
                // Where judge and receiver dispute whether there is a fix at all, its place is the receiver's own word.
                match nearest {
                    Some(_) => by_judge += 1,
                    None => disputed += 1,
                }
                Some(Expected {
                    place: nearest.unwrap_or(own.position),
                    facts: Vec::new(),
                })
            });
            expected.collect()
        });
        println!("{name}: {found} rows with a place; fixes: {by_judge} by the judge, {disputed} disputed");
        assert!(disputed <= 2, "{name}: {disputed} fixes the judge does not have");
        placed += found;
        logs += 1;
    }
    assert!(logs >= 14 && placed >= 80, "{logs} logs, {placed} rows with a place");
}
