//! GSA: two or three dimensions, satellites used, dilutions of precision.

use super::fields::{BadField, Fields};

/// What a GSA sentence says.
#[derive(Clone, Debug, PartialEq)]
pub struct Gsa {
    /// M chosen by hand, A by the receiver.
    pub selection: Option<char>,
    /// 1 no fix, 2 two dimensions, 3 three.
    pub dimension: Option<u32>,
    /// Satellites used of this sentence's system.
    pub sats: usize,
    /// Dilution of precision in position.
    pub pdop: Option<f64>,
    /// Dilution of precision in the horizontal; a 0 says that there is none.
    pub hdop: Option<f64>,
    /// Dilution of precision in the vertical.
    pub vdop: Option<f64>,
    /// The satellite system (NMEA 0183 v4.1 on).
    pub system: Option<u32>,
}

/// Fields up to HDOP.
pub(super) const LEAST_FIELDS: usize = 16;

pub(super) fn read(text: &str) -> Result<Gsa, BadField> {
    let fields = Fields::new("GSA", text);
    Ok(Gsa {
        selection: fields.letter(0),
        dimension: fields.whole(1, "dimension")?,
        sats: (2..14).filter(|&at| !fields.text(at).is_empty()).count(),
        pdop: fields.amount(14, "PDOP")?.filter(|&pdop| pdop > 0.0),
        hdop: fields.amount(15, "HDOP")?.filter(|&hdop| hdop > 0.0),
        vdop: fields.amount(16, "VDOP")?.filter(|&vdop| vdop > 0.0),
        system: u32::from_str_radix(fields.text(17), 16).ok(),
    })
}
