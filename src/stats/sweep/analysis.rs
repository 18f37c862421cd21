//! All figures of one sweep, each with what may be said about it.

use super::closure::{Closure, closure, flat_posterior};
use super::direction_test::needed;
use super::features::features;
use super::fit::{self, PatternFit, TAU_FREEDOM, TAU_SCALE_DB};
use super::printed::{Arc, Estimate, Printed, WhyNot};
use super::steps::{Direction, Exchange, FEW_ECHOES, Offset, Prepared, PreparedStep, Step, SweepModel, prepare};
use super::wording::Wording;
use crate::stats::cells::{MEAN_STEP_DB, mean_at};
use crate::stats::circular::signed_difference;
use crate::stats::special::{cumulative, interpolate};

/// Different turns a pattern needs.
pub const TURNS_NEEDED: usize = 5;
/// Different turns at which something must have been heard.
const HEARD_NEEDED: usize = 3;
/// The band of the fitted curve reaches so much further from it, to either side, than its draws do.
///
/// The draws are of the curve through steps whose fades are independent. A hand that keeps to a spot shares some of the fade
/// from turn to turn, and the mean of fades in dB lies below their mean power, by 2.5 dB at most: in rehearsed surveys (seeds
/// 31000 to 31159 and 33000 to 33047, 620 sweeps) the draws' own band held the mean power in 83 to 86 of 100 turns, in plain
/// and in rough worlds; 1.6 times as wide it held it in 96 (31000 to 31069, plain).
const BAND_WIDENING: f64 = 1.5;

/// What one step says by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct StepLevel {
    /// Turn, degrees.
    pub turn_deg: f64,
    /// Pings.
    pub exchanges: usize,
    /// Pings answered.
    pub delivered: usize,
    /// Independent fades among them.
    pub effective: f64,
    /// Mean power, dBm, while the board was held there: median and 95 % interval of the step alone, whose prior is flat.
    /// Multipath frozen at this step is part of its level; held a hand's breadth elsewhere the same turn may differ by several
    /// dB. A step that heard nothing says "at most".
    pub level: Printed<Estimate>,
    /// Mean (dBm) and variance (dB²) of the same; `None` where nothing is said of the level.
    pub moments: Option<(f64, f64)>,
    /// Step level less fitted curve, in units of τ; `None` without a curve.
    pub residual_taus: Option<f64>,
}

/// The fitted curve.
#[derive(Clone, Debug)]
pub struct Pattern {
    /// Level at 0°, 1° … 359°, dBm.
    pub level_dbm: Vec<f64>,
    /// Lower edge of its 95 % band, dBm. At each turn by itself the band holds the mean power with the mark at that turn,
    /// multipath averaged over, as it is at a point.
    pub low_dbm: Vec<f64>,
    /// Upper edge of its 95 % band, dBm.
    pub high_dbm: Vec<f64>,
    /// Highest harmonic fitted.
    pub order: usize,
    /// Spread of steps about the curve, dB: multipath frozen at each step, and what the curve cannot follow.
    pub tau_db: f64,
    /// Degrees of freedom of that spread.
    pub freedom: f64,
    /// Change from first to last step that was fitted beside the pattern, dB, with its standard deviation; `None` without a
    /// repeated turn.
    pub drift_db: Option<(f64, f64)>,
}

/// Whether the board is directional.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Directivity {
    /// It is; `p` is the probability of as much by chance.
    Shown {
        /// Probability, 0 to 1.
        p: f64,
        /// What it had to stay below, and did.
        needed: f64,
    },
    /// Nothing beyond noise.
    NotShown {
        /// Probability, 0 to 1.
        p: f64,
        /// What it had to stay below, and did not.
        needed: f64,
    },
    /// It could not be tested.
    NotTested(WhyNot),
}

/// Everything one sweep says in one direction of the link.
#[derive(Clone, Debug)]
pub struct SweepFigures {
    /// Which readings were used.
    pub direction: Direction,
    /// Levels at the station less levels at the board.
    pub offset: Option<Offset>,
    /// Fading that suits the steps, K in dB (-20 stands for none of it steady); `None` where nothing could be fitted.
    pub k_db: Option<f64>,
    /// Steps in the order they were taken.
    pub steps: Vec<StepLevel>,
    /// The fitted curve.
    pub pattern: Result<Pattern, WhyNot>,
    /// Is there any directivity.
    pub directivity: Directivity,
    /// Turn of the strongest direction.
    pub strongest: Printed<Arc>,
    /// Turn of the deepest null.
    pub weakest: Printed<Arc>,
    /// Width 3 dB below the strongest direction, degrees.
    pub beamwidth_deg: Printed<Estimate>,
    /// Share of all directions within 3 dB of the strongest, 0 to 1.
    pub share_within_3_db: Printed<Estimate>,
    /// The turn named strongest less the one opposite, dB; below 0 where the opposite one may be stronger.
    pub front_to_back_db: Printed<Estimate>,
    /// Strongest direction less deepest null, dB.
    pub null_depth_db: Printed<Estimate>,
    /// The first turn measured again.
    pub closure: Result<Closure, WhyNot>,
}

