//! RMC: a position with speed, course and date.

use super::{
    fields::{BadField, Day, DayTime, Fields, KNOT, Place},
    state::{self, State},
};

/// What an RMC sentence says.
#[derive(Clone, Debug, PartialEq)]
pub struct Rmc {
    /// UTC of the position.
    pub time: Option<DayTime>,
    /// The day of that time.
    pub day: Option<Day>,
    /// The status letter.
    pub status: Option<char>,
    /// Whether there is a fix.
    pub state: State,
    /// Where, as sent: to be believed only with a fix.
    pub place: Option<Place>,
    /// Over ground, metres a second.
    pub speed_mps: Option<f64>,
    /// True course over ground, degrees, 0 to below 360.
    pub course_deg: Option<f64>,
    /// Magnetic declination as the receiver has it, degrees, east positive.
    pub magvar_deg: Option<f64>,
    /// The mode letter (NMEA 0183 v2.3 on).
    pub mode: Option<char>,
    /// The navigational status letter (v4.1 on): V says only that the receiver gives none.
    pub nav_status: Option<char>,
}

/// Fields up to the date.
pub(super) const LEAST_FIELDS: usize = 9;

pub(super) fn read(text: &str) -> Result<Rmc, BadField> {
    let fields = Fields::new("RMC", text);
    let mode = fields.letter(11);
    let state = state::of_status(fields.letter(1), mode);
    let fix = state == State::Fix;
    let magvar = match fields.text(10) {
        "E" => fields.number_if_any(9),
        "W" => fields.number_if_any(9).map(|west| -west),
        _ => None,
    };
    Ok(Rmc {
        time: fields.time(0)?,
        // Before its first fix a receiver may send any date.
        day: match day(fields.text(8)) {
            Err(()) if fix => return Err(fields.bad(8, "date")),
            day => day.unwrap_or_default(),
        },
        status: fields.letter(1),
        state,
        place: fields.place(2, state)?,
        speed_mps: fields.amount(6, "speed")?.map(|knots| knots * KNOT),
        course_deg: fields.course(7)?,
        magvar_deg: magvar,
        mode,
        nav_status: fields.letter(12),
    })
}

/// The day of `ddmmyy`, the years 80 to 99 being 1980 to 1999; none when empty or `000000`.
fn day(text: &str) -> Result<Option<Day>, ()> {
    if text.is_empty() || text == "000000" {
        return Ok(None);
    }
    let part = |range: std::ops::Range<usize>| -> Result<i8, ()> {
        let digits = text
            .get(range)
            .filter(|digits| digits.bytes().all(|byte| byte.is_ascii_digit()))
            .ok_or(())?;
        digits.parse().map_err(|_| ())
    };
    if text.len() != 6 {
        return Err(());
    }
    let year = i16::from(part(4..6)?);
    let year = if year >= 80 { 1900 + year } else { 2000 + year };
    Day::from_civil(year, part(2..4)?, part(0..2)?).map(Some).ok_or(())
}
