//! Every folder in `sample-sessions` is a test by being there: what was journalled gives the same tables whenever and
//! however it is read, a journal cut off anywhere opens up to the cut, and no line, however damaged, stops the reading.
#![expect(clippy::unwrap_used, reason = "a test's helper fails by panicking, as the test does")]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use farpace::app::tables;
use farpace::findings::points;
use farpace::session::folder::{self, Content};
use farpace::session::{format, journal, points_csv, samples_csv, setup_file};
use farpace::survey::{JournalLine, Samples, Setup, Survey};
use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};
use proptest::prelude::*;

/// Held by tests that start programs and by tests that hold journals: a program being started has, for an instant, every
/// file that any thread holds, and with it the journal's lock.
fn alone() -> MutexGuard<'static, ()> {
    static ALONE: Mutex<()> = Mutex::new(());
    ALONE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The sample sessions, in order of their names.
fn sessions() -> Vec<PathBuf> {
    let parent = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sessions");
    let mut found: Vec<PathBuf> = fs::read_dir(parent)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_dir())
        .collect();
    found.sort();
    assert!(found.len() >= 3, "the sample sessions are missing");
    found
}

/// The sample sessions that hold a journal.
fn journalled() -> Vec<PathBuf> {
    let found: Vec<PathBuf> = sessions()
        .into_iter()
        .filter(|path| path.join(format::JOURNAL).exists())
        .collect();
    assert!(found.len() >= 3, "the sample sessions have lost their journals");
    found
}

/// The session's set-up and lines.
fn open(session: &Path) -> (Setup, Vec<JournalLine>) {
    let found = folder::open(session).unwrap();
    assert_eq!(found.warnings, Vec::<String>::new(), "{}", session.display());
    match found.content {
        Content::Journal(lines) => (found.setup, lines),
        Content::Rows(_) => panic!("{} has no journal", session.display()),
    }
}

/// Both tables, as they are written.
fn written(samples: &Samples, setup: &Setup) -> (String, String) {
    let (mut rows, mut stops) = (Vec::new(), Vec::new());
    samples_csv::write(samples, &mut rows).unwrap();
    points_csv::write(&points::points(samples, setup), &mut stops).unwrap();
    (String::from_utf8(rows).unwrap(), String::from_utf8(stops).unwrap())
}

/// Fails with the first line that differs: whole tables say nothing to a reader.
fn same(what: &str, found: &str, expected: &str) {
    if found == expected {
        return;
    }
    let differing = found
        .lines()
        .zip(expected.lines())
        .enumerate()
        .find(|(_, (found, expected))| found != expected);
    match differing {
        Some((index, (found, expected))) => {
            panic!("{what}, line {}:\nfound    {found}\nexpected {expected}", index + 1)
        }
        None => panic!(
            "{what}: {} lines found, {} expected",
            found.lines().count(),
            expected.lines().count()
        ),
    }
}

fn line_ends(bytes: &[u8]) -> usize {
    bytes.split(|byte| *byte == b'\n').count() - 1
}

/// A folder with copies of some of a session's files.
fn copy(session: &Path, files: &[&str]) -> tempfile::TempDir {
    let to = tempfile::tempdir().unwrap();
    for file in files {
        fs::copy(session.join(file), to.path().join(file)).unwrap();
    }
    to
}

#[test]
fn a_rebuilt_survey_is_the_same_byte_for_byte() {
    for session in journalled() {
        let to = copy(&session, &[format::SETUP, format::JOURNAL]);
        let mut survey = folder::open(to.path()).unwrap().survey().unwrap();
        tables::write(to.path(), &mut survey).unwrap();
        for file in [format::SAMPLES, format::POINTS] {
            let what = format!("{}/{file}", session.display());
            let read = |folder: &Path| fs::read_to_string(folder.join(file)).unwrap();
            same(&what, &read(to.path()), &read(&session));
        }
    }
}

