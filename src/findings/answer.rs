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

/// What may be said of the place where the board is. What is firm is proven by the count of a point; "by level" and "by
/// count" say which of the two statements makes the rest likely.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Answer {
    /// No exchange has come yet.
    NothingYet,
    /// What was measured here is left out.
    LeftOut,
    /// The node cannot be heard: nothing may be said.
    Blind,
    /// The board was carried off from the point that is being measured.
    Gone,
    /// The station was silent for a while, and without that the goal would be met: this place has not been heard out.
    Silenced,
    /// Too few messages.
    TooFew,
    /// The count proves the goal, and all of the margin's interval is enough.
    Can,
    /// The count proves the goal; there is no margin.
    CanUnknown,
    /// The count proves the goal; the margin's interval holds enough and too little.
    CanOpen,
    /// The count proves the goal; all of the margin's interval is too little.
    CanWithLittle,
    /// All of the margin's interval is enough, and the rate so far meets the goal.
    Likely,
    /// All of the margin's interval is too little.
    LittleToSpare,
    /// A verdict was reached at this point, and what came since turned against it.
    Changed,
    /// Neither statement says anything yet, and more messages will.
    StandOn,
    /// Neither says anything, and the rate is so close to the goal that more messages hardly will.
    TooClose,
    /// Walking, neither says anything.
    Walking,
    /// It was good, and is getting worse with the last steps.
    Worse,
    /// It was bad, and the last messages came through.
    Better,
    /// All of the interval, at a point of its messages and walking of the last ones, is below the goal, and that proves nothing.
    LikelyNot,
    /// The count proves that the goal is missed.
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
            Self::Gone => "You have left this point: end it.",
            Self::Silenced => "The station was silent: wait a little.",
            Self::TooFew => "Too few messages yet to say.",
            Self::Can => "A node can go here.",
            Self::CanUnknown => "It delivers as asked; what it has to spare is not known.",
            Self::CanOpen => "It delivers as asked; whether it has enough to spare is open.",
            Self::CanWithLittle => "It delivers as asked, likely with too little to spare.",
            Self::Likely => "By level, a node can likely go here.",
            Self::LittleToSpare => "By level, likely too little to spare.",
            Self::Changed => "It has changed here: measure anew.",
            Self::StandOn => "Not known yet: stand on.",
            Self::TooClose => "Too close to the goal to tell.",
            Self::Walking => "Not known: a point will tell.",
            Self::Worse => "It is getting worse here.",
            Self::Better => "It is getting better here.",
            Self::LikelyNot => "By count, likely not here.",
            Self::Cannot => "No node here: too much is lost.",
            Self::Nothing => "Nothing gets through here.",
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
            Self::Gone => "This point had been left.",
            Self::StandOn => "Not known so far.",
            Self::Walking => "Not known while walking.",
            _ => self.sentence(),
        }
    }

    /// The sentence of what is said of a point that delivers as asked, without its subject and full stop.
    pub fn of_a_point(self) -> &'static str {
        let sentence = self.sentence().trim_end_matches('.');
        sentence.strip_prefix("It ").unwrap_or(sentence)
    }

    /// A mark that says the same by its shape.
    pub const fn mark(self) -> &'static str {
        match self {
            Self::Can | Self::Likely => "●",
            Self::CanUnknown
            | Self::CanOpen
            | Self::CanWithLittle
            | Self::LittleToSpare
            | Self::Changed
            | Self::TooClose
            | Self::Worse
            | Self::Better => "◐",
            Self::LikelyNot | Self::Cannot | Self::Nothing => "○",
            Self::NothingYet
            | Self::LeftOut
            | Self::Blind
            | Self::Gone
            | Self::Silenced
            | Self::TooFew
            | Self::StandOn
            | Self::Walking => "·",
        }
    }

    /// What is said of a place whose count proves that it delivers as asked: that a node can go there takes the whole interval
    /// of the margin besides. One definition for screen and write-up.
    pub fn delivers(margin: Option<&Margin>, wanted_db: f64) -> Self {
        match margin.map(|margin| Likely::of(margin, wanted_db)) {
            Some(Likely::Enough) => Self::Can,
            Some(Likely::Open) => Self::CanOpen,
            Some(Likely::TooLittle) => Self::CanWithLittle,
            None => Self::CanUnknown,
        }
    }
}

/// What the count rests on.
#[derive(Clone, Copy, Debug)]
pub enum Counted<'a> {
    /// The last messages, wherever they were.
    Walking,
    /// A point's own messages alone, and what they prove; `None` before the first.
    Point(Option<&'a Standing>),
}

