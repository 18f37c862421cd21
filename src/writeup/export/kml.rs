//! KML 2.2 (OGC 07-147r2): a folder for each kind of thing, a placemark each, figures as extended data.

use std::io;

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};

use super::features::{COLUMNS, Feature, Kind, each};
use super::gpx::description;
use crate::writeup::private::{Teller, Told};
use crate::writeup::subject::Subject;
use crate::writeup::text::clean;

/// Writes it. Features without coordinates are left out, so a private survey gives none: callers refuse that.
///
/// # Errors
/// When the text cannot be written.
pub fn write(subject: &Subject, teller: &Teller) -> io::Result<Vec<u8>> {
    let mut out = Writer::new_with_indent(Vec::new(), b' ', 1);
    out.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let mut root = BytesStart::new("kml");
    root.push_attribute(("xmlns", "http://www.opengis.net/kml/2.2"));
    out.write_event(Event::Start(root))?;
    out.write_event(Event::Start(BytesStart::new("Document")))?;
    element(&mut out, "name", &subject.setup.title)?;
    if let Some(note) = &subject.setup.note {
        element(&mut out, "description", note)?;
    }
    let mut open: Option<Kind> = None;
    let mut outcome = Ok(());
    each(subject, teller, |feature| {
        if outcome.is_ok() {
            outcome = placemark(&mut out, feature, &mut open);
        }
    });
    outcome?;
    if open.is_some() {
        out.write_event(Event::End(BytesEnd::new("Folder")))?;
    }
    out.write_event(Event::End(BytesEnd::new("Document")))?;
    out.write_event(Event::End(BytesEnd::new("kml")))?;
    let mut bytes = out.into_inner();
    bytes.push(b'\n');
    Ok(bytes)
}

fn placemark(out: &mut Writer<Vec<u8>>, feature: &Feature, open: &mut Option<Kind>) -> io::Result<()> {
    let Some(Told::Degrees(position)) = feature.place else {
        return Ok(());
    };
    if *open != Some(feature.kind) {
        if open.is_some() {
            out.write_event(Event::End(BytesEnd::new("Folder")))?;
        }
        *open = Some(feature.kind);
        out.write_event(Event::Start(BytesStart::new("Folder")))?;
        let folder = match feature.kind {
            Kind::Second => "second stations and relays, to test by walking".to_owned(),
            kind => format!("{}s", kind.word()),
        };
        element(out, "name", &folder)?;
    }
    out.write_event(Event::Start(BytesStart::new("Placemark")))?;
    let name = match feature.cell("name") {
        "" => feature.kind.word(),
        name => name,
    };
    element(out, "name", name)?;
    let described = description(feature);
    if !described.is_empty() {
        element(out, "description", &described)?;
    }
    if let Some(time) = feature.utc.and_then(crate::units::UtcMs::rfc3339) {
        out.write_event(Event::Start(BytesStart::new("TimeStamp")))?;
        element(out, "when", &time)?;
        out.write_event(Event::End(BytesEnd::new("TimeStamp")))?;
    }
    out.write_event(Event::Start(BytesStart::new("ExtendedData")))?;
    for ((column, _), cell) in COLUMNS.iter().zip(&feature.cells) {
        if cell.is_empty() || matches!(*column, "name" | "time_utc") {
            continue;
        }
        let mut data = BytesStart::new("Data");
        data.push_attribute(("name", *column));
        out.write_event(Event::Start(data))?;
        element(out, "value", cell)?;
        out.write_event(Event::End(BytesEnd::new("Data")))?;
    }
    out.write_event(Event::End(BytesEnd::new("ExtendedData")))?;
    out.write_event(Event::Start(BytesStart::new("Point")))?;
    element(
        out,
        "coordinates",
        &format!("{:.8},{:.8}", position.lon().0, position.lat().0),
    )?;
    out.write_event(Event::End(BytesEnd::new("Point")))?;
    out.write_event(Event::End(BytesEnd::new("Placemark")))
}

/// Writes words twice escaped where they hold markup: viewers of KML take what the XML holds for HTML.
fn element(out: &mut Writer<Vec<u8>>, tag: &str, text: &str) -> io::Result<()> {
    let text = clean(text)
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;");
    out.write_event(Event::Start(BytesStart::new(tag)))?;
    out.write_event(Event::Text(BytesText::new(&text)))?;
    out.write_event(Event::End(BytesEnd::new(tag)))
}