/// Feeds the lines as they came; after each, `look` says whether somebody looks at the rows.
fn replay(setup: &Setup, lines: &[JournalLine], mut look: impl FnMut(usize) -> bool) -> (String, String) {
    let mut survey = Survey::new(setup.clone(), None);
    for (index, line) in lines.iter().enumerate() {
        survey.apply(line);
        if look(index) {
            survey.samples();
        }
    }
    survey.settle();
    let rows = survey.samples().clone();
    written(&rows, setup)
}

#[test]
fn live_and_replay_agree_whenever_somebody_looked() {
    for session in journalled() {
        let (setup, lines) = open(&session);
        let once = replay(&setup, &lines, |_| false);
        let name = session.display();
        same(
            &format!("{name}, in one go"),
            &once.0,
            &fs::read_to_string(session.join(format::SAMPLES)).unwrap(),
        );
        let always = replay(&setup, &lines, |_| true);
        same(&format!("{name}, looked at after every line"), &always.0, &once.0);
        same(
            &format!("{name}, points, looked at after every line"),
            &always.1,
            &once.1,
        );
        for seed in 1..=6_u64 {
            // A multiplicative generator (Lehmer; Park and Miller 1988's modulus) is all the chance that is needed here.
            let mut state = seed;
            let one_in = 1 << seed;
            let chance = |_| {
                state = state * 48_271 % 2_147_483_647;
                state % one_in == 0
            };
            let sometimes = replay(&setup, &lines, chance);
            same(
                &format!("{name}, looked at one time in {one_in}"),
                &sometimes.0,
                &once.0,
            );
            same(&format!("{name}, points, one time in {one_in}"), &sometimes.1, &once.1);
        }
    }
}

#[test]
fn a_journal_cut_off_anywhere_opens_up_to_the_cut() {
    const CUTS: usize = 200;
    let _alone = alone();
    for session in journalled() {
        let bytes = fs::read(session.join(format::JOURNAL)).unwrap();
        let (setup, whole) = open(&session);
        let to = copy(&session, &[format::SETUP]);
        let path = to.path().join(format::JOURNAL);
        let mut inside = 0;
        for number in 0..=CUTS {
            let cut = bytes.len() * number / CUTS;
            fs::write(&path, &bytes[..cut]).unwrap();
            let end = bytes[..cut]
                .iter()
                .rposition(|byte| *byte == b'\n')
                .map_or(0, |at| at + 1);
            let records = line_ends(&bytes[..end]);
            let found = folder::open(to.path()).unwrap();
            let torn = cut - end;
            let said = found.warnings.iter().any(|warning| {
                warning.contains("its last record was cut off") && warning.contains(&format!("after {torn} byte"))
            });
            assert_eq!(
                said,
                torn > 0,
                "{} cut at {cut}: {:?}",
                session.display(),
                found.warnings
            );
            assert_eq!(found.warnings.len(), usize::from(torn > 0));
            inside += usize::from(torn > 0);
            let Content::Journal(lines) = &found.content else {
                panic!("the journal is there");
            };
            // The header is the first line of the file and no record.
            assert!(
                lines == &whole[..records.saturating_sub(1)],
                "{} cut at {cut}",
                session.display()
            );
            if number % 20 == 0 {
                let prefix = replay(&setup, &whole[..records.saturating_sub(1)], |_| false);
                same(
                    "the rows of the prefix",
                    &written(&found.samples(), &setup).0,
                    &prefix.0,
                );
            }
            // Going on sets the torn record aside and keeps everything before it as it is.
            let (writer, aside) = journal::JournalWriter::open(to.path()).unwrap();
            drop(writer);
            assert_eq!(aside, (torn > 0).then_some(torn));
            assert!(fs::read(&path).unwrap() == bytes[..end]);
            if torn > 0 {
                let kept = fs::read(to.path().join(format::TORN)).unwrap();
                assert!(kept.strip_suffix(b"\n").unwrap() == &bytes[end..cut]);
                fs::remove_file(to.path().join(format::TORN)).unwrap();
            }
        }
        assert!(inside > CUTS / 2, "most cuts go through a record");
    }
}

