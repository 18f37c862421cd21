//! Which way to walk next.

use super::cholesky::forward;
use super::doubt::settled;
use super::goal::Goal;
use super::kriging::{Field, NEIGHBOURS};
use super::model::Model;

/// Bearings tried.
const BEARINGS: usize = 16;
/// Lengths tried, in metres, ascending.
const LENGTHS: [f64; 3] = [40.0, 80.0, 120.0];
/// Metres between points of a leg, and between places whose doubt is weighed.
const STEP: f64 = 10.0;
/// Points of the longest leg.
const POINTS: usize = 12;
/// Legs returned at most.
const LEGS: usize = 3;
/// Bearings between two returned legs, in sixteenths of a turn.
const APART: usize = 2;
/// Metres added to a leg's length in its cost: turning and setting off.
const SETTING_OFF: f64 = 15.0;
/// A place whose spare margin is beyond this many standard deviations is settled already.
const DOUBTFUL: f64 = 3.5;
/// The most places weighed; on larger ground the grid is widened.
const MOST: f64 = 40_000.0;

/// A rectangle of ground in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Western edge.
    pub west: f64,
    /// Southern edge.
    pub south: f64,
    /// Eastern edge.
    pub east: f64,
    /// Northern edge.
    pub north: f64,
}

impl Frame {
    fn holds(&self, x: f64, y: f64) -> bool {
        self.west <= x && x <= self.east && self.south <= y && y <= self.north
    }

    /// Centres of squares of `step` metres that fill the rectangle, row by row from the south-west; none for a step that is
    /// not above zero or edges that are not finite.
    pub fn grid(&self, step: f64) -> Vec<(f64, f64)> {
        if !(step > 0.0 && step.is_finite() && self.is_finite()) {
            return Vec::new();
        }
        let count = |low: f64, high: f64| ((high - low - step / 2.0) / step).ceil().max(0.0) as usize;
        let (columns, rows) = (count(self.west, self.east), count(self.south, self.north));
        (0..rows)
            .flat_map(|row| {
                (0..columns).map(move |column| {
                    (
                        self.west + step / 2.0 + column as f64 * step,
                        self.south + step / 2.0 + row as f64 * step,
                    )
                })
            })
            .collect()
    }

    /// A grid step of `step` metres, widened where the rectangle would hold more than 40 000 squares.
    pub fn affordable(&self, step: f64) -> f64 {
        let area = (self.east - self.west).max(0.0) * (self.north - self.south).max(0.0);
        step.max((area / MOST).sqrt())
    }

    fn is_finite(&self) -> bool {
        [self.west, self.south, self.east, self.north]
            .iter()
            .all(|edge| edge.abs() <= 1e6)
    }
}

/// A straight leg worth walking.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leg {
    /// Degrees clockwise from north.
    pub bearing: f64,
    /// Length in metres.
    pub length: f64,
    /// Its end, metres east.
    pub x: f64,
    /// Its end, metres north.
    pub y: f64,
    /// Doubt settled for each metre, setting off counted as 15 m.
    pub score: f64,
    /// Share of all present doubt it is expected to settle, 0 to 1.
    pub settles: f64,
}

/// Where to walk next.
#[derive(Clone, Debug, PartialEq)]
pub struct NextWalk {
    /// At most three legs, best first, at least 45° apart.
    pub legs: Vec<Leg>,
    /// The doubt there is now: the wanted sum of P(1-P) over places weighed.
    pub doubt: f64,
    /// Places weighed.
    pub places: usize,
}

/// A place whose doubt a leg might settle.
struct Doubtful {
    x: f64,
    y: f64,
    want: f64,
    t: f64,
}

/// Finds the legs from `from` (metres) inside `frame` that settle most doubt about `goal` for the walk they cost.
///
/// `want` weighs ground by how much it matters (0 and up, 1 everywhere for all alike). Plan again on arrival. No legs come
/// back where no level is enough, where nothing is in doubt, or where no leg fits the frame.
pub fn next_walk(
    model: &Model,
    goal: &Goal,
    from: (f64, f64),
    frame: &Frame,
    want: impl Fn(f64, f64) -> f64,
) -> NextWalk {
    let mut plan = NextWalk {
        legs: Vec::new(),
        doubt: 0.0,
        places: 0,
    };
    let Some(needed) = model.threshold(goal) else {
        return plan;
    };
    if !(frame.is_finite() && from.0.is_finite() && from.1.is_finite()) {
        return plan;
    }
    let grid = frame.grid(frame.affordable(STEP));
    plan.places = grid.len();
    let mut doubtful = Vec::new();
    for place in model.answer(goal, &grid) {
        let Some(estimate) = place.estimate else { continue };
        let weight = want(place.x, place.y);
        plan.doubt += weight * estimate.chance * (1.0 - estimate.chance);
        let lift = goal.lift((place.x - model.station.0).hypot(place.y - model.station.1));
        let t = (estimate.level + lift.gain - needed.level) / estimate.sd.hypot(needed.sd).hypot(lift.sd);
        if t.abs() < DOUBTFUL {
            doubtful.push(Doubtful {
                x: place.x,
                y: place.y,
                want: weight,
                t,
            });
        }
    }
    let reach = (2.5 * model.covariance.length()).min(60.0);
    let weighing = Weighing {
        model,
        field: model.field(),
        doubtful,
        reach,
        noise: model.covariance.nugget() + model.summary.fading_sd * model.summary.fading_sd / 12.0 + 1.0,
    };
    let mut rated: Vec<(usize, Leg)> = Vec::new();
    for index in 0..BEARINGS {
        for (length, gain) in weighing.gains(from, frame, index) {
            let (x, y) = end(from, index, length);
            rated.push((
                index,
                Leg {
                    bearing: (450.0 - 360.0 * index as f64 / BEARINGS as f64) % 360.0,
                    length,
                    x,
                    y,
                    score: gain / (length + SETTING_OFF),
                    settles: gain / (plan.doubt + 1e-12),
                },
            ));
        }
    }
    rated.sort_by(|a, b| {
        b.1.score
            .total_cmp(&a.1.score)
            .then(a.0.cmp(&b.0))
            .then(a.1.length.total_cmp(&b.1.length))
    });
    let mut taken: Vec<usize> = Vec::new();
    for (index, leg) in rated {
        let around = |other: &usize| {
            let turn = index.abs_diff(*other);
            turn.min(BEARINGS - turn) >= APART
        };
        if taken.len() < LEGS && leg.score > 0.0 && taken.iter().all(around) {
            taken.push(index);
            plan.legs.push(leg);
        }
    }
    plan
}

