//! Whether a place meets its goal: meets, fails, or keep measuring.
//!
//! An e-value weighs the data against every rate that would make the claim wrong. With independent messages it may be
//! looked at after every message, as often as one likes, and a wrong verdict still comes in at most 1 - confidence of places
//! (Wasserman, Ramdas & Balakrishnan 2020, PNAS 117:16880-16890; Ville 1939). Bursts are allowed for by dividing the counts
//! by the session's variance inflation; that is an approximation. Simulated at a true rate equal to the goal it was wrong on
//! either side in 4.8 % of places for bursts of 8 messages, but in 17 to 27 % for bursts of 20: out of scope.

use super::special::{beta_tails, ln_beta};

/// How far a forecast looks, in messages.
const FORECAST_LIMIT: u64 = 100_000;

/// What may be said of a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It delivers at least the goal.
    Meets,
    /// It delivers less than the goal.
    Fails,
    /// Neither can be said yet.
    KeepMeasuring,
}

/// Natural logarithms of the e-values for both claims; 0 says nothing, above ln 20 = 3.0 decides at 95 %.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Evidence {
    /// For "delivers at least the goal".
    pub meets: f64,
    /// For "delivers less than the goal".
    pub fails: f64,
}

/// Returns the evidence of `delivered` and `lost` messages, of which `inflation` >= 1 are worth one, on the `goal` rate.
///
/// The claim's own rates are averaged over Beta(1/2, 1/2) cut to the claim's side of the goal; the other side enters at the
/// rate that suits it best. `None` unless 0 < goal < 1, inflation is at least 1, and effective
/// counts are below 1e8.
pub fn evidence(delivered: u64, lost: u64, inflation: f64, goal: f64) -> Option<Evidence> {
    evidence_at(delivered as f64, lost as f64, inflation, goal)
}

fn evidence_at(delivered: f64, lost: f64, inflation: f64, goal: f64) -> Option<Evidence> {
    if !(goal > 0.0 && goal < 1.0 && inflation >= 1.0 && inflation.is_finite()) {
        return None;
    }
    let (k, l) = (delivered / inflation, lost / inflation);
    if k + l <= 0.0 {
        return Some(Evidence { meets: 0.0, fails: 0.0 });
    }
    let (a, b) = (k + 0.5, l + 0.5);
    let base = ln_beta(a, b) - ln_beta(0.5, 0.5);
    let posterior = beta_tails(a, b, goal)?;
    let prior = beta_tails(0.5, 0.5, goal)?;
    let above = posterior.upper.max(1e-300).ln() - prior.upper.ln();
    let below = posterior.lower.max(1e-300).ln() - prior.lower.ln();
    let log = |count: f64, rate: f64| if count > 0.0 { count * rate.ln() } else { 0.0 };
    let at_goal = log(k, goal) + log(l, 1.0 - goal);
    let rate = k / (k + l);
    let at_best = log(k, rate) + log(l, 1.0 - rate);
    let (best_up_to_goal, best_from_goal) = if rate <= goal {
        (at_best, at_goal)
    } else {
        (at_goal, at_best)
    };
    Some(Evidence {
        meets: base + above - best_up_to_goal,
        fails: base + below - best_from_goal,
    })
}

/// What the messages so far say about a goal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judgement {
    /// What may be said.
    pub verdict: Verdict,
    /// How strongly.
    pub evidence: Evidence,
    /// The goal judged, a rate.
    pub goal: f64,
    /// How sure a verdict is.
    pub confidence: f64,
    /// Messages sent.
    pub exchanges: u64,
    /// Messages sent over inflation.
    pub effective: f64,
    /// The highest goal these messages already show to be met, at the same confidence; `None` when they show nothing yet.
    pub proven: Option<f64>,
    /// The lowest goal these messages already show to be missed; `None` when they show nothing yet.
    pub refuted: Option<f64>,
    /// How far off a verdict is.
    pub forecast: Forecast,
}

