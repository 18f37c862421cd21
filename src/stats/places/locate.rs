//! Where the station stands, told from the walk alone.

use super::compass::Covariance;
use super::exchange::{Exchange, facing};
use super::goal::Receiver;
use super::record::Record;
use super::summary::summarise;
use super::trend::{UNKNOWN_FACING, basis};
use super::vecchia::{CONDITIONED, Vecchia, Weights, residuals};

/// Side of the cells records are gathered in, in metres, before any coarsening.
const CELL: f64 = 8.0;
/// The most records used.
const MOST: usize = 800;
/// Fewest records with something delivered.
const FEWEST: usize = 10;
/// The search goes this far beyond the walked ground, in metres.
const BEYOND: f64 = 60.0;
/// Steps of the search in metres: the whole ground, then ever closer around the best.
const STEPS: [f64; 2] = [10.0, 4.0];
/// The most places tried in the first search.
const TRIED: f64 = 2500.0;
/// Courses are told apart by eighths of a turn; the ninth group has none.
const COURSES: u8 = 8;

/// Where the station seems to stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Located {
    /// Metres east.
    pub x: f64,
    /// Metres north.
    pub y: f64,
    /// Radius in metres that holds 90 % of the likelihood, by the model's own word: over 32 made worlds it held the true
    /// place 27 times, at a median error of 4 m. Show the place and ask.
    pub radius: f64,
    /// How much more likely, in natural logarithms, this place is than the one asked about; `None` when none was. No sharp
    /// test of a place noted by hand: over those worlds it was 13 or more for one true place in ten, and 18 in the median
    /// for places 40 m off.
    pub over_given: Option<f64>,
    /// Records it was told from.
    pub records: usize,
}

/// Finds the station from `exchanges` (outages left out): the place under which their levels are most likely.
///
/// Records of 8 m and eight courses enter the map's own likelihood with its prior covariance; every place of a grid around
/// the walk is tried, then finer ones around the best. `given` is a place (metres) to compare with, such as the one noted
/// by hand. `None` with fewer than 10 records that have something delivered.
pub fn locate(exchanges: &[Exchange], receiver: Receiver, given: Option<(f64, f64)>) -> Option<Located> {
    let courses = gather(exchanges);
    if courses.iter().filter(|own| own.record.received > 0).count() < FEWEST {
        return None;
    }
    let mut likelihood = Likelihood::new(courses, receiver);
    let (x, y): (Vec<f64>, Vec<f64>) = likelihood
        .courses
        .iter()
        .filter(|own| own.record.received > 0)
        .map(|own| (own.record.x, own.record.y))
        .unzip();
    let low = |values: &[f64]| values.iter().copied().fold(f64::INFINITY, f64::min) - BEYOND;
    let high = |values: &[f64]| values.iter().copied().fold(f64::NEG_INFINITY, f64::max) + BEYOND;
    let (west, south, east, north) = (low(&x), low(&y), high(&x), high(&y));
    let first = STEPS[0].max(((east - west) * (north - south) / TRIED).sqrt());

    let whole = likelihood.grid((west, south), (east, north), first);
    let mut best = top(&whole)?;
    let mut step = first;
    while step > STEPS[1] {
        let around = 1.5 * step;
        step = (step * 0.4).max(STEPS[1]);
        let closer = likelihood.grid(
            (best.0 - around, best.1 - around),
            (best.0 + around, best.1 + around),
            step,
        );
        if let Some(found) = top(&closer).filter(|found| found.2 > best.2) {
            best = found;
        }
    }
    Some(Located {
        x: best.0,
        y: best.1,
        radius: radius(&whole, best, step),
        over_given: given
            .filter(|place| place.0.is_finite() && place.1.is_finite())
            .map(|place| best.2 - likelihood.at(place)),
        records: likelihood.courses.len(),
    })
}

/// The greatest of tried places; the first of equals.
fn top(tried: &[(f64, f64, f64)]) -> Option<(f64, f64, f64)> {
    tried
        .iter()
        .copied()
        .filter(|place| place.2.is_finite())
        .reduce(|best, place| if place.2 > best.2 { place } else { best })
}

fn radius(tried: &[(f64, f64, f64)], best: (f64, f64, f64), step: f64) -> f64 {
    let mut weighed: Vec<(f64, f64)> = tried
        .iter()
        .map(|place| {
            (
                (place.0 - best.0).hypot(place.1 - best.1),
                (place.2 - best.2).min(0.0).exp(),
            )
        })
        .collect();
    weighed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = weighed.iter().map(|place| place.1).sum();
    let mut sum = 0.0;
    weighed
        .into_iter()
        .find(|place| {
            sum += place.1;
            sum >= 0.9 * total
        })
        .map_or(step, |place| place.0.max(step))
}

/// Exchanges of one cell walked on one course.
struct Course {
    record: Record,
    /// Mean course in degrees; `None` for the group without.
    course: Option<f64>,
}

fn gather(exchanges: &[Exchange]) -> Vec<Course> {
    let mut cell = CELL;
    loop {
        let found = gather_at(exchanges, cell);
        if found.len() <= MOST {
            return found;
        }
        cell *= 1.25;
    }
}

