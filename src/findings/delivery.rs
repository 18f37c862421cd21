//! What the counts of a stop prove: delivered, its interval with bursts allowed for, and whether the goal is met.
//!
//! Bursts up to about 0.8 s are assumed; see [`crate::stats::verdict`].

use crate::stats::burst::{self, BurstMemory, Outcomes, VERDICT_PRIOR};
use crate::stats::proportions::Interval;
use crate::stats::verdict::{Forecast, Judgement, Verdict, judge};
use crate::stats::watch::{CHECK_EVERY, Watch};
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
    /// What may be said against the goal, and how far off a verdict is. The goals shown to be met and missed are the furthest
    /// ones of all looks so far, as the verdict is the first one.
    pub judgement: Judgement,
    /// The verdict that stands: the first one reached, unless what came later turned against it.
    pub verdict: Verdict,
    /// After how many messages the verdict that stands was reached.
    pub found_after: Option<u64>,
    /// The verdict that was reached, and after how many messages, where what came later turned against it.
    pub taken_back: Option<(Verdict, u64)>,
}

/// A verdict further off than this many messages is not worth waiting for: five minutes at ten pings a second.
const FAR_OFF: u64 = 3000;

/// How many more messages a verdict is about away, and which it would be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct More {
    /// Further messages, rounded up to two figures: a forecast is no more exact.
    pub messages: u64,
    /// Whether they would show that the goal is met; else they would rule it out.
    pub would_meet: bool,
}

impl Standing {
    /// What is still missing for a verdict if the rate stays what it is; `None` with one, and where none is worth waiting for.
    pub fn more(&self) -> Option<More> {
        match self.judgement.forecast {
            Forecast::About { more, verdict } if self.verdict == Verdict::KeepMeasuring && more <= FAR_OFF => {
                Some(More {
                    messages: two_figures(more),
                    would_meet: verdict == Verdict::Meets,
                })
            }
            // What comes next is the look that finds it.
            Forecast::Decided if self.verdict == Verdict::KeepMeasuring && self.taken_back.is_none() => Some(More {
                messages: CHECK_EVERY,
                would_meet: self.judgement.verdict == Verdict::Meets,
            }),
            _ => None,
        }
    }

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

    /// What the stops so far show of bursts.
    pub fn memory(&self) -> &BurstMemory {
        &self.memory
    }

    /// Begins to follow a stop.
    pub fn begin(&self) -> Following {
        Following {
            goal: self.goal,
            memory: self.memory.clone(),
            watch: Watch::new(self.goal.delivery, self.goal.confidence),
            stretch: Outcomes::default(),
            delivered: 0,
            lost: 0,
        }
    }

    /// Adds a stop that is finished.
    pub fn add(&mut self, stop: &Following) {
        self.memory = stop.memory.with(&stop.stretch);
    }
}

/// A stop that is followed message by message.
#[derive(Clone, Debug)]
pub struct Following {
    goal: Goal,
    /// What the stops before it and its own finished stretches show.
    memory: BurstMemory,
    watch: Option<Watch>,
    stretch: Outcomes,
    delivered: u64,
    lost: u64,
}

impl Following {
    /// Takes the next row; one that does not count ends a stretch of evenly spaced ones.
    pub fn push(&mut self, row: &Sample) {
        if !row.counts() {
            self.memory.add(&std::mem::take(&mut self.stretch));
            return;
        }
        self.stretch.push(row.delivered());
        self.delivered += u64::from(row.delivered());
        self.lost += u64::from(!row.delivered());
        if let Some(watch) = &mut self.watch {
            let (memory, stretch) = (&self.memory, &self.stretch);
            watch.see(self.delivered, self.lost, || {
                memory.with(stretch).inflation(VERDICT_PRIOR)
            });
        }
    }

