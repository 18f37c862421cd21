//! Exchanges gathered by ground cell and course, whatever the station's place: what tells where it stands.

use super::exchange::{Ahead, Exchange};
use super::record::{COARSEN, Record, Tally};
use super::visits::Visits;

/// Side of the cells in metres, before any coarsening.
const CELL: f64 = 8.0;
/// The most records gathered; cells grow until it holds.
const MOST: usize = 300;
/// Courses are told apart by eighths of a turn; the ninth group has none.
const GROUPS: u8 = 8;

/// What was seen of each ground cell on each course.
#[derive(Clone, Debug, Default)]
pub struct Courses {
    pub(super) all: Vec<Course>,
}

/// Exchanges of one cell walked on one course.
#[derive(Clone, Copy, Debug)]
pub(super) struct Course {
    /// The exchanges; their facing is not known without a station and stands for none.
    pub record: Record,
    /// Mean course in degrees clockwise from north; `None` for the group without.
    pub course: Option<f64>,
}

impl Courses {
    /// Gathers `exchanges` in order of time, outages left out; unusable ones are passed over.
    pub fn gather(exchanges: &[Exchange]) -> Self {
        let mut cell = CELL;
        loop {
            let mut gathering = Gathering::new(cell);
            let fits = exchanges.iter().all(|exchange| {
                gathering.push(exchange);
                gathering.tallies.len() <= MOST
            });
            if fits {
                return gathering.courses();
            }
            cell *= COARSEN;
        }
    }

    /// Those with something delivered: the others say nothing of a level.
    pub(super) fn heard(&self) -> impl Iterator<Item = &Course> {
        self.all.iter().filter(|own| own.record.received > 0)
    }
}

struct Gathering {
    visits: Visits,
    ahead: Ahead,
    tallies: Vec<(Tally, f64, f64)>,
}

impl Gathering {
    fn new(cell: f64) -> Self {
        Self {
            visits: Visits::new(cell),
            ahead: Ahead::default(),
            tallies: Vec::new(),
        }
    }

    fn push(&mut self, exchange: &Exchange) {
        if !exchange.usable() {
            return;
        }
        let course = exchange.steady_course();
        let group = course.map_or(GROUPS, |course| {
            ((course + 22.5).rem_euclid(360.0) / 45.0) as u8 % GROUPS
        });
        let (at, elapsed) = self.visits.visit(exchange, group);
        if at == self.tallies.len() {
            self.tallies.push(<(Tally, f64, f64)>::default());
        }
        let (tally, east, north) = &mut self.tallies[at];
        tally.add(exchange, course.map(|_| 0.5), elapsed);
        if let Some(course) = course {
            let (sin, cos) = self.ahead.of(course);
            *east += sin;
            *north += cos;
        }
    }

    fn courses(self) -> Courses {
        let course = |(tally, east, north): (Tally, f64, f64)| {
            let record = tally.record();
            Course {
                course: (record.unknown < 0.5).then(|| east.atan2(north).to_degrees()),
                record,
            }
        };
        Courses {
            all: self.tallies.into_iter().map(course).collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn step(x: f64, t: f64, course: f64) -> Exchange {
        Exchange {
            x,
            y: 1.0,
            t,
            level: Some(-70.0),
            lost: false,
            speed: Some(1.25),
            course: Some(course),
        }
    }

    #[test]
    fn courses_of_a_cell_are_kept_apart_and_averaged_over_north() {
        let rows = [
            step(1.0, 0.0, 350.0),
            step(1.5, 1.0, 10.0),
            step(2.0, 2.0, 180.0),
            Exchange {
                speed: Some(0.0),
                ..step(2.0, 3.0, 5.0)
            },
        ];
        let found = Courses::gather(&rows);
        assert_eq!(found.all.len(), 3);
        assert!(found.all[0].course.unwrap().abs() < 1e-9);
        assert!((found.all[1].course.unwrap() - 180.0).abs() < 1e-9);
        assert_eq!(found.all[2].course, None);
    }

    #[test]
    fn cells_grow_until_the_records_are_few() {
        let rows: Vec<Exchange> = (0..2000)
            .map(|i| step(f64::from(i) * 8.0, f64::from(i), 90.0))
            .collect();
        let found = Courses::gather(&rows);
        assert!(
            found.all.len() <= MOST && found.all.len() > MOST / 2,
            "{}",
            found.all.len()
        );
        assert_eq!(found.all.iter().map(|own| own.record.sent).sum::<u32>(), 2000);
        assert!(Courses::gather(&[]).all.is_empty());
    }
}
