//! What the surveyor does and what befalls the gear, written down as one reads it: `walk … point … swap …`.

use super::pattern::Pose;
use super::place::Place;
use super::seeds::share_of;
use super::walker::{Facing, Hold, Motion, Track};
use crate::units::Degrees;
use crate::wire::{GearSource, SurveyorRecord};

/// A script: the walker's track and what happens along it.
#[derive(Clone, Debug, PartialEq)]
pub struct Script {
    track: Track,
    happenings: Vec<Happening>,
    place: Place,
    /// Where the last leg ended: the small circles stay round it.
    stop: Place,
    facing: Facing,
    pose: Pose,
    speed: f64,
    hand: u64,
}

/// Something that happens at a time.
#[derive(Clone, Debug, PartialEq)]
pub struct Happening {
    /// When, seconds.
    pub at_s: f64,
    /// What.
    pub event: Event,
}

/// What can happen.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// The surveyor presses a key.
    Press(SurveyorRecord),
    /// A cable comes out.
    Unplug(GearSource),
    /// A cable goes in again; the gear has run on meanwhile.
    Replug(GearSource),
    /// A board of the scenario starts, by its place in the list.
    PowerOn(usize),
    /// The board in hand stops.
    PowerOff,
    /// The station hears nothing until a time in seconds.
    StationSilent(f64),
    /// The receiver has no fix until a time in seconds.
    FixLost(f64),
    /// The next fix is this far off, metres east and north, with a good checksum.
    Outlier(f64, f64),
    /// A sentence of the next epoch arrives damaged.
    DamagedSentence,
    /// The node prints bytes of its own.
    NodePrints(Vec<u8>),
    /// The node's cable comes out in the middle of its next line.
    TearsOff,
    /// The receiver prints bytes of its own.
    ReceiverPrints(Vec<u8>),
}

/// Pings a second of every board here.
pub const RATE: f64 = 10.0;

/// An easy walk over grass, metres a second.
const WALK: f64 = 1.25;
/// Radius and pace of the small circle walked at a point: metres, metres a second.
const SHUFFLE: (f64, f64) = (0.5, 0.2);
/// Seconds to turn the board to its next step, and to steady it.
const TURNING: f64 = 2.4;
/// How badly a hand meets a turn: degrees either way; and how far off it holds the board, metres either way.
const HAND: (f64, f64) = (5.0, 0.05);

impl Script {
    /// Stands at a place, facing the station, with the first board starting.
    pub fn begin(place: Place) -> Self {
        Self {
            track: Track::default(),
            happenings: vec![Happening {
                at_s: 0.0,
                event: Event::PowerOn(0),
            }],
            place,
            stop: place,
            facing: Facing::Station,
            pose: Pose::Upright,
            speed: WALK,
            hand: 0,
        }
    }

    /// The walker's track.
    pub const fn track(&self) -> &Track {
        &self.track
    }

    /// What happens, in order of time.
    pub fn happenings(&self) -> &[Happening] {
        &self.happenings
    }

    /// How long it takes, seconds.
    pub fn seconds(&self) -> f64 {
        self.track.ends_s()
    }

    /// Something happens now.
    pub fn happen(self, event: Event) -> Self {
        self.happen_in(0.0, event)
    }

    /// Something happens so many seconds from now, while the script goes on.
    pub fn happen_in(mut self, seconds: f64, event: Event) -> Self {
        let at_s = self.seconds() + seconds;
        let after = self.happenings.partition_point(|other| other.at_s <= at_s);
        self.happenings.insert(after, Happening { at_s, event });
        self
    }

    /// The surveyor presses a key.
    pub fn press(self, record: SurveyorRecord) -> Self {
        self.happen(Event::Press(record))
    }

    /// Stands still.
    pub fn stand(mut self, seconds: f64) -> Self {
        self.track
            .push(seconds, Motion::Still(self.place), self.facing, Hold::Ahead, self.pose);
        self
    }

    /// Goes round a small circle, facing the station, as one does at a point; the next circle is another, but none
    /// leaves the stop by more than a metre.
    pub fn shuffle(mut self, seconds: f64) -> Self {
        self.facing = Facing::Station;
        let (radius, pace) = SHUFFLE;
        let motion = Motion::Circle {
            from: self.place,
            inward: self.place.bearing_to(self.stop),
            radius,
            pace,
        };
        self.track.push(seconds, motion, self.facing, Hold::Ahead, self.pose);
        self.place = motion.at(seconds.max(0.0), seconds.max(0.0)).0;
        self
    }

    /// Walks straight to a place at the speed set last.
    pub fn walk(mut self, to: Place) -> Self {
        let from = self.place;
        let length = from.distance_to(to);
        if length > 0.0 {
            self.facing = Facing::Bearing(from.bearing_to(to));
            self.track.push(
                length / self.speed,
                Motion::Line { from, to },
                self.facing,
                Hold::Ahead,
                self.pose,
            );
            self.place = to;
            self.stop = to;
        }
        self
    }

