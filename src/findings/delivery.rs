//! What the counts of a stop prove: delivered, its interval with bursts allowed for, and whether the goal is met.
//!
//! Bursts up to about 0.8 s are assumed; see [`crate::stats::verdict`].

use crate::stats::burst::{self, BurstMemory, Outcomes, VERDICT_PRIOR};
use crate::stats::verdict::{Judgement, Verdict, judge};
use crate::stats::watch::Watch;
use crate::survey::sample::Sample;
use crate::survey::setup::Goal;

/// Follows the stops of a survey, and what they show of bursts, in order of time.
#[derive(Clone, Debug)]
pub struct Stops {
    goal: Goal,
    memory: BurstMemory,
}

/// What a stop proves.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// Delivered of sent, with its interval, bursts allowed for.
    pub delivery: burst::Delivery,
    /// What may be said against the goal, and how far off a verdict is.
    pub judgement: Judgement,
    /// The verdict that stands: the first one reached, unless what came later turned against it.
    pub verdict: Verdict,
    /// The verdict that was reached, and after how many messages, where what came later turned against it.
    pub taken_back: Option<(Verdict, u64)>,
}

impl Standing {
    /// The word in `points.csv`.
    pub const fn word(&self) -> &'static str {
        match self.verdict {
            Verdict::Meets => "meets",
            Verdict::Fails => "misses",
            Verdict::KeepMeasuring => "unsure",
        }
    }
}

impl Stops {
    /// No stop so far.
    pub fn new(goal: &Goal) -> Self {
        Self {
            goal: *goal,
            memory: BurstMemory::default(),
        }
    }

    /// What a stop that is still going on proves; `None` before its first message, or when the goal is none.
    ///
    /// `rows` are all rows of the stop, in order: one that does not count ends a stretch of evenly spaced ones.
    pub fn standing<'a>(&self, rows: impl IntoIterator<Item = &'a Sample>) -> Option<Standing> {
        self.follow(rows).0
    }

    /// Adds a finished stop, and says what it proves.
    pub fn finish<'a>(&mut self, rows: impl IntoIterator<Item = &'a Sample>) -> Option<Standing> {
        let (standing, memory) = self.follow(rows);
        self.memory = memory;
        standing
    }

    fn follow<'a>(&self, rows: impl IntoIterator<Item = &'a Sample>) -> (Option<Standing>, BurstMemory) {
        let mut memory = self.memory.clone();
        let mut watch = Watch::new(self.goal.delivery, self.goal.confidence);
        let mut stretch = Outcomes::default();
        let (mut delivered, mut lost) = (0, 0);
        for row in rows {
            if !row.counts() {
                memory.add(&std::mem::take(&mut stretch));
                continue;
            }
            stretch.push(row.delivered());
            delivered += u64::from(row.delivered());
            lost += u64::from(!row.delivered());
            if let Some(watch) = &mut watch {
                watch.see(delivered, lost, || memory.with(&stretch).inflation(VERDICT_PRIOR));
            }
        }
        memory.add(&stretch);
        if delivered + lost == 0 {
            return (None, memory);
        }
        let delivery = burst::delivery(delivered, delivered + lost, &memory, self.goal.confidence);
        let inflation = memory.inflation(VERDICT_PRIOR);
        let judgement = judge(delivered, lost, inflation, self.goal.delivery, self.goal.confidence);
        let reached = watch.as_ref().and_then(Watch::reached);
        let turned = watch.is_some_and(|watch| watch.turned());
        let standing = delivery.zip(judgement).map(|(delivery, judgement)| Standing {
            delivery,
            judgement,
            verdict: reached
                .filter(|_| !turned)
                .map_or(Verdict::KeepMeasuring, |(verdict, _)| verdict),
            taken_back: reached.filter(|_| turned),
        });
        (standing, memory)
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::survey::exchange::Heard;
    use crate::survey::sample::Activity;
    use crate::units::{Elapsed, UtcMs};

    /// Rows of one stop, ten a second.
    pub(in crate::findings) fn rows(outcomes: impl IntoIterator<Item = bool>) -> Vec<Sample> {
        let row = |(index, delivered): (usize, bool)| Sample {
            utc: UtcMs(0),
            at: Elapsed(index as u64 * 100_000),
            boot: 0,
            run: 1,
            n: index as u64,
            echo: delivered.then(Heard::default),
            channel: None,
            place: None,
            activity: Activity::Point(0),
            excluded: None,
        };
        outcomes.into_iter().enumerate().map(row).collect()
    }

    #[test]
    fn a_clean_first_hundred_does_not_prove_95_percent() {
        let standing = Stops::new(&Goal::default()).standing(&rows([true; 100])).unwrap();
        assert_eq!(standing.word(), "unsure");
        let proven = standing.judgement.proven.unwrap();
        assert!((0.5..0.95).contains(&proven), "{proven}");
        assert!(
            (0.80..0.84).contains(&standing.delivery.interval.low),
            "{:?}",
            standing.delivery.interval
        );
    }

    #[test]
    fn a_verdict_is_taken_back_when_the_place_changes() {
        let stops = Stops::new(&Goal::default());
        let then_a_quarter_lost = |more| rows((0..700 + more).map(|index| index < 700 || index % 4 != 0));
        let clean = stops.standing(&then_a_quarter_lost(0)).unwrap();
        assert_eq!((clean.word(), clean.taken_back), ("meets", None));
        let changed = stops.standing(&then_a_quarter_lost(200)).unwrap();
        assert_eq!(changed.word(), "unsure");
        assert!(
            matches!(changed.taken_back, Some((Verdict::Meets, after)) if after <= 700),
            "{changed:?}"
        );
    }

    #[test]
    fn half_lost_is_soon_known_to_miss() {
        let half = (0..100).map(|index| index % 2 == 0);
        assert_eq!(
            Stops::new(&Goal::default()).standing(&rows(half)).unwrap().word(),
            "misses"
        );
    }

    #[test]
    fn nothing_sent_proves_nothing() {
        assert_eq!(Stops::new(&Goal::default()).standing(&rows([])), None);
    }
}
