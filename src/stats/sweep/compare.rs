//! Two sweeps over the same turns, two poses of a board or two boards: where do they differ, and is it sure.

use statrs::distribution::{ContinuousCDF, FisherSnedecor};

use super::analysis::{StepLevel, SweepFigures};
use super::printed::{Estimate, Printed, WhyNot};
use crate::stats::circular::signed_difference;
use crate::stats::special::student_t_quantile;

/// Turns closer than this count as the same, degrees.
const SAME_TURN_DEG: f64 = 1.0;

/// The second sweep against the first at one turn, positive where the second is stronger.
#[derive(Clone, Debug, PartialEq)]
pub struct TurnDifference {
    /// Turn, degrees.
    pub turn_deg: f64,
    /// Difference, dB, with a 95 % interval for this turn by itself.
    pub alone_db: Printed<Estimate>,
    /// The same with intervals that all hold together in 95 of 100 comparisons.
    pub together_db: Printed<Estimate>,
}

/// Two sweeps compared.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// Differences at the turns both have, in the first sweep's order.
    pub turns: Vec<TurnDifference>,
    /// Mean difference over the turns heard in both, dB, with its 95 % interval.
    pub mean_db: Printed<Estimate>,
    /// Turns at which the sweeps differ for sure, all taken together at 95 %.
    pub sure_deg: Vec<f64>,
    /// Probability of so uneven a difference when the second pattern is the first, stronger or weaker alike at every turn;
    /// `None` below two turns.
    pub same_shape_p: Option<f64>,
}

/// Compares two sweeps at the turns they share.
///
/// A difference is that of the two patterns, as both boards or poses would show it wherever they are held at the spot: each
/// step's level carries the variance of its own exchanges and τ² for multipath frozen while the board stood there, and so does
/// what a silent step has at most; a turn measured twice counts with its mean. Intervals use Student's t with the freedoms
/// of both τ; simultaneous ones the bound of Šidák (1967, J. Am. Statist. Ass. 62:626), valid here because the turns share
/// only their τ. Both sweeps must have been read in the same direction of the link.
pub fn compare(first: &SweepFigures, second: &SweepFigures) -> Comparison {
    let ((tau_first, freedom_first), (tau_second, freedom_second)) = (first.spread(), second.spread());
    let freedom = freedom_first + freedom_second;
    let pairs: Vec<(Level, Level)> = levels(&first.steps, tau_first)
        .into_iter()
        .filter_map(|a| {
            let b = levels(&second.steps, tau_second)
                .into_iter()
                .find(|b| signed_difference(a.turn_deg, b.turn_deg).abs() <= SAME_TURN_DEG)?;
            Some((a, b))
        })
        .collect();
    let heard: Vec<(f64, f64, f64)> = pairs
        .iter()
        .filter(|(a, b)| a.heard && b.heard)
        .map(|(a, b)| (a.turn_deg, b.mean_dbm - a.mean_dbm, a.variance + b.variance))
        .collect();
    let reach_alone = student_t_quantile(0.975, freedom);
    let each = 0.95_f64.powf(1.0 / pairs.len().max(1) as f64);
    let reach_together = student_t_quantile(f64::midpoint(1.0, each), freedom);

    let turns: Vec<TurnDifference> = pairs
        .iter()
        .map(|(a, b)| TurnDifference {
            turn_deg: a.turn_deg,
            alone_db: difference(a, b, reach_alone),
            together_db: difference(a, b, reach_together),
        })
        .collect();
    let sure_deg = turns
        .iter()
        .filter(|turn| match turn.together_db {
            Printed::Value(interval) => interval.low > 0.0 || interval.high.is_some_and(|high| high < 0.0),
            Printed::AtLeast { low, .. } => low > 0.0,
            Printed::AtMost { high, .. } => high < 0.0,
            Printed::NotPrinted(_) => false,
        })
        .map(|turn| turn.turn_deg)
        .collect();
    Comparison {
        turns,
        mean_db: mean(&heard, reach_alone),
        sure_deg,
        same_shape_p: same_shape(&heard, freedom),
    }
}

/// A sweep's level at one turn.
struct Level {
    turn_deg: f64,
    mean_dbm: f64,
    variance: f64,
    heard: bool,
    /// Upper end where nothing was heard, dBm, as the board was held there.
    at_most_dbm: f64,
    /// Variance of multipath frozen at one step, dB²: its fade may have silenced it.
    frozen: f64,
}

/// One level a turn; a repeated turn counts with the mean of the visits that were heard.
fn levels(steps: &[StepLevel], tau_db: f64) -> Vec<Level> {
    let mut out: Vec<(Level, f64)> = Vec::new();
    for step in steps {
        let Some((mean_dbm, variance)) = step.moments else {
            continue;
        };
        let fresh = Level {
            turn_deg: step.turn_deg,
            mean_dbm,
            variance: variance + tau_db * tau_db,
            heard: step.delivered > 0,
            at_most_dbm: match step.level {
                Printed::AtMost { high, .. } => high,
                _ => f64::INFINITY,
            },
            frozen: tau_db * tau_db,
        };
        let known = out
            .iter_mut()
            .find(|(level, _)| signed_difference(level.turn_deg, fresh.turn_deg).abs() < 0.01);
        match known {
            None => out.push((fresh, 1.0)),
            Some((level, visits)) if level.heard && fresh.heard => {
                let more = *visits + 1.0;
                level.mean_dbm = (level.mean_dbm * *visits + fresh.mean_dbm) / more;
                level.variance = (level.variance * *visits * *visits + fresh.variance) / (more * more);
                *visits = more;
            }
            Some((level, _)) if fresh.heard => *level = fresh,
            Some(_) => {}
        }
    }
    out.into_iter().map(|(level, _)| level).collect()
}