/// How many messages a verdict still needs if the rate stays what it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Forecast {
    /// The verdict is there.
    Decided,
    /// About so many more messages, to this verdict.
    About {
        /// Further messages.
        more: u64,
        /// The verdict they would bring.
        verdict: Verdict,
    },
    /// The rate is so close to the goal that no verdict is in sight (more than 100,000 messages).
    OutOfSight,
    /// Nothing was sent yet: there is no rate to go by.
    Unknown,
}

/// Judges `delivered` and `lost` messages, of which `inflation` >= 1 are worth one, against a `goal` rate.
///
/// `None` unless goal and confidence lie between 0 and 1, inflation is at least 1, and effective counts are below 1e8.
pub fn judge(delivered: u64, lost: u64, inflation: f64, goal: f64, confidence: f64) -> Option<Judgement> {
    if !(confidence > 0.0 && confidence < 1.0) {
        return None;
    }
    let threshold = -(1.0 - confidence).ln();
    let evidence = evidence(delivered, lost, inflation, goal)?;
    let verdict = decide(evidence, threshold);
    let exchanges = delivered.checked_add(lost)?;
    Some(Judgement {
        verdict,
        evidence,
        goal,
        confidence,
        exchanges,
        effective: exchanges as f64 / inflation,
        proven: proven(delivered, lost, inflation, threshold),
        refuted: refuted(delivered, lost, inflation, threshold),
        forecast: forecast(delivered, lost, inflation, goal, threshold),
    })
}

/// The highest goal that these counts show to be met where ln e >= `threshold` decides.
pub(super) fn proven(delivered: u64, lost: u64, inflation: f64, threshold: f64) -> Option<f64> {
    furthest_goal(|goal| Some(evidence(delivered, lost, inflation, goal)?.meets >= threshold))
}

/// The lowest goal that these counts show to be missed.
pub(super) fn refuted(delivered: u64, lost: u64, inflation: f64, threshold: f64) -> Option<f64> {
    furthest_goal(|goal| Some(evidence(delivered, lost, inflation, 1.0 - goal)?.fails >= threshold))
        .map(|goal| 1.0 - goal)
}

pub(super) fn decide(evidence: Evidence, threshold: f64) -> Verdict {
    if evidence.meets >= threshold {
        Verdict::Meets
    } else if evidence.fails >= threshold {
        Verdict::Fails
    } else {
        Verdict::KeepMeasuring
    }
}

/// The highest goal up to which `shown` holds, by bisection in log odds to 1e-6 of them.
fn furthest_goal(shown: impl Fn(f64) -> Option<bool>) -> Option<f64> {
    let rate = |odds: f64| 1.0 / (1.0 + (-odds).exp());
    let (mut low, mut high) = (-7.0, 14.0);
    if !shown(rate(low))? {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if shown(rate(middle))? {
            low = middle;
        } else {
            high = middle;
        }
        if high - low < 1e-6 {
            break;
        }
    }
    Some(rate(low))
}