#[test]
fn rows_read_back_are_written_the_same() {
    for session in sessions() {
        let bytes = fs::read(session.join(format::SAMPLES)).unwrap();
        let back = samples_csv::read(&bytes).unwrap();
        assert_eq!(back.unreadable, Vec::new());
        let mut again = Vec::new();
        samples_csv::write(&back.samples, &mut again).unwrap();
        same(
            &session.join(format::SAMPLES).display().to_string(),
            std::str::from_utf8(&again).unwrap(),
            std::str::from_utf8(&bytes).unwrap(),
        );
    }
}

#[test]
fn the_rows_alone_give_the_same_points() {
    for session in sessions() {
        let setup = folder::open(&session).unwrap().setup;
        let to = copy(&session, &[format::SAMPLES]);
        let found = folder::open(to.path()).unwrap();
        assert!(matches!(found.content, Content::Rows(_)));
        assert!(
            found
                .warnings
                .iter()
                .any(|warning| warning.contains("survey.toml is missing"))
        );
        // The positions in the file have 8 decimals, about a millimetre: the mean's last digits may differ by as much.
        let parse = |text: &str| -> Vec<Vec<String>> {
            let mut table = csv::Reader::from_reader(text.as_bytes());
            table
                .records()
                .map(|record| record.unwrap().iter().map(str::to_owned).collect())
                .collect()
        };
        let alone = parse(&written(&found.samples(), &setup).1);
        let stops = parse(&fs::read_to_string(session.join(format::POINTS)).unwrap());
        assert_eq!(alone.len(), stops.len(), "{}", session.display());
        for (alone, stop) in alone.iter().zip(&stops) {
            for ((name, alone), stop) in format::POINT_COLUMNS.iter().zip(alone).zip(stop) {
                let tolerance = match *name {
                    "lat_deg" | "lon_deg" => 1.1e-8,
                    "sigma_m" => 0.0011,
                    "distance_m" => 0.011,
                    "bearing_deg" => 0.11,
                    _ => {
                        assert_eq!(alone, stop, "{}: {name}", session.display());
                        continue;
                    }
                };
                if alone != stop {
                    let off = alone.parse::<f64>().unwrap() - stop.parse::<f64>().unwrap();
                    assert!(off.abs() <= tolerance, "{}: {name} {alone} {stop}", session.display());
                }
            }
        }
    }
}

