//! The two statements about a stop, each under its own name and never mixed: what the count proves, and what the level makes
//! likely.
//!
//! ```text
//!  By count: proves 82 % so far; about 550 more (55 s) for a sure yes to 95 %.
//!  By level: likely enough to spare.
//! ```

use super::number::{goal, percent, percents, signed, span};
use crate::findings::delivery::Standing;
use crate::findings::stop::{ASKED_PATH_M, Surer};
use crate::stats::margin::Margin;
use crate::stats::verdict::{Forecast, Verdict};

/// A verdict further off than this many messages is not worth waiting for.
const FAR_OFF: u64 = 3000;
/// A way shorter than this, metres, is no more than swaying and shows no progress.
const BEGUN_M: f64 = 0.5;

/// What the messages of a stop that goes on prove; `pings_a_second` turns what is still missing into a time.
pub fn by_count(standing: &Standing, wanted: f64, pings_a_second: Option<f64>) -> String {
    let missing = |more: u64| {
        let time = pings_a_second.map_or_else(String::new, |rate| format!(" ({})", span(more as f64 / rate)));
        format!("about {} more{time}", two_figures(more))
    };
    said(standing, wanted, missing)
}

/// What the messages of a run that is over prove: a verdict takes a longer run, from its beginning.
pub fn by_count_of_a_run(standing: &Standing, wanted: f64) -> String {
    let sent = standing.delivery.exchanges;
    said(standing, wanted, |more| {
        format!("about {} in one run", two_figures(sent.saturating_add(more)))
    })
}

fn said(standing: &Standing, wanted: f64, missing: impl FnOnce(u64) -> String) -> String {
    let wanted = goal(wanted);
    match standing.verdict {
        Verdict::Meets => return format!("By count: sure, it meets {wanted}."),
        Verdict::Fails => return format!("By count: sure, it does not meet {wanted}."),
        Verdict::KeepMeasuring => {}
    }
    let proven = match standing.judgement.proven {
        // Rounded down, for it is what is surely met.
        Some(proven) if proven >= 0.01 => format!("proves {:.0} % so far", (proven * 100.0).floor()),
        _ => "proves nothing yet".to_owned(),
    };
    let rest = match standing.judgement.forecast {
        Forecast::About { more, .. } if more > FAR_OFF => format!("too close to {wanted} to tell soon"),
        Forecast::About { more, verdict } => {
            let word = if verdict == Verdict::Fails { "no" } else { "yes" };
            format!("{} for a sure {word} to {wanted}", missing(more))
        }
        Forecast::OutOfSight => format!("too close to {wanted} to tell"),
        Forecast::Decided => "the last messages spoke against the first".to_owned(),
        Forecast::Unknown => return "By count: nothing was sent yet.".to_owned(),
    };
    format!("By count: {proven}; {rest}.")
}

/// What a margin makes likely; `None` without one.
pub fn by_level(margin: Option<&Margin>, wanted_db: f64) -> Option<String> {
    let (low, high) = match margin? {
        Margin::Between { interval, .. } => (interval.low, interval.high),
        Margin::AtLeast { low_db } => (*low_db, f64::INFINITY),
        Margin::AtMost { high_db } => (f64::NEG_INFINITY, *high_db),
    };
    let words = if low >= wanted_db {
        "likely enough to spare"
    } else if high < wanted_db {
        "likely too little to spare"
    } else {
        "open whether there is enough to spare"
    };
    Some(format!("By level: {words}."))
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
        (Surer::Move { .. }, _) => {
            "Standing still is one fading sample: move the board slowly through five metres.".to_owned()
        }
    }
}

/// A margin short enough for a cell: `+14 ±5`, the wider half of its interval rounded up; a dash where it is not known.
pub fn short(margin: Option<&Margin>) -> String {
    match margin {
        None => super::number::UNKNOWN.to_owned(),
        Some(Margin::Between { estimate_db, interval }) => about(*estimate_db, interval.low, interval.high),
        Some(Margin::AtLeast { low_db }) => format!("≥ {}", signed(low_db.floor())),
        Some(Margin::AtMost { high_db }) => format!("≤ {}", signed(high_db.ceil())),
    }
}

/// A figure with the wider half of its interval, rounded up.
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

/// A forecast is no more exact than its first two figures.
fn two_figures(number: u64) -> u64 {
    let mut unit = 1;
    while number / unit >= 100 {
        unit *= 10;
    }
    number.div_ceil(unit) * unit
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::proportions::Interval;

    #[test]
    fn the_level_only_makes_likely() {
        let between = |low, high| Margin::Between {
            estimate_db: f64::midpoint(low, high),
            interval: Interval { low, high },
        };
        let said = |margin| by_level(Some(&margin), 10.0).unwrap();
        assert_eq!(said(between(11.0, 17.0)), "By level: likely enough to spare.");
        assert_eq!(said(between(-3.0, 9.0)), "By level: likely too little to spare.");
        assert_eq!(
            said(between(-4.0, 32.0)),
            "By level: open whether there is enough to spare."
        );
        assert_eq!(
            said(Margin::AtMost { high_db: 4.0 }),
            "By level: likely too little to spare."
        );
        assert_eq!(
            said(Margin::AtLeast { low_db: 4.0 }),
            "By level: open whether there is enough to spare."
        );
        assert_eq!(by_level(None, 10.0), None);
    }

    #[test]
    fn a_cell_never_claims_more_than_its_interval() {
        assert_eq!(about(14.2, 9.9, 19.1), "+14 ±5");
        assert_eq!(about(-3.4, -6.0, 0.5), "−3 ±4");
        assert_eq!(short(None), "–");
        assert_eq!(short(Some(&Margin::AtLeast { low_db: 9.7 })), "≥ +9");
        assert_eq!(short(Some(&Margin::AtMost { high_db: -3.2 })), "≤ −3");
    }

    #[test]
    fn forecasts_are_no_more_exact_than_two_figures() {
        assert_eq!(two_figures(647), 650);
        assert_eq!(two_figures(99), 99);
        assert_eq!(two_figures(1001), 1100);
    }
}