fn difference(a: &Level, b: &Level, reach: Option<f64>) -> Printed<Estimate> {
    let Some(reach) = reach else {
        return Printed::NotPrinted(WhyNot::NoFit);
    };
    let why = WhyNot::SilentTurn;
    match (a.heard, b.heard) {
        (true, true) => {
            let (estimate, half) = (b.mean_dbm - a.mean_dbm, reach * (a.variance + b.variance).sqrt());
            Printed::Value(Estimate {
                value: estimate,
                low: estimate - half,
                high: Some(estimate + half),
            })
        }
        (true, false) => Printed::AtMost {
            high: b.at_most_dbm - a.mean_dbm + reach * (a.variance + b.frozen).sqrt(),
            why,
        },
        (false, true) => Printed::AtLeast {
            low: b.mean_dbm - a.at_most_dbm - reach * (b.variance + a.frozen).sqrt(),
            why,
        },
        (false, false) => Printed::NotPrinted(why),
    }
}

fn mean(heard: &[(f64, f64, f64)], reach: Option<f64>) -> Printed<Estimate> {
    let (Some(reach), false) = (reach, heard.is_empty()) else {
        return Printed::NotPrinted(WhyNot::TooFewHeard { have: 0, need: 1 });
    };
    let count = heard.len() as f64;
    let estimate = heard.iter().map(|(_, difference, _)| difference).sum::<f64>() / count;
    let half = reach * heard.iter().map(|(_, _, variance)| variance).sum::<f64>().sqrt() / count;
    Printed::Value(Estimate {
        value: estimate,
        low: estimate - half,
        high: Some(estimate + half),
    })
}

/// F test of an equal difference at every turn.
fn same_shape(heard: &[(f64, f64, f64)], freedom: f64) -> Option<f64> {
    if heard.len() < 2 {
        return None;
    }
    let total: f64 = heard.iter().map(|(_, _, variance)| 1.0 / variance).sum();
    let mean = heard.iter().map(|(_, d, variance)| d / variance).sum::<f64>() / total;
    let spread: f64 = heard.iter().map(|(_, d, variance)| (d - mean).powi(2) / variance).sum();
    let turns = (heard.len() - 1) as f64;
    Some(FisherSnedecor::new(turns, freedom).ok()?.sf(spread / turns))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::cells::SCurve;
    use crate::stats::sweep::analysis::analyse;
    use crate::stats::sweep::steps::{Direction, Exchange, Step, SweepModel};

    fn sweep(pattern: impl Fn(f64) -> f64) -> SweepFigures {
        let steps: Vec<Step> = (0..8)
            .map(|place| {
                let turn_deg = 45.0 * f64::from(place);
                Step {
                    turn_deg,
                    time_s: f64::from(place),
                    path_m: None,
                    exchanges: (0..40)
                        .map(|i| {
                            let level = pattern(turn_deg) + f64::from(i * 17 % 40) / 10.0 - 2.0;
                            if level < -92.0 {
                                Exchange::Lost
                            } else {
                                Exchange::Echo {
                                    here: Some(level.round() as i32),
                                    there: None,
                                }
                            }
                        })
                        .collect(),
                }
            })
            .collect();
        let model = SweepModel::new(SCurve::new(-92.0, 1.0).unwrap(), 0.02);
        analyse(&steps, &model, Direction::Here)
    }

    fn lobe(turn: f64) -> f64 {
        -75.0 + 5.0 * turn.to_radians().cos()
    }

    #[test]
    fn a_sweep_does_not_differ_from_itself() {
        let same = compare(&sweep(lobe), &sweep(lobe));
        assert_eq!(same.turns.len(), 8);
        assert!(same.sure_deg.is_empty());
        assert!(same.same_shape_p.unwrap() > 0.99);
        assert_eq!(same.mean_db.holds(0.0), Some(true));
        for turn in &same.turns {
            let (alone, together) = (turn.alone_db.value().unwrap(), turn.together_db.value().unwrap());
            assert!(together.low < alone.low && alone.holds_estimate(0.0));
        }
    }

    #[test]
    fn a_weaker_board_of_the_same_shape_is_told_by_its_mean() {
        let weaker = compare(&sweep(lobe), &sweep(|turn| lobe(turn) - 6.0));
        let mean = weaker.mean_db.value().unwrap();
        assert!((mean.value + 6.0).abs() < 0.5 && mean.high.unwrap() < 0.0);
        assert!(weaker.same_shape_p.unwrap() > 0.9);
    }

    #[test]
    fn a_dead_turn_is_at_most() {
        let dead = compare(
            &sweep(lobe),
            &sweep(|turn| if turn == 180.0 { -110.0 } else { lobe(turn) }),
        );
        let at_back = &dead.turns[4];
        assert!(matches!(at_back.alone_db, Printed::AtMost { high, .. } if high < 0.0));
        let other_way = compare(
            &sweep(|turn| if turn == 180.0 { -110.0 } else { lobe(turn) }),
            &sweep(lobe),
        );
        assert!(matches!(other_way.turns[4].alone_db, Printed::AtLeast { low, .. } if low > 0.0));
    }

    impl Estimate {
        fn holds_estimate(&self, value: f64) -> bool {
            (self.value - value).abs() < 1e-9
        }
    }
}