impl SweepFigures {
    /// The same with every level moved, dB: from the scale of one meter to that of another.
    #[must_use]
    pub fn moved(mut self, by_db: f64) -> Self {
        for step in &mut self.steps {
            step.level = step.level.moved(by_db);
            step.moments = step.moments.map(|(mean, variance)| (mean + by_db, variance));
        }
        if let Ok(pattern) = &mut self.pattern {
            let edges = [&mut pattern.level_dbm, &mut pattern.low_dbm, &mut pattern.high_dbm];
            for level in edges.into_iter().flatten() {
                *level += by_db;
            }
        }
        self
    }
}

/// Reads a sweep in one direction of the link. Never fails: what cannot be said says why.
pub fn analyse(steps: &[Step], model: &SweepModel, direction: Direction) -> SweepFigures {
    match prepare(steps, model, direction) {
        Ok(prepared) => figures(&prepared, direction),
        Err(why) => unsaid(direction, super::steps::offset(steps), None, counted(steps, why), why),
    }
}

/// Reads a sweep of whose levels nothing is known: its steps with their counts, and why no turn can be named.
pub fn counts_only(steps: &[Step], direction: Direction) -> SweepFigures {
    let exchanges = || steps.iter().flat_map(|step| &step.exchanges);
    let why = if exchanges().next().is_none() {
        WhyNot::NoExchanges
    } else if exchanges().all(|exchange| *exchange == Exchange::Lost) {
        WhyNot::NothingHeard
    } else {
        WhyNot::NoReadings
    };
    unsaid(direction, None, None, counted(steps, why), why)
}

/// Steps with their counts, and nothing about their levels.
fn counted(steps: &[Step], why: WhyNot) -> Vec<StepLevel> {
    let measured = steps.iter().filter(|step| !step.exchanges.is_empty());
    measured
        .map(|step| {
            let delivered = step
                .exchanges
                .iter()
                .filter(|exchange| **exchange != Exchange::Lost)
                .count();
            StepLevel {
                turn_deg: step.turn_deg,
                exchanges: step.exchanges.len(),
                delivered,
                effective: 0.0,
                level: Printed::NotPrinted(if delivered == 0 { WhyNot::SilentTurn } else { why }),
                moments: None,
                residual_taus: None,
            }
        })
        .collect()
}

/// Figures of prepared steps.
pub fn figures(prepared: &Prepared, direction: Direction) -> SweepFigures {
    let steps = &prepared.steps;
    let turns: Vec<f64> = steps.iter().map(|step| step.turn_deg).collect();
    let mut levels: Vec<StepLevel> = steps.iter().map(step_level).collect();
    let heard: Vec<f64> = steps
        .iter()
        .filter(|step| step.delivered > 0)
        .map(|step| step.turn_deg)
        .collect();
    let (have, heard_turns) = (fit::different_turns(&turns), fit::different_turns(&heard));
    let refusal = if have < TURNS_NEEDED {
        Some(WhyNot::TooFewTurns {
            have,
            need: TURNS_NEEDED,
        })
    } else if heard_turns < HEARD_NEEDED {
        Some(WhyNot::TooFewHeard {
            have: heard_turns,
            need: HEARD_NEEDED,
        })
    } else {
        None
    };
    let fitted = if let Some(why) = refusal {
        Err(why)
    } else {
        let likelihoods: Vec<Vec<f64>> = steps.iter().map(|step| step.log_likelihood.clone()).collect();
        let times: Vec<f64> = steps.iter().map(|step| step.time_s).collect();
        // A step given up after a few pings is no null.
        let unheard = steps
            .iter()
            .any(|step| step.delivered == 0 || (step.delivered < FEW_ECHOES && 4 * step.delivered < step.exchanges));
        fit::fit(&turns, &likelihoods, Some(&times), unheard).ok_or(WhyNot::NoFit)
    };
    let fitted = match fitted {
        Ok(fitted) => fitted,
        Err(why) => {
            let mut unsaid = unsaid(direction, prepared.offset, Some(prepared.k_db), levels, why);
            unsaid.closure = close(steps, (TAU_SCALE_DB, TAU_FREEDOM));
            return unsaid;
        }
    };
    for (level, residual) in levels.iter_mut().zip(&fitted.residual_taus) {
        level.residual_taus = Some(*residual);
    }
    let said = Wording::of(&fitted, &turns, features(&fitted));
    SweepFigures {
        direction,
        offset: prepared.offset,
        k_db: Some(prepared.k_db),
        steps: levels,
        directivity: match fitted.direction_p {
            Some(p) if fitted.directional => Directivity::Shown {
                p,
                needed: needed(fitted.tau_db, fitted.turns),
            },
            Some(p) => Directivity::NotShown {
                p,
                needed: needed(fitted.tau_db, fitted.turns),
            },
            None => Directivity::NotTested(WhyNot::TooFewTurns {
                have,
                need: TURNS_NEEDED,
            }),
        },
        strongest: said.strongest(),
        weakest: said.weakest(),
        beamwidth_deg: said.beamwidth(),
        share_within_3_db: said.share(),
        front_to_back_db: said.front_to_back(),
        null_depth_db: said.null_depth(),
        closure: close(steps, (fitted.tau_db, fitted.freedom)),
        pattern: Ok(pattern(&fitted)),
    }
}