    /// Walks at so many metres a second from here on; 0.1 at least.
    pub fn speed(mut self, speed: f64) -> Self {
        self.speed = speed.max(0.1);
        self
    }

    /// Whose hand it is that misses the turns of a sweep: another seed misses them otherwise.
    pub fn hand(mut self, seed: u64) -> Self {
        self.hand = seed;
        self
    }

    /// Turns to face the station.
    pub fn face_station(mut self) -> Self {
        self.facing = Facing::Station;
        self.stand(1.0)
    }

    /// Measures a point: presses the key, and goes round until somewhat more than the messages are through.
    pub fn point(self, name: &str, messages: u32) -> Self {
        self.face_station()
            .press(SurveyorRecord::Point {
                name: Some(name.to_owned()),
                messages: Some(messages),
            })
            .shuffle(f64::from(messages) / RATE + 0.7)
    }

    /// Sweeps a pose through even steps, and the first step once more.
    pub fn sweep(mut self, name: &str, pose: Pose, steps: u32, messages: u32) -> Self {
        let carried = self.pose;
        self = self.face_station().press(SurveyorRecord::Sweep {
            name: Some(name.to_owned()),
            pose: Some(pose.word().to_owned()),
            steps: Some(steps),
            messages: Some(messages),
        });
        self.pose = pose;
        let mut held = 0.0;
        let mut hand = (0.0, 0.0);
        for step in 0..=steps {
            let turn = 360.0 * f64::from(step) / f64::from(steps.max(1));
            let key = self.hand.rotate_left(40) ^ ((self.happenings.len() as u64) << 2);
            let either = |extent: f64, part: u64| extent * (2.0 * share_of(key ^ part) - 1.0);
            let to = turn + either(HAND.0, 0);
            if step > 0 {
                self = self.press(SurveyorRecord::Turning);
            }
            self.hold(TURNING, held, to, hand);
            held = to;
            hand = (either(HAND.1, 1), either(HAND.1, 2));
            self = self.press(SurveyorRecord::Turn {
                deg: Degrees(turn.rem_euclid(360.0)),
            });
            self.hold(f64::from(messages) / RATE + 0.6, held, held, hand);
        }
        self.pose = carried;
        self
    }

    fn hold(&mut self, seconds: f64, from: f64, to: f64, hand: (f64, f64)) {
        self.track.push(
            seconds,
            Motion::Still(self.place),
            Facing::Station,
            Hold::Turned { from, to, hand },
            self.pose,
        );
    }

    /// Changes to another board of the scenario, the survey paused meanwhile; stands some seconds.
    pub fn swap(self, board: usize) -> Self {
        self.press(SurveyorRecord::Pause)
            .stand(1.2)
            .happen(Event::Unplug(GearSource::Node))
            .happen(Event::PowerOff)
            .stand(3.5)
            .happen(Event::Replug(GearSource::Node))
            .happen(Event::PowerOn(board))
            .stand(2.5)
    }

    /// Walks on with the survey: presses the key for walking.
    pub fn walking(self) -> Self {
        self.press(SurveyorRecord::Walk)
    }

    /// Notes something.
    pub fn mark(self, text: &str) -> Self {
        self.press(SurveyorRecord::Mark { text: text.to_owned() })
    }

    /// Ends the survey, and stands a moment.
    pub fn finish(self) -> Self {
        self.press(SurveyorRecord::Finish).stand(0.5)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn happenings_stand_in_order_and_the_track_has_no_gap() {
        let script = Script::begin(Place::new(5.0, 0.0))
            .happen_in(8.0, Event::DamagedSentence)
            .stand(3.0)
            .walking()
            .walk(Place::new(45.0, 0.0))
            .point("P1", 100)
            .sweep("S1", Pose::Flat, 8, 40)
            .finish();
        let times: Vec<f64> = script.happenings().iter().map(|happening| happening.at_s).collect();
        assert!(times.is_sorted());
        let pieces = script.track().pieces();
        assert!(pieces.windows(2).all(|pair| pair[0].to_s == pair[1].from_s));
        let turns: Vec<f64> = script
            .happenings()
            .iter()
            .filter_map(|happening| match happening.event {
                Event::Press(SurveyorRecord::Turn { deg }) => Some(deg.0),
                _ => None,
            })
            .collect();
        assert_eq!(turns, [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0, 0.0]);
    }

    #[test]
    fn nobody_jumps() {
        let script = Script::begin(Place::new(5.0, 0.0))
            .walk(Place::new(45.0, 10.0))
            .point("P1", 100)
            .walk(Place::new(10.0, 0.0))
            .stand(2.0);
        let steps = (script.seconds() / 0.05) as u32;
        for step in 0..steps {
            let at = f64::from(step) * 0.05;
            let moved = script
                .track()
                .at(at)
                .person
                .distance_to(script.track().at(at + 0.05).person);
            assert!(moved < 0.12, "{moved} m at {at} s");
        }
    }
}