fn end(from: (f64, f64), index: usize, length: f64) -> (f64, f64) {
    let (sin, cos) = (std::f64::consts::TAU * index as f64 / BEARINGS as f64).sin_cos();
    (from.0 + length * cos, from.1 + length * sin)
}

/// The doubt of the ground, ready for legs to be weighed against.
struct Weighing<'a> {
    model: &'a Model,
    field: Field<'a>,
    doubtful: Vec<Doubtful>,
    /// Metres beyond which a leg says nothing of a place.
    reach: f64,
    /// Variance in dB² of one point of a leg.
    noise: f64,
}

impl Weighing<'_> {
    /// What each leg on one bearing that fits the frame settles.
    ///
    /// Shorter legs are the first points of the longest, so one triangular solve serves all: the first entries of the solved
    /// vector are those of the shorter leg.
    fn gains(&self, from: (f64, f64), frame: &Frame, index: usize) -> Vec<(f64, f64)> {
        let fitting: Vec<f64> = LENGTHS
            .into_iter()
            .filter(|length| {
                let (x, y) = end(from, index, *length);
                frame.holds(x, y)
            })
            .collect();
        let Some(longest) = fitting.last() else {
            return Vec::new();
        };
        let count = (longest / STEP) as usize;
        let points: Vec<(f64, f64)> = (1..=count).map(|i| end(from, index, i as f64 * STEP)).collect();
        let mut sums = vec![(0.0, false); fitting.len()];
        for place in &self.doubtful {
            let distances: Vec<f64> = points.iter().map(|p| (place.x - p.0).hypot(place.y - p.1)).collect();
            if distances.iter().all(|distance| *distance > self.reach) {
                continue;
            }
            let shares = self.explained(place, &points, &distances);
            for (sum, length) in sums.iter_mut().zip(&fitting) {
                let own = (length / STEP) as usize;
                if distances[..own].iter().any(|distance| *distance <= self.reach) {
                    sum.0 += place.want * settled(place.t, shares[own - 1]);
                    sum.1 = true;
                }
            }
        }
        fitting
            .into_iter()
            .zip(sums)
            .filter(|(_, (_, any))| *any)
            .map(|(length, (gain, _))| (length, gain))
            .collect()
    }

    /// For each leading part of a leg, the share of the present variance at a place that records along it would explain.
    fn explained(&self, place: &Doubtful, points: &[(f64, f64)], distances: &[f64]) -> [f64; POINTS] {
        let (model, field) = (self.model, &self.field);
        let near = model.nearest.nearest(place.x, place.y, NEIGHBOURS, |_| true);
        let around = field.around(&near);
        let mut own = [0.0; NEIGHBOURS];
        for (value, neighbour) in own.iter_mut().zip(&near) {
            *value = field.covariance(neighbour.distance);
        }
        forward(&around.upper, &mut own);
        let left = field.left(own.iter().map(|z| z * z).sum());
        let mut solved = [[0.0; NEIGHBOURS]; POINTS];
        for (values, point) in solved.iter_mut().zip(points) {
            for (value, neighbour) in values.iter_mut().zip(&near) {
                let (x, y) = model.points[neighbour.index];
                *value = field.covariance((x - point.0).hypot(y - point.1));
            }
            forward(&around.upper, values);
        }
        let product = |a: &[f64; NEIGHBOURS], b: &[f64; NEIGHBOURS]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        let mut among = [[0.0; POINTS]; POINTS];
        let mut with = [0.0; POINTS];
        for i in 0..POINTS {
            if i >= points.len() {
                among[i][i] = 1.0;
                continue;
            }
            with[i] = field.covariance(distances[i]) - product(&own, &solved[i]);
            for j in i..points.len() {
                let apart = (points[i].0 - points[j].0).hypot(points[i].1 - points[j].1);
                among[i][j] = field.covariance(apart) - product(&solved[i], &solved[j]);
            }
            among[i][i] += self.noise;
        }
        super::cholesky::factor(&mut among);
        forward(&among, &mut with);
        let mut sum = 0.0;
        with.map(|z| {
            sum += z * z;
            (sum / left).clamp(0.0, 0.999)
        })
    }
}
