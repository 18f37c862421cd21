//! What a sweep shows, as the polar plot draws it: each step with its interval, the fitted curve, and the words.

use crate::findings::estimates::Estimates;
use crate::findings::sweep_words;
use crate::findings::sweeps::{self, Sweep};
use crate::findings::turning::Step;
use crate::stats::sweep::Printed;

/// The level of a step, dBm, as far as it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bar {
    /// The mean of what arrived; losses are not reckoned yet, nor how sure it is.
    Bare(f64),
    /// Mean power with its 95 % interval, losses counted.
    Between {
        /// The figure.
        value: f64,
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Nothing was heard: it lies below this.
    AtMost(f64),
}

/// A step of a sweep as it is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// Turn, degrees.
    pub turn: f64,
    /// Pings that count.
    pub pings: u64,
    /// Of them answered.
    pub echoes: u64,
    /// Its level; `None` where nothing was heard and nothing is reckoned yet.
    pub bar: Option<Bar>,
    /// Whether it is being counted.
    pub now: bool,
}

/// What a sweep shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pattern {
    /// Board, name and pose, as the polar plot calls it.
    pub name: String,
    /// The steps in the order they were taken.
    pub steps: Vec<Mark>,
    /// The fitted curve at each whole degree, dBm; empty where there is none.
    pub curve: Vec<f64>,
    /// Its interval, dBm.
    pub band: Vec<(f64, f64)>,
    /// Everything it says, the most important first.
    pub words: Vec<String>,
    /// How it differs from earlier sweeps: their names, and in words.
    pub against: Vec<(String, String)>,
}

impl Pattern {
    /// Whether it was reckoned of all these steps: figures follow by a moment, and say meanwhile what is no longer so.
    pub fn holds(&self, steps: &[Step]) -> bool {
        self.steps.iter().map(|step| step.pings).sum::<u64>() == steps.iter().map(|step| step.pings).sum::<u64>()
    }
}

/// What a plot is called.
pub fn name(board: &str, sweep: &str, pose: Option<&str>) -> String {
    format!("{board} {sweep}, {}", pose.unwrap_or("no pose"))
}

/// Takes what the panels draw from the estimates.
pub fn patterns(estimates: &Estimates) -> Vec<Pattern> {
    let mut patterns: Vec<Pattern> = estimates.sweeps.iter().map(pattern).collect();
    for pair in sweeps::pairs(&estimates.sweeps) {
        let first = patterns[pair.first].name.clone();
        patterns[pair.second].against.push((first, sweep_words::against(&pair)));
    }
    patterns
}

/// Takes what a panel draws from one sweep.
pub fn pattern(sweep: &Sweep) -> Pattern {
    let figures = &sweep.figures;
    let steps = figures.steps.iter().map(|step| Mark {
        turn: step.turn_deg,
        pings: step.exchanges as u64,
        echoes: step.delivered as u64,
        bar: match step.level {
            Printed::Value(level) => Some(Bar::Between {
                value: level.value,
                low: level.low,
                high: level.high.unwrap_or(level.value),
            }),
            Printed::AtMost { high, .. } => Some(Bar::AtMost(high)),
            Printed::AtLeast { .. } | Printed::NotPrinted(_) => None,
        },
        now: false,
    });
    let fitted = figures.pattern.as_ref().ok();
    Pattern {
        name: name(&sweep.board, &sweep.name, sweep.pose.as_deref()),
        steps: steps.collect(),
        curve: fitted.map_or_else(Vec::new, |fitted| fitted.level_dbm.clone()),
        band: fitted.map_or_else(Vec::new, |fitted| {
            let edges = fitted.low_dbm.iter().zip(&fitted.high_dbm);
            edges.map(|(low, high)| (*low, *high)).collect()
        }),
        words: sweep_words::sentences(sweep),
        against: Vec::new(),
    }
}

/// The steps as they stand now, each with what is reckoned of it so far.
///
/// Figures follow the steps by a moment. A step that is being measured again has fewer pings than the figures of the one
/// it replaces, and does without them.
pub fn marks(steps: &[Step], known: Option<&Pattern>, counting: bool) -> Vec<Mark> {
    if let Some(known) = known
        && known.holds(steps)
        && !counting
    {
        return known.steps.clone();
    }
    let there = steps.iter().any(|step| step.there_dbm.is_some());
    let same = |one: f64, other: f64| (one - other).abs() < 0.01;
    steps
        .iter()
        .enumerate()
        .map(|(index, step)| {
            let turn = step.turn.0;
            let visits = steps[..index].iter().filter(|step| same(step.turn.0, turn)).count();
            let reckoned = known
                .and_then(|known| known.steps.iter().filter(|step| same(step.turn, turn)).nth(visits))
                .filter(|reckoned| reckoned.pings <= step.pings)
                .and_then(|reckoned| reckoned.bar);
            let bare = if there { step.there_dbm } else { step.here_dbm };
            Mark {
                turn,
                pings: step.pings,
                echoes: step.echoes,
                bar: reckoned.or(bare.map(Bar::Bare)),
                now: counting && index + 1 == steps.len(),
            }
        })
        .collect()
}

impl Bar {
    /// The figure itself; for `at most` its limit.
    pub fn level(self) -> f64 {
        match self {
            Self::Bare(level) | Self::AtMost(level) => level,
            Self::Between { value, .. } => value,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Degrees;

    fn step(turn: f64, pings: u64) -> Step {
        Step {
            turn: Degrees(turn),
            pings,
            echoes: pings,
            here_dbm: Some(-60.0),
            there_dbm: Some(-63.0),
        }
    }

    fn reckoned(turn: f64, pings: u64) -> Mark {
        Mark {
            turn,
            pings,
            echoes: pings,
            bar: Some(Bar::Between {
                value: -62.0,
                low: -64.0,
                high: -60.0,
            }),
            now: false,
        }
    }

    #[test]
    fn a_step_measured_again_does_not_borrow_the_interval_of_the_one_before() {
        let known = Pattern {
            steps: vec![reckoned(0.0, 40), reckoned(45.0, 40)],
            ..Pattern::default()
        };
        let marks = marks(&[step(0.0, 40), step(45.0, 5)], Some(&known), true);
        assert!(matches!(marks[0].bar, Some(Bar::Between { .. })));
        assert_eq!(marks[1].bar, Some(Bar::Bare(-63.0)));
        assert!(marks[1].now && !marks[0].now);
    }

    #[test]
    fn the_first_turn_again_is_a_step_of_its_own() {
        let known = Pattern {
            steps: vec![reckoned(0.0, 40)],
            ..Pattern::default()
        };
        let marks = marks(&[step(0.0, 40), step(0.0, 40)], Some(&known), false);
        assert!(matches!(marks[0].bar, Some(Bar::Between { .. })));
        assert_eq!(marks[1].bar, Some(Bar::Bare(-63.0)));
    }
}