fn gather_at(exchanges: &[Exchange], cell: f64) -> Vec<Course> {
    use std::collections::HashMap;
    // Looked up only: the order of records is that of first visit.
    let mut index: HashMap<(i64, i64, u8), usize> = HashMap::new();
    let mut tallies: Vec<(super::record::Tally, f64, f64)> = Vec::new();
    let mut last = None;
    for exchange in exchanges.iter().filter(|exchange| exchange.usable()) {
        let course = exchange.steady_course();
        let group = course.map_or(COURSES, |course| {
            ((course + 22.5).rem_euclid(360.0) / 45.0) as u8 % COURSES
        });
        let key = (
            (exchange.x / cell).floor() as i64,
            (exchange.y / cell).floor() as i64,
            group,
        );
        let next = tallies.len();
        let at = *index.entry(key).or_insert(next);
        if at == next {
            if next > MOST {
                break;
            }
            tallies.push(Default::default());
        }
        let elapsed = exchange.t - last.unwrap_or(exchange.t);
        last = Some(exchange.t);
        let (tally, east, north) = &mut tallies[at];
        tally.add(exchange, course.map(|_| 0.5), elapsed);
        if let Some(course) = course {
            let (sin, cos) = course.to_radians().sin_cos();
            *east += sin;
            *north += cos;
        }
    }
    tallies
        .into_iter()
        .map(|(tally, east, north)| {
            let record = tally.record();
            Course {
                course: (record.unknown < 0.5).then(|| east.atan2(north).to_degrees()),
                record,
            }
        })
        .collect()
}

/// The likelihood of the records as a function of the station's place.
///
/// Covariance and noise do not depend on it, so the weights are made once and a place costs one pass over the records.
struct Likelihood {
    courses: Vec<Course>,
    vecchia: Vecchia<CONDITIONED>,
    weights: Weights<CONDITIONED>,
    levels: Vec<f64>,
    level: f64,
}

impl Likelihood {
    fn new(courses: Vec<Course>, receiver: Receiver) -> Self {
        let records: Vec<Record> = courses.iter().map(|own| own.record).collect();
        let summary = summarise(&records, &receiver);
        let points: Vec<(f64, f64)> = records.iter().map(|record| (record.x, record.y)).collect();
        let noise: Vec<f64> = records
            .iter()
            .map(|record| {
                if record.received == 0 {
                    super::model::SILENT
                } else {
                    super::site::Site::first(record, &summary).variance + record.unknown * UNKNOWN_FACING
                }
            })
            .collect();
        let mut vecchia = Vecchia::new(&points);
        let weights = vecchia.weights(&Covariance::prior(), &noise);
        Self {
            vecchia,
            weights,
            levels: records
                .iter()
                .map(|record| record.level.unwrap_or(summary.level))
                .collect(),
            level: summary.level,
            courses,
        }
    }

    fn at(&mut self, station: (f64, f64)) -> f64 {
        let rows: Vec<[f64; 4]> = self
            .courses
            .iter()
            .map(|own| {
                let (x, y) = (own.record.x, own.record.y);
                let turned = own.course.and_then(|course| facing(course, x, y, station));
                basis(x, y, turned.unwrap_or(0.5), station)
            })
            .collect();
        let residuals = residuals(&self.levels, &rows, self.level);
        self.vecchia.evidence(&self.weights, &residuals, &rows).log_likelihood
    }

    fn grid(&mut self, low: (f64, f64), high: (f64, f64), step: f64) -> Vec<(f64, f64, f64)> {
        let count = |low: f64, high: f64| ((high - low) / step).floor().max(0.0) as usize;
        let (columns, rows) = (count(low.0, high.0), count(low.1, high.1));
        let mut tried = Vec::with_capacity((columns + 1) * (rows + 1));
        for row in 0..=rows {
            for column in 0..=columns {
                let place = (low.0 + column as f64 * step, low.1 + row as f64 * step);
                tried.push((place.0, place.1, self.at(place)));
            }
        }
        tried
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A walk around a yard; levels fall with distance to `station` and behind the body, with a small regular ripple.
    fn walk(station: (f64, f64)) -> Vec<Exchange> {
        let corners: [(f64, f64); 6] = [
            (0.0, 0.0),
            (120.0, 0.0),
            (120.0, 80.0),
            (0.0, 80.0),
            (0.0, 0.0),
            (120.0, 80.0),
        ];
        let mut rows = Vec::new();
        for leg in corners.windows(2) {
            let (dx, dy) = (leg[1].0 - leg[0].0, leg[1].1 - leg[0].1);
            let count = (dx.hypot(dy) / 0.5) as usize;
            for i in 0..count {
                let u = i as f64 / count as f64;
                let (x, y) = (leg[0].0 + u * dx, leg[0].1 + u * dy);
                let course = dx.atan2(dy).to_degrees();
                let distance = (x - station.0).hypot(y - station.1).max(1.0);
                let body = 10.0 * facing(course, x, y, station).unwrap_or(0.5);
                let t = rows.len() as f64 * 0.4;
                let level = -45.0 - 28.0 * (distance / 10.0).log10() - body + 2.0 * (t * 1.7).sin();
                rows.push(Exchange {
                    x,
                    y,
                    t,
                    level: Some(level.round()),
                    lost: false,
                    speed: Some(1.25),
                    course: Some(course),
                });
            }
        }
        rows
    }

    #[test]
    fn the_station_is_found_from_the_walk() {
        for station in [(30.0, 25.0), (95.0, 60.0), (-20.0, 40.0)] {
            let found = locate(&walk(station), Receiver::at(-98.0), Some((station.0 + 60.0, station.1))).unwrap();
            let off = (found.x - station.0).hypot(found.y - station.1);
            assert!(off < 8.0, "{station:?} {found:?}");
            assert!(found.over_given.unwrap() > 5.0, "{found:?}");
        }
    }

    #[test]
    fn too_little_tells_nothing() {
        let rows = walk((30.0, 25.0));
        assert_eq!(locate(&rows[..10], Receiver::at(-98.0), None), None);
        let lost: Vec<Exchange> = rows
            .iter()
            .map(|row| Exchange {
                lost: true,
                level: None,
                ..*row
            })
            .collect();
        assert_eq!(locate(&lost, Receiver::at(-98.0), None), None);
    }
}
