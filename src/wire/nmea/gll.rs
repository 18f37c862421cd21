//! GLL: a position with its time.

use super::{
    fields::{BadField, DayTime, Fields, Place},
    state::{self, State},
};

/// What a GLL sentence says.
#[derive(Clone, Debug, PartialEq)]
pub struct Gll {
    /// UTC of the position.
    pub time: Option<DayTime>,
    /// Whether there is a fix.
    pub state: State,
    /// Where, as sent: to be believed only with a fix.
    pub place: Option<Place>,
    /// The status letter.
    pub status: Option<char>,
    /// The mode letter (NMEA 0183 v2.3 on).
    pub mode: Option<char>,
}

/// Fields up to the time; the status after it is one letter.
pub(super) const LEAST_FIELDS: usize = 5;

pub(super) fn read(text: &str) -> Result<Gll, BadField> {
    let fields = Fields::new("GLL", text);
    let (status, mode) = (fields.letter(5), fields.letter(6));
    // Some receivers have both letters the other way round: a status N is no status, so it is taken for the mode.
    let state = match status {
        Some('N') => State::None(crate::wire::NoFix::Void),
        status => state::of_status(status, mode),
    };
    Ok(Gll {
        time: fields.time(4)?,
        state,
        place: fields.place(0, state)?,
        status,
        mode,
    })
}
