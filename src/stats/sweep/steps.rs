//! The steps of a sweep, and how the two directions of the link become one level a step.
//!
//! The path from board to station and back is the same path (reciprocity), so what the board hears (`here`) and what the
//! station hears (`there`) follow one pattern, apart by a constant: transmit powers, and what each receiver calls a dBm.
//! Both see the *same* fades, so they are two views of one sample and not two samples. Jointly each step therefore has the
//! likelihood
//!
//! `½ · ll_here(μ) + ½ · ll_there(μ + δ)`
//!
//! with δ the mean of there - here over all echoes read both ways, in which fades cancel. Losses, which are of the round
//! trip, so count once. The gain over one direction alone is small (reading noise is averaged); the point is that a reading
//! missing one way is made good by the other.

use super::printed::WhyNot;
use crate::stats::cells::{
    Cell, CellModel, CellTable, Heard, Interference, MEAN_MIN_DBM, MEAN_STEP_DB, MEANS, SCurve, fade_masses,
};

use crate::stats::independence::independent_fades;
use crate::stats::level::LevelModel;

/// Lowest fade of [`fade_masses`] and the step from one to the next, dB.
const FADE_MIN_DB: f64 = -40.0;
const FADE_STEP_DB: f64 = 0.25;

/// Echoes below which a step says little by its readings: its losses then count as where nothing was heard.
pub const FEW_ECHOES: usize = 4;

/// The radio constants a sweep is read with.
#[derive(Clone, Debug)]
pub struct SweepModel {
    levels: LevelModel,
    interference: Interference,
}

impl SweepModel {
    /// Builds the likelihood tables for a board's S-curve (on the scale of the levels at the board) and the mean share of
    /// exchanges, 0 to 1, lost at any level. Costly once, then good for any number of sweeps with this board.
    pub fn new(curve: SCurve, interference: f64) -> Self {
        Self {
            levels: LevelModel::new(curve, interference),
            interference: Interference::varying(interference),
        }
    }

    /// The model of the K that suits all cells of a sweep best, each cell with its weight; `None` when no cell was read.
    pub(super) fn pooled(&self, cells: &[(Cell, f64)]) -> Option<&CellModel> {
        self.levels.pooled_k(cells).map(|(_, model)| model)
    }
}

/// One ping of a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exchange {
    /// It was not answered.
    Lost,
    /// It was answered.
    Echo {
        /// Level at which the board heard the station, dBm.
        here: Option<i32>,
        /// Level at which the station heard the board, dBm.
        there: Option<i32>,
    },
}

/// The exchanges while the board was held at one turn.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Angle of the board's mark from the direction to the station, degrees clockwise seen from above.
    pub turn_deg: f64,
    /// Moment of the step, seconds from any zero.
    pub time_s: f64,
    /// Fresh path moved during the step, metres; `None` where it was not told.
    pub path_m: Option<f64>,
    /// What became of each ping, in order.
    pub exchanges: Vec<Exchange>,
}

/// Which readings are used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Levels at the board.
    Here,
    /// Levels at the station.
    There,
    /// Both, on the scale of `Here`.
    Joint,
}

/// Difference between the two directions of a link.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Offset {
    /// Mean of there - here, dB.
    pub mean_db: f64,
    /// Echoes read both ways.
    pub count: usize,
}

/// A step made ready for fitting.
#[derive(Clone, Debug)]
pub struct PreparedStep {
    /// Turn, degrees.
    pub turn_deg: f64,
    /// Moment, seconds.
    pub time_s: f64,
    /// Pings.
    pub exchanges: usize,
    /// Pings answered.
    pub delivered: usize,
    /// Independent fades among them (the mean of both directions when joint).
    pub effective: f64,
    /// Log likelihood of the step's mean power on the grid of [`crate::stats::cells`].
    pub log_likelihood: Vec<f64>,
}

/// Steps made ready, with what was found on the way.
#[derive(Clone, Debug)]
pub struct Prepared {
    /// Steps with at least one exchange.
    pub steps: Vec<PreparedStep>,
    /// Fading that suits all steps, K in dB.
    pub k_db: f64,
    /// Offset between the directions, where echoes were read both ways.
    pub offset: Option<Offset>,
}

