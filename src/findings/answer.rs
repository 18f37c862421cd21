//! Can a node go here? The one sentence that everything else on the screen stands behind.

use super::delivery::Standing;
use super::now::{Now, Window};
use super::trouble::Trouble;
use crate::stats::margin::Margin;
use crate::stats::verdict::Verdict;
use crate::survey::setup::Goal;

/// Fewer pings than this say nothing about a place that is walked through.
const ENOUGH: u64 = 20;

/// What a margin makes likely.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Likely {
    /// All of its interval is enough.
    Enough,
    /// All of its interval is too little.
    TooLittle,
    /// Its interval holds both.
    Open,
}

impl Likely {
    /// What a margin makes likely against the one that is wanted, dB.
    pub fn of(margin: &Margin, wanted_db: f64) -> Self {
        let (low, high) = match margin {
            Margin::Between { interval, .. } => (interval.low, interval.high),
            Margin::AtLeast { low_db } => (*low_db, f64::INFINITY),
            Margin::AtMost { high_db } => (f64::NEG_INFINITY, *high_db),
        };
        if low >= wanted_db {
            Self::Enough
        } else if high < wanted_db {
            Self::TooLittle
        } else {
            Self::Open
        }
    }
}

/// Whether more speaks for too little than for enough, though the interval leaves it open.
fn leans_to_little(margin: &Margin, wanted_db: f64) -> bool {
    Likely::of(margin, wanted_db) == Likely::Open
        && matches!(margin, Margin::Between { estimate_db, .. } if *estimate_db < wanted_db)
}

/// What may be said of the place where the board is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// No exchange has come yet.
    NothingYet,
    /// What was measured here is left out.
    LeftOut,
    /// The node cannot be heard: nothing may be said.
    Blind,
    /// The station was silent for a while, and without that the goal would be met: this place has not been heard out.
    Silenced,
    /// Too few messages.
    TooFew,
    /// Proven at a point.
    Can,
    /// The goal is met so far.
    Probably,
    /// Proven at a point, but there is likely too little to spare.
    CanWithLittle,
    /// The goal is met so far, but there is likely too little to spare.
    LittleToSpare,
    /// Proven at a point; what there is to spare may be too little.
    CanOpen,
    /// The goal is met so far; what there is to spare may be too little.
    Open,
    /// A verdict was reached at this point, and what came since turned against it.
    Changed,
    /// Less than the goal so far, but not surely.
    Doubtful,
    /// It was good, and is getting worse with the last steps.
    Worse,
    /// It was bad, and the last messages came through.
    Better,
    /// Too much is lost.
    Cannot,
    /// Nothing gets through.
    Nothing,
}

impl Answer {
    /// The sentence.
    pub const fn sentence(self) -> &'static str {
        match self {
            Self::NothingYet => "Nothing heard yet.",
            Self::LeftOut => "Left out: nothing here counts.",
            Self::Blind => "No answer: the node is not heard.",
            Self::Silenced => "The station was silent: wait a little.",
            Self::TooFew => "Too few messages yet to say.",
            Self::Can => "A node can go here.",
            Self::Probably => "A node can probably go here.",
            Self::CanWithLittle => "It works here, likely with too little to spare.",
            Self::LittleToSpare => "It works so far, likely with too little to spare.",
            Self::CanOpen => "It works here; how much is to spare is open.",
            Self::Open => "It works so far; how much is to spare is open.",
            Self::Changed => "It has changed here: measure anew.",
            Self::Doubtful => "Doubtful: a node may not do here.",
            Self::Worse => "It is getting worse here.",
            Self::Better => "It is getting better here.",
            Self::Cannot => "No node here: too much is lost.",
            Self::Nothing => "No node here: nothing gets through.",
        }
    }

    /// The sentence afterwards, for somebody who is not there: without what to do.
    pub const fn afterwards(self) -> &'static str {
        match self {
            Self::NothingYet => "Nothing had been heard yet.",
            Self::Blind => "No answer: the node was not heard.",
            Self::Silenced => "The station was silent.",
            Self::Changed => "It changed here, after a verdict.",
            Self::TooFew => "Too few messages so far to say.",
            _ => self.sentence(),
        }
    }

    /// A mark that says the same by its shape.
    pub const fn mark(self) -> &'static str {
        match self {
            Self::Can | Self::Probably => "●",
            Self::CanWithLittle
            | Self::LittleToSpare
            | Self::CanOpen
            | Self::Open
            | Self::Changed
            | Self::Doubtful
            | Self::Worse
            | Self::Better => "◐",
            Self::Cannot | Self::Nothing => "○",
            Self::NothingYet | Self::LeftOut | Self::Blind | Self::Silenced | Self::TooFew => "·",
        }
    }
}

