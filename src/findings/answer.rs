//! Can a node go here? The one sentence that everything else on the screen stands behind.

use super::delivery::Standing;
use super::now::{Now, Window};
use super::trouble::Trouble;
use crate::stats::verdict::Verdict;
use crate::survey::setup::Goal;

/// Fewer pings than this say nothing about a place that is walked through.
const ENOUGH: u64 = 20;

/// How much there is to spare, dB.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spare {
    /// About so much.
    About(f64),
    /// At most so much.
    AtMost(f64),
    /// At least so much.
    AtLeast(f64),
}

impl Spare {
    /// Whether it is less than wanted, as far as is known.
    pub fn is_little(self, wanted_db: f64) -> bool {
        match self {
            Self::About(db) | Self::AtMost(db) => db < wanted_db,
            Self::AtLeast(_) => false,
        }
    }
}

/// What may be said of the place where the board is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// No exchange has come yet.
    NothingYet,
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
            Self::Blind => "No answer: the node is not heard.",
            Self::Silenced => "The station was silent: wait a little.",
            Self::TooFew => "Too few messages yet to say.",
            Self::Can => "A node can go here.",
            Self::Probably => "A node can probably go here.",
            Self::CanWithLittle => "It works here, likely with too little to spare.",
            Self::LittleToSpare => "It works so far, likely with too little to spare.",
            Self::Doubtful => "Doubtful: a node may not do here.",
            Self::Worse => "It is getting worse here.",
            Self::Better => "It is getting better here.",
            Self::Cannot => "No node here: too much is lost.",
            Self::Nothing => "No node here: nothing gets through.",
        }
    }

    /// A mark that says the same by its shape.
    pub const fn mark(self) -> &'static str {
        match self {
            Self::Can | Self::Probably => "●",
            Self::CanWithLittle | Self::LittleToSpare | Self::Doubtful | Self::Worse | Self::Better => "◐",
            Self::Cannot | Self::Nothing => "○",
            Self::NothingYet | Self::Blind | Self::Silenced | Self::TooFew => "·",
        }
    }
}

/// Answers for this moment. `standing` is what a stop that is going on proves; `spare` how much there is to spare;
/// `silenced` how many of the losses counted fell into a silence of the station.
pub fn answer(
    now: &Now,
    standing: Option<&Standing>,
    spare: Option<Spare>,
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
    let little = spare.is_some_and(|spare| spare.is_little(goal.margin_db));
    if let Some(standing) = standing {
        let rate = standing.delivery.rate.unwrap_or(0.0);
        return match standing.verdict {
            Verdict::Meets if little => Answer::CanWithLittle,
            Verdict::Meets => Answer::Can,
            Verdict::Fails => Answer::Cannot,
            Verdict::KeepMeasuring if standing.delivery.exchanges < ENOUGH => Answer::TooFew,
            Verdict::KeepMeasuring if rate >= goal.delivery && little => Answer::LittleToSpare,
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
    } else {
        Answer::Probably
    }
}
