//! Where the walker is, which way the face points and how the board is held, at any time.

use std::f64::consts::TAU;

use super::pattern::Pose;
use super::place::Place;
use super::world::Stance;

/// What a walker does, piece after piece, without gaps, from time 0.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Track {
    pieces: Vec<Piece>,
}

/// One piece of a track.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// When it begins, seconds.
    pub from_s: f64,
    /// When it ends, seconds.
    pub to_s: f64,
    /// Where the walker goes.
    pub motion: Motion,
    /// Which way the walker faces.
    pub facing: Facing,
    /// How the board is turned.
    pub hold: Hold,
    /// How the board is held.
    pub pose: Pose,
}

/// Where the walker goes during a piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Motion {
    /// Nowhere.
    Still(Place),
    /// Straight ahead, with the small changes of pace of a walk.
    Line {
        /// Where from.
        from: Place,
        /// Where to.
        to: Place,
    },
    /// Round a small circle at a slow, even pace.
    Circle {
        /// Where it begins and ends when full.
        from: Place,
        /// True bearing from there to its middle, degrees.
        inward: f64,
        /// Its radius, metres.
        radius: f64,
        /// Pace, metres a second.
        pace: f64,
    },
}

/// Which way the walker faces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Facing {
    /// A true bearing, degrees.
    Bearing(f64),
    /// Towards the station.
    Station,
}

/// How the board is turned in the hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Hold {
    /// Its mark points the way the walker faces.
    Ahead,
    /// Its mark stands at a turn from the direction to the station, degrees, moving evenly from one to another; the
    /// hand holds it a little off, metres east and north.
    Turned {
        /// Turn at the piece's beginning.
        from: f64,
        /// Turn at its end.
        to: f64,
        /// How far the hand is off.
        hand: (f64, f64),
    },
}

/// One moment of a walk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Where the walker's middle, and the position receiver, are.
    pub person: Place,
    /// Over the ground, metres a second.
    pub speed: f64,
    /// True course, degrees; `None` when still.
    pub course: Option<f64>,
    /// How the board is held.
    pub stance: Stance,
}

/// How far before the chest a board is carried, metres.
const CARRIED_AHEAD: f64 = 0.35;
/// How far from the body it is held in a sweep, metres.
const HELD_OUT: f64 = 0.55;
/// From a board's middle to its aerial, metres.
const AERIAL_OFF_MIDDLE: f64 = 0.04;
/// Sway of somebody who stands still, metres either way: a few centimetres of postural sway are common, the trunk's slow
/// part about one (order of magnitude).
const SWAY: f64 = 0.008;
/// Change of pace along a leg, as a share of the speed, and its period in seconds.
const PACE: (f64, f64) = (0.08, 9.0);
/// Turning of the trunk with each double step, degrees, and double steps a second (common practice: about 0.9 Hz).
const GAIT: (f64, f64) = (6.0, 0.9);

impl Track {
    /// Adds a piece that begins where the last one ended and lasts some seconds; a negative length is none.
    pub fn push(&mut self, seconds: f64, motion: Motion, facing: Facing, hold: Hold, pose: Pose) {
        let from_s = self.ends_s();
        self.pieces.push(Piece {
            from_s,
            to_s: from_s + seconds.max(0.0),
            motion,
            facing,
            hold,
            pose,
        });
    }

    /// When the last piece ends, seconds.
    pub fn ends_s(&self) -> f64 {
        self.pieces.last().map_or(0.0, |piece| piece.to_s)
    }

    /// The pieces in order.
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// The moment at a time in seconds; before the beginning and after the end, the nearest there is. A track without
    /// pieces stands at the station.
    pub fn at(&self, at_s: f64) -> Moment {
        let found = self.pieces.partition_point(|piece| piece.to_s <= at_s);
        let piece = self.pieces.get(found).or(self.pieces.last());
        piece.map_or_else(
            || Piece::nowhere().at(0.0),
            |piece| piece.at(at_s.clamp(piece.from_s, piece.to_s)),
        )
    }
}

impl Piece {
    const fn nowhere() -> Self {
        Self {
            from_s: 0.0,
            to_s: 0.0,
            motion: Motion::Still(Place::new(0.0, 0.0)),
            facing: Facing::Bearing(0.0),
            hold: Hold::Ahead,
            pose: Pose::Upright,
        }
    }

