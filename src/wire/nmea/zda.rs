//! ZDA: time and date.

use super::fields::{BadField, Day, DayTime, Fields};

/// What a ZDA sentence says.
#[derive(Clone, Debug, PartialEq)]
pub struct Zda {
    /// UTC.
    pub time: Option<DayTime>,
    /// The day of that time.
    pub day: Option<Day>,
    /// Hours from UTC to local time, as the receiver was told.
    pub zone_h: Option<f64>,
    /// Minutes of the same.
    pub zone_min: Option<f64>,
}

/// Fields up to the year.
pub(super) const LEAST_FIELDS: usize = 4;

pub(super) fn read(text: &str) -> Result<Zda, BadField> {
    let fields = Fields::new("ZDA", text);
    let (day, month, year) = (
        fields.whole(1, "day")?,
        fields.whole(2, "month")?,
        fields.whole(3, "year")?,
    );
    Ok(Zda {
        time: fields.time(0)?,
        day: match (year, month, day) {
            (Some(year), Some(month), Some(day)) if (year, month, day) != (0, 0, 0) => {
                Some(civil(year, month, day).ok_or_else(|| fields.bad(1, "date"))?)
            }
            _ => None,
        },
        zone_h: fields.number_if_any(4),
        zone_min: fields.number_if_any(5),
    })
}

fn civil(year: u32, month: u32, day: u32) -> Option<Day> {
    Day::from_civil(year.try_into().ok()?, month.try_into().ok()?, day.try_into().ok()?)
}
