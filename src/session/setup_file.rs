//! `survey.toml`: the set-up, written for people to edit.

use std::fmt::Write as _;

use serde::Deserialize;
use thiserror::Error;
use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, value};

use super::format::VERSION;
use crate::ground::{NoPosition, Position};
use crate::survey::setup::{BoardNote, Goal, LeaveOut, Radio, Setup, SourceAddresses, Station};
use crate::units::{Dbm, Degrees, Megahertz, Metres};

/// Why a set-up cannot be used.
#[derive(Debug, Error)]
pub enum SetupError {
    /// It is no TOML, or a value has the wrong kind.
    #[error("survey.toml cannot be read:\n{0}")]
    Toml(#[from] toml::de::Error),
    /// It is of a later version.
    #[error("survey.toml says format = {0}; this farpace knows {VERSION}: use a newer one")]
    Version(i64),
    /// The station's position is none.
    #[error("[station] {0}")]
    Station(#[from] NoPosition),
    /// Half a position.
    #[error("[station] needs both lat_deg and lon_deg, or neither")]
    HalfPosition,
    /// A value out of range.
    #[error("{key} = {value} is out of range: it must be {range}")]
    Range {
        /// Which key.
        key: String,
        /// What stands there.
        value: String,
        /// What may stand there.
        range: &'static str,
    },
    /// A file that is to be changed is no TOML.
    #[error("survey.toml cannot be changed:\n{0}")]
    Edit(#[from] toml_edit::TomlError),
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct Raw {
    format: Option<i64>,
    title: Option<String>,
    note: Option<String>,
    station: RawStation,
    radio: RawRadio,
    goal: RawGoal,
    board: Vec<RawBoard>,
    leave_out: Vec<RawLeaveOut>,
    sources: RawSources,
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct RawStation {
    name: Option<String>,
    lat_deg: Option<f64>,
    lon_deg: Option<f64>,
    height_m: Option<f64>,
    sigma_m: Option<f64>,
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct RawRadio {
    kind: Option<String>,
    channel: Option<u32>,
    mhz: Option<f64>,
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct RawGoal {
    delivery: Option<f64>,
    confidence: Option<f64>,
    margin_db: Option<f64>,
    messages: Option<u32>,
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct RawBoard {
    name: String,
    reference: bool,
    height_m: Option<f64>,
    tx_dbm: Option<f64>,
    note: Option<String>,
}

#[derive(Deserialize)]
struct RawLeaveOut {
    from_s: f64,
    to_s: f64,
    #[serde(default)]
    why: String,
}

#[derive(Deserialize, Default)]
#[serde(default)]
struct RawSources {
    node: Option<String>,
    gps: Option<String>,
    node_pattern: Option<String>,
}

/// The keys each table knows; the first is the top.
const KNOWN: [(&str, &[&str]); 7] = [
    (
        "",
        &[
            "format",
            "title",
            "note",
            "station",
            "radio",
            "goal",
            "board",
            "leave_out",
            "sources",
        ],
    ),
    ("station", &["name", "lat_deg", "lon_deg", "height_m", "sigma_m"]),
    ("radio", &["kind", "channel", "mhz"]),
    ("goal", &["delivery", "confidence", "margin_db", "messages"]),
    ("board", &["name", "reference", "height_m", "tx_dbm", "note"]),
    ("leave_out", &["from_s", "to_s", "why"]),
    ("sources", &["node", "gps", "node_pattern"]),
];

/// A set-up and the keys in it that nobody knows.
#[derive(Debug, PartialEq)]
pub struct Read {
    /// What it says.
    pub setup: Setup,
    /// Unknown keys, as `table.key`: kept in the file, and worth a warning.
    pub unknown: Vec<String>,
}

/// Reads the text of a `survey.toml`.
///
/// # Errors
/// When it is no TOML, of a later version, or a value is of the wrong kind or out of range.
pub fn read(text: &str) -> Result<Read, SetupError> {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let raw: Raw = toml::from_str(text)?;
    let table: toml::Table = toml::from_str(text)?;
    if let Some(version) = raw.format
        && version != VERSION
    {
        return Err(SetupError::Version(version));
    }
    let position = match (raw.station.lat_deg, raw.station.lon_deg) {
        (Some(lat), Some(lon)) => Some(Position::new(Degrees(lat), Degrees(lon))?),
        (None, None) => None,
        _ => return Err(SetupError::HalfPosition),
    };
    let usual = Goal::default();
    let goal = Goal {
        delivery: within(
            "goal.delivery",
            raw.goal.delivery,
            1e-6..=0.999_999,
            "between 0 and 1, such as 0.95",
        )?
        .unwrap_or(usual.delivery),
        confidence: within(
            "goal.confidence",
            raw.goal.confidence,
            0.5..=0.999_999,
            "from 0.5 to below 1, such as 0.95",
        )?
        .unwrap_or(usual.confidence),
        margin_db: within(
            "goal.margin_db",
            raw.goal.margin_db,
            -50.0..=100.0,
            "a number of decibels, such as 10",
        )?
        .unwrap_or(usual.margin_db),
        messages: raw
            .goal
            .messages
            .filter(|messages| *messages > 0)
            .unwrap_or(usual.messages),
    };
    let mut boards = Vec::new();
    for board in raw.board {
        boards.push(BoardNote {
            height: within(
                "board.height_m",
                board.height_m,
                -100.0..=10_000.0,
                "metres above the ground",
            )?
            .map(Metres),
            tx: within("board.tx_dbm", board.tx_dbm, -200.0..=200.0, "a level in dBm")?.map(Dbm),
            name: board.name,
            reference: board.reference,
            note: board.note,
        });
    }
    let mut leave_out = Vec::new();
    for stretch in raw.leave_out {
        within(
            "leave_out.from_s",
            Some(stretch.from_s),
            0.0..=1e12,
            "seconds since the survey began",
        )?;
        within(
            "leave_out.to_s",
            Some(stretch.to_s),
            0.0..=1e12,
            "seconds since the survey began",
        )?;
        leave_out.push(LeaveOut {
            from_s: stretch.from_s,
            to_s: stretch.to_s,
            why: stretch.why,
        });
    }
    let setup = Setup {
        title: raw.title.unwrap_or_default(),
        note: raw.note,
        station: Station {
            name: raw.station.name,
            position,
            height: within(
                "station.height_m",
                raw.station.height_m,
                -100.0..=10_000.0,
                "metres above the ground",
            )?
            .map(Metres),
            sigma: within("station.sigma_m", raw.station.sigma_m, 0.0..=1e6, "metres, 0 or more")?.map(Metres),
        },
        radio: Radio {
            kind: raw.radio.kind,
            channel: raw.radio.channel,
            frequency: within("radio.mhz", raw.radio.mhz, 1.0..=1e6, "megahertz, such as 2437")?.map(Megahertz),
        },
        goal,
        boards,
        leave_out,
        sources: SourceAddresses {
            node: raw.sources.node,
            gps: raw.sources.gps,
            node_pattern: raw.sources.node_pattern,
        },
    };
    Ok(Read {
        setup,
        unknown: unknown_keys(&table),
    })
}

fn within(
    key: &str,
    number: Option<f64>,
    range: std::ops::RangeInclusive<f64>,
    words: &'static str,
) -> Result<Option<f64>, SetupError> {
    match number {
        Some(found) if !range.contains(&found) => Err(SetupError::Range {
            key: key.to_owned(),
            value: found.to_string(),
            range: words,
        }),
        other => Ok(other),
    }
}

fn unknown_keys(table: &toml::Table) -> Vec<String> {
    let known = |name: &str| {
        KNOWN
            .iter()
            .find(|(table, _)| *table == name)
            .map_or(&[][..], |(_, keys)| keys)
    };
    let mut unknown = Vec::new();
    for (key, item) in table {
        if !known("").contains(&key.as_str()) {
            unknown.push(key.clone());
            continue;
        }
        let inner: Vec<&toml::Table> = match item {
            toml::Value::Table(inner) => vec![inner],
            toml::Value::Array(items) => items.iter().filter_map(toml::Value::as_table).collect(),
            _ => Vec::new(),
        };
        for inner in inner {
            let strange = inner
                .keys()
                .filter(|inner_key| !known(key).contains(&inner_key.as_str()));
            unknown.extend(strange.map(|inner_key| format!("{key}.{inner_key}")));
        }
    }
    unknown.dedup();
    unknown
}

/// Writes a set-up as a new `survey.toml`, with a word on what may be edited.
pub fn write(setup: &Setup) -> String {
    let mut document = DocumentMut::new();
    document["format"] = value(VERSION);
    document["title"] = value(setup.title.as_str());
    put(document.as_table_mut(), "note", setup.note.as_deref());
    let mut station = Table::new();
    put(&mut station, "name", setup.station.name.as_deref());
    put_position(&mut station, setup.station.position);
    put(&mut station, "height_m", setup.station.height.map(|height| height.0));
    put(&mut station, "sigma_m", setup.station.sigma.map(|sigma| sigma.0));
    document["station"] = Item::Table(station);
    let mut radio = Table::new();
    put(&mut radio, "kind", setup.radio.kind.as_deref());
    put(&mut radio, "channel", setup.radio.channel.map(i64::from));
    put(&mut radio, "mhz", setup.radio.frequency.map(|frequency| frequency.0));
    if !radio.is_empty() {
        document["radio"] = Item::Table(radio);
    }
    let mut goal = Table::new();
    goal["delivery"] = value(setup.goal.delivery);
    goal["confidence"] = value(setup.goal.confidence);
    goal["margin_db"] = value(setup.goal.margin_db);
    goal["messages"] = value(i64::from(setup.goal.messages));
    document["goal"] = Item::Table(goal);
    if !setup.boards.is_empty() {
        let mut boards = ArrayOfTables::new();
        for board in &setup.boards {
            let mut table = Table::new();
            table["name"] = value(board.name.as_str());
            table["reference"] = value(board.reference);
            put(&mut table, "height_m", board.height.map(|height| height.0));
            put(&mut table, "tx_dbm", board.tx.map(|tx| tx.0));
            put(&mut table, "note", board.note.as_deref());
            boards.push(table);
        }
        document["board"] = Item::ArrayOfTables(boards);
    }
    if !setup.leave_out.is_empty() {
        let mut stretches = ArrayOfTables::new();
        for stretch in &setup.leave_out {
            stretches.push(stretch_table(stretch));
        }
        document["leave_out"] = Item::ArrayOfTables(stretches);
    }
    let mut sources = Table::new();
    put(&mut sources, "node", setup.sources.node.as_deref());
    put(&mut sources, "gps", setup.sources.gps.as_deref());
    put(&mut sources, "node_pattern", setup.sources.node_pattern.as_deref());
    if !sources.is_empty() {
        document["sources"] = Item::Table(sources);
    }
    let mut text = String::new();
    let _ = writeln!(
        text,
        "# This file may be edited: correct the station's position, say, and run `farpace rebuild`."
    );
    text.push_str(&document.to_string());
    text
}

/// Adds a stretch to be left out, and keeps everything else in the text as it is.
///
/// # Errors
/// When the text is no TOML.
pub fn add_leave_out(text: &str, stretch: &LeaveOut) -> Result<String, SetupError> {
    let mut document: DocumentMut = text.parse()?;
    let stretches = document
        .entry("leave_out")
        .or_insert(Item::ArrayOfTables(ArrayOfTables::new()));
    if let Some(stretches) = stretches.as_array_of_tables_mut() {
        stretches.push(stretch_table(stretch));
    }
    Ok(document.to_string())
}

/// Takes a stretch back that was left out, if it stands there, and keeps everything else as it is.
///
/// # Errors
/// When the text is no TOML.
pub fn remove_leave_out(text: &str, stretch: &LeaveOut) -> Result<String, SetupError> {
    let mut document: DocumentMut = text.parse()?;
    if let Some(stretches) = document.get_mut("leave_out").and_then(Item::as_array_of_tables_mut) {
        let number = |table: &Table, key: &str| {
            table
                .get(key)
                .and_then(|item| item.as_float().or(item.as_integer().map(|whole| whole as f64)))
        };
        stretches.retain(|table| {
            number(table, "from_s") != Some(stretch.from_s) || number(table, "to_s") != Some(stretch.to_s)
        });
    }
    Ok(document.to_string())
}

/// Puts another station position in, and keeps everything else in the text as it is.
///
/// # Errors
/// When the text is no TOML.
pub fn move_station(text: &str, position: Position, sigma: Option<Metres>) -> Result<String, SetupError> {
    let mut document: DocumentMut = text.parse()?;
    let station = document.entry("station").or_insert(Item::Table(Table::new()));
    if let Some(station) = station.as_table_like_mut() {
        station.insert("lat_deg", value(position.lat().0));
        station.insert("lon_deg", value(position.lon().0));
        if let Some(sigma) = sigma {
            station.insert("sigma_m", value(sigma.0));
        }
    }
    Ok(document.to_string())
}

fn stretch_table(stretch: &LeaveOut) -> Table {
    let mut table = Table::new();
    table["from_s"] = value(stretch.from_s);
    table["to_s"] = value(stretch.to_s);
    table["why"] = value(stretch.why.as_str());
    table
}

fn put_position(table: &mut Table, position: Option<Position>) {
    if let Some(position) = position {
        table["lat_deg"] = value((position.lat().0 * 1e9).round() / 1e9);
        table["lon_deg"] = value((position.lon().0 * 1e9).round() / 1e9);
    }
}

fn put<V: Into<toml_edit::Value>>(table: &mut Table, key: &str, content: Option<V>) {
    if let Some(content) = content {
        table[key] = value(content);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn full() -> Setup {
        Setup {
            title: "Larkfield orchard, east \"side\"".into(),
            note: Some("dry\nlight wind".into()),
            station: Station {
                name: Some("packing shed".into()),
                position: Position::new(Degrees(52.1), Degrees(-2.9)).ok(),
                height: Some(Metres(6.0)),
                sigma: Some(Metres(1.5)),
            },
            radio: Radio {
                kind: Some("802.11".into()),
                channel: Some(6),
                frequency: Some(Megahertz(2437.0)),
            },
            goal: Goal {
                messages: 50,
                ..Goal::default()
            },
            boards: vec![BoardNote {
                name: "yew".into(),
                reference: true,
                tx: Some(Dbm(15.0)),
                ..BoardNote::default()
            }],
            leave_out: vec![LeaveOut {
                from_s: 512.0,
                to_s: 540.5,
                why: "tractor between us".into(),
            }],
            sources: SourceAddresses {
                node: Some("serial:/dev/ttyACM0".into()),
                gps: Some("gpsd:127.0.0.1:2947".into()),
                node_pattern: Some(r"^(?P<n>\d+)$".into()),
            },
        }
    }

    #[test]
    fn what_is_written_is_read_back() {
        let read = read(&write(&full())).unwrap();
        assert_eq!(read.setup, full());
        assert!(read.unknown.is_empty());
    }

    #[test]
    fn an_empty_file_is_a_set_up_with_the_usual_goal() {
        let read = read("").unwrap();
        assert_eq!(read.setup.goal, Goal::default());
        assert_eq!(read.setup.station.position, None);
    }

    #[test]
    fn unknown_keys_are_named_and_kept() {
        let text = "colour = 1\n[station]\nfloor = 2 # upstairs\n";
        assert_eq!(read(text).unwrap().unknown, ["colour", "station.floor"]);
        let stretch = LeaveOut {
            from_s: 1.0,
            to_s: 2.0,
            why: "gate".into(),
        };
        let added = add_leave_out(text, &stretch).unwrap();
        assert!(added.contains("floor = 2 # upstairs"));
        assert_eq!(read(&added).unwrap().setup.leave_out, std::slice::from_ref(&stretch));
        assert!(
            read(&remove_leave_out(&added, &stretch).unwrap())
                .unwrap()
                .setup
                .leave_out
                .is_empty()
        );
    }

    #[test]
    fn errors_name_the_place_and_the_remedy() {
        let message = read("[station]\nlat_deg = 95.0\nlon_deg = 0\n")
            .unwrap_err()
            .to_string();
        assert!(message.contains("between -90 and 90"), "{message}");
        assert!(
            read("[station]\nlat_deg = 5\n")
                .unwrap_err()
                .to_string()
                .contains("both")
        );
        let message = read("[goal]\ndelivery = 95\n").unwrap_err().to_string();
        assert!(message.contains("such as 0.95"), "{message}");
        let message = read("title = 3\n").unwrap_err().to_string();
        assert!(message.contains("line 1"), "{message}");
    }
}
