//! GPX 1.1: waypoints for station, points and spots, and a track of the walk, in the order its schema wants.
//!
//! Samples make the track: one track point a fix used, a new segment for each run. Places of the map are left out, a route
//! planner has no use for them; GeoJSON, KML and CSV carry them.

use std::io;

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use super::features::{Feature, Kind, each};
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
    match feature.kind {
        Kind::Point if feature.cell("activity") == "point" => format!(
            "{} of {} delivered, {} the goal, {} m from the station",
            feature.cell("delivered"),
            feature.cell("messages"),
            match feature.cell("verdict") {
                "meets" => "meets",
                "misses" => "misses",
                _ => "not sure about",
            },
            feature.cell("distance_m")
        ),
        Kind::Point => format!("orientation sweep, {}", feature.cell("pose")),
        Kind::Spot => {
            let mut said = format!(
                "chance {} to meet the goal, {} dB to spare beyond the margin",
                feature.cell("chance"),
                feature.cell("spare_db")
            );
            if !feature.cell("assumed").is_empty() {
                said.push_str(". ");
                said.push_str(feature.cell("assumed"));
            }
            said
        }
        Kind::Second => format!(
            "might newly serve {} of the ground on the map; never measured, to test by walking",
            feature.cell("newly_served")
        ),
        Kind::Station => "the fixed end of the link".to_owned(),
        Kind::Sample | Kind::Place => String::new(),
    }
}

fn element(out: &mut Writer<Vec<u8>>, tag: &str, text: &str) -> io::Result<()> {
    out.write_event(Event::Start(BytesStart::new(tag)))?;
    out.write_event(Event::Text(BytesText::new(&clean(text))))?;
    out.write_event(Event::End(BytesEnd::new(tag)))
}
