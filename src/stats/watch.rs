//! One place followed message by message until its verdict.

use super::verdict::{Verdict, decide, evidence};

/// A verdict is looked for after every so many messages: what the error rates of the verdict were simulated with.
const CHECK_EVERY: u64 = 20;

/// Follows one place message by message and keeps the first verdict it reaches.
///
/// The error rates of this module are those of the first verdict: what comes later is further evidence, not a second
/// verdict. So a verdict stays; [`Watch::contradicted`] says when the messages have since turned against it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Watch {
    goal: f64,
    threshold: f64,
    looked_at: u64,
    reached: Option<(Verdict, u64)>,
    contradicted: bool,
}

impl Watch {
    /// Watches for `goal` at `confidence`; `None` unless both lie between 0 and 1.
    pub fn new(goal: f64, confidence: f64) -> Option<Self> {
        let within = |v: f64| v > 0.0 && v < 1.0;
        (within(goal) && within(confidence)).then(|| Self {
            goal,
            threshold: -(1.0 - confidence).ln(),
            looked_at: 0,
            reached: None,
            contradicted: false,
        })
    }

    /// Whether a look is due at `exchanges` messages: every 20.
    pub fn due(&self, exchanges: u64) -> bool {
        exchanges / CHECK_EVERY > self.looked_at / CHECK_EVERY
    }

    /// Looks at the counts so far, with the inflation of the session including them.
    pub fn look(&mut self, delivered: u64, lost: u64, inflation: f64) {
        self.looked_at = delivered.saturating_add(lost);
        let Some(evidence) = evidence(delivered, lost, inflation, self.goal) else {
            return;
        };
        let now = decide(evidence, self.threshold);
        match self.reached {
            None if now != Verdict::KeepMeasuring => self.reached = Some((now, self.looked_at)),
            Some((first, _)) => self.contradicted = now != Verdict::KeepMeasuring && now != first,
            None => {}
        }
    }

    /// The first verdict reached, and after how many messages.
    pub fn reached(&self) -> Option<(Verdict, u64)> {
        self.reached
    }

    /// Whether the messages by now would give the opposite verdict: the place has changed.
    pub fn contradicted(&self) -> bool {
        self.contradicted
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrong_verdicts_at_the_goal_stay_below_five_in_a_hundred() {
        // 2000 places whose true rate is the goal, independent messages, looked at every 20 up to 1000.
        let mut state = 20_260_502_u64;
        let mut uniform = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        let (mut meets, mut fails) = (0, 0);
        for _ in 0..2000 {
            let mut watch = Watch::new(0.95, 0.95).unwrap();
            let (mut k, mut l) = (0, 0);
            for _ in 0..1000 {
                if uniform() < 0.95 {
                    k += 1;
                } else {
                    l += 1;
                }
                if watch.due(k + l) {
                    watch.look(k, l, 1.0);
                }
            }
            match watch.reached() {
                Some((Verdict::Meets, _)) => meets += 1,
                Some((Verdict::Fails, _)) => fails += 1,
                _ => {}
            }
        }
        assert!(meets <= 100 && fails <= 100, "{meets} meets, {fails} fails of 2000");
    }

    #[test]
    fn a_verdict_stays_and_says_when_it_no_longer_fits() {
        let mut watch = Watch::new(0.9, 0.95).unwrap();
        watch.look(200, 0, 1.0);
        assert_eq!(watch.reached(), Some((Verdict::Meets, 200)));
        watch.look(200, 400, 1.0);
        assert_eq!(watch.reached(), Some((Verdict::Meets, 200)));
        assert!(watch.contradicted());
    }
}
