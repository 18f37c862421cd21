//! Any sentence by its address.

use super::{
    fields::BadField,
    gga::{self, Gga},
    gll::{self, Gll},
    gns::{self, Gns},
    gsa::{self, Gsa},
    gst::{self, Gst},
    rmc::{self, Rmc},
    vtg::{self, Vtg},
    zda::{self, Zda},
};

/// A sentence, read. Any two letters may be its talker.
#[derive(Clone, Debug, PartialEq)]
pub enum Sentence {
    /// A fix with its quality.
    Gga(Gga),
    /// A position with speed, course and date.
    Rmc(Rmc),
    /// A position with its time.
    Gll(Gll),
    /// A fix of several systems together.
    Gns(Gns),
    /// Dimensions, satellites, dilutions of precision.
    Gsa(Gsa),
    /// Errors.
    Gst(Gst),
    /// Course and speed.
    Vtg(Vtg),
    /// Time and date.
    Zda(Zda),
    /// One that says nothing of position or time, or of a maker's own.
    Other,
}

/// Reads a sentence from what stands between its `$` and its `*`.
///
/// # Errors
/// When a field that counts holds what no receiver in order sends.
pub fn read(body: &str) -> Result<Sentence, BadField> {
    let Some((kind, text)) = split(body) else {
        return Ok(Sentence::Other);
    };
    Ok(match kind {
        "GGA" => Sentence::Gga(gga::read(text)?),
        "RMC" => Sentence::Rmc(rmc::read(text)?),
        "GLL" => Sentence::Gll(gll::read(text)?),
        "GNS" => Sentence::Gns(gns::read(text)?),
        "GSA" => Sentence::Gsa(gsa::read(text)?),
        "GST" => Sentence::Gst(gst::read(text)?),
        "VTG" => Sentence::Vtg(vtg::read(text)?),
        "ZDA" => Sentence::Zda(zda::read(text)?),
        _ => Sentence::Other,
    })
}

/// Whether a sentence without a checksum has at least the fields that count, so that it was not cut short among them.
pub fn is_whole(body: &str) -> bool {
    let Some((kind, text)) = split(body) else { return false };
    let least = match kind {
        "GGA" => gga::LEAST_FIELDS,
        "RMC" => rmc::LEAST_FIELDS,
        "GLL" => gll::LEAST_FIELDS,
        "GNS" => gns::LEAST_FIELDS,
        "GST" => gst::LEAST_FIELDS,
        "ZDA" => zda::LEAST_FIELDS,
        "GSA" => gsa::LEAST_FIELDS,
        "VTG" => vtg::LEAST_FIELDS,
        _ => return true,
    };
    // The last field may have lost its end, so one more than those that count.
    text.split(',').count() > least
}

/// The three letters of a talker's sentence, and its fields; `None` for a maker's own (`$P...`).
fn split(body: &str) -> Option<(&str, &str)> {
    let (address, text) = body.split_once(',')?;
    let kind = address
        .get(2..)
        .filter(|kind| kind.len() == 3 && !address.starts_with('P'))?;
    Some((kind, text))
}