fn forecast(delivered: u64, lost: u64, inflation: f64, goal: f64, threshold: f64) -> Forecast {
    let exchanges = delivered.saturating_add(lost);
    if exchanges == 0 {
        return Forecast::Unknown;
    }
    let rate = delivered as f64 / exchanges as f64;
    let after = |more: u64| {
        let total = exchanges as f64 + more as f64;
        evidence_at(total * rate, total * (1.0 - rate), inflation, goal)
            .map_or(Verdict::KeepMeasuring, |e| decide(e, threshold))
    };
    if after(0) != Verdict::KeepMeasuring {
        return Forecast::Decided;
    }
    let mut high = 1;
    while after(high) == Verdict::KeepMeasuring {
        if high >= FORECAST_LIMIT {
            return Forecast::OutOfSight;
        }
        high = (high * 2).min(FORECAST_LIMIT);
    }
    let mut low = high / 2;
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if after(middle) == Verdict::KeepMeasuring {
            low = middle;
        } else {
            high = middle;
        }
    }
    Forecast::About {
        more: high,
        verdict: after(high),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clean_first_hundred_proves_less_than_it_seems() {
        let j = judge(100, 0, 8.0, 0.95, 0.95).unwrap();
        assert_eq!(j.verdict, Verdict::KeepMeasuring);
        let proven = j.proven.unwrap();
        assert!(proven > 0.6 && proven < 0.85, "{proven}");
        assert_eq!(j.refuted, None);
        let Forecast::About { more, verdict } = j.forecast else {
            panic!("{:?}", j.forecast)
        };
        assert_eq!(verdict, Verdict::Meets);
        assert_eq!(judge(100 + more, 0, 8.0, 0.95, 0.95).unwrap().verdict, Verdict::Meets);
        assert_eq!(
            judge(100 + more - 1, 0, 8.0, 0.95, 0.95).unwrap().verdict,
            Verdict::KeepMeasuring
        );
    }

    #[test]
    fn what_is_proven_agrees_with_the_verdict_at_that_goal() {
        for (k, l, v) in [
            (100, 0, 1.0),
            (285, 15, 1.0),
            (600, 3, 4.0),
            (80, 20, 2.0),
            (0, 50, 4.0),
            (9990, 10, 8.0),
        ] {
            let j = judge(k, l, v, 0.9, 0.95).unwrap();
            if let Some(g) = j.proven {
                assert_eq!(
                    judge(k, l, v, g - 1e-6, 0.95).unwrap().verdict,
                    Verdict::Meets,
                    "{k} {l}"
                );
                assert_ne!(
                    judge(k, l, v, g + 1e-4, 0.95).unwrap().verdict,
                    Verdict::Meets,
                    "{k} {l}"
                );
            }
            if let Some(g) = j.refuted {
                assert_eq!(
                    judge(k, l, v, g + 1e-6, 0.95).unwrap().verdict,
                    Verdict::Fails,
                    "{k} {l}"
                );
                assert_ne!(
                    judge(k, l, v, g - 1e-4, 0.95).unwrap().verdict,
                    Verdict::Fails,
                    "{k} {l}"
                );
            }
        }
    }

    #[test]
    fn evidence_falls_as_the_goal_rises() {
        for (k, l, v) in [
            (1, 0, 1.0),
            (12, 0, 8.0),
            (3, 1, 1.0),
            (95, 5, 4.0),
            (0, 9, 1.0),
            (500_000, 20_000, 6.0),
        ] {
            let mut last = f64::INFINITY;
            for i in 1..2000 {
                let e = evidence(k, l, v, f64::from(i) / 2000.0).unwrap();
                // Tails are taken as at least 1e-300, so that near -690 only "hopeless" is left.
                if e.meets < -600.0 {
                    break;
                }
                assert!(e.meets <= last + 1e-6, "{k} {l} at {i}: {} after {last}", e.meets);
                last = e.meets;
            }
        }
    }

    #[test]
    fn nothing_sent_gives_no_verdict() {
        let j = judge(0, 0, 8.0, 0.95, 0.95).unwrap();
        assert_eq!((j.verdict, j.proven, j.refuted), (Verdict::KeepMeasuring, None, None));
        assert_eq!(j.forecast, Forecast::Unknown);
        assert_eq!(judge(1, 0, 8.0, 1.0, 0.95), None);
        assert_eq!(judge(1, 0, f64::NAN, 0.9, 0.95), None);
    }

    proptest::proptest! {
        #[test]
        fn any_counts_give_a_judgement_or_none(
            delivered in proptest::num::u64::ANY, lost in proptest::num::u64::ANY, shift in 0..64_u32,
            inflation in 0.5..70.0_f64, goal in -0.1..1.1_f64, confidence in 0.0..1.1_f64,
        ) {
            if let Some(j) = judge(delivered >> shift, lost >> (63 - shift), inflation, goal, confidence) {
                assert!(!j.evidence.meets.is_nan() && !j.evidence.fails.is_nan(), "{j:?}");
                if let (Some(proven), Some(refuted)) = (j.proven, j.refuted) {
                    assert!(confidence < 0.6 || proven < refuted, "{j:?}");
                }
            }
        }
    }

    #[test]
    fn a_rate_on_the_goal_is_out_of_sight() {
        assert_eq!(judge(95, 5, 4.0, 0.95, 0.95).unwrap().forecast, Forecast::OutOfSight);
        assert_eq!(judge(0, 200, 1.0, 0.95, 0.95).unwrap().forecast, Forecast::Decided);
    }
}
