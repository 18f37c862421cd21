//! One exchange on the ground, and which way the walker faced.

/// Below this speed in m/s a receiver's course is noise, so the facing is unknown.
const COURSE_SPEED: f64 = 0.4;
/// Positions farther than this from the local origin, in metres, are not of this survey.
const FARTHEST: f64 = 1e6;

/// One exchange with the station, placed in the local frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exchange {
    /// Metres east of the local origin.
    pub x: f64,
    /// Metres north of the local origin.
    pub y: f64,
    /// Seconds since any fixed moment; exchanges come in order of time.
    pub t: f64,
    /// Level in dBm as reported; whole decibels are expected. Ignored when the exchange was lost.
    pub level: Option<f64>,
    /// Whether the exchange was lost.
    pub lost: bool,
    /// Speed over ground in m/s; `None` when the receiver does not say, which counts as standing still.
    pub speed: Option<f64>,
    /// Course over ground in degrees clockwise from north; ignored below 0.4 m/s.
    pub course: Option<f64>,
}

impl Exchange {
    /// Whether position and time are usable, and the exchange either lost or with a believable level.
    pub fn usable(&self) -> bool {
        self.t.is_finite()
            && self.x.abs() <= FARTHEST
            && self.y.abs() <= FARTHEST
            && (self.lost || self.delivered().is_some())
    }

    /// The level in dBm of a delivered exchange; `None` when lost or outside -200 to +60 dBm.
    pub fn delivered(&self) -> Option<f64> {
        if self.lost {
            return None;
        }
        self.level.filter(|level| (-200.0..=60.0).contains(level))
    }

    /// The course when it means something: finite, and not from standing still.
    pub fn steady_course(&self) -> Option<f64> {
        let moving = self.speed.is_none_or(|speed| speed >= COURSE_SPEED);
        self.course.filter(|course| moving && course.is_finite())
    }

    /// Metres walked in `elapsed` seconds since the exchange before, of which at most one second counts.
    pub(super) fn walked(&self, elapsed: f64) -> f64 {
        let speed = self.speed.filter(|speed| speed.is_finite()).unwrap_or(0.0).max(0.0);
        speed * elapsed.clamp(0.0, 1.0)
    }
}

/// How far the walker's back is turned to the station: 0 faces it, 1 has the back to it and the body in the way.
///
/// `course` is degrees clockwise from north; `x`, `y` and `station` are metres east and north. `None` on the station
/// itself, where it has no direction.
pub fn facing(course: f64, x: f64, y: f64, station: (f64, f64)) -> Option<f64> {
    let ahead = course.is_finite().then(|| course.to_radians().sin_cos())?;
    turned(ahead, x, y, station)
}

/// As [`facing`], of a course given as its sine and cosine.
pub(super) fn turned((sin, cos): (f64, f64), x: f64, y: f64, station: (f64, f64)) -> Option<f64> {
    let (east, north) = (station.0 - x, station.1 - y);
    let distance = east.hypot(north);
    if distance <= 0.0 || !distance.is_finite() {
        return None;
    }
    Some(0.5 - 0.5 * ((sin * east + cos * north) / distance).clamp(-1.0, 1.0))
}

/// The sine and cosine of the course last asked for: a receiver tells one a second, and there are many exchanges in that.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Ahead(Option<(f64, (f64, f64))>);

impl Ahead {
    /// Sine and cosine of a course in degrees.
    pub(super) fn of(&mut self, course: f64) -> (f64, f64) {
        match self.0 {
            Some((last, ahead)) if last == course => ahead,
            _ => {
                let ahead = course.to_radians().sin_cos();
                self.0 = Some((course, ahead));
                ahead
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn facing_runs_from_ahead_to_behind() {
        assert!(facing(90.0, 0.0, 0.0, (10.0, 0.0)).unwrap() < 1e-15);
        assert!((facing(270.0, 0.0, 0.0, (10.0, 0.0)).unwrap() - 1.0).abs() < 1e-15);
        assert!((facing(0.0, 0.0, 0.0, (10.0, 0.0)).unwrap() - 0.5).abs() < 1e-15);
        assert_eq!(facing(0.0, 1.0, 2.0, (1.0, 2.0)), None);
        assert_eq!(facing(f64::NAN, 1.0, 2.0, (1.0, 3.0)), None);
    }

    #[test]
    fn only_believable_exchanges_are_usable() {
        let good = Exchange {
            x: 1.0,
            y: 2.0,
            t: 3.0,
            level: Some(-70.0),
            lost: false,
            speed: Some(1.2),
            course: Some(10.0),
        };
        assert!(good.usable());
        assert!(!Exchange { level: None, ..good }.usable());
        assert!(
            Exchange {
                level: None,
                lost: true,
                ..good
            }
            .usable()
        );
        assert!(!Exchange { x: f64::NAN, ..good }.usable());
        assert!(!Exchange { y: 2e6, ..good }.usable());
        assert!(
            !Exchange {
                level: Some(f64::NAN),
                ..good
            }
            .usable()
        );
        assert_eq!(
            Exchange {
                speed: Some(0.3),
                ..good
            }
            .steady_course(),
            None
        );
        assert_eq!(Exchange { speed: None, ..good }.steady_course(), Some(10.0));
    }
}
