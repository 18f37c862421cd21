//! Logs of receivers, read straight through into their series of positions.
//!
//! The logs in `tests/reference/nmea` are invented: an orchard that is nowhere, and the oddities that real receivers
//! were seen to have. Logs of real receivers and the judge of what they should give are not part of this repository:
//! where a folder `../shared/gps` holds them, `cargo test --test receiver_logs -- --ignored` puts them to the judge.

#![expect(clippy::unwrap_used, reason = "a test stops at its first surprise")]

use std::{fmt::Write as _, path::Path, process::Command};

use farpace::{
    units::{Elapsed, UtcMs},
    wire::{
        Epoch,
        epoch::{EpochReader, PositionCounts},
    },
};

/// Every epoch of a log, the computer's clock standing still at `wall`.
fn epochs(log: &[u8], wall: UtcMs) -> (Vec<Epoch>, PositionCounts) {
    let mut reader = EpochReader::new();
    let mut epochs = Vec::new();
    for (number, line) in log.split(|&byte| byte == b'\n').enumerate() {
        epochs.extend(reader.feed(line, Elapsed(number as u64 * 1000), wall));
    }
    epochs.extend(reader.finish());
    (epochs, reader.counts())
}

/// `utc,lat,lon,alt,fix`, a row for each epoch, as the judge takes it.
fn series(epochs: &[Epoch]) -> String {
    let mut csv = "utc,lat,lon,alt,fix\n".to_owned();
    for epoch in epochs {
        let utc = epoch.utc.rfc3339().unwrap();
        match &epoch.fix {
            None => writeln!(csv, "{utc},,,,none").unwrap(),
            Some(fix) => {
                let (lat, lon) = (fix.position.lat().0, fix.position.lon().0);
                let alt = fix.alt_m.map(|alt| format!("{alt:.3}")).unwrap_or_default();
                let dimension = match fix.three_d {
                    None => "fix",
                    Some(true) => "3d",
                    Some(false) => "2d",
                };
                writeln!(csv, "{utc},{lat:.9},{lon:.9},{alt},{dimension}").unwrap();
            }
        }
    }
    csv
}

/// A moment in the life of the computer that reads the logs.
fn wall() -> UtcMs {
    UtcMs::parse("2026-05-02T12:00:00Z").unwrap()
}

/// Every value of every epoch, and the counts, as the expected series of an invented log has them.
fn full_series(epochs: &[Epoch], counts: PositionCounts) -> String {
    let mut csv =
        "utc,lat_deg,lon_deg,alt_m,fix,sats,hdop,sigma_m,sigma_from,speed_mps,course_deg,dimensions,refused\n"
            .to_owned();
    let number =
        |value: Option<f64>, decimals: usize| value.map(|value| format!("{value:.decimals$}")).unwrap_or_default();
    for epoch in epochs {
        let refused = epoch.refused.map(|why| format!("{why:?}")).unwrap_or_default();
        let Some(fix) = &epoch.fix else {
            writeln!(csv, "{},,,,,,,,,,,,{refused}", epoch.utc.rfc3339().unwrap()).unwrap();
            continue;
        };
        let cells = [
            epoch.utc.rfc3339().unwrap(),
            number(Some(fix.position.lat().0), 9),
            number(Some(fix.position.lon().0), 9),
            number(fix.alt_m, 3),
            fix.quality.map(|quality| quality.to_string()).unwrap_or_default(),
            fix.sats.map(|sats| sats.to_string()).unwrap_or_default(),
            number(fix.hdop, 2),
            number(fix.sigma.map(|(sigma, _)| sigma), 3),
            fix.sigma.map(|(_, from)| from.word().to_owned()).unwrap_or_default(),
            number(fix.speed_mps, 3),
            number(fix.course_deg, 1),
            fix.three_d
                .map(|three_d| if three_d { "3" } else { "2" }.to_owned())
                .unwrap_or_default(),
            refused,
        ];
        writeln!(csv, "{}", cells.join(",")).unwrap();
    }
    let PositionCounts {
        used,
        other,
        untimed,
        bad_checksum,
        no_checksum,
        malformed,
        garbled,
    } = counts;
    writeln!(
        csv,
        "# used={used} other={other} untimed={untimed} bad_checksum={bad_checksum} no_checksum={no_checksum} \
         malformed={malformed} garbled={garbled}"
    )
    .unwrap();
    csv
}

#[test]
fn every_invented_log_gives_its_series() {
    let mut logs = 0;
    for entry in std::fs::read_dir("tests/reference/nmea").unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|extension| extension != "nmea") {
            continue;
        }
        let (epochs, counts) = epochs(&std::fs::read(&path).unwrap(), wall());
        let expected = std::fs::read_to_string(path.with_extension("csv")).unwrap();
        let found = full_series(&epochs, counts);
        for (found, expected) in found.lines().zip(expected.lines()) {
            assert_eq!(found, expected, "{}", path.display());
        }
        assert_eq!(found, expected, "{}", path.display());
        logs += 1;
    }
    assert!(logs >= 15, "only {logs} logs");
}

#[test]
#[ignore = "needs ../shared and python3"]
fn the_judge_passes_every_log_of_a_real_receiver() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let shared = root.join("../shared/gps");
    let index = std::fs::read_to_string(shared.join("open/INDEX.tsv")).unwrap();
    let mut rows = index.lines().map(|row| row.split('\t').collect::<Vec<_>>());
    let head = rows.next().unwrap();
    let options = head.iter().position(|&name| name == "options").unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut judged = 0;
    for row in rows {
        let log = shared.join(format!("open/{}.log", row[0]));
        let candidate = folder.path().join(format!("{}.csv", row[0]));
        let bytes = std::fs::read(&log).unwrap();
        std::fs::write(&candidate, series(&epochs(&bytes, wall()).0)).unwrap();
        let verdict = Command::new("python3")
            .arg(shared.join("check_nmea.py"))
            .args(row.get(options).unwrap_or(&"").split_whitespace())
            .arg("-v")
            .args([&log, &log.with_extension("chk"), &candidate])
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&verdict.stdout).into_owned();
        print!("{said}{}", String::from_utf8_lossy(&verdict.stderr));
        assert!(verdict.status.success(), "{said}");
        judged += 1;
    }
    assert!(judged >= 14, "only {judged} logs judged");
}
