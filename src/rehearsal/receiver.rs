//! The position receiver: it drifts, it says how far it thinks it is off, and it talks NMEA 0183.

use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64Mcg;

use super::place::Place;
use super::seeds::{Purpose, stream};
use super::walker::Moment;
use crate::ground::Position;
use crate::units::{Degrees, MetresPerSecond, UtcMs};
use crate::wire::nmea::write::{self, Report};

/// How good the receiver is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReceiverParams {
    /// Standard deviation of the slow error along each axis, metres.
    pub drift: f64,
    /// Seconds after which the slow error has forgotten two thirds of itself.
    pub memory_s: f64,
    /// Standard deviation of the error new in each epoch, metres along each axis.
    pub jitter: f64,
    /// Sigma the receiver claims over the true one.
    pub belief: f64,
}

impl Default for ReceiverParams {
    fn default() -> Self {
        Self {
            drift: 2.1,
            memory_s: 50.0,
            jitter: 0.12,
            belief: 0.95,
        }
    }
}

/// A receiver at work: asked once a second.
#[derive(Clone, Debug)]
pub struct Receiver {
    params: ReceiverParams,
    random: Pcg64Mcg,
    /// Slow errors east, north and up, metres.
    slow: Option<[f64; 3]>,
    /// Slow wandering of the geometry, in standard deviations.
    geometry: f64,
}

/// What a receiver makes of one epoch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fix {
    /// Where it thinks it is.
    pub place: Place,
    /// Height error, metres.
    pub up: f64,
    /// Standard deviation it claims, metres along each axis.
    pub sigma: f64,
    /// Horizontal dilution of precision.
    pub hdop: f64,
    /// Satellites used.
    pub satellites: u32,
    /// Speed over ground, metres a second.
    pub speed: f64,
    /// True course, degrees, 0 to below 360; wild at low speed.
    pub course: f64,
}

impl Receiver {
    /// The receiver that belongs to a seed.
    pub fn new(params: ReceiverParams, seed: u64) -> Self {
        Self {
            params,
            random: stream(seed, Purpose::Receiver),
            slow: None,
            geometry: 0.0,
        }
    }

    /// The next epoch, one second after the last.
    ///
    /// The slow error is a first-order Markov process along each axis (common practice for a receiver's error under
    /// open sky), 1.8 times as large upwards.
    pub fn epoch(&mut self, moment: &Moment) -> Fix {
        let keep = (-1.0 / self.params.memory_s.max(1e-3)).exp();
        let fresh = (1.0 - keep * keep).sqrt();
        let noise: [f64; 9] = std::array::from_fn(|_| StandardNormal.sample(&mut self.random));
        let sd = [self.params.drift, self.params.drift, UP * self.params.drift];
        let slow: [f64; 3] = std::array::from_fn(|axis| match self.slow {
            None => sd[axis] * noise[axis],
            Some(slow) => keep * slow[axis] + fresh * sd[axis] * noise[axis],
        });
        self.slow = Some(slow);
        self.geometry = 0.98 * self.geometry + 0.2 * noise[3];
        let hdop = (0.95 + 0.12 * self.geometry).clamp(0.6, 2.5);
        let (sin, cos) = moment.course.unwrap_or(0.0).to_radians().sin_cos();
        let east = moment.speed * sin + 0.05 * noise[4];
        let north = moment.speed * cos + 0.05 * noise[5];
        Fix {
            place: Place {
                east: moment.person.east + slow[0] + self.params.jitter * noise[6],
                north: moment.person.north + slow[1] + self.params.jitter * noise[7],
            },
            up: slow[2],
            sigma: self.params.belief
                * self.params.drift.hypot(self.params.jitter)
                * (1.0 + 0.05 * self.geometry).max(0.3),
            hdop,
            satellites: (11.0 - 1.5 * self.geometry).round().clamp(6.0, 18.0) as u32,
            speed: east.hypot(north),
            course: east.atan2(north).to_degrees().rem_euclid(360.0),
        }
    }
}

/// Mean sea level above the ellipsoid round Larkfield, metres: the order of the British Isles' geoid.
const GEOID: f64 = 48.6;

