//! GNS: a fix of several satellite systems together.

use super::{
    fields::{BadField, DayTime, Fields, Place},
    state::{self, State},
};

/// What a GNS sentence says.
#[derive(Clone, Debug, PartialEq)]
pub struct Gns {
    /// UTC of the position.
    pub time: Option<DayTime>,
    /// Whether any system gives a fix.
    pub state: State,
    /// Where, as sent: to be believed only with a fix.
    pub place: Option<Place>,
    /// A mode letter for each system.
    pub modes: String,
    /// Satellites used.
    pub sats: Option<u32>,
    /// Horizontal dilution of precision; a 0 says that there is none.
    pub hdop: Option<f64>,
    /// Above mean sea level, metres.
    pub alt_m: Option<f64>,
    /// Mean sea level above the ellipsoid, metres.
    pub geoid_m: Option<f64>,
}

/// Fields up to the height of the geoid.
pub(super) const LEAST_FIELDS: usize = 10;

pub(super) fn read(text: &str) -> Result<Gns, BadField> {
    let fields = Fields::new("GNS", text);
    let modes = fields.text(5);
    let state = state(modes);
    Ok(Gns {
        time: fields.time(0)?,
        state,
        place: fields.place(1, state)?,
        modes: modes.to_owned(),
        sats: fields.whole(6, "satellites")?,
        hdop: fields.amount(7, "HDOP")?.filter(|&hdop| hdop > 0.0),
        alt_m: fields.number(8, "altitude")?,
        geoid_m: fields.number_if_any(9),
    })
}

/// A fix when any system has one; else the first letter that says more than N.
fn state(modes: &str) -> State {
    if state::quality_of_modes(modes).is_some() {
        return State::Fix;
    }
    let telling = modes.chars().find(|&mode| mode != 'N').or(modes.chars().next());
    state::of_mode(telling)
}
