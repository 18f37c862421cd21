//! One place followed message by message until its verdict.

use super::verdict::{Verdict, decide, evidence, proven, refuted};

/// A verdict is looked for after every so many messages: what the error rates of the verdict were simulated with.
pub const CHECK_EVERY: u64 = 20;
/// A goal further than the best one is looked for once it is shown at so much more log odds: a thousandth at 95 %.
const FINER: f64 = 0.02;

/// Follows one place message by message and keeps the first verdict it reaches, as long as the place stays as it was.
///
/// The error rates of this module are those of the first verdict: what comes later is further evidence, not a second verdict.
/// The promise is for a place that stays as it is. So the verdict no longer stands once the place has changed: once its rate
/// lies on the other side of the goal, or once the messages from some look after the verdict on, weighed alone, give the
/// opposite one. Of the e-values from all such looks the one from the j-th look has weight 1 / (j (j + 1)): these add to 1, so
/// that their sum is an e-value too, and a place that stays as the verdict says shows a change in at most 1 - confidence of
/// cases, however long it is looked at. The verdict stands again where all messages together reach it anew. To take one back is no second
/// verdict: those that stand at any time are a part of the first ones, and wrong no more often.
///
/// Likewise the highest goal shown to be met at any look, and the lowest shown to be missed, are kept: each is what its own
/// watch would have reached. They too fall with a place that changes: with the verdict, and where the rate comes to lie on
/// their other side.
#[derive(Clone, Debug, PartialEq)]
pub struct Watch {
    goal: f64,
    threshold: f64,
    looked_at: u64,
    reached: Option<Verdict>,
    /// Delivered and lost at the look that reached the verdict, and at each look after it.
    looks: Vec<(u64, u64)>,
    turned: bool,
    proven: Option<f64>,
    refuted: Option<f64>,
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
            looks: Vec::new(),
            turned: false,
            proven: None,
            refuted: None,
        })
    }

    /// Takes the counts after each message; `inflation` gives the inflation of the session with all of them, and is asked
    /// every 20 messages.
    pub fn see(&mut self, delivered: u64, lost: u64, inflation: impl FnOnce() -> f64) {
        let sent = delivered.saturating_add(lost);
        if let Some(reached) = self.reached {
            let meets = delivered as f64 >= self.goal * sent as f64;
            self.turned |= meets != (reached == Verdict::Meets);
        }
        let share_of = |goal: f64| goal * sent as f64;
        self.proven = self.proven.filter(|goal| delivered as f64 >= share_of(*goal));
        self.refuted = self.refuted.filter(|goal| delivered as f64 <= share_of(*goal));
        if sent / CHECK_EVERY > self.looked_at / CHECK_EVERY {
            let inflation = inflation();
            self.look(delivered, lost, inflation);
            self.go_further(delivered, lost, inflation);
        }
        if self.turned {
            (self.proven, self.refuted) = (None, None);
        }
    }

    /// Looks whether these counts show more than those of the looks before.
    fn go_further(&mut self, delivered: u64, lost: u64, inflation: f64) {
        if self.turned {
            return;
        }
        let beyond = |goal: f64, by: f64| {
            let odds = (goal / (1.0 - goal)).ln() + by;
            evidence(delivered, lost, inflation, 1.0 / (1.0 + (-odds).exp()))
        };
        let more = |evidence: f64| evidence >= self.threshold;
        if self
            .proven
            .is_none_or(|best| beyond(best, FINER).is_some_and(|found| more(found.meets)))
        {
            self.proven = proven(delivered, lost, inflation, self.threshold);
        }
        if self
            .refuted
            .is_none_or(|best| beyond(best, -FINER).is_some_and(|found| more(found.fails)))
        {
            self.refuted = refuted(delivered, lost, inflation, self.threshold);
        }
    }

    fn look(&mut self, delivered: u64, lost: u64, inflation: f64) {
        self.looked_at = delivered.saturating_add(lost);
        let Some(all) = evidence(delivered, lost, inflation, self.goal) else {
            return;
        };
        let now = decide(all, self.threshold);
        let Some(first) = self.reached else {
            if now != Verdict::KeepMeasuring {
                self.reached = Some(now);
                self.looks.push((delivered, lost));
            }
            return;
        };
        // Of the starts those twice as long ago each time: near enough to the best of all, and few.
        let spans = std::iter::successors(Some(1_usize), |span| span.checked_mul(2));
        let changed = spans.map_while(|span| self.looks.len().checked_sub(span)).any(|from| {
            let (delivered_by, lost_by) = self.looks[from];
            let since = evidence(
                delivered.saturating_sub(delivered_by),
                lost.saturating_sub(lost_by),
                inflation,
                self.goal,
            );
            let weight = ((from + 1) as f64 * (from + 2) as f64).ln();
            since.is_some_and(|since| {
                let against = if first == Verdict::Meets {
                    since.fails
                } else {
                    since.meets
                };
                against - weight >= self.threshold
            })
        });
        self.looks.push((delivered, lost));
        if changed {
            self.turned = true;
        } else if now == first {
            self.turned = false;
        }
    }

    /// The first verdict reached, and after how many messages.
    pub fn reached(&self) -> Option<(Verdict, u64)> {
        let (delivered, lost) = self.looks.first()?;
        Some((self.reached?, delivered.saturating_add(*lost)))
    }

    /// The highest goal shown to be met at any look; with a verdict that stands, at least the goal. `None` before anything is shown.
    pub fn proven(&self) -> Option<f64> {
        match self.reached {
            Some(Verdict::Meets) if !self.turned => Some(self.proven.map_or(self.goal, |proven| proven.max(self.goal))),
            _ => self.proven,
        }
    }

    /// The lowest goal shown to be missed at any look; with a verdict that stands, at most the goal.
    pub fn refuted(&self) -> Option<f64> {
        match self.reached {
            Some(Verdict::Fails) if !self.turned => {
                Some(self.refuted.map_or(self.goal, |refuted| refuted.min(self.goal)))
            }
            _ => self.refuted,
        }
    }

    /// Whether the place has changed since its verdict, so that the verdict does not stand.
    pub fn turned(&self) -> bool {
        self.turned
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers from 0 to below 1, alike from the same seed: the congruential generator MMIX of Knuth (1997), its upper bits.
    fn uniform(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed;
        move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        }
    }

    #[test]
    fn wrong_verdicts_at_the_goal_stay_below_five_in_a_hundred() {
        // 2000 places whose true rate is the goal, independent messages, looked at every 20 up to 1000.
        let mut uniform = uniform(20_260_502);
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
                watch.see(k, l, || 1.0);
            }
            match watch.reached() {
                Some((Verdict::Meets, _)) => meets += 1,
                Some((Verdict::Fails, _)) => fails += 1,
                _ => {}
            }
        }
        assert!(meets <= 100 && fails <= 100, "{meets} meets, {fails} fails of 2000");
    }

    /// Goes on with so many messages, one in `lost_every` of them lost; 0 for none.
    fn goes_on(watch: &mut Watch, counts: &mut (u64, u64), messages: u64, lost_every: u64) {
        for index in 1..=messages {
            let lost = lost_every > 0 && index.is_multiple_of(lost_every);
            counts.1 += u64::from(lost);
            counts.0 += u64::from(!lost);
            watch.see(counts.0, counts.1, || 1.0);
        }
    }

    #[test]
    fn a_verdict_stands_until_its_own_count_denies_it() {
        let (mut watch, mut counts) = (Watch::new(0.95, 0.95).unwrap(), (0, 0));
        goes_on(&mut watch, &mut counts, 500, 0);
        let reached = watch.reached();
        assert!(
            matches!(reached, Some((Verdict::Meets, _))) && !watch.turned(),
            "{watch:?}"
        );
        // A quarter lost: the rate of all is below 95 % after 125 more, but the quarter shows before.
        goes_on(&mut watch, &mut counts, 80, 4);
        assert!(counts.0 as f64 > 0.95 * (counts.0 + counts.1) as f64, "{counts:?}");
        assert_eq!((watch.reached(), watch.turned()), (reached, true));
        goes_on(&mut watch, &mut counts, 200, 4);
        assert_eq!((watch.reached(), watch.turned()), (reached, true));
    }

    #[test]
    fn a_rate_across_the_goal_takes_a_verdict_back_at_once_and_a_proof_gives_it_again() {
        let (mut watch, mut counts) = (Watch::new(0.5, 0.95).unwrap(), (0, 0));
        goes_on(&mut watch, &mut counts, 20, 0);
        let (_, after) = watch.reached().unwrap();
        assert_eq!(after, 20);
        // So few say nothing by themselves, but half or less of all is not what was promised.
        let mut halved = watch.clone();
        halved.see(20, 21, || 16.0);
        assert!(halved.turned());
        halved.see(30, 21, || 16.0);
        assert!(halved.turned(), "above the goal again is no proof");
        for delivered in 31..900 {
            halved.see(delivered, 21, || 1.0);
        }
        assert!(!halved.turned());
    }

    #[test]
    fn a_verdict_that_a_place_misses_is_taken_back_likewise() {
        let (mut watch, mut counts) = (Watch::new(0.9, 0.95).unwrap(), (0, 0));
        goes_on(&mut watch, &mut counts, 100, 2);
        assert!(matches!(watch.reached(), Some((Verdict::Fails, _))) && !watch.turned());
        goes_on(&mut watch, &mut counts, 200, 0);
        assert!(watch.turned());
    }

    #[test]
    fn what_was_shown_once_stays_shown_while_the_place_stays() {
        let (mut watch, mut counts) = (Watch::new(0.999, 0.95).unwrap(), (0, 0));
        let mut best = 0.0;
        for step in 0..40 {
            goes_on(&mut watch, &mut counts, 37, if step % 2 == 0 { 0 } else { 20 });
            let proven = watch.proven().unwrap();
            assert!(
                proven >= best && proven < counts.0 as f64 / (counts.0 + counts.1) as f64,
                "{step}"
            );
            best = proven;
        }
        let at_once = proven(counts.0, counts.1, 1.0, 20_f64.ln()).unwrap();
        assert!(best > at_once - 0.005, "{best} {at_once}");
        // Ever more is lost: what was shown falls with the rate, and something is shown to be missed.
        goes_on(&mut watch, &mut counts, 2000, 2);
        let rate = counts.0 as f64 / (counts.0 + counts.1) as f64;
        assert!(
            watch.proven().is_none_or(|proven| proven < rate) && watch.refuted().is_some_and(|missed| missed > rate)
        );
    }

    #[test]
    fn a_verdict_that_stands_never_disagrees_with_what_is_shown() {
        let (mut watch, mut counts) = (Watch::new(0.95, 0.95).unwrap(), (0, 0));
        goes_on(&mut watch, &mut counts, 60, 3);
        assert!(matches!(watch.reached(), Some((Verdict::Fails, _))), "{watch:?}");
        // What comes later is too little to show it again by itself, bursts being longer than they seemed.
        let first = watch.refuted().unwrap();
        for delivered in counts.0..counts.0 + 40 {
            watch.see(delivered, counts.1, || 30.0);
        }
        assert!(
            !watch.turned()
                && watch
                    .refuted()
                    .is_some_and(|missed| missed <= 0.95 && missed <= first + 1e-9)
        );
        let alone = refuted(counts.0 + 40, counts.1, 30.0, 20_f64.ln());
        assert!(
            alone.is_none_or(|missed| missed > first),
            "by one look now, less: {alone:?}"
        );
    }

    #[test]
    fn a_place_that_stays_as_it_is_keeps_its_verdict() {
        let mut uniform = uniform(20_260_503);
        let (mut reached, mut taken_back) = (0, 0);
        for _ in 0..1000 {
            let mut watch = Watch::new(0.95, 0.95).unwrap();
            let (mut k, mut l) = (0, 0);
            for _ in 0..2000 {
                if uniform() < 0.98 {
                    k += 1;
                } else {
                    l += 1;
                }
                watch.see(k, l, || 1.0);
            }
            reached += u32::from(watch.reached().is_some());
            taken_back += u32::from(watch.turned());
        }
        assert!(
            reached > 900 && taken_back <= 50,
            "{taken_back} of {reached} taken back"
        );
    }
}