    fn at(&self, at_s: f64) -> Moment {
        let since = at_s - self.from_s;
        let long = self.to_s - self.from_s;
        let share = if long > 0.0 { since / long } else { 0.0 };
        let (mut person, speed, course) = self.motion.at(since, long);
        if speed == 0.0 {
            person.east += SWAY * (TAU * 0.31 * at_s).sin();
            person.north += SWAY * (TAU * 0.23 * at_s + 1.0).sin();
        }
        let station = person.bearing_to_station();
        let mut facing = match self.facing {
            Facing::Bearing(bearing) => bearing,
            Facing::Station => station,
        };
        if speed > 0.5 {
            facing += GAIT.0 * (TAU * GAIT.1 * at_s).sin();
        }
        let (aerial, turn) = match self.hold {
            Hold::Ahead => {
                let aerial = person.beside(CARRIED_AHEAD, facing);
                (aerial, facing - aerial.bearing_to_station())
            }
            Hold::Turned { from, to, hand } => {
                let turn = from + share * (to - from);
                let mut aerial = person
                    .beside(HELD_OUT, facing)
                    .beside(AERIAL_OFF_MIDDLE, station + turn);
                aerial.east += hand.0;
                aerial.north += hand.1;
                (aerial, turn)
            }
        };
        Moment {
            person,
            speed,
            course,
            stance: Stance {
                aerial,
                facing: facing.rem_euclid(360.0),
                turn: turn.rem_euclid(360.0),
                pose: self.pose,
            },
        }
    }
}

impl Motion {
    /// Place, speed and course a time after the beginning of a piece of a length, both in seconds.
    pub fn at(&self, since: f64, long: f64) -> (Place, f64, Option<f64>) {
        match *self {
            Self::Still(place) => (place, 0.0, None),
            Self::Line { from, to } => {
                let length = from.distance_to(to);
                if long <= 0.0 || length <= 0.0 {
                    return (to, 0.0, None);
                }
                // Whole periods, so that the leg ends where it should.
                let periods = (long / PACE.1).round().max(1.0);
                let u = since / long;
                let share = u + PACE.0 * (TAU * periods * u).sin() / (TAU * periods);
                let speed = length / long * (1.0 + PACE.0 * (TAU * periods * u).cos());
                (from.towards(to, share), speed, Some(from.bearing_to(to)))
            }
            Self::Circle {
                from,
                inward,
                radius,
                pace,
            } => {
                if radius <= 0.0 {
                    return (from, 0.0, None);
                }
                let angle = (pace * since / radius).to_degrees();
                let outward = inward + 180.0 + angle;
                let place = from.beside(radius, inward).beside(radius, outward);
                (place, pace, Some((outward + 90.0).rem_euclid(360.0)))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn walk() -> Track {
        let mut track = Track::default();
        let (a, b) = (Place::new(10.0, 0.0), Place::new(60.0, 0.0));
        track.push(
            40.0,
            Motion::Line { from: a, to: b },
            Facing::Bearing(90.0),
            Hold::Ahead,
            Pose::Upright,
        );
        track.push(5.0, Motion::Still(b), Facing::Station, Hold::Ahead, Pose::Upright);
        let circle = Motion::Circle {
            from: b,
            inward: 0.0,
            radius: 0.5,
            pace: 0.2,
        };
        track.push(10.0, circle, Facing::Station, Hold::Ahead, Pose::Upright);
        track
    }

    #[test]
    fn a_leg_begins_and_ends_where_it_says_at_a_plausible_pace() {
        let track = walk();
        assert!(track.at(0.0).person.distance_to(Place::new(10.0, 0.0)) < 1e-9);
        assert!(track.at(39.999_999).person.distance_to(Place::new(60.0, 0.0)) < 1e-3);
        for step in 0..399 {
            let at = f64::from(step) * 0.1;
            let (now, next) = (track.at(at), track.at(at + 0.1));
            let speed = now.person.distance_to(next.person) / 0.1;
            assert!((speed - f64::midpoint(now.speed, next.speed)).abs() < 0.01);
            assert!((1.1..1.4).contains(&speed));
        }
    }

    #[test]
    fn walking_away_turns_the_mark_from_the_station_and_facing_it_turns_it_back() {
        let track = walk();
        let away = track.at(0.0).stance.turn;
        assert!((away - 180.0).abs() < 7.0, "{away}");
        let towards = track.at(42.0).stance.turn;
        assert!(towards.min(360.0 - towards) < 1e-6, "{towards}");
        assert!(track.at(42.0).course.is_none());
    }

    #[test]
    fn a_circle_is_small_and_goes_on() {
        let track = walk();
        let (one, other) = (track.at(46.0).person, track.at(50.0).person);
        assert!(one.distance_to(other) > 0.6 && one.distance_to(other) < 1.0);
        assert!(track.at(1e9).person.distance_to(Place::new(60.0, 0.0)) < 1.1);
        assert_eq!(
            Track::default().at(5.0).person.distance(),
            0.0 + Track::default().at(0.0).person.distance()
        );
    }
}
