//! Sentences written from values, as a receiver would send them.

use jiff::{Timestamp, civil::DateTime, tz::TimeZone};

use crate::{
    ground::Position,
    units::{Degrees, MetresPerSecond, UtcMs},
    wire::pairs::exclusive_or,
};

/// Knots in a metre a second.
const KNOTS: f64 = 1.0 / super::fields::KNOT;

/// What a receiver would report of one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// UTC of the position.
    pub utc: UtcMs,
    /// Where; `None` is no fix, which makes GGA of quality 0 and RMC void.
    pub position: Option<Position>,
    /// GGA's quality number of a fix: 1 autonomous, 2 differential, 4 and 5 RTK.
    pub quality: u8,
    /// Satellites used.
    pub sats: u32,
    /// Horizontal dilution of precision; positive.
    pub hdop: f64,
    /// Above mean sea level, metres.
    pub alt_m: Option<f64>,
    /// Mean sea level above the ellipsoid, metres.
    pub geoid_m: Option<f64>,
    /// Over ground.
    pub speed: MetresPerSecond,
    /// True course over ground, 0 to below 360; `None` where the receiver gives none.
    pub course: Option<Degrees>,
    /// One-sigma errors of latitude, longitude and height, metres.
    pub sigma_m: Option<[f64; 3]>,
}

/// A whole sentence from what stands between `$` and `*`, without line end.
pub fn sentence(body: &str) -> String {
    format!("${body}*{:02X}", exclusive_or(body.as_bytes()))
}

/// GGA: time, position, quality, satellites, HDOP, height.
pub fn gga(talker: &str, report: &Report) -> String {
    let (quality, alt, geoid) = match report.position {
        Some(_) => (report.quality, tenths(report.alt_m), tenths(report.geoid_m)),
        None => (0, String::new(), String::new()),
    };
    sentence(&format!(
        "{talker}GGA,{},{},{quality},{:02},{:.2},{alt},M,{geoid},M,,",
        time(report.utc),
        latitude_longitude(report.position),
        report.sats,
        report.hdop,
    ))
}

/// RMC: time, status, position, speed in knots, course, date.
pub fn rmc(talker: &str, report: &Report) -> String {
    let (status, speed, course) = match report.position {
        Some(_) => ('A', format!("{:.3}", report.speed.0 * KNOTS), hundredths(report.course)),
        None => ('V', String::new(), String::new()),
    };
    sentence(&format!(
        "{talker}RMC,{},{status},{},{speed},{course},{},,,{}",
        time(report.utc),
        latitude_longitude(report.position),
        civil(report.utc).strftime("%d%m%y"),
        mode(report),
    ))
}

/// VTG: course, speed in knots and in kilometres an hour.
pub fn vtg(talker: &str, report: &Report) -> String {
    let (course, knots, kilometres) = match report.position {
        Some(_) => (
            hundredths(report.course),
            format!("{:.3}", report.speed.0 * KNOTS),
            format!("{:.3}", report.speed.0 * 3.6),
        ),
        None => Default::default(),
    };
    sentence(&format!(
        "{talker}VTG,{course},T,,M,{knots},N,{kilometres},K,{}",
        mode(report)
    ))
}

/// GST: one-sigma errors of latitude, longitude and height in metres; empty without a fix.
pub fn gst(talker: &str, report: &Report) -> String {
    let [lat, lon, alt] = match (report.position, report.sigma_m) {
        (Some(_), Some(sigmas)) => sigmas.map(|sigma| format!("{sigma:.2}")),
        _ => Default::default(),
    };
    sentence(&format!("{talker}GST,{},,,,,{lat},{lon},{alt}", time(report.utc)))
}

/// GSA: 3-D, 2-D (a fix without height) or no fix; the numbers of satellites used, at most twelve; dilutions of
/// precision.
///
/// Only HDOP is a value of the report: PDOP and VDOP stay empty.
pub fn gsa(talker: &str, report: &Report, satellites: &[u8]) -> String {
    let dimension = match (report.position, report.alt_m) {
        (None, _) => 1,
        (Some(_), None) => 2,
        (Some(_), Some(_)) => 3,
    };
    let mut used: Vec<String> = satellites
        .iter()
        .take(12)
        .map(|number| format!("{number:02}"))
        .collect();
    used.resize(12, String::new());
    sentence(&format!(
        "{talker}GSA,A,{dimension},{},,{:.2},",
        used.join(","),
        report.hdop
    ))
}

