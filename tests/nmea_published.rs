//! Sentences with published or independently computed meanings, field by field, and broken ones with what must become
//! of them: `tests/reference/nmea/published.csv` names the source of each row.

#![expect(clippy::unwrap_used, reason = "a test stops at its first surprise")]

use std::collections::BTreeMap;

use farpace::{
    units::{Elapsed, UtcMs},
    wire::{
        Epoch,
        epoch::EpochReader,
        nmea::{
            Sentence,
            fields::{Day, DayTime, Place},
            framing::{Framed, sentences},
            sentence,
            state::{State, of_mode, of_quality},
        },
    },
};

struct Row {
    id: String,
    quantity: String,
    inputs: String,
    expected: String,
    tolerance: String,
}

fn rows() -> Vec<Row> {
    let mut reader = csv::Reader::from_path("tests/reference/nmea/published.csv").unwrap();
    reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            let text = |at: usize| record[at].to_owned();
            Row {
                id: text(0),
                quantity: text(1),
                inputs: text(2),
                expected: text(3),
                tolerance: text(5),
            }
        })
        .collect()
}

/// The bytes of a row's sentence, and the name of its case; `None` where the row has no sentence.
fn sentence_of(row: &Row) -> Option<(Vec<u8>, &str)> {
    let (text, case) = row.inputs.strip_prefix("sentence=")?.rsplit_once("; case=")?;
    Some((unescaped(text), case))
}

/// `\x00`, `\ufeff`, `\n` and `\r` as the bytes they stand for.
fn unescaped(text: &str) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('\\') {
        bytes.extend_from_slice(before.as_bytes());
        rest = if let Some(after) = after.strip_prefix("ufeff") {
            bytes.extend_from_slice("\u{feff}".as_bytes());
            after
        } else if let Some(after) = after.strip_prefix('x') {
            bytes.push(u8::from_str_radix(&after[..2], 16).unwrap());
            &after[2..]
        } else {
            bytes.push(if after.starts_with('n') { b'\n' } else { b'\r' });
            &after[1..]
        };
    }
    bytes.extend_from_slice(rest.as_bytes());
    bytes
}

/// All that is read of a sentence, by the names of the published rows; a value left out is `null`.
fn meaning(line: &[u8]) -> BTreeMap<&'static str, String> {
    let framed: Vec<_> = sentences(line).collect();
    let [Framed::Good(body)] = framed[..] else {
        panic!("{framed:?}")
    };
    let mut values = BTreeMap::new();
    let mut put = |name: &'static str, value: Option<String>| {
        values.insert(name, value.unwrap_or_else(|| "null".into()));
    };
    let read = sentence::read(body).unwrap();
    put("sentence_id", Some(format!("{} {}", &body[..2], &body[2..5])));
    put(
        "checksum_hex",
        Some(format!("{:02X}", body.bytes().fold(0, |sum, byte| sum ^ byte))),
    );
    let number = |value: Option<f64>| value.map(|value| value.to_string());
    let knots = |value: Option<f64>| number(value.map(|mps| mps * 3600.0 / 1852.0));
    let letter = |value: Option<char>| value.map(String::from);
    let (place, time): (Option<Place>, Option<DayTime>) = match &read {
        Sentence::Gga(gga) => (gga.place, gga.time),
        Sentence::Rmc(rmc) => (rmc.place, rmc.time),
        Sentence::Gll(gll) => (gll.place, gll.time),
        Sentence::Gns(gns) => (gns.place, gns.time),
        Sentence::Gst(gst) => (None, gst.time),
        Sentence::Zda(zda) => (None, zda.time),
        _ => (None, None),
    };
    put("lat", number(place.map(|place| place.position.lat().0)));
    put("lon", number(place.map(|place| place.position.lon().0)));
    put(
        "time_utc",
        time.map(|time| UtcMs(time.ms.into()).rfc3339().unwrap()[11..23].to_owned()),
    );
    match read {
        Sentence::Gga(gga) => {
            put("quality", gga.quality.map(|quality| quality.to_string()));
            put("num_sv", gga.sats.map(|sats| sats.to_string()));
            put("hdop", number(gga.hdop));
            put("alt_msl_m", number(gga.alt_m));
            put("geoid_sep_m", number(gga.geoid_m));
            put(
                "ellipsoidal_height_m",
                number(gga.alt_m.zip(gga.geoid_m).map(|(alt, geoid)| alt + geoid)),
            );
            put("dgps_age_s", number(gga.age_s));
        }
        Sentence::Rmc(rmc) => {
            put("status", letter(rmc.status));
            put("mode", letter(rmc.mode));
            put("nav_status", letter(rmc.nav_status));
            put("speed_mps", number(rmc.speed_mps));
            put("speed_kn", knots(rmc.speed_mps));
            put("course_true", number(rmc.course_deg));
            put("magvar", number(rmc.magvar_deg));
            put("date", rmc.day.map(date));
        }
        Sentence::Gll(gll) => {
            put("status", letter(gll.status));
            put("mode", letter(gll.mode));
        }
        Sentence::Gns(gns) => {
            put("mode", Some(gns.modes));
            put("num_sv", gns.sats.map(|sats| sats.to_string()));
            put("hdop", number(gns.hdop));
            put("alt_msl_m", number(gns.alt_m));
            put("geoid_sep_m", number(gns.geoid_m));
        }
        Sentence::Gsa(gsa) => {
            put("sel_mode", letter(gsa.selection));
            put("fix_type", gsa.dimension.map(|dimension| dimension.to_string()));
            put("sv_count", Some(gsa.sats.to_string()));
            put("pdop", number(gsa.pdop));
            put("hdop", number(gsa.hdop));
            put("vdop", number(gsa.vdop));
            put("system_id", gsa.system.map(|system| system.to_string()));
        }
        Sentence::Gst(gst) => {
            put("rms", number(gst.rms_m));
            put("std_lat_m", number(gst.lat_m));
            put("std_lon_m", number(gst.lon_m));
            put("std_alt_m", number(gst.alt_m));
        }
        Sentence::Vtg(vtg) => {
            put("course_true", number(vtg.course_deg));
            put("course_mag", number(vtg.magnetic_deg));
            put("speed_kn", knots(vtg.speed_mps));
            put("speed_kmh", number(vtg.kmh_mps.map(|mps| mps * 3.6)));
            put("speed_mps", number(vtg.speed_mps));
            put("mode", letter(vtg.mode));
        }
        Sentence::Zda(zda) => {
            put("date", zda.day.map(date));
            put("zone_h", zda.zone_h.map(|hours| format!("{hours:02}")));
            put("zone_m", zda.zone_min.map(|minutes| format!("{minutes:02}")));
        }
        Sentence::Other => {}
    }
    values
}

