//! VTG: course and speed over ground.

use super::{
    fields::{BadField, Fields, KNOT},
    state::{self, State},
};

/// What a VTG sentence says.
#[derive(Clone, Debug, PartialEq)]
pub struct Vtg {
    /// True course over ground, degrees, 0 to below 360.
    pub course_deg: Option<f64>,
    /// Course from magnetic north, degrees, 0 to below 360.
    pub magnetic_deg: Option<f64>,
    /// Over ground, metres a second: from the knots, else from the kilometres an hour.
    pub speed_mps: Option<f64>,
    /// The same, from the kilometres an hour alone.
    pub kmh_mps: Option<f64>,
    /// The mode letter (NMEA 0183 v2.3 on).
    pub mode: Option<char>,
}

/// Fields up to the speed in kilometres an hour.
pub(super) const LEAST_FIELDS: usize = 7;

pub(super) fn read(text: &str) -> Result<Vtg, BadField> {
    let fields = Fields::new("VTG", text);
    let mode = fields.letter(8);
    let void = matches!(state::of_mode(mode), State::None(_));
    let knots = fields.amount(4, "speed")?;
    let kmh_mps = fields.amount(6, "speed")?.map(|kmh| kmh / 3.6);
    let speed_mps = knots.map(|knots| knots * KNOT).or(kmh_mps);
    Ok(Vtg {
        course_deg: fields.course(0)?.filter(|_| !void),
        magnetic_deg: fields.course(2)?.filter(|_| !void),
        speed_mps: speed_mps.filter(|_| !void),
        kmh_mps: kmh_mps.filter(|_| !void),
        mode,
    })
}