/// What `farpace figures --json` prints of a folder.
fn figures(folder: &Path) -> serde_json::Value {
    let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_farpace"))
        .env("XDG_DATA_HOME", env!("CARGO_TARGET_TMPDIR"))
        .arg("figures")
        .arg(folder)
        .arg("--json")
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn a_folder_with_only_rows_gives_the_same_delivery_figures() {
    let _alone = alone();
    let session = &journalled()[0];
    let whole = figures(session);
    let to = copy(session, &[format::SAMPLES, format::SETUP]);
    let alone = figures(to.path());
    for key in [
        "exchanges",
        "exchanges_counted",
        "delivered",
        "excluded",
        "begin_utc",
        "end_utc",
    ] {
        assert!(!whole["surveys"][0][key].is_null(), "{key}");
        assert_eq!(alone["surveys"][0][key], whole["surveys"][0][key], "{key}");
    }
    let stops = |value: &serde_json::Value| value["surveys"][0]["points"].as_array().unwrap().clone();
    let (alone, whole) = (stops(&alone), stops(&whole));
    assert!(!whole.is_empty());
    assert_eq!(alone.len(), whole.len());
    for (alone, whole) in alone.iter().zip(&whole) {
        for key in ["point", "board", "messages", "delivered"] {
            assert!(!whole[key].is_null(), "{key} of {whole}");
            assert_eq!(alone[key], whole[key], "{key}");
        }
        // Not to the last bit: the rows hold times to the millisecond, the journal to the microsecond.
        if whole["count"].is_null() {
            continue;
        }
        assert_eq!(alone["count"]["verdict"], whole["count"]["verdict"]);
        for key in ["rate", "rate_low", "rate_high"] {
            let [alone, whole] = [alone, whole].map(|stop| stop["count"][key].as_f64().unwrap());
            assert!((alone - whole).abs() < 1e-3, "{key} {alone} {whole}");
        }
    }
}

#[test]
fn a_station_moved_in_the_set_up_moves_every_distance() {
    let earth = Geodesic::wgs84();
    for session in journalled() {
        let to = copy(&session, &[format::SETUP, format::JOURNAL]);
        let before = folder::open(to.path()).unwrap();
        let station = before.setup.station.position.unwrap();
        let (lat, lon): (f64, f64) = earth.direct(station.lat().0, station.lon().0, 130.0, 100.0);
        let path = to.path().join(format::SETUP);
        let mut text: toml_edit::DocumentMut = fs::read_to_string(&path).unwrap().parse().unwrap();
        text["station"]["lat_deg"] = toml_edit::value(lat);
        text["station"]["lon_deg"] = toml_edit::value(lon);
        fs::write(&path, text.to_string()).unwrap();
        setup_file::read(&text.to_string()).unwrap();
        let mut survey = folder::open(to.path()).unwrap().survey().unwrap();
        tables::write(to.path(), &mut survey).unwrap();
        let mut table = csv::Reader::from_path(to.path().join(format::SAMPLES)).unwrap();
        let column = |name: &str| {
            format::SAMPLE_COLUMNS
                .iter()
                .position(|column| *column == name)
                .unwrap()
        };
        let columns = ["lat_deg", "lon_deg", "distance_m", "bearing_deg"].map(column);
        let mut old = csv::Reader::from_path(session.join(format::SAMPLES)).unwrap();
        let (mut rows, mut moved) = (0, 0);
        for (row, old) in table.records().zip(old.records()) {
            let (row, old) = (row.unwrap(), old.unwrap());
            if row[columns[0]].is_empty() {
                assert!(row[columns[2]].is_empty());
                continue;
            }
            rows += 1;
            let [row_lat, row_lon, distance, bearing] = columns.map(|column| row[column].parse::<f64>().unwrap());
            let (metres, azimuth, _, _): (f64, f64, f64, f64) = earth.inverse(row_lat, row_lon, lat, lon);
            // Half the last decimal, and the position's own eighth decimal.
            assert!((metres - distance).abs() < 0.0065, "{distance} {metres}");
            let off = (azimuth - bearing + 540.0).rem_euclid(360.0) - 180.0;
            assert!(off.abs() < 0.051 + (0.002 / metres).to_degrees(), "{bearing} {azimuth}");
            moved += usize::from(row[columns[2]] != old[columns[2]]);
        }
        assert!(rows > 100, "{}", session.display());
        // Only on the line half-way between the two places would a distance stay what it was.
        assert!(moved * 100 > rows * 99, "{moved} of {rows}");
    }
}

#[test]
fn a_station_on_another_continent_gives_no_range_and_says_why_in_the_words_of_the_map() {
    let _alone = alone();
    let session = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sessions/walk");
    let to = copy(&session, &[format::SETUP, format::SAMPLES]);
    let right = figures(to.path());
    let path = to.path().join(format::SETUP);
    let mut text: toml_edit::DocumentMut = fs::read_to_string(&path).unwrap().parse().unwrap();
    let lat = text["station"]["lat_deg"].as_float().unwrap();
    text["station"]["lat_deg"] = toml_edit::value(lat - 5.0);
    fs::write(&path, text.to_string()).unwrap();
    let far = figures(to.path());
    let why = "the station's position is 556 km from where was walked: correct it in survey.toml and rebuild";
    let reaches = |value: &serde_json::Value| {
        let boards = value["surveys"][0]["boards"].as_array().unwrap();
        boards.iter().map(|board| board["reach"].clone()).collect::<Vec<_>>()
    };
    assert!(reaches(&right).iter().any(|reach| !reach["exponent"].is_null()));
    for reach in reaches(&far) {
        assert_eq!(reach["why_not"], why);
        assert!(reach["exponent"].is_null() && reach["farthest_m"].is_null(), "{reach}");
        assert_eq!(reach["ranges"].as_array().unwrap().len(), 0, "{reach}");
    }
    assert_eq!(far["surveys"][0]["places"]["why_not"], why);
    for key in ["exchanges_counted", "delivered"] {
        assert_eq!(far["surveys"][0][key], right["surveys"][0][key]);
    }
}

#[test]
fn exchanges_that_a_receiver_put_where_no_link_goes_stand_in_neither_fit_nor_map() {
    use farpace::findings::curves::Known;
    use farpace::findings::estimates::estimates;
    use farpace::ground::Position;
    use farpace::survey::sample::Activity;
    use farpace::units::Degrees;

    let opened = folder::open(&Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sessions/walk")).unwrap();
    let Content::Rows(mut samples) = opened.content else {
        panic!("the sample session of a walk holds rows")
    };
    let of = |samples: &Samples| estimates(samples, &opened.setup, &Known::default(), None, |_| false);
    let right = of(&samples);
    let walked = samples.rows.iter_mut();
    let walked = walked.filter(|row| row.counts() && row.activity == Activity::Walk && row.place.is_some());
    let mut jumped = 0;
    for row in walked.skip(400).take(200) {
        let place = row.place.as_mut().unwrap();
        let there = Degrees(place.position.lat().0 + 5.0);
        place.position = Position::new(there, place.position.lon()).unwrap();
        jumped += 1;
    }
    let found = of(&samples);
    let (reach, whole) = (
        found.boards[0].reach.as_ref().unwrap(),
        right.boards[0].reach.as_ref().unwrap(),
    );
    assert_eq!((jumped, whole.too_far), (200, 0));
    assert!((150..=200).contains(&reach.too_far), "{}", reach.too_far);
    let far = |reach: &farpace::findings::reach::Reach| reach.fit.as_ref().unwrap().extent.farthest_m;
    assert!((far(reach) - far(whole)).abs() < 30.0, "{} {}", far(reach), far(whole));
    let places = |estimates: &farpace::findings::estimates::Estimates| {
        let places = estimates.places.as_ref().unwrap().as_ref().unwrap();
        (places.step_m, places.exchanges)
    };
    let ((step, kept), (whole_step, all)) = (places(&found), places(&right));
    assert_eq!(step, whole_step, "the map covers the same ground");
    assert!(kept < all && all - kept <= 400, "{kept} {all}");
}

/// What befalls one line.
#[derive(Clone, Debug)]
enum Damage {
    Flip { at: usize, bits: u8 },
    Cut(usize),
    Insert { at: usize, bytes: Vec<u8> },
    Digits(u64),
    Swap(usize),
    Source(usize),
    Time(u64),
    LeftOut,
}

fn damage() -> impl Strategy<Value = Damage> {
    prop_oneof![
        (any::<usize>(), 1_u8..).prop_map(|(at, bits)| Damage::Flip { at, bits }),
        any::<usize>().prop_map(Damage::Cut),
        (any::<usize>(), prop::collection::vec(any::<u8>(), 1..40))
            .prop_map(|(at, bytes)| Damage::Insert { at, bytes }),
        any::<u64>().prop_map(Damage::Digits),
        any::<usize>().prop_map(Damage::Swap),
        (0_usize..4).prop_map(Damage::Source),
        any::<u64>().prop_map(Damage::Time),
        Just(Damage::LeftOut),
    ]
}

fn befall(lines: &mut [JournalLine], index: usize, damage: &Damage) {
    let count = lines.len();
    let line = &mut lines[index % count];
    let length = line.bytes.len();
    match damage {
        Damage::Flip { at, bits } if length > 0 => line.bytes[at % length] ^= bits,
        Damage::Flip { .. } => {}
        Damage::Cut(at) => line.bytes.truncate(at % (length + 1)),
        Damage::Insert { at, bytes } => {
            let at = at % (length + 1);
            line.bytes.splice(at..at, bytes.iter().copied());
        }
        Damage::Digits(number) => {
            // The first run of digits becomes another number, however large.
            if let Some(begin) = line.bytes.iter().position(u8::is_ascii_digit) {
                let digits = line.bytes[begin..]
                    .iter()
                    .take_while(|byte| byte.is_ascii_digit())
                    .count();
                line.bytes
                    .splice(begin..begin + digits, number.to_string().into_bytes());
            }
        }
        Damage::Swap(other) => lines.swap(index % count, other % count),
        Damage::Source(source) => line.source = farpace::survey::Source::ALL[*source],
        Damage::Time(time) => line.at = farpace::units::Elapsed(*time),
        Damage::LeftOut => line.left_out = 7,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    /// Lines damaged in every way still make a survey that can be written, and read back to the same bytes.
    #[test]
    fn damaged_lines_never_stop_the_reading(
        session in any::<usize>(),
        begin in any::<usize>(),
        damages in prop::collection::vec((any::<usize>(), damage()), 1..40),
    ) {
        let sessions = journalled();
        let (setup, all) = open(&sessions[session % sessions.len()]);
        // The beginning, where boards and fixes introduce themselves, then a stretch from anywhere.
        let begin = begin % all.len();
        let mut lines: Vec<JournalLine> = all.iter().take(60).chain(all.iter().skip(begin).take(500)).cloned().collect();
        for (index, damage) in &damages {
            befall(&mut lines, *index, damage);
        }
        let mut survey = Survey::new(setup.clone(), None);
        for line in &lines {
            survey.apply(line);
        }
        survey.settle();
        let samples = survey.samples().clone();
        let (rows, _) = written(&samples, &setup);
        let back = samples_csv::read(rows.as_bytes()).unwrap();
        prop_assert_eq!(&back.unreadable, &Vec::new());
        let again = written(&back.samples, &setup).0;
        prop_assert_eq!(again, rows);
    }

    /// A journal with bytes damaged anywhere is read as far as it can be; every record is used or reported.
    #[test]
    fn damaged_journals_are_read_as_far_as_they_can_be(
        session in any::<usize>(),
        begin in any::<usize>(),
        flips in prop::collection::vec((any::<usize>(), any::<u8>()), 1..60),
    ) {
        let sessions = journalled();
        let bytes = fs::read(sessions[session % sessions.len()].join(format::JOURNAL)).unwrap();
        let begin = begin % bytes.len();
        let mut piece = bytes[begin..bytes.len().min(begin + 20_000)].to_vec();
        for (at, byte) in &flips {
            let at = at % piece.len();
            piece[at] = *byte;
        }
        let read = journal::parse(&piece);
        let ends = line_ends(&piece);
        prop_assert!(read.lines.len() + read.unreadable.len() <= ends);
        prop_assert_eq!(read.torn.map_or(0, |torn| torn.len()) as u64 + read.whole_bytes, piece.len() as u64);
        let mut survey = Survey::new(Setup::default(), None);
        for line in &read.lines {
            survey.apply(line);
        }
        survey.settle();
        survey.samples();
    }
}

/// The program killed outright, over real pseudo-terminals.
#[cfg(unix)]
mod killed {
    #![expect(
        clippy::disallowed_methods,
        reason = "a kill in the middle is an event of the real world: it needs a real second"
    )]

    use std::process::{Child, Command, Stdio};
    use std::thread::sleep;
    use std::time::Duration;

    use farpace::sources::pty::{PtyPair, Written};

    use super::*;

    /// Far above need; a machine that takes longer is stuck.
    const LIMIT: Duration = Duration::from_secs(60);

    fn walk(folder: &Path, link: &Path, more: &[&str]) -> Child {
        Command::new(env!("CARGO_BIN_EXE_farpace"))
            .env("XDG_DATA_HOME", env!("CARGO_TARGET_TMPDIR"))
            .args(["walk", "--no-screen", "--node"])
            .arg(format!("serial:{}", link.display()))
            .arg("--out")
            .arg(folder)
            .args(more)
            .stdin(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap()
    }

    fn tell(board: &mut PtyPair, text: &str) {
        let mut rest = text.as_bytes();
        while let Written::Partly(count) = board.write(rest).unwrap() {
            rest = &rest[count..];
        }
        assert!(board.wait_until_read(LIMIT).unwrap(), "nobody reads the board");
    }

    fn echoes(numbers: std::ops::RangeInclusive<u32>) -> String {
        let lines: Vec<String> = numbers.map(|n| format!("echo n={n} here=-70 there=-72\n")).collect();
        lines.concat()
    }

    /// The numbers of the echoes a folder's rows hold, with why a lost one is left out.
    fn rows(folder: &Path) -> (Vec<u64>, Vec<(u64, &'static str)>) {
        let samples = folder::open(folder).unwrap().samples();
        let heard = samples.rows.iter().filter(|row| row.delivered()).map(|row| row.n);
        let not = samples.rows.iter().filter(|row| !row.delivered());
        (
            heard.collect(),
            not.map(|row| (row.n, row.excluded.map_or("", |why| why.word())))
                .collect(),
        )
    }

    #[test]
    fn what_is_older_than_a_second_survives_a_kill_and_the_survey_goes_on() {
        let _alone = alone();
        let place = tempfile::tempdir().unwrap();
        let (folder, link) = (place.path().join("survey"), place.path().join("node"));
        let mut board = PtyPair::with_link(&link).unwrap();
        let mut first = walk(&folder, &link, &[]);
        tell(&mut board, "hello board=fern boot=7 rate=10\n");
        tell(&mut board, &echoes(1..=40));
        sleep(Duration::from_secs(1));
        // These are younger than a second, and the last has no end yet: they may be there or not.
        tell(&mut board, &echoes(41..=45));
        tell(&mut board, "echo n=46 here=-");
        first.kill().unwrap();
        assert!(!first.wait().unwrap().success());
        let before = fs::read(folder.join(format::JOURNAL)).unwrap();
        let (heard, not) = rows(&folder);
        assert!(heard.len() >= 40 && heard.len() <= 45, "{heard:?}");
        assert!(heard.iter().copied().eq(1..=heard.len() as u64), "{heard:?}");
        assert_eq!(not, []);
        assert!(!folder.join(format::SAMPLES).exists(), "it had no time to write them");

        // A power cut may leave half a record behind.
        let half = b"12.3,2026-05-16T09:1";
        let mut torn = before.clone();
        torn.extend_from_slice(half);
        fs::write(folder.join(format::JOURNAL), &torn).unwrap();

        board.unplug();
        let mut board = PtyPair::with_link(&link).unwrap();
        let mut second = walk(&folder, &link, &["--go-on"]);
        tell(&mut board, "hello board=fern boot=7 rate=10\n");
        tell(&mut board, &echoes(51..=60));
        let told = Command::new("kill")
            .args(["-INT", &second.id().to_string()])
            .status()
            .unwrap();
        assert!(told.success());
        assert!(
            second.wait().unwrap().success(),
            "it ends with status 0 when told to stop"
        );
        let after = fs::read(folder.join(format::JOURNAL)).unwrap();
        assert!(after.starts_with(&before), "what was journalled stays as it was");
        let aside = fs::read(folder.join(format::TORN)).unwrap();
        assert_eq!(aside.strip_suffix(b"\n").unwrap(), half);
        let kept = heard.len() as u64;
        let (heard, not) = rows(&folder);
        assert!(heard.iter().copied().eq((1..=kept).chain(51..=60)), "{heard:?}");
        // What the board sent while nobody read it is kept as rows that do not count.
        assert!(not.iter().map(|(n, _)| *n).eq(kept + 1..=50), "{not:?}");
        assert!(not.iter().all(|(_, why)| *why == "unread"), "{not:?}");
        let found = folder::open(&folder).unwrap();
        let (table, _) = written(&found.samples(), &found.setup);
        same(
            "samples.csv",
            &fs::read_to_string(folder.join(format::SAMPLES)).unwrap(),
            &table,
        );
    }
}