fn date(day: Day) -> String {
    UtcMs(day.0 * UtcMs::DAY).rfc3339().unwrap()[..10].to_owned()
}

#[test]
fn good_sentences_mean_what_is_published() {
    let mut checked = 0;
    for row in rows().iter().filter(|row| row.quantity != "malformed_outcome") {
        let Some((line, case)) = sentence_of(row) else { continue };
        let values = meaning(&line);
        let found = values
            .get(row.quantity.as_str())
            .unwrap_or_else(|| panic!("{} {}: not read", row.id, row.quantity));
        let same = match (
            found.parse::<f64>(),
            row.expected.parse::<f64>(),
            row.tolerance.parse::<f64>(),
        ) {
            (Ok(found), Ok(expected), Ok(tolerance)) if row.quantity == "course_true" => {
                // A course of 360 degrees is one of 0.
                let apart = (found - expected).rem_euclid(360.0);
                apart.min(360.0 - apart) <= tolerance
            }
            (Ok(found), Ok(expected), Ok(tolerance)) => (found - expected).abs() <= tolerance,
            _ => *found == row.expected,
        };
        assert!(
            same,
            "{} {case}: {} is {found}, should be {}",
            row.id, row.quantity, row.expected
        );
        checked += 1;
    }
    assert!(checked >= 250, "only {checked} rows");
}

/// The epoch that a reader makes of one line, and whether it used any sentence and refused none of it.
fn outcome(reader: &mut EpochReader, line: &[u8]) -> (Option<Epoch>, bool) {
    let before = reader.counts();
    for line in line.split(|&byte| byte == b'\n') {
        reader.feed(line, Elapsed(0), UtcMs::parse("2026-05-02T12:00:00Z").unwrap());
    }
    let epoch = reader.finish();
    let after = reader.counts();
    (
        epoch,
        after.malformed == before.malformed && after.bad_checksum == before.bad_checksum,
    )
}

#[test]
fn broken_sentences_come_to_what_they_must() {
    let mut checked = 0;
    for row in rows().iter().filter(|row| row.quantity == "malformed_outcome") {
        let (line, case) = sentence_of(row).unwrap();
        let mut reader = EpochReader::new();
        // A receiver that sends checksums; one that never does is another matter.
        reader.feed(b"$GPGSV,1,1,00*79", Elapsed(0), UtcMs(0));
        let (epoch, clean) = outcome(&mut reader, &line);
        let fix = epoch.as_ref().is_some_and(|epoch| epoch.fix.is_some());
        let is_position = !line.windows(3).any(|kind| kind == b"GSV");
        let right = match row.expected.as_str() {
            "accept" => clean && fix == is_position,
            "accept_after_resync" | "accept_second" | "reject_or_trim" => fix,
            "reject" | "reject_by_default" | "reject_position" => !fix,
            "ignore" => epoch.is_none() && clean,
            other => panic!("{other}"),
        };
        assert!(
            right,
            "{} {case} should be {}: {epoch:?}, {:?}",
            row.id,
            row.expected,
            reader.counts()
        );
        checked += 1;
    }
    assert!(checked >= 28, "only {checked} rows");
}

