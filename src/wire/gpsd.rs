//! Reports of a gpsd server: one JSON object a line.

use serde::Deserialize;

use super::{Malformed, NoFix};
use crate::{
    ground::Position,
    units::{Degrees, UtcMs},
};

/// A report, read.
#[derive(Clone, Debug, PartialEq)]
pub enum Report {
    /// Time, position, velocity.
    Tpv(Box<Tpv>),
    /// Satellites and dilution of precision.
    Sky(Sky),
    /// Any other class: versions, devices, errors of the server.
    Other,
}

/// A TPV report.
#[derive(Clone, Debug, PartialEq)]
pub struct Tpv {
    /// UTC; absent until the server knows the date.
    pub time: Option<UtcMs>,
    /// Where, or why nowhere.
    pub place: Result<Position, NoFix>,
    /// Three dimensions (mode 3) rather than two.
    pub three_d: bool,
    /// The server's status number plus one; `None` where it gives none.
    pub quality: Option<u8>,
    /// Above mean sea level, metres.
    pub alt_m: Option<f64>,
    /// Estimated horizontal error, taken as a 95 % radius, metres; positive.
    pub eph_m: Option<f64>,
    /// Over ground, metres a second.
    pub speed_mps: Option<f64>,
    /// True course over ground, degrees, 0 to below 360.
    pub course_deg: Option<f64>,
}

/// A SKY report. Newer servers send its halves apart, so either may be missing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sky {
    /// Horizontal dilution of precision; positive.
    pub hdop: Option<f64>,
    /// Satellites used.
    pub sats: Option<u32>,
}

/// Reads a report, with or without its line end.
///
/// Status 5 is dead reckoning and status 8 a simulator (gpsd's documentation of TPV, 2020 on): no fix, as with GGA.
///
/// # Errors
/// [`Malformed::Json`] when the line is no JSON object of a known shape, [`Malformed::Value`] when a mode of 2 or 3
/// comes with an impossible position.
pub fn read(line: &[u8]) -> Result<Report, Malformed> {
    let raw: Raw = serde_json::from_slice(line).map_err(|_| Malformed::Json)?;
    match raw.class.as_deref() {
        Some("TPV") => tpv(&raw).map(|tpv| Report::Tpv(Box::new(tpv))),
        Some("SKY") => Ok(Report::Sky(sky(&raw))),
        _ => Ok(Report::Other),
    }
}

/// The members that count, of whichever class.
#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
struct Raw {
    class: Option<String>,
    #[serde(default)]
    mode: u64,
    status: Option<u64>,
    time: Option<String>,
    lat: Option<f64>,
    lon: Option<f64>,
    #[serde(rename = "altMSL")]
    alt_msl: Option<f64>,
    alt: Option<f64>,
    eph: Option<f64>,
    speed: Option<f64>,
    track: Option<f64>,
    hdop: Option<f64>,
    u_sat: Option<u32>,
    satellites: Option<Vec<Satellite>>,
}

#[derive(Deserialize)]
struct Satellite {
    #[serde(default)]
    used: bool,
}

fn tpv(raw: &Raw) -> Result<Tpv, Malformed> {
    Ok(Tpv {
        time: raw.time.as_deref().and_then(UtcMs::parse),
        place: place(raw)?,
        three_d: raw.mode == 3,
        quality: raw.status.and_then(|status| u8::try_from(status).ok()?.checked_add(1)),
        alt_m: raw.alt_msl.or(raw.alt),
        eph_m: raw.eph.filter(|&eph| eph > 0.0),
        speed_mps: raw.speed.filter(|&speed| speed >= 0.0),
        course_deg: raw
            .track
            .and_then(|track| Degrees(track).normalised())
            .map(|track| track.0),
    })
}

fn place(raw: &Raw) -> Result<Result<Position, NoFix>, Malformed> {
    let why = match (raw.mode, raw.status) {
        (_, Some(8)) => NoFix::Simulator,
        (_, Some(5)) => NoFix::Estimated,
        (2 | 3, _) => {
            let (Some(lat), Some(lon)) = (raw.lat, raw.lon) else {
                return Ok(Err(NoFix::Unsaid));
            };
            return Position::new(Degrees(lat), Degrees(lon))
                .map(Ok)
                .map_err(|_| Malformed::Value {
                    key: "lat, lon",
                    value: format!("{lat}, {lon}"),
                });
        }
        _ => NoFix::Void,
    };
    Ok(Err(why))
}

