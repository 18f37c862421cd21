//! The two statements about a stop, each under its own name and never mixed: what the count proves, and what the level makes
//! likely.
//!
//! ```text
//!  By count: 82 % proven here, however long you look; about 550 more (55 s) to show 95 %.
//!  By level: likely enough to spare.
//! ```
//!
//! A count speaks of the board as it was held there: half a step aside another fade stands. The level and the map speak of the
//! place around. A margin never proves anything: what it says is likely, at most.

use super::number::{percent, percents, signed};
use super::theme::Tone;
pub use crate::findings::answer::Likely;
use crate::findings::count_words::{self, Missing};
use crate::findings::delivery::Standing;
use crate::findings::stop::{ASKED_PATH_M, Surer};
use crate::findings::words;
use crate::stats::margin::Margin;
use crate::stats::verdict::Verdict;

/// A way shorter than this, metres, is no more than swaying and shows no progress.
const BEGUN_M: f64 = 0.5;

/// What the messages of a stop that goes on prove; `pings_a_second` turns what is still missing into a time.
pub fn by_count(standing: &Standing, pings_a_second: Option<f64>) -> String {
    said(standing, Missing::Live(pings_a_second))
}

/// The same where there is little room and no interval beside it.
pub fn by_count_briefly(standing: &Standing) -> String {
    said(standing, Missing::Briefly)
}

/// What the messages of a run that is over prove: a verdict takes a longer run, from its beginning.
pub fn by_count_of_a_run(standing: &Standing) -> String {
    said(standing, Missing::Over)
}

/// What the messages proved as far as they are played: nobody stands there any more.
pub fn by_count_played(standing: &Standing) -> String {
    said(standing, Missing::Figures)
}

fn said(standing: &Standing, missing: Missing) -> String {
    format!("By count: {}.", count_words::by_count(standing, missing))
}

impl Likely {
    /// The same after a figure.
    pub const fn short(self) -> &'static str {
        match self {
            Self::Enough => "likely enough",
            Self::TooLittle => "likely too little",
            Self::Open => "still open",
        }
    }

    /// The statement, without its full stop.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Enough => "By level: likely enough to spare",
            Self::TooLittle => "By level: likely too little to spare",
            Self::Open => "By level: still open whether there is enough to spare",
        }
    }
}

/// The sign of what a count proves, wherever that is listed. A disc, half disc or ring says how a share compares with the goal so
/// far, and proves nothing.
pub const fn sign(verdict: Verdict) -> (&'static str, Tone) {
    match verdict {
        Verdict::Meets => ("✓", Tone::Good),
        Verdict::Fails => ("✗", Tone::Bad),
        Verdict::KeepMeasuring => ("?", Tone::Close),
    }
}

/// What would make the level surer, as something to do; `path_m` is the way moved at this stop so far, metres.
pub fn surer(how: Surer, path_m: Option<f64>) -> String {
    match (how, path_m) {
        (Surer::SpeedUnknown, _) => {
            "One fading sample: without a GPS speed it cannot be seen whether the board moves.".to_owned()
        }
        (Surer::Move { .. }, Some(path)) if path >= BEGUN_M => {
            format!("Moved {path:.0} of {ASKED_PATH_M:.0} m: go on, slowly.")
        }
        (Surer::Move { .. }, _) => "Move slowly through five metres: standing still is one fading sample.".to_owned(),
    }
}

/// What left the level open, as far as it is played; `path_m` is the way moved at this stop so far, metres.
pub fn surer_played(how: Surer, path_m: Option<f64>) -> String {
    match (how, path_m) {
        (Surer::SpeedUnknown, _) => {
            "One fading sample: without a GPS speed it cannot be seen whether the board moved.".to_owned()
        }
        (Surer::Move { .. }, Some(path)) if path >= BEGUN_M => {
            format!("It moved {path:.0} m; {ASKED_PATH_M:.0} m would have told more.")
        }
        (Surer::Move { .. }, _) => "The board stood still: one fading sample.".to_owned(),
    }
}

/// A margin short enough for a cell; a dash where it is not known.
pub fn short(margin: Option<&Margin>) -> String {
    margin.map_or_else(|| super::number::UNKNOWN.to_owned(), words::margin_ends)
}

/// A figure with half of its interval, which lies evenly about it, rounded up.
pub fn about(estimate: f64, low: f64, high: f64) -> String {
    let half = (estimate - low).max(high - estimate).max(0.0);
    format!("{} ±{:.0}", signed(estimate), (half - 1e-9).ceil().max(0.0))
}

/// How many were delivered, with the interval bursts are allowed for in.
pub fn delivered(standing: &Standing) -> String {
    let rate = standing
        .delivery
        .rate
        .map_or_else(|| super::number::UNKNOWN.to_owned(), percent);
    format!("{rate} % delivered ({})", percents(standing.delivery.interval))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moving_shows_how_far_one_has_come() {
        let how = Surer::Move {
            width_db: 18.0,
            moved_width_db: 4.0,
        };
        assert_eq!(surer(how, Some(2.2)), "Moved 2 of 5 m: go on, slowly.");
        assert!(surer(how, Some(0.1)).starts_with("Move slowly"));
        assert!(surer(Surer::SpeedUnknown, None).contains("without a GPS speed"));
        assert_eq!(
            surer_played(how, Some(0.1)),
            "The board stood still: one fading sample."
        );
        assert!(surer_played(how, Some(2.2)).starts_with("It moved 2 m;"));
    }

    #[test]
    fn a_cell_never_claims_more_than_its_interval() {
        assert_eq!(about(14.2, 9.9, 19.1), "+14 ±5");
        assert_eq!(about(-3.4, -6.0, 0.5), "−3 ±4");
        assert_eq!(short(None), "–");
    }
}
