//! A row for each run at a point and each step of a sweep: the plain log-keeper's figures.

use super::course::{Course, Left, Plain};
use super::delivery::{Standing, Stops};
use crate::ground::Position;
use crate::stats::burst::BurstMemory;
use crate::stats::proportions::Interval;
use crate::survey::sample::{Activity, Sample, Samples};
use crate::survey::setup::Setup;
use crate::units::{Degrees, Metres, UtcMs};

/// A run at a point, or a step of a sweep, in which something counts: the figures are of the board as held there.
#[derive(Clone, Debug, PartialEq)]
pub struct PointRow {
    /// The point's name.
    pub point: String,
    /// `point` or `sweep`.
    pub activity: &'static str,
    /// How the board was held.
    pub pose: Option<String>,
    /// The turn.
    pub turn: Option<Degrees>,
    /// The board.
    pub board: String,
    /// Its count of starts.
    pub boot: u64,
    /// The run.
    pub run: u32,
    /// When its first row that counts was.
    pub begin: UtcMs,
    /// How many pings count.
    pub messages: u64,
    /// How many of them were answered.
    pub delivered: u64,
    /// Wilson's 95 % interval of the delivery rate (Wilson 1927, JASA 22:209).
    pub interval: Interval,
    /// Mean of the dBm figures, as the board heard the station.
    pub here_dbm: Option<f64>,
    /// Mean of the dBm figures, as the station heard the board.
    pub there_dbm: Option<f64>,
    /// Mean position of the rows.
    pub position: Option<Position>,
    /// Their mean sigma.
    pub sigma: Option<Metres>,
    /// Distance from the mean position to the station.
    pub distance: Option<Metres>,
    /// Bearing to the station from there.
    pub bearing: Option<Degrees>,
    /// What the count proves against the goal.
    pub standing: Standing,
    /// Where its rows stand among all rows, up to where the board was carried off.
    pub rows: std::ops::Range<usize>,
    /// That the board was carried off before the point was ended; nothing here is of the rows since.
    pub left: Option<Left>,
}

impl PointRow {
    /// The figures of all rows of the run, as a plain log-keeper has them.
    pub fn plain(&self) -> Plain {
        match &self.left {
            Some(left) => left.all.clone(),
            None => Plain {
                messages: self.messages,
                delivered: self.delivered,
                interval: self.interval,
                here_dbm: self.here_dbm,
                there_dbm: self.there_dbm,
                position: self.position,
                sigma: self.sigma,
                distance: self.distance,
                bearing: self.bearing,
            },
        }
    }
}

/// Makes the rows, in order of time.
pub fn points(samples: &Samples, setup: &Setup) -> Vec<PointRow> {
    let mut points = Points::new(setup);
    points.bring_up_to_date(samples, setup, 0);
    points.found
}

/// The rows of a survey that goes on: each time only what may differ is made anew.
#[derive(Clone, Debug)]
pub struct Points {
    found: Vec<PointRow>,
    stops: Stops,
    /// Runs and steps so far, whether something counts in them or not.
    parts: Vec<Part>,
    /// Samples before this one are dealt with.
    seen: usize,
}

/// A run at a point, or a step.
#[derive(Clone, Debug)]
struct Part {
    /// The first sample after it.
    end: usize,
    begin: usize,
    /// What was known of the stops before it, and how many rows there were.
    before: (Stops, usize),
    /// The last one as far as its samples had settled, to go on from.
    course: Option<Box<Course>>,
}

impl Points {
    /// Of no samples yet.
    pub fn new(setup: &Setup) -> Self {
        Self {
            found: Vec::new(),
            stops: Stops::new(&setup.goal),
            parts: Vec::new(),
            seen: 0,
        }
    }

    /// What the stops so far show of bursts.
    pub fn bursts(&self) -> &BurstMemory {
        self.stops.memory()
    }

    /// The rows, in order of time.
    pub fn rows(&self) -> &[PointRow] {
        &self.found
    }

    /// Takes the samples as they are now, of which the first `settled` are as they were the last time; so is the set-up, if
    /// any are.
    pub fn bring_up_to_date(&mut self, samples: &Samples, setup: &Setup, settled: usize) {
        let settled = settled.min(samples.rows.len());
        if settled == 0 {
            *self = Self::new(setup);
        }
        self.seen = self.seen.min(settled);
        let mut course = None;
        // What ended at the first new sample may go on with it.
        while let Some(part) = self.parts.pop_if(|part| part.end >= settled) {
            self.seen = self.seen.min(part.begin);
            self.found.truncate(part.before.1);
            self.stops = part.before.0;
            course = part.course.filter(|course| course.taken() <= settled);
        }
        while let Some(first) = samples.rows.get(self.seen) {
            let (begin, key) = (self.seen, key_of(first));
            let mut course = course
                .take()
                .map_or_else(|| Course::begin(&self.stops, begin), |course| *course);
            let rows = samples.rows[course.taken()..].iter();
            let end = course.taken() + rows.take_while(|row| key_of(row) == key).count();
            self.seen = end;
            if key.is_none() {
                continue;
            }
            let before = (self.stops.clone(), self.found.len());
            course.go_on(samples, settled.clamp(course.taken(), end));
            let settled_course = Box::new(course.clone());
            course.go_on(samples, end);
            self.found.extend(point_row(samples, &course, begin, setup));
            self.stops.add(course.stop());
            if let Some(last) = self.parts.last_mut() {
                last.course = None;
            }
            self.parts.push(Part {
                end,
                begin,
                before,
                course: Some(settled_course),
            });
        }
    }
}

