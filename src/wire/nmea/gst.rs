//! GST: how far the position may be off.

use super::fields::{BadField, DayTime, Fields};

/// What a GST sentence says; all errors are one sigma in metres.
#[derive(Clone, Debug, PartialEq)]
pub struct Gst {
    /// UTC of the position.
    pub time: Option<DayTime>,
    /// Root mean square of the range residuals.
    pub rms_m: Option<f64>,
    /// Error of the latitude.
    pub lat_m: Option<f64>,
    /// Error of the longitude.
    pub lon_m: Option<f64>,
    /// Error of the altitude.
    pub alt_m: Option<f64>,
}

impl Gst {
    /// The one-sigma horizontal error per axis, metres: root of the summed squares of both axes over √2.
    ///
    /// `None` where either is left out, or both are 0: no receiver knows its place that well.
    pub fn sigma_m(&self) -> Option<f64> {
        let sigma = self.lat_m?.hypot(self.lon_m?) / std::f64::consts::SQRT_2;
        (sigma > 0.0 && sigma.is_finite()).then_some(sigma)
    }
}

/// Fields up to the error of the longitude.
pub(super) const LEAST_FIELDS: usize = 7;

pub(super) fn read(text: &str) -> Result<Gst, BadField> {
    let fields = Fields::new("GST", text);
    Ok(Gst {
        time: fields.time(0)?,
        rms_m: fields.number_if_any(1),
        lat_m: fields.amount(5, "error of latitude")?,
        lon_m: fields.amount(6, "error of longitude")?,
        alt_m: fields.amount(7, "error of altitude")?,
    })
}