fn sky(raw: &Raw) -> Sky {
    let listed = raw
        .satellites
        .as_ref()
        .map(|satellites| satellites.iter().filter(|satellite| satellite.used).count() as u32);
    Sky {
        hdop: raw.hdop.filter(|&hdop| hdop > 0.0),
        sats: raw.u_sat.or(listed),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn tpv_of(line: &str) -> Tpv {
        match read(line.as_bytes()) {
            Ok(Report::Tpv(tpv)) => *tpv,
            other => panic!("{line}: {other:?}"),
        }
    }

    #[test]
    fn a_fix_of_either_mode_is_read() {
        let tpv = tpv_of(
            r#"{"class":"TPV","device":"/dev/ttyACM0","status":1,"mode":3,"time":"2026-05-02T19:41:01.000Z","lat":52.1,"lon":-2.9,"altHAE":110.1,"altMSL":61.2,"alt":61.2,"eph":4.9,"track":360.0,"speed":1.25}"#,
        );
        assert_eq!(
            tpv,
            Tpv {
                time: UtcMs::parse("2026-05-02T19:41:01Z"),
                place: Ok(Position::new(Degrees(52.1), Degrees(-2.9)).unwrap()),
                three_d: true,
                quality: Some(2),
                alt_m: Some(61.2),
                eph_m: Some(4.9),
                speed_mps: Some(1.25),
                course_deg: Some(0.0),
            }
        );
        let flat = tpv_of(r#"{"class":"TPV","mode":2,"lat":52.1,"lon":-2.9}"#);
        assert_eq!(
            (flat.three_d, flat.quality, flat.time, flat.alt_m),
            (false, None, None, None)
        );
    }

    #[test]
    fn no_fix_is_no_position() {
        let place = |line: &str| tpv_of(line).place;
        assert_eq!(
            place(r#"{"class":"TPV","mode":1,"lat":0.0,"lon":0.0}"#),
            Err(NoFix::Void)
        );
        assert_eq!(place(r#"{"class":"TPV","lat":52.1,"lon":-2.9}"#), Err(NoFix::Void));
        assert_eq!(place(r#"{"class":"TPV","mode":3,"lat":52.1}"#), Err(NoFix::Unsaid));
        assert_eq!(
            place(r#"{"class":"TPV","mode":3,"status":8,"lat":52.1,"lon":-2.9}"#),
            Err(NoFix::Simulator)
        );
        assert_eq!(
            place(r#"{"class":"TPV","mode":3,"status":5,"lat":52.1,"lon":-2.9}"#),
            Err(NoFix::Estimated)
        );
        assert!(matches!(
            read(br#"{"class":"TPV","mode":3,"lat":95.0,"lon":-2.9}"#),
            Err(Malformed::Value { .. })
        ));
    }

    #[test]
    fn satellites_are_counted_where_the_server_does_not() {
        let sky = |line: &str| read(line.as_bytes()).unwrap();
        assert_eq!(
            sky(r#"{"class":"SKY","hdop":0.9,"uSat":9,"satellites":[{"PRN":4,"used":true}]}"#),
            Report::Sky(Sky {
                hdop: Some(0.9),
                sats: Some(9)
            })
        );
        assert_eq!(
            sky(r#"{"class":"SKY","satellites":[{"PRN":4,"used":true},{"PRN":5,"used":false}]}"#),
            Report::Sky(Sky {
                hdop: None,
                sats: Some(1)
            })
        );
        assert_eq!(sky(r#"{"class":"SKY","hdop":0.0}"#), Report::Sky(Sky::default()));
        assert_eq!(sky(r#"{"class":"VERSION","release":"3.22"}"#), Report::Other);
        assert_eq!(sky("{}"), Report::Other);
        assert_eq!(read(b"{\"class\":\"TPV\""), Err(Malformed::Json));
        assert_eq!(read(br#"{"class":"TPV","mode":"3"}"#), Err(Malformed::Json));
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_or_refused(line in any::<Vec<u8>>(), number in any::<f64>()) {
            let _ = read(&line);
            let line = format!("{{\"class\":\"TPV\",\"mode\":3,\"lat\":{number},\"lon\":0,\"track\":{number}}}");
            let _ = read(line.as_bytes());
        }
    }
}