/// What must be the same for two rows to belong together: the run and, in a sweep, the step.
fn key_of(row: &Sample) -> Option<(u32, u32)> {
    match row.activity {
        Activity::Walk => None,
        Activity::Point(_) => Some((row.run, 0)),
        Activity::Sweep { step, .. } => Some((row.run, step)),
    }
}

fn point_row(samples: &Samples, course: &Course, begin: usize, setup: &Setup) -> Option<PointRow> {
    let first = &samples.rows[course.first()?];
    let held = course.held(setup)?;
    let boot = &samples.boots[first.boot as usize];
    Some(PointRow {
        point: samples.point(first).unwrap_or_default().to_owned(),
        activity: first.activity.word(),
        pose: samples.pose(first).map(str::to_owned),
        turn: match first.activity {
            Activity::Sweep { turn, .. } => turn,
            Activity::Walk | Activity::Point(_) => None,
        },
        board: boot.board.clone(),
        boot: boot.boot,
        run: first.run,
        begin: first.utc,
        messages: held.messages,
        delivered: held.delivered,
        interval: held.interval,
        here_dbm: held.here_dbm,
        there_dbm: held.there_dbm,
        position: held.position,
        sigma: held.sigma,
        distance: held.distance,
        bearing: held.bearing,
        standing: course.stop().standing()?,
        rows: begin..course.held_until(),
        left: course.left(setup),
    })
}

/// The mean of numbers; `None` of none.
pub fn mean(numbers: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, count) = numbers.fold((0.0, 0_u64), |(sum, count), number| (sum + number, count + 1));
    (count > 0).then(|| sum / count as f64)
}

/// The mean of positions that lie close together, on either side of the antimeridian too.
#[derive(Clone, Copy, Debug, Default)]
pub struct MeanPosition {
    first: Option<Position>,
    north: f64,
    east: f64,
    count: u64,
}

impl MeanPosition {
    /// Takes another position.
    pub fn push(&mut self, position: Position) {
        let origin = *self.first.get_or_insert(position);
        self.north += position.lat().0 - origin.lat().0;
        self.east += (position.lon().0 - origin.lon().0 + 540.0).rem_euclid(360.0) - 180.0;
        self.count += 1;
    }

    /// The mean; `None` of none.
    pub fn mean(&self) -> Option<Position> {
        let origin = self.first?;
        let lat = origin.lat().0 + self.north / self.count as f64;
        let lon = (origin.lon().0 + self.east / self.count as f64 + 540.0).rem_euclid(360.0) - 180.0;
        Position::new(Degrees(lat.clamp(-90.0, 90.0)), Degrees(lon)).ok()
    }
}

/// The mean of positions that lie close together; `None` of none.
pub fn mean_position(positions: impl Iterator<Item = Position>) -> Option<Position> {
    let mut mean = MeanPosition::default();
    positions.for_each(|position| mean.push(position));
    mean.mean()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::exchange::Heard;
    use crate::survey::sample::{BootName, Excluded};
    use crate::units::Elapsed;

    /// Ten walks with a point after each, the second half of every other point excluded.
    fn walks_and_points() -> Samples {
        let row = |index: u32| {
            let (run, within) = (index / 20, index % 20);
            Sample {
                utc: UtcMs(0),
                at: Elapsed(u64::from(index) * 100_000),
                boot: 0,
                run: run + 1,
                n: u64::from(index),
                echo: (!index.is_multiple_of(7)).then(Heard::default),
                channel: None,
                place: None,
                activity: if run % 2 == 0 {
                    Activity::Walk
                } else {
                    Activity::Point(run)
                },
                excluded: (run % 4 == 3 && within >= 10).then_some(Excluded::Paused),
            }
        };
        Samples {
            rows: (0..400).map(row).collect(),
            boots: vec![BootName {
                board: "yew".into(),
                boot: 1,
            }],
            points: (0..20).map(|run| format!("P{run}")).collect(),
            ..Samples::default()
        }
    }

    #[test]
    fn going_on_gives_what_beginning_anew_gives() {
        let (whole, setup) = (walks_and_points(), Setup::default());
        let mut points = Points::new(&setup);
        let mut known = 0;
        for length in (1..=400).step_by(3).chain([395, 210, 203, 400, 40, 41, 0, 400]) {
            let mut samples = whole.clone();
            samples.rows.truncate(length);
            // Often some of what was known has changed: here, it is only looked at again.
            let settled = known.min(length).saturating_sub(length % 5 * 9);
            points.bring_up_to_date(&samples, &setup, settled);
            assert_eq!(points.rows(), super::points(&samples, &setup), "{length} {settled}");
            known = length;
        }
    }

    #[test]
    fn positions_are_averaged_across_the_antimeridian() {
        let at = |lon: f64| Position::new(Degrees(10.0), Degrees(lon)).unwrap();
        let middle = mean_position([at(179.9999), at(-179.9999), at(-179.9997)].into_iter()).unwrap();
        assert!((middle.lon().0 - -179.999_9).abs() < 1e-9, "{middle:?}");
        assert_eq!(mean_position(std::iter::empty()), None);
    }
}