    /// What it proves so far; `None` before its first message, or when the goal is none.
    pub fn standing(&self) -> Option<Standing> {
        let (delivered, lost) = (self.delivered, self.lost);
        if delivered + lost == 0 {
            return None;
        }
        let memory = self.memory.with(&self.stretch);
        let delivery = burst::delivery(delivered, delivered + lost, &memory, self.goal.confidence)?;
        let inflation = memory.inflation(VERDICT_PRIOR);
        let watch = self.watch.as_ref()?;
        let judgement = Judgement {
            proven: watch.proven(),
            refuted: watch.refuted(),
            ..judge(delivered, lost, inflation, self.goal.delivery, self.goal.confidence)?
        };
        let (standing, taken_back) = if watch.turned() {
            (None, watch.reached())
        } else {
            (watch.reached(), None)
        };
        Some(Standing {
            delivery,
            judgement,
            verdict: standing.map_or(Verdict::KeepMeasuring, |(verdict, _)| verdict),
            found_after: standing.map(|(_, after)| after),
            taken_back,
        })
    }
}

/// A number rounded up to two figures.
pub fn two_figures(number: u64) -> u64 {
    let mut unit = 1;
    while number / unit >= 100 {
        unit *= 10;
    }
    number.div_ceil(unit).saturating_mul(unit)
}

/// Where the delivery rate of some messages in a row lies, bursts allowed for by what `memory` and they themselves show;
/// `None` of none.
pub fn interval(outcomes: &Outcomes, memory: &BurstMemory, confidence: f64) -> Option<Interval> {
    if outcomes.exchanges() == 0 {
        return None;
    }
    let memory = memory.with(outcomes);
    let found = burst::delivery(outcomes.delivered(), outcomes.exchanges(), &memory, confidence)?;
    Some(found.interval)
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

    fn standing_after(stops: &Stops, rows: &[Sample]) -> Option<Standing> {
        let mut stop = stops.begin();
        for row in rows {
            stop.push(row);
        }
        stop.standing()
    }

    #[test]
    fn bursts_are_allowed_for_from_the_first_message_on_without_a_jump() {
        let mut stop = Stops::new(&Goal::default()).begin();
        let mut before: Option<f64> = None;
        for (index, row) in rows([true; 60]).iter().enumerate() {
            stop.push(row);
            let low = stop.standing().unwrap().delivery.interval.low;
            let sent = (index + 1) as f64;
            // Four messages are worth one before anything was lost: Wilson's limit at the 97.5 % point of Student's t with 8
            // degrees of freedom, 2.306 (Student 1908).
            let squared = 2.306_f64.powi(2);
            let expected = sent / 4.0 / (sent / 4.0 + squared);
            assert!((low - expected).abs() < 1e-3, "{sent}: {low} {expected}");
            assert!(
                before.is_none_or(|before| low > before && low - before < 0.05),
                "{sent}"
            );
            before = Some(low);
        }
        let window: Outcomes = std::iter::repeat_n(true, 60).collect();
        let walking = interval(&window, &BurstMemory::default(), 0.95).unwrap();
        assert_eq!(Some(walking.low), before, "walking, the same");
    }

    #[test]
    fn a_clean_first_hundred_does_not_prove_95_percent() {
        let standing = standing_after(&Stops::new(&Goal::default()), &rows([true; 100])).unwrap();
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
        let clean = standing_after(&stops, &then_a_quarter_lost(0)).unwrap();
        assert_eq!((clean.word(), clean.taken_back), ("meets", None));
        let changed = standing_after(&stops, &then_a_quarter_lost(200)).unwrap();
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
            standing_after(&Stops::new(&Goal::default()), &rows(half))
                .unwrap()
                .word(),
            "misses"
        );
    }

    #[test]
    fn forecasts_are_no_more_exact_than_two_figures() {
        assert_eq!([647, 99, 1001].map(two_figures), [650, 99, 1100]);
    }

    #[test]
    fn nothing_sent_proves_nothing() {
        assert_eq!(standing_after(&Stops::new(&Goal::default()), &rows([])), None);
    }
}
