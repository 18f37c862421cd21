//! Where the station stands, told from the walk alone, and whether it may stand where it is said to.

use super::compass::Covariance;
use super::courses::Courses;
use super::exchange::facing;
use super::goal::Receiver;
use super::record::Record;
use super::summary::summarise;
use super::trend::{UNKNOWN_FACING, basis};
use super::vecchia::{CONDITIONED, Vecchia, Weights, residuals};

/// Fewest records with something delivered.
const FEWEST: usize = 10;
/// The search goes this far beyond the walked ground, in metres.
const BEYOND: f64 = 60.0;
/// Steps of the search in metres: the whole ground, then ever closer around the best.
const STEPS: [f64; 2] = [10.0, 4.0];
/// The most places tried in the first search.
const TRIED: f64 = 600.0;
/// A given place stands for all within the farther of these, metres: so far off a position noted by hand may be.
const NEAR: [f64; 2] = [6.0, 12.0];

/// Where the station seems to stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Located {
    /// Metres east.
    pub x: f64,
    /// Metres north.
    pub y: f64,
    /// Radius in metres that holds 90 % of the likelihood, by the model's own word. It is wide where the walk leaves two
    /// places as likely, as a straight one does on either side of it.
    pub radius: f64,
    /// How much more likely, in natural logarithms, this place is than any within 12 m of the one asked about; `None` when
    /// none was. Each is taken with the covariance that suits it best.
    pub over_given: Option<f64>,
    /// Records it was told from.
    pub records: usize,
}

/// Finds the station: the place under which the levels of `courses` are most likely.
///
/// Every place of a grid around the walk is tried under the map's own likelihood, then finer ones around the best. `given` is a
/// place (metres) to compare with, such as the one noted by hand. `None` with fewer than 10 records that have something
/// delivered.
pub fn locate(courses: &Courses, receiver: Receiver, given: Option<(f64, f64)>) -> Option<Located> {
    if courses.heard().count() < FEWEST {
        return None;
    }
    let given = given.filter(|place| place.0.is_finite() && place.1.is_finite());
    let mut likelihood = Likelihood::new(courses, receiver);
    let search = Search::over(courses);
    let whole = likelihood.grid(search.low, search.high, search.step);
    let first = search.closer(&likelihood, top(&whole)?);
    let radius = radius(&whole, first, STEPS[1]);
    let nearby = given.map(|place| {
        likelihood.fit(place);
        likelihood.around(place)
    });
    likelihood.fit((first.0, first.1));
    let best = search.closer(&likelihood, (first.0, first.1, likelihood.at((first.0, first.1))));
    // The covariance that suits the best place may suit the given one as well.
    let over_given = given.zip(nearby).map(|(place, nearby)| {
        let (east, north) = (best.0 - place.0, best.1 - place.1);
        if east.hypot(north) <= NEAR[1] {
            0.0
        } else {
            (best.2 - nearby.max(likelihood.around(place))).max(0.0)
        }
    });
    Some(Located {
        x: best.0,
        y: best.1,
        radius,
        over_given,
        records: courses.all.len(),
    })
}

/// A place with its log likelihood.
type Tried = (f64, f64, f64);

/// The ground that is searched.
struct Search {
    low: (f64, f64),
    high: (f64, f64),
    step: f64,
}

impl Search {
    fn over(courses: &Courses) -> Self {
        let edge = |pick: fn(&Record) -> f64, choose: fn(f64, f64) -> f64, from: f64| {
            courses.heard().map(|own| pick(&own.record)).fold(from, choose)
        };
        let low = (
            edge(|record| record.x, f64::min, f64::INFINITY) - BEYOND,
            edge(|record| record.y, f64::min, f64::INFINITY) - BEYOND,
        );
        let high = (
            edge(|record| record.x, f64::max, f64::NEG_INFINITY) + BEYOND,
            edge(|record| record.y, f64::max, f64::NEG_INFINITY) + BEYOND,
        );
        let step = STEPS[0].max(((high.0 - low.0) * (high.1 - low.1) / TRIED).sqrt());
        Self { low, high, step }
    }

    /// Tries ever finer grids around the best so far.
    fn closer(&self, likelihood: &Likelihood<'_>, mut best: Tried) -> Tried {
        let mut step = self.step;
        while step > STEPS[1] {
            let around = 1.5 * step;
            step = (step * 0.4).max(STEPS[1]);
            let (low, high) = ((best.0 - around, best.1 - around), (best.0 + around, best.1 + around));
            if let Some(found) = top(&likelihood.grid(low, high, step)).filter(|found| found.2 > best.2) {
                best = found;
            }
        }
        best
    }
}