#[test]
fn codes_mean_what_is_published() {
    for row in rows() {
        let code = row.inputs.strip_prefix("code=");
        match (row.quantity.as_str(), code) {
            ("gga_quality_usable_for_survey", Some(code)) => {
                let usable = of_quality(code.parse().ok()) == State::Fix;
                assert_eq!(if usable { "yes" } else { "no" }, row.expected, "{}", row.id);
            }
            ("mode_indicator_meaning", Some(code)) => {
                let usable = of_mode(code.chars().next()) == State::Fix;
                let not = ["not valid", "estimated", "manual", "simulator"]
                    .iter()
                    .any(|word| row.expected.contains(word));
                assert_eq!(usable, !not, "{}: {code} is {}", row.id, row.expected);
            }
            _ => {}
        }
    }
}

#[test]
fn dates_and_speeds_come_to_what_is_published() {
    let wall = |text: &str| UtcMs::parse(text).unwrap();
    let read = |body: &str| sentence::read(body).unwrap();
    let mut checked = 0;
    for row in rows() {
        match row.quantity.as_str() {
            "rmc_two_digit_year" => {
                let year = row.inputs.strip_prefix("yy=").unwrap();
                let Sentence::Rmc(rmc) = read(&format!("GPRMC,120000,A,5206.0,N,00254.0,W,0.0,,0103{year},,")) else {
                    panic!()
                };
                assert_eq!(date(rmc.day.unwrap()), format!("{}-03-01", row.expected), "{}", row.id);
            }
            "knots_to_mps" => {
                let knots = row.inputs.strip_prefix("kn=").unwrap();
                let Sentence::Vtg(vtg) = read(&format!("GPVTG,,T,,M,{knots},N,,K")) else {
                    panic!()
                };
                let apart = vtg.speed_mps.unwrap() - row.expected.parse::<f64>().unwrap();
                assert!(apart.abs() <= row.tolerance.parse().unwrap(), "{}", row.id);
            }
            "gps_week_rollover_date" => {
                // A receiver one rollover behind says 1980-01-06 on that day; two behind, the same after the second.
                let mut reader = EpochReader::new();
                let now = wall(&format!("{}T12:00:00Z", row.expected));
                reader.feed(
                    farpace::wire::nmea::write::sentence("GPRMC,120000,A,5206.0,N,00254.0,W,0.0,,060180,,").as_bytes(),
                    Elapsed(0),
                    now,
                );
                assert_eq!(reader.finish().unwrap().utc, now, "{}", row.id);
            }
            "wno_rollover_symptom" => {
                let (reported, real) = row
                    .inputs
                    .strip_prefix("reported=")
                    .unwrap()
                    .split_once("; true=")
                    .unwrap();
                let day = |text: &str| wall(&format!("{text}T00:00:00Z")).0 / UtcMs::DAY;
                assert_eq!((day(real) - day(reported)).to_string(), row.expected);
                let (year, rest) = reported.split_at(4);
                let ddmmyy = format!("{}{}{}", &rest[4..6], &rest[1..3], &year[2..]);
                let mut reader = EpochReader::new();
                let now = wall(&format!("{real}T12:00:00Z"));
                let body = format!("GPRMC,115958,A,5206.0,N,00254.0,W,0.0,,{ddmmyy},,");
                reader.feed(farpace::wire::nmea::write::sentence(&body).as_bytes(), Elapsed(0), now);
                assert_eq!(reader.finish().unwrap().utc, UtcMs(now.0 - 2000));
            }
            "utc_midnight_rollover_gga" => {
                // The computer's clock is months off: the receiver's own date must carry over midnight.
                let mut reader = EpochReader::new();
                let now = wall("2026-03-01T12:00:00Z");
                let sentence = farpace::wire::nmea::write::sentence;
                let before = sentence("GNRMC,235959.50,A,5206.0,N,00254.0,W,0.0,,311226,,,A");
                let after = sentence("GNGGA,000000.50,5206.0,N,00254.0,W,1,09,0.9,61.0,M,48.0,M,,");
                reader.feed(before.as_bytes(), Elapsed(0), now);
                reader.feed(after.as_bytes(), Elapsed(1_000_000), UtcMs(now.0 + 1000));
                assert_eq!(reader.finish().unwrap().utc, wall(&row.expected));
            }
            _ => continue,
        }
        checked += 1;
    }
    assert!(checked >= 11, "only {checked} rows");
}