/// Answers for this moment. `counted` is whether a point is open, and what it proves; `margin` how much there is to spare;
/// `silenced` how many of the losses counted fell into a silence of the station.
pub fn answer(
    now: &Now,
    counted: Counted<'_>,
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
    if troubles.iter().any(|trouble| matches!(trouble, Trouble::Strayed(_))) {
        return Answer::Gone;
    }
    // What was walked through before says nothing of a point.
    let (window, standing) = match counted {
        Counted::Walking => (now.long, None),
        Counted::Point(standing) => (now.run, standing),
    };
    if now.short.pings.min(window.pings) >= ENOUGH && now.short.echoes == 0 {
        return Answer::Nothing;
    }
    let heard_out = Window {
        pings: window.pings.saturating_sub(silenced),
        ..window
    };
    let is_open = standing.is_none_or(|standing| standing.verdict == Verdict::KeepMeasuring);
    let meets = |window: Window| window.rate().is_some_and(|rate| rate >= goal.delivery);
    if silenced > 0 && is_open && !meets(window) && meets(heard_out) {
        return Answer::Silenced;
    }
    let by_level = match margin.map(|margin| Likely::of(margin, goal.margin_db)) {
        Some(Likely::Enough) if meets(window) => Some(Answer::Likely),
        Some(Likely::TooLittle) => Some(Answer::LittleToSpare),
        _ => None,
    };
    match counted {
        Counted::Point(Some(standing)) => at_point(standing, margin, by_level, goal),
        Counted::Point(None) => Answer::StandOn,
        Counted::Walking => walking(now, by_level, goal),
    }
}

fn at_point(standing: &Standing, margin: Option<&Margin>, by_level: Option<Answer>, goal: &Goal) -> Answer {
    match standing.verdict {
        Verdict::Meets => Answer::delivers(margin, goal.margin_db),
        Verdict::Fails => Answer::Cannot,
        Verdict::KeepMeasuring if standing.taken_back.is_some() => Answer::Changed,
        Verdict::KeepMeasuring if standing.delivery.exchanges < ENOUGH => Answer::TooFew,
        // A count that speaks against a node comes before what the level makes likely.
        Verdict::KeepMeasuring if standing.delivery.interval.high < goal.delivery => Answer::LikelyNot,
        Verdict::KeepMeasuring => by_level.unwrap_or(match standing.more() {
            Some(_) => Answer::StandOn,
            None => Answer::TooClose,
        }),
    }
}