/// `hhmmss.sss`.
fn time(utc: UtcMs) -> String {
    let ms = utc.0.rem_euclid(UtcMs::DAY);
    let (hours, minutes, seconds) = (ms / 3_600_000, ms / 60_000 % 60, ms / 1000 % 60);
    format!("{hours:02}{minutes:02}{seconds:02}.{:03}", ms % 1000)
}

fn civil(utc: UtcMs) -> DateTime {
    // Beyond jiff's years, which end with 9999, there are no dates to write.
    let moment = Timestamp::from_millisecond(utc.0).unwrap_or(Timestamp::MAX);
    TimeZone::UTC.to_datetime(moment)
}

/// `ddmm.mmmmmm,N,dddmm.mmmmmm,E`: a millionth of a minute is 2 mm.
fn latitude_longitude(position: Option<Position>) -> String {
    let Some(position) = position else { return ",,,".into() };
    let (lat, lon) = (position.lat().0, position.lon().0);
    format!(
        "{},{},{},{}",
        degrees_minutes(lat, 2),
        if lat < 0.0 { 'S' } else { 'N' },
        degrees_minutes(lon, 3),
        if lon < 0.0 { 'W' } else { 'E' },
    )
}

/// Rounds in whole millionths of a minute, so that 59.9999999 minutes become the next degree and never 60.
fn degrees_minutes(angle: f64, digits: usize) -> String {
    let millionths = (angle.abs() * 60e6).round() as u64;
    let (degrees, rest) = (millionths / 60_000_000, millionths % 60_000_000);
    format!("{degrees:0digits$}{:02}.{:06}", rest / 1_000_000, rest % 1_000_000)
}

fn tenths(metres: Option<f64>) -> String {
    metres.map(|metres| format!("{metres:.1}")).unwrap_or_default()
}

fn hundredths(course: Option<Degrees>) -> String {
    course.map(|course| format!("{:.2}", course.0)).unwrap_or_default()
}

/// The mode letter that goes with a quality number (NMEA 0183 v4.11, as commonly reprinted).
fn mode(report: &Report) -> char {
    if report.position.is_none() {
        return 'N';
    }
    match report.quality {
        0 => 'N',
        2 => 'D',
        3 => 'P',
        4 => 'R',
        5 => 'F',
        6 => 'E',
        7 => 'M',
        8 => 'S',
        _ => 'A',
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report() -> Report {
        Report {
            utc: UtcMs::parse("2026-05-02T19:41:01.5Z").unwrap(),
            position: Position::new(Degrees(52.1), Degrees(-2.9)).ok(),
            quality: 1,
            sats: 9,
            hdop: 0.9,
            alt_m: Some(61.24),
            geoid_m: Some(48.9),
            speed: MetresPerSecond(1.2),
            course: Some(Degrees(84.4)),
            sigma_m: Some([1.2, 0.9, 2.5]),
        }
    }

    #[test]
    fn sentences_have_their_fields_and_checksums() {
        // The checksums are those of an exclusive-or done apart from this code, in Python.
        assert_eq!(
            gga("GN", &report()),
            "$GNGGA,194101.500,5206.000000,N,00254.000000,W,1,09,0.90,61.2,M,48.9,M,,*5B"
        );
        assert_eq!(
            rmc("GN", &report()),
            "$GNRMC,194101.500,A,5206.000000,N,00254.000000,W,2.333,84.40,020526,,,A*63"
        );
        assert_eq!(vtg("GN", &report()), "$GNVTG,84.40,T,,M,2.333,N,4.320,K,A*1F");
        assert_eq!(gst("GN", &report()), "$GNGST,194101.500,,,,,1.20,0.90,2.50*4D");
        assert_eq!(
            gsa("GN", &report(), &[4, 5, 9]),
            "$GNGSA,A,3,04,05,09,,,,,,,,,,,0.90,*1D"
        );
    }

    #[test]
    fn no_fix_has_no_position() {
        let void = Report {
            position: None,
            ..report()
        };
        assert!(gga("GP", &void).starts_with("$GPGGA,194101.500,,,,,0,09,0.90,,M,,M,,*"));
        assert!(rmc("GP", &void).starts_with("$GPRMC,194101.500,V,,,,,,,020526,,,N*"));
        assert!(gsa("GP", &void, &[]).starts_with("$GPGSA,A,1,,,"));
        assert!(vtg("GP", &void).starts_with("$GPVTG,,T,,M,,N,,K,N*"));
    }

    #[test]
    fn minutes_carry_into_degrees() {
        assert_eq!(degrees_minutes(-2.999_999_999_9, 3), "00300.000000");
        assert_eq!(degrees_minutes(52.016_666_666_666_666, 2), "5201.000000");
    }
}