/// Answers for this moment. `standing` is what a stop that is going on proves; `margin` how much there is to spare;
/// `silenced` how many of the losses counted fell into a silence of the station.
pub fn answer(
    now: &Now,
    standing: Option<&Standing>,
    margin: Option<&Margin>,
    silenced: u64,
    troubles: &[Trouble],
    goal: &Goal,
) -> Answer {
    if now.exchanges == 0 {
        return Answer::NothingYet;
    }
    if troubles.iter().any(Trouble::blinds) {
        return Answer::Blind;
    }
    if now.short.pings >= ENOUGH && now.short.echoes == 0 {
        return Answer::Nothing;
    }
    let window = if standing.is_some() { now.run } else { now.long };
    let heard_out = Window {
        pings: window.pings.saturating_sub(silenced),
        ..window
    };
    let is_open = standing.is_none_or(|standing| standing.verdict == Verdict::KeepMeasuring);
    let meets = |window: Window| window.rate().is_some_and(|rate| rate >= goal.delivery);
    if silenced > 0 && is_open && !meets(window) && meets(heard_out) {
        return Answer::Silenced;
    }
    // The headline says no more of the level than what stands below it.
    let likely = margin.map(|margin| Likely::of(margin, goal.margin_db));
    let little = likely == Some(Likely::TooLittle);
    let open = margin.is_some_and(|margin| leans_to_little(margin, goal.margin_db));
    if let Some(standing) = standing {
        let rate = standing.delivery.rate.unwrap_or(0.0);
        return match standing.verdict {
            Verdict::Meets if little => Answer::CanWithLittle,
            Verdict::Meets if open => Answer::CanOpen,
            Verdict::Meets => Answer::Can,
            Verdict::Fails => Answer::Cannot,
            Verdict::KeepMeasuring if standing.taken_back.is_some() => Answer::Changed,
            Verdict::KeepMeasuring if standing.delivery.exchanges < ENOUGH => Answer::TooFew,
            Verdict::KeepMeasuring if rate >= goal.delivery && little => Answer::LittleToSpare,
            Verdict::KeepMeasuring if rate >= goal.delivery && open => Answer::Open,
            Verdict::KeepMeasuring if rate >= goal.delivery => Answer::Probably,
            Verdict::KeepMeasuring => Answer::Doubtful,
        };
    }
    let (Some(rate), Some(interval), Some(last)) = (now.long.rate(), now.long.interval(), now.short.rate()) else {
        return Answer::TooFew;
    };
    if now.long.pings < ENOUGH {
        Answer::TooFew
    } else if rate < goal.delivery && last >= 1.0 {
        Answer::Better
    } else if interval.high < goal.delivery {
        Answer::Cannot
    } else if now.short.interval().is_some_and(|last| last.high < goal.delivery) {
        Answer::Worse
    } else if rate < goal.delivery {
        Answer::Doubtful
    } else if little {
        Answer::LittleToSpare
    } else if open {
        Answer::Open
    } else {
        Answer::Probably
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::now::of_samples;
    use crate::stats::proportions::Interval;
    use crate::survey::sample::Samples;

    fn between(estimate_db: f64, low: f64, high: f64) -> Margin {
        Margin::Between {
            estimate_db,
            interval: Interval { low, high },
        }
    }

    #[test]
    fn the_level_only_makes_likely() {
        let said = |margin| Likely::of(&margin, 10.0);
        assert_eq!(said(between(14.0, 11.0, 17.0)), Likely::Enough);
        assert_eq!(said(between(3.0, -3.0, 9.0)), Likely::TooLittle);
        assert_eq!(said(between(14.0, -4.0, 32.0)), Likely::Open);
        assert_eq!(said(Margin::AtMost { high_db: 4.0 }), Likely::TooLittle);
        assert_eq!(said(Margin::AtLeast { low_db: 4.0 }), Likely::Open);
    }

    #[test]
    fn the_headline_says_no_more_than_the_level_does() {
        let clean = Window {
            pings: 100,
            echoes: 100,
        };
        let now = Now {
            exchanges: 100,
            short: Window { pings: 20, echoes: 20 },
            long: clean,
            run: clean,
            ..of_samples(&Samples::default())
        };
        let said = |margin: Margin| answer(&now, None, Some(&margin), 0, &[], &Goal::default());
        assert_eq!(Goal::default().margin_db, 10.0);
        assert_eq!(said(between(6.0, -1.0, 19.0)), Answer::Open);
        assert_eq!(said(between(6.0, -1.0, 9.0)), Answer::LittleToSpare);
        assert_eq!(said(between(14.0, 11.0, 17.0)), Answer::Probably);
    }
}