/// The mean difference there - here; `None` without an echo read both ways.
pub fn offset(steps: &[Step]) -> Option<Offset> {
    let (mut sum, mut count) = (0_i64, 0_usize);
    for exchange in steps.iter().flat_map(|step| &step.exchanges) {
        if let Exchange::Echo {
            here: Some(here),
            there: Some(there),
        } = exchange
        {
            sum += i64::from(*there) - i64::from(*here);
            count += 1;
        }
    }
    (count > 0).then(|| Offset {
        mean_db: sum as f64 / count as f64,
        count,
    })
}

/// Works out each step's likelihood in a direction.
///
/// The S-curve of `model` is on the scale of `Here`; `There` has it moved by the offset, or as it is where nothing was read
/// both ways. A joint likelihood needs an offset.
///
/// # Errors
/// When there is nothing to fit: no exchanges, no reading in this direction, no offset, or a turn that is not finite.
pub fn prepare(steps: &[Step], model: &SweepModel, direction: Direction) -> Result<Prepared, WhyNot> {
    let steps: Vec<&Step> = steps
        .iter()
        .filter(|step| !step.exchanges.is_empty() && step.turn_deg.is_finite() && step.time_s.is_finite())
        .collect();
    if steps.is_empty() {
        return Err(WhyNot::NoExchanges);
    }
    let heard_at_all = |step: &&Step| step.exchanges.iter().any(|exchange| *exchange != Exchange::Lost);
    if !steps.iter().any(heard_at_all) {
        return Err(WhyNot::NothingHeard);
    }
    let owned: Vec<Step> = steps.iter().map(|step| (*step).clone()).collect();
    let offset = offset(&owned);
    let here = Views::of(&steps, true);
    let there = Views::of(&steps, false);
    let wanted: &[&Views] = match direction {
        Direction::Here => &[&here],
        Direction::There => &[&there],
        Direction::Joint => &[&here, &there],
    };
    if wanted.iter().any(|views| !views.any_reading()) {
        return Err(WhyNot::NoReadings);
    }
    // Fading is the same both ways: it is judged where the tables fit as they are.
    let judged = if here.any_reading() { &here } else { &there };
    let Some(table) = model.pooled(&judged.cells) else {
        return Err(WhyNot::NoReadings);
    };

    let shifted = |offset: Offset| -> Option<CellModel> {
        let curve = model.levels.curve();
        let curve = SCurve::new(curve.m_dbm() + offset.mean_db, curve.s_db())?;
        let moved = CellTable::new(curve, table.table().k_db(), 0.0);
        Some(CellModel::new(moved, &model.interference))
    };
    let there_table = match (direction, offset) {
        (Direction::Here, _) | (Direction::There, None) => None,
        (Direction::Joint, None) => return Err(WhyNot::NoOffset),
        (_, Some(offset)) => shifted(offset),
    };
    let there_table = there_table.as_ref().unwrap_or(table);
    let delta = offset.map_or(0.0, |offset| offset.mean_db);

    let prepared = steps
        .iter()
        .enumerate()
        .map(|(j, step)| {
            let weigh = |table: &CellModel, views: &Views| {
                let (cell, weight) = &views.cells[j];
                if cell.delivered() == 0.0 {
                    silent(table.table(), &model.interference, step.exchanges.len())
                } else if cell.delivered() < FEW_ECHOES as f64 && cell.lost > 0.0 {
                    hardly_heard(table, &model.interference, cell)
                } else {
                    table.log_likelihood(cell, *weight)
                }
            };
            let log_here = || weigh(table, &here);
            let log_there = || weigh(there_table, &there);
            let (log_likelihood, weight) = match direction {
                Direction::Here => (log_here(), here.cells[j].1),
                Direction::There => (log_there(), there.cells[j].1),
                Direction::Joint => {
                    let moved = moved(&log_there(), delta);
                    let both = log_here().iter().zip(moved).map(|(h, t)| 0.5 * (h + t)).collect();
                    (both, f64::midpoint(here.cells[j].1, there.cells[j].1))
                }
            };
            let count = step.exchanges.len();
            PreparedStep {
                turn_deg: step.turn_deg,
                time_s: step.time_s,
                exchanges: count,
                delivered: step
                    .exchanges
                    .iter()
                    .filter(|exchange| **exchange != Exchange::Lost)
                    .count(),
                effective: weight * count as f64,
                log_likelihood,
            }
        })
        .collect();
    Ok(Prepared {
        steps: prepared,
        k_db: table.table().k_db(),
        offset,
    })
}

