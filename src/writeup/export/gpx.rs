//! GPX 1.1: waypoints for station, points and spots, and a track of the walk, in the order its schema wants.
//!
//! Samples make the track: one track point a fix used, a new segment for each run. Places of the map are left out, a route
//! planner has no use for them; GeoJSON, KML and CSV carry them.

use std::io;

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use super::features::{Feature, Kind, each};
use crate::findings::words;
use crate::stats::margin::Margin;
use crate::stats::proportions::Interval;
use crate::writeup::private::{Teller, Told};
use crate::writeup::subject::Subject;
use crate::writeup::text::clean;

/// The namespace of GPX 1.1.
const NAMESPACE: &str = "http://www.topografix.com/GPX/1/1";

/// Writes it. Features without coordinates are left out, so a private survey gives none: callers refuse that.
///
/// # Errors
/// When the text cannot be written.
pub fn write(subject: &Subject, teller: &Teller) -> io::Result<Vec<u8>> {
    let mut waypoints = Vec::new();
    let mut track: Vec<Feature> = Vec::new();
    let mut last = None;
    each(subject, teller, |feature| match feature.kind {
        Kind::Sample => {
            let Some(Told::Degrees(position)) = feature.place else {
                return;
            };
            let key = (feature.run, position);
            if last != Some(key) {
                last = Some(key);
                track.push(feature.clone());
            }
        }
        Kind::Place => {}
        Kind::Station | Kind::Spot | Kind::Second => waypoints.push(feature.clone()),
        // Steps of a sweep share their place: the first stands for the sweep.
        Kind::Point => {
            let same = |other: &Feature| other.kind == Kind::Point && other.run == feature.run;
            if !waypoints.iter().rev().any(same) {
                waypoints.push(feature.clone());
            }
        }
    });
    let mut out = Writer::new_with_indent(Vec::new(), b' ', 1);
    out.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let mut root = BytesStart::new("gpx");
    root.push_attribute(("xmlns", NAMESPACE));
    root.push_attribute(("version", "1.1"));
    root.push_attribute(("creator", "farpace"));
    out.write_event(Event::Start(root))?;
    out.write_event(Event::Start(BytesStart::new("metadata")))?;
    element(&mut out, "name", &subject.setup.title)?;
    if let Some(note) = &subject.setup.note {
        element(&mut out, "desc", note)?;
    }
    out.write_event(Event::End(BytesEnd::new("metadata")))?;
    for feature in &waypoints {
        place(&mut out, "wpt", feature)?;
    }
    if !track.is_empty() {
        out.write_event(Event::Start(BytesStart::new("trk")))?;
        element(&mut out, "name", &subject.setup.title)?;
        for segment in track.chunk_by(|a, b| a.run == b.run) {
            out.write_event(Event::Start(BytesStart::new("trkseg")))?;
            for feature in segment {
                place(&mut out, "trkpt", feature)?;
            }
            out.write_event(Event::End(BytesEnd::new("trkseg")))?;
        }
        out.write_event(Event::End(BytesEnd::new("trk")))?;
    }
    out.write_event(Event::End(BytesEnd::new("gpx")))?;
    let mut bytes = out.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

fn place(out: &mut Writer<Vec<u8>>, tag: &str, feature: &Feature) -> io::Result<()> {
    let Some(Told::Degrees(position)) = feature.place else {
        return Ok(());
    };
    let mut start = BytesStart::new(tag);
    // The schema has longitude below 180: the antimeridian is -180.
    let lon = format!("{:.8}", position.lon().0);
    let lon = if lon == "180.00000000" {
        "-180.00000000".to_owned()
    } else {
        lon
    };
    start.push_attribute(("lat", format!("{:.8}", position.lat().0).as_str()));
    start.push_attribute(("lon", lon.as_str()));
    out.write_event(Event::Start(start))?;
    if let Some(alt) = feature.alt_m.filter(|alt| alt.is_finite()) {
        element(out, "ele", &format!("{alt:.2}"))?;
    }
    if let Some(time) = feature.utc.and_then(crate::units::UtcMs::rfc3339) {
        element(out, "time", &time)?;
    }
    if tag == "wpt" {
        let name = match (feature.cell("name"), feature.kind) {
            ("", kind) => kind.word().to_owned(),
            (name, Kind::Point) => format!("{name} {}", feature.cell("board")),
            (name, _) => name.to_owned(),
        };
        element(out, "name", &name)?;
        let described = description(feature);
        if !described.is_empty() {
            element(out, "desc", &described)?;
        }
        element(out, "type", feature.kind.word())?;
    }
    out.write_event(Event::End(BytesEnd::new(tag)))
}

/// What a waypoint says of itself.
pub fn description(feature: &Feature) -> String {
    let caution = feature.cell("caution");
    let said = plainly(feature);
    match (said.as_str(), caution) {
        (_, "") | ("", _) => said,
        _ => format!("{said}. {caution}"),
    }
}

fn plainly(feature: &Feature) -> String {
    let number = |column: &str| feature.cell(column).parse::<f64>().ok();
    match feature.kind {
        Kind::Point if feature.cell("activity") == "point" => {
            let mut said = format!(
                "{} of {} delivered",
                feature.cell("delivered"),
                feature.cell("messages")
            );
            if let (Some(low), Some(high)) = (number("delivered_low"), number("delivered_high")) {
                said.push_str(&format!(" ({})", words::percents(Interval { low, high })));
            }
            said.push_str(match feature.cell("verdict") {
                "meets" => ", meets the goal",
                "misses" => ", misses the goal",
                _ => ", not sure about the goal",
            });
            let margin = ["margin_db", "margin_low_db", "margin_high_db"].map(number);
            if let Some(margin) = spare(margin) {
                said.push_str(&format!(", {margin} to spare"));
            }
            if let Some(distance) = number("distance_m") {
                said.push_str(&format!(", {} from the station", words::metres(distance)));
            }
            said
        }
        Kind::Point => format!("orientation sweep, {}", feature.cell("pose")),
        Kind::Spot => {
            let mut said = number("chance").map_or_else(String::new, |chance| {
                format!("{} sure to meet the goal", words::percent(chance))
            });
            if let Some(spare) = number("spare_db") {
                said.push_str(&format!(
                    ", {} dB beyond the margin asked for (at least {})",
                    words::minus(spare, 0),
                    number("spare_low_db").map_or_else(|| "–".to_owned(), |low| words::minus(words::down(low, 0), 0))
                ));
            }
            if !feature.cell("assumed").is_empty() {
                said.push_str(". ");
                said.push_str(feature.cell("assumed"));
            }
            said
        }
        Kind::Second => format!(
            "might newly serve {} of the ground on the map; never measured, to test by walking",
            number("newly_served").map_or_else(|| "–".to_owned(), words::percent)
        ),
        Kind::Station => "the fixed end of the link".to_owned(),
        Kind::Sample | Kind::Place => String::new(),
    }
}

/// A margin in words, of its estimate and limits.
fn spare(margin: [Option<f64>; 3]) -> Option<String> {
    let margin = match margin {
        [Some(estimate_db), Some(low), Some(high)] => Margin::Between {
            estimate_db,
            interval: Interval { low, high },
        },
        [None, Some(low_db), None] => Margin::AtLeast { low_db },
        [None, None, Some(high_db)] => Margin::AtMost { high_db },
        _ => return None,
    };
    Some(words::margin(&margin))
}

fn element(out: &mut Writer<Vec<u8>>, tag: &str, text: &str) -> io::Result<()> {
    out.write_event(Event::Start(BytesStart::new(tag)))?;
    out.write_event(Event::Text(BytesText::new(&clean(text))))?;
    out.write_event(Event::End(BytesEnd::new(tag)))
}
