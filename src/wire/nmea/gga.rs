//! GGA: a fix with its quality.

use super::{
    fields::{BadField, DayTime, Fields, Place},
    state::{self, State},
};

/// What a GGA sentence says.
#[derive(Clone, Debug, PartialEq)]
pub struct Gga {
    /// UTC of the position.
    pub time: Option<DayTime>,
    /// Whether there is a fix.
    pub state: State,
    /// Where, as sent: to be believed only with a fix.
    pub place: Option<Place>,
    /// The quality number as sent.
    pub quality: Option<u32>,
    /// Satellites used.
    pub sats: Option<u32>,
    /// Horizontal dilution of precision; a 0 says that there is none.
    pub hdop: Option<f64>,
    /// Above mean sea level, metres.
    pub alt_m: Option<f64>,
    /// Mean sea level above the ellipsoid, metres.
    pub geoid_m: Option<f64>,
    /// Age of the differential corrections, seconds.
    pub age_s: Option<f64>,
}

/// Fields up to the units of the geoid's height.
pub(super) const LEAST_FIELDS: usize = 12;

pub(super) fn read(text: &str) -> Result<Gga, BadField> {
    let fields = Fields::new("GGA", text);
    let quality = fields.whole(5, "quality")?;
    let state = state::of_quality(quality);
    Ok(Gga {
        time: fields.time(0)?,
        state,
        place: fields.place(1, state)?,
        quality,
        sats: fields.whole(6, "satellites")?,
        hdop: fields.amount(7, "HDOP")?.filter(|&hdop| hdop > 0.0),
        alt_m: fields.number(8, "altitude")?,
        geoid_m: fields.number_if_any(10),
        age_s: fields.number_if_any(12),
    })
}