/// Log likelihood of a step in which a handful of exchanges came through and others were lost.
///
/// Too few readings tell how the fade moved, and to let all exchanges count as one fade would let the losses say nothing. So
/// what came through counts as one fade, and what was lost as it does where nothing was heard.
fn hardly_heard(table: &CellModel, interference: &Interference, cell: &Cell) -> Vec<f64> {
    let through = Cell {
        lost: 0.0,
        ..cell.clone()
    };
    let losses = silent(table.table(), interference, cell.lost.round() as usize);
    let heard = table.log_likelihood(&through, 1.0 / cell.delivered());
    heard.iter().zip(losses).map(|(heard, lost)| heard + lost).collect()
}

/// Log likelihood of a step in which all `count` exchanges were lost.
///
/// No reading tells how the fade moved, so it is taken as frozen, the least informative case: one fade for all exchanges,
/// `ln Σ_x mass(x) · mean_f (1 - (1 - f) S(μ + x))^(count/8)`. Interference comes in bursts, here of eight exchanges (the
/// burst length [`crate::stats`] assumes for a spot before it has seen any).
fn silent(table: &CellTable, interference: &Interference, count: usize) -> Vec<f64> {
    const BURST: f64 = 8.0;
    let independent = (count as f64 / BURST).max(1.0);
    let masses = fade_masses(table.k_db(), 0.0);
    let nodes = interference.nodes();
    let per_mean = (MEAN_STEP_DB / FADE_STEP_DB).round() as usize;
    // Levels repeat from one mean power to the next, so each is worked out once.
    let lost: Vec<f64> = (0..(MEANS - 1) * per_mean + masses.len())
        .map(|place| {
            let level = MEAN_MIN_DBM + FADE_MIN_DB + FADE_STEP_DB * place as f64;
            let delivery = table.curve().delivery(level);
            let sum: f64 = nodes
                .iter()
                .map(|f| (1.0 - (1.0 - f) * delivery).powf(independent))
                .sum();
            sum / nodes.len() as f64
        })
        .collect();
    (0..MEANS)
        .map(|mean| {
            let levels = &lost[mean * per_mean..];
            let probability: f64 = masses.iter().zip(levels).map(|(mass, lost)| mass * lost).sum();
            (probability + 1e-12).ln()
        })
        .collect()
}

/// The cells of all steps as seen from one end, each with its weight: effective over all exchanges.
struct Views {
    cells: Vec<(Cell, f64)>,
}

impl Views {
    fn of(steps: &[&Step], at_board: bool) -> Self {
        let heard = |exchange: &Exchange| match exchange {
            Exchange::Lost => Heard::Lost,
            Exchange::Echo { here, there } => {
                let level = if at_board { here } else { there };
                level.map_or(Heard::Unread, Heard::At)
            }
        };
        let cells = steps
            .iter()
            .map(|step| {
                let exchanges: Vec<Heard> = step.exchanges.iter().map(heard).collect();
                let weight = independent_fades(&exchanges, step.path_m) / exchanges.len() as f64;
                (Cell::count(exchanges), weight.min(1.0))
            })
            .collect();
        Self { cells }
    }

    fn any_reading(&self) -> bool {
        self.cells.iter().any(|(cell, _)| !cell.readings.is_empty())
    }
}

/// A function on the grid of mean powers, at places `delta_db` higher; level beyond the ends.
fn moved(values: &[f64], delta_db: f64) -> Vec<f64> {
    let last = (MEANS - 1) as f64;
    (0..MEANS)
        .map(|i| {
            let place = (i as f64 + delta_db / MEAN_STEP_DB).clamp(0.0, last);
            let below = (place.floor() as usize).min(MEANS - 2);
            values[below] + (place - below as f64) * (values[below + 1] - values[below])
        })
        .collect()
}