/// The last hundred are looked at all the time, and are of no one place: they make likely, and prove nothing.
fn walking(now: &Now, by_level: Option<Answer>, goal: &Goal) -> Answer {
    let (Some(rate), Some(sure), Some(last)) = (now.long.rate(), now.long_sure, now.short.rate()) else {
        return Answer::TooFew;
    };
    if now.long.pings < ENOUGH {
        Answer::TooFew
    } else if rate < goal.delivery && last >= 1.0 {
        Answer::Better
    } else if sure.high < goal.delivery {
        Answer::LikelyNot
    } else if now.short_sure.is_some_and(|last| last.high < goal.delivery) {
        Answer::Worse
    } else {
        by_level.unwrap_or(Answer::Walking)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::delivery::Stops;
    use crate::findings::now::of_samples;
    use crate::stats::burst::BurstMemory;
    use crate::stats::proportions::Interval;
    use crate::survey::exchange::Heard;
    use crate::survey::sample::{Activity, Sample, Samples};
    use crate::units::{Elapsed, UtcMs};

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

    fn moment(echoes: u64, short_high: f64, long_high: f64) -> Now {
        let up_to = |high| Some(Interval { low: 0.0, high });
        let window = Window { pings: 100, echoes };
        Now {
            exchanges: 100,
            short: Window { pings: 20, echoes: 19 },
            long: window,
            run: window,
            short_sure: up_to(short_high),
            long_sure: up_to(long_high),
            ..of_samples(&Samples::default(), &BurstMemory::default(), 0.95)
        }
    }

    #[test]
    fn the_headline_rests_on_one_of_the_two_statements() {
        let walking = |echoes, margin: Option<Margin>| {
            answer(
                &moment(echoes, 1.0, 1.0),
                Counted::Walking,
                margin.as_ref(),
                0,
                &[],
                &Goal::default(),
            )
        };
        assert_eq!(Goal::default().margin_db, 10.0);
        assert_eq!(
            walking(100, None),
            Answer::Walking,
            "a good count of last messages makes nothing likely"
        );
        assert_eq!(walking(100, Some(between(14.0, -1.0, 19.0))), Answer::Walking);
        assert_eq!(walking(100, Some(between(6.0, -1.0, 9.0))), Answer::LittleToSpare);
        assert_eq!(walking(100, Some(between(14.0, 11.0, 17.0))), Answer::Likely);
        assert_eq!(
            walking(60, Some(between(14.0, 11.0, 17.0))),
            Answer::Walking,
            "strong, and yet losing"
        );
        let lost = |short_high, long_high| {
            answer(
                &moment(28, short_high, long_high),
                Counted::Walking,
                None,
                0,
                &[],
                &Goal::default(),
            )
        };
        assert_eq!((lost(1.0, 0.9), lost(0.9, 0.96)), (Answer::LikelyNot, Answer::Worse));
    }

    #[test]
    fn what_was_walked_through_says_nothing_of_a_point() {
        let walked = Now {
            run: Window::default(),
            ..moment(28, 0.5, 0.5)
        };
        let said = |now: &Now, counted| answer(now, counted, None, 0, &[], &Goal::default());
        assert_eq!(said(&walked, Counted::Walking), Answer::LikelyNot);
        assert_eq!(said(&walked, Counted::Point(None)), Answer::StandOn);
        let lost = Now {
            short: Window { pings: 20, echoes: 0 },
            ..walked
        };
        assert_eq!(said(&lost, Counted::Walking), Answer::Nothing);
        assert_eq!(said(&lost, Counted::Point(None)), Answer::StandOn);
    }

    #[test]
    fn at_a_point_only_the_count_is_firm() {
        let after = |delivered: usize, lost: usize| {
            let mut stop = Stops::new(&Goal::default()).begin();
            let row = |delivered: bool| Sample {
                utc: UtcMs(0),
                at: Elapsed(0),
                boot: 0,
                run: 1,
                n: 0,
                echo: delivered.then(Heard::default),
                channel: None,
                place: None,
                activity: Activity::Point(0),
                excluded: None,
            };
            // The losses spread evenly.
            for index in 0..delivered + lost {
                stop.push(&row(
                    (index + 1) * lost / (delivered + lost) == index * lost / (delivered + lost)
                ));
            }
            stop.standing().unwrap()
        };
        let said = |standing: &Standing, margin: Option<Margin>| {
            let echoes = standing.delivery.delivered;
            let now = Now {
                run: Window {
                    pings: standing.delivery.exchanges,
                    echoes,
                },
                ..moment(echoes, 1.0, 1.0)
            };
            answer(
                &now,
                Counted::Point(Some(standing)),
                margin.as_ref(),
                0,
                &[],
                &Goal::default(),
            )
        };
        let (enough, little) = (Some(between(14.0, 11.0, 17.0)), Some(between(3.0, -3.0, 9.0)));
        let two = after(2, 0);
        assert_eq!((said(&two, None), said(&two, enough)), (Answer::TooFew, Answer::TooFew));
        let clean = after(100, 0);
        assert_eq!(
            (said(&clean, None), said(&clean, enough)),
            (Answer::StandOn, Answer::Likely)
        );
        assert_eq!(said(&clean, little), Answer::LittleToSpare);
        assert_eq!(said(&after(28, 0), Some(between(14.0, 0.0, 28.0))), Answer::StandOn);
        assert_eq!(said(&after(285, 15), None), Answer::TooClose);
        let sure = after(2000, 0);
        assert_eq!(
            (said(&sure, None), said(&sure, enough)),
            (Answer::CanUnknown, Answer::Can)
        );
        assert_eq!(said(&sure, little), Answer::CanWithLittle);
        assert_eq!(said(&sure, Some(between(14.0, 9.0, 19.0))), Answer::CanOpen);
        assert_eq!(said(&after(50, 50), enough), Answer::Cannot);
        // All of the interval of this one look lies below the goal, and no verdict is reached yet.
        let against = after(88, 12);
        assert_eq!(against.verdict, Verdict::KeepMeasuring);
        assert!(against.delivery.interval.high < Goal::default().delivery);
        assert_eq!(
            (said(&against, None), said(&against, enough), said(&against, little)),
            (Answer::LikelyNot, Answer::LikelyNot, Answer::LikelyNot)
        );
        assert_eq!(
            Answer::CanUnknown.of_a_point(),
            "delivers as asked; what it has to spare is not known"
        );
    }
}