impl SweepFigures {
    /// Spread of steps about the pattern, dB, and its degrees of freedom: the prior's where no pattern could be fitted.
    pub fn spread(&self) -> (f64, f64) {
        self.pattern
            .as_ref()
            .map_or((TAU_SCALE_DB, TAU_FREEDOM), |pattern| (pattern.tau_db, pattern.freedom))
    }
}

/// Figures of a sweep that allows no pattern.
fn unsaid(
    direction: Direction,
    offset: Option<Offset>,
    k_db: Option<f64>,
    steps: Vec<StepLevel>,
    why: WhyNot,
) -> SweepFigures {
    SweepFigures {
        direction,
        offset,
        k_db,
        steps,
        pattern: Err(why),
        directivity: Directivity::NotTested(why),
        strongest: Printed::NotPrinted(why),
        weakest: Printed::NotPrinted(why),
        beamwidth_deg: Printed::NotPrinted(why),
        share_within_3_db: Printed::NotPrinted(why),
        front_to_back_db: Printed::NotPrinted(why),
        null_depth_db: Printed::NotPrinted(why),
        closure: Err(why),
    }
}

fn pattern(fit: &PatternFit) -> Pattern {
    let turns = || (0..360).map(f64::from);
    let level_dbm: Vec<f64> = turns().map(|turn| fit.at(turn)).collect();
    let band = |(turn, level): (f64, &f64)| {
        let (low, high) = fit.band_at(turn);
        (
            level + BAND_WIDENING * (low - level),
            level + BAND_WIDENING * (high - level),
        )
    };
    let (low_dbm, high_dbm) = turns().zip(&level_dbm).map(band).unzip();
    Pattern {
        level_dbm,
        low_dbm,
        high_dbm,
        order: fit.order,
        tau_db: fit.tau_db,
        freedom: fit.freedom,
        drift_db: fit.drift_db,
    }
}

fn step_level(step: &PreparedStep) -> StepLevel {
    let top = step.log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = step.log_likelihood.iter().map(|value| (value - top).exp()).collect();
    let running = cumulative(&weights);
    let ends: Vec<f64> = (0..running.len()).map(|i| mean_at(i) + MEAN_STEP_DB / 2.0).collect();
    let at = |p: f64| interpolate(p, &running, &ends).unwrap_or(f64::NAN);
    let level = if step.delivered == 0 {
        Printed::AtMost {
            high: at(0.975),
            why: WhyNot::SilentTurn,
        }
    } else {
        Printed::Value(Estimate {
            value: at(0.5),
            low: at(0.025),
            high: Some(at(0.975)),
        })
    };
    StepLevel {
        turn_deg: step.turn_deg,
        exchanges: step.exchanges,
        delivered: step.delivered,
        effective: step.effective,
        level,
        moments: Some(flat_posterior(&step.log_likelihood)),
        residual_taus: None,
    }
}

/// Compares the last visit of the first step's turn with the first, both heard.
fn close(steps: &[PreparedStep], tau: (f64, f64)) -> Result<Closure, WhyNot> {
    let first = steps.first().ok_or(WhyNot::NoExchanges)?;
    let last = steps
        .iter()
        .skip(1)
        .rfind(|step| signed_difference(step.turn_deg, first.turn_deg).abs() < 0.01)
        .ok_or(WhyNot::NotRepeated)?;
    if first.delivered == 0 || last.delivered == 0 {
        return Err(WhyNot::SilentTurn);
    }
    Ok(closure(
        first.turn_deg,
        &first.log_likelihood,
        &last.log_likelihood,
        tau,
    ))
}

#[cfg(test)]
mod tests;