/// The turn of the grid place nearest to a level, for tests of likelihoods elsewhere in this folder.
#[cfg(test)]
pub(super) fn place(level_dbm: f64) -> usize {
    ((level_dbm - MEAN_MIN_DBM) / MEAN_STEP_DB).round() as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    fn model() -> SweepModel {
        SweepModel::new(SCurve::new(-92.0, 1.0).unwrap(), 0.02)
    }

    fn step(turn_deg: f64, here: &[Option<i32>], apart: i32) -> Step {
        Step {
            turn_deg,
            time_s: turn_deg,
            path_m: None,
            exchanges: here
                .iter()
                .map(|level| match level {
                    None => Exchange::Lost,
                    Some(level) => Exchange::Echo {
                        here: Some(*level),
                        there: Some(level + apart),
                    },
                })
                .collect(),
        }
    }

    fn top(values: &[f64]) -> usize {
        (0..values.len())
            .max_by(|a, b| values[*a].total_cmp(&values[*b]))
            .unwrap()
    }

    #[test]
    fn the_two_directions_agree_apart_from_their_offset() {
        let levels: Vec<Option<i32>> = [-70, -72, -71, -69, -74, -70, -71, -73, -70, -72].map(Some).to_vec();
        let steps = [step(0.0, &levels, -4), step(45.0, &levels, -4)];
        assert_eq!(
            offset(&steps),
            Some(Offset {
                mean_db: -4.0,
                count: 20
            })
        );
        let model = model();
        let here = prepare(&steps, &model, Direction::Here).unwrap();
        let there = prepare(&steps, &model, Direction::There).unwrap();
        let joint = prepare(&steps, &model, Direction::Joint).unwrap();
        let (h, t) = (&here.steps[0].log_likelihood, &there.steps[0].log_likelihood);
        assert_eq!(top(h), top(t) + 8);
        for (place, value) in joint.steps[0].log_likelihood.iter().enumerate().take(200).skip(100) {
            // Two views of the same fades hold no more than one.
            assert!((value - h[place]).abs() < 0.01 * h[place].abs().max(1.0), "{place}");
        }
        assert_eq!(place(-71.0), 158);
    }

    #[test]
    fn a_silent_step_bounds_the_level_from_above() {
        let table = CellTable::new(SCurve::new(-92.0, 1.0).unwrap(), 12.0, 0.0);
        let log = silent(&table, &Interference::varying(0.02), 40);
        assert!(log.windows(2).all(|pair| pair[1] <= pair[0] + 1e-12));
        assert!(
            log[place(-120.0)].abs() < 1e-6,
            "a level far below the curve loses everything"
        );
        assert!(log[place(-60.0)] < -10.0);
        // With a steep S-curve and no interference a frozen Rayleigh fade loses all exactly when it is below the curve:
        // 20 dB above it with probability 1 - exp(-0.01).
        let table = CellTable::new(SCurve::new(-92.0, 0.02).unwrap(), -20.0, 0.0);
        let deep = silent(&table, &Interference::fixed(0.0), 40)[place(-72.0)].exp();
        let exact = -(-0.01_f64).exp_m1();
        assert!((deep / exact - 1.0).abs() < 0.05, "{deep} for {exact}");
    }

    #[test]
    fn a_step_hardly_heard_lies_about_what_came_through_and_below() {
        let mut heard = vec![None; 40];
        for (place, level) in [(3, -92), (17, -94), (30, -91)] {
            heard[place] = Some(level);
        }
        let strong = [-70, -72, -71, -69, -74, -70, -71, -73, -70, -72].map(Some);
        let prepared = prepare(
            &[step(0.0, &strong, -3), step(180.0, &heard, -3)],
            &model(),
            Direction::Joint,
        )
        .unwrap();
        let log = &prepared.steps[1].log_likelihood;
        let best = top(log);
        assert!((place(-104.0)..=place(-90.0)).contains(&best), "{best}");
        for far in [place(-70.0), place(-140.0)] {
            assert!(log[far] < log[best] - 4.0, "{} against {}", log[far], log[best]);
        }
    }

    #[test]
    fn what_cannot_be_prepared_says_why() {
        let model = model();
        assert_eq!(prepare(&[], &model, Direction::Joint).unwrap_err(), WhyNot::NoExchanges);
        let dead = step(0.0, &[None; 10], 0);
        assert_eq!(
            prepare(&[dead], &model, Direction::Here).unwrap_err(),
            WhyNot::NothingHeard
        );
        let one_way = Step {
            exchanges: vec![
                Exchange::Echo {
                    here: Some(-70),
                    there: None
                };
                8
            ],
            ..step(0.0, &[], 0)
        };
        let steps = [one_way];
        assert_eq!(
            prepare(&steps, &model, Direction::There).unwrap_err(),
            WhyNot::NoReadings
        );
        assert_eq!(
            prepare(&steps, &model, Direction::Joint).unwrap_err(),
            WhyNot::NoReadings
        );
        assert!(prepare(&steps, &model, Direction::Here).is_ok());
    }
}