/// The greatest of tried places; the first of equals.
fn top(tried: &[Tried]) -> Option<Tried> {
    let finite = tried.iter().copied().filter(|place| place.2.is_finite());
    finite.reduce(|best, place| if place.2 > best.2 { place } else { best })
}

fn radius(tried: &[Tried], best: Tried, step: f64) -> f64 {
    let mut weighed: Vec<(f64, f64)> = tried
        .iter()
        .map(|place| {
            let distance = (place.0 - best.0).hypot(place.1 - best.1);
            (distance, (place.2 - best.2).min(0.0).exp())
        })
        .collect();
    weighed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = weighed.iter().map(|place| place.1).sum();
    let mut sum = 0.0;
    let within = weighed.into_iter().find(|place| {
        sum += place.1;
        sum >= 0.9 * total
    });
    within.map_or(step, |place| place.0.max(step))
}

/// The likelihood of the records as a function of the station's place, under one covariance.
///
/// Covariance and noise do not depend on the place, so the weights are made once and a place costs one pass over the records.
struct Likelihood<'a> {
    courses: &'a Courses,
    vecchia: Vecchia<CONDITIONED>,
    noise: Vec<f64>,
    weights: Weights<CONDITIONED>,
    levels: Vec<f64>,
    level: f64,
    /// What the covariance itself was believed, as a log density up to a constant.
    believed: f64,
}

impl<'a> Likelihood<'a> {
    fn new(courses: &'a Courses, receiver: Receiver) -> Self {
        let records: Vec<Record> = courses.all.iter().map(|own| own.record).collect();
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
        let covariance = Covariance::prior();
        let weights = vecchia.weights(&covariance, &noise);
        Self {
            courses,
            vecchia,
            noise,
            weights,
            levels: records
                .iter()
                .map(|record| record.level.unwrap_or(summary.level))
                .collect(),
            level: summary.level,
            believed: covariance.log_prior(),
        }
    }

    /// Takes the covariance that suits a station best.
    fn fit(&mut self, station: (f64, f64)) {
        let rows = self.rows(station);
        let residuals = residuals(&self.levels, &rows, self.level);
        let (vecchia, noise) = (&mut self.vecchia, &self.noise);
        let covariance = Covariance::prior().search(0.6, |tried| {
            let weights = vecchia.weights(tried, noise);
            vecchia.evidence(&weights, &residuals, &rows).log_likelihood + tried.log_prior()
        });
        self.weights = vecchia.weights(&covariance, noise);
        self.believed = covariance.log_prior();
    }

    fn rows(&self, station: (f64, f64)) -> Vec<[f64; 4]> {
        let row = |own: &super::courses::Course| {
            let (x, y) = (own.record.x, own.record.y);
            let turned = own.course.and_then(|course| facing(course, x, y, station));
            basis(x, y, turned.unwrap_or(0.5), station)
        };
        self.courses.all.iter().map(row).collect()
    }

    fn at(&self, station: (f64, f64)) -> f64 {
        let rows = self.rows(station);
        let residuals = residuals(&self.levels, &rows, self.level);
        let evidence = self.vecchia.evidence(&self.weights, &residuals, &rows);
        evidence.log_likelihood + self.believed
    }

    /// The greatest at a place and all round it.
    fn around(&self, place: (f64, f64)) -> f64 {
        let round = NEAR.iter().flat_map(|radius| {
            (0..8).map(move |turn| {
                let (sin, cos) = (f64::from(turn) * std::f64::consts::FRAC_PI_4).sin_cos();
                (place.0 + radius * sin, place.1 + radius * cos)
            })
        });
        round.map(|near| self.at(near)).fold(self.at(place), f64::max)
    }

    fn grid(&self, low: (f64, f64), high: (f64, f64), step: f64) -> Vec<Tried> {
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
    use super::super::exchange::Exchange;
    use super::*;

    fn located(rows: &[Exchange], given: Option<(f64, f64)>) -> Option<Located> {
        locate(&Courses::gather(rows), Receiver::at(-98.0), given)
    }

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
            let found = located(&walk(station), Some((station.0 + 60.0, station.1))).unwrap();
            let off = (found.x - station.0).hypot(found.y - station.1);
            assert!(off < 8.0, "{station:?} {found:?}");
            assert!(found.over_given.unwrap() > 5.0, "{found:?}");
        }
    }

    #[test]
    fn too_little_tells_nothing() {
        let rows = walk((30.0, 25.0));
        assert_eq!(located(&rows[..10], None), None);
        let lost: Vec<Exchange> = rows
            .iter()
            .map(|row| Exchange {
                lost: true,
                level: None,
                ..*row
            })
            .collect();
        assert_eq!(located(&lost, None), None);
    }
}