/// The five sentences of an epoch, each with its line end: RMC, GGA, GSA, GST, VTG. Without a fix they say so.
///
/// `fix` comes with its position on the globe and its height above mean sea level in metres.
pub fn sentences(utc: UtcMs, fix: Option<(&Fix, Position, f64)>) -> [Vec<u8>; 5] {
    let report = match fix {
        None => Report {
            utc,
            position: None,
            quality: 0,
            sats: 0,
            hdop: 99.99,
            alt_m: None,
            geoid_m: None,
            speed: MetresPerSecond(0.0),
            course: None,
            sigma_m: None,
        },
        Some((fix, position, altitude)) => Report {
            utc,
            position: Some(position),
            quality: 1,
            sats: fix.satellites,
            hdop: fix.hdop,
            alt_m: Some(altitude),
            geoid_m: Some(GEOID),
            speed: MetresPerSecond(fix.speed),
            // Standing still a receiver knows no course, and the better ones do not guess.
            course: (fix.speed >= 0.3).then_some(Degrees(fix.course)),
            sigma_m: Some([0.98 * fix.sigma, 1.02 * fix.sigma, UP * fix.sigma]),
        },
    };
    // Which satellites they are tells nothing here: any even numbers will do.
    let used: Vec<u8> = (0..report.sats.min(12) as u8).map(|slot| 2 + 2 * slot).collect();
    [
        write::rmc(TALKER, &report),
        write::gga(TALKER, &report),
        write::gsa(TALKER, &report, &used),
        write::gst(TALKER, &report),
        write::vtg(TALKER, &report),
    ]
    .map(|sentence| format!("{sentence}\r\n").into_bytes())
}

/// A receiver of several constellations.
const TALKER: &str = "GN";

/// How much larger the error is upwards than along the ground (common practice).
const UP: f64 = 1.8;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearsal::walker::Track;
    use crate::units::Degrees;

    #[test]
    fn drift_has_the_spread_and_memory_asked_for() {
        let moment = Track::default().at(0.0);
        let params = ReceiverParams::default();
        let mut receiver = Receiver::new(params, 9);
        let east: Vec<f64> = (0..200_000).map(|_| receiver.epoch(&moment).place.east).collect();
        let n = east.len() as f64;
        let variance = east.iter().map(|x| x * x).sum::<f64>() / n;
        // 200 000 s hold some 2000 independent drifts: the variance is known to about 3 %.
        assert!((variance - 2.1_f64.powi(2)).abs() < 0.45, "{variance}");
        let lag = 50;
        let product = east.iter().zip(&east[lag..]).map(|(a, b)| a * b).sum::<f64>() / (n - lag as f64);
        assert!(
            (product / variance - (-1.0_f64).exp()).abs() < 0.08,
            "{}",
            product / variance
        );
    }

    #[test]
    fn sentences_carry_what_the_receiver_believes() {
        let fix = Fix {
            place: Place::default(),
            up: 0.0,
            sigma: 2.0,
            hdop: 0.9,
            satellites: 11,
            speed: 1.25,
            course: 200.0,
        };
        let position = Position::new(Degrees(52.1), Degrees(-2.9)).unwrap();
        let utc = UtcMs::parse("2026-05-16T09:12:04Z").unwrap();
        let written = sentences(utc, Some((&fix, position, 74.0))).map(|line| String::from_utf8(line).unwrap());
        assert!(
            written[0].starts_with("$GNRMC,091204.000,A,5206.000000,N,00254.000000,W,2.430,200"),
            "{written:?}"
        );
        assert!(written[1].contains(",1,11,0.90,74.0,M,48.6,M,"), "{written:?}");
        assert_eq!(written[2].matches(',').count(), 17);
        let lost = sentences(utc, None).map(|line| String::from_utf8(line).unwrap());
        assert!(lost[0].contains(",V,") && lost[1].contains(",,0,00,"), "{lost:?}");
        assert!(
            written
                .iter()
                .chain(&lost)
                .all(|line| line.ends_with("\r\n") && line.len() <= 84)
        );
    }
}
