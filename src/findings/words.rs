//! Findings in words: one wording for every screen and page, so that the same number is said the same way everywhere.
//!
//! Ranges of rates and distances stand with an en dash, ranges of levels with "to" (their signs would run into the dash);
//! limits are rounded away from the estimate, so that no printed interval is narrower than the one computed.

use crate::stats::boards::{Effect, NoComparison};
use crate::stats::burst::DeliveryNote;
use crate::stats::level::{LevelNote, MeanPower};
use crate::stats::losses::{Reason, Way};
use crate::stats::margin::Margin;
use crate::stats::proportions::Interval;
use crate::stats::sweep::closure::{Closure, ClosureMeaning};
use crate::stats::sweep::printed::{Arc, Estimate, Printed};
use crate::stats::walk::describe::{NoRange, RangeWording};
use crate::stats::walk::fit::{FitWarning, NoSlope};
use crate::units::Metres;

/// A number with so many decimals, a true minus sign, and no negative zero; a dash where it is not finite.
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let plain = format!("{:.decimals$}", value.abs());
    let zero = plain.chars().all(|digit| digit == '0' || digit == '.');
    if value < 0.0 && !zero { format!("−{plain}") } else { plain }
}

/// A whole number with commas between thousands.
pub fn count(value: u64) -> String {
    let digits = value.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// A distance, in metres to ten kilometres, then in kilometres.
pub fn metres(distance: Metres) -> String {
    if distance.0.abs() >= 10_000.0 {
        format!("{} km", number(distance.0 / 1000.0, 1))
    } else {
        format!("{} m", number(distance.0, 0))
    }
}

/// A share, 0 to 1, in per cent: whole, but never 100 or 0 where it is not.
pub fn percent(share: f64) -> String {
    let whole = (share * 100.0).round();
    if (share < 1.0 && whole >= 100.0) || (share > 0.0 && whole <= 0.0) {
        let finer = if share < 0.5 {
            (share * 1000.0).ceil() / 10.0
        } else {
            (share * 1000.0).floor() / 10.0
        };
        return format!("{} %", number(finer, 1));
    }
    format!("{} %", number(whole, 0))
}

/// Limits of a share, each rounded outward to whole per cent.
pub fn percent_interval(interval: Interval) -> String {
    // Limits that are whole but for the last bits of a product stay whole.
    let low = (interval.low * 100.0 + 1e-9).floor().max(0.0);
    let high = (interval.high * 100.0 - 1e-9).ceil().min(100.0);
    format!("{}–{} %", number(low, 0), number(high, 0))
}

/// Limits in decibels or dBm, rounded outward to whole ones.
pub fn decibel_interval(interval: Interval) -> String {
    format!("{} to {}", number(interval.low.floor(), 0), number(interval.high.ceil(), 0))
}

/// A level with its limits, such as `−71 dBm (−73 to −68)`.
pub fn mean_power(power: &MeanPower) -> String {
    match power {
        MeanPower::Between { median_dbm, interval } => {
            format!("{} dBm ({})", number(*median_dbm, 0), decibel_interval(*interval))
        }
        MeanPower::AtMost { high_dbm } => format!("at most {} dBm", number(high_dbm.ceil(), 0)),
        MeanPower::AtLeast { low_dbm } => format!("at least {} dBm", number(low_dbm.floor(), 0)),
    }
}

/// A margin as a sentence has it, such as `14 dB to spare (9 to 18)` or `3 dB short (−6 to 1)`.
pub fn margin(margin: &Margin) -> String {
    let of = |db: f64| {
        if db < -0.5 {
            format!("{} dB short", number(-db, 0))
        } else {
            format!("{} dB to spare", number(db.max(0.0), 0))
        }
    };
    match margin {
        Margin::Between { estimate_db, interval } => format!("{} ({})", of(*estimate_db), decibel_interval(*interval)),
        Margin::AtMost { high_db } if *high_db < 0.0 => format!("at least {}", of(high_db.ceil().min(-1.0))),
        Margin::AtMost { high_db } => format!("at most {}", of(high_db.ceil())),
        Margin::AtLeast { low_db } if *low_db < -0.5 => format!("at most {}", of(low_db.floor())),
        Margin::AtLeast { low_db } => format!("at least {}", of(low_db.floor())),
    }
}

/// The verdict of `points.csv` in words.
pub fn verdict(word: &str) -> &'static str {
    match word {
        "meets" => "meets the goal",
        "misses" => "misses the goal",
        _ => "not sure yet",
    }
}

/// What may be said of a range.
pub fn range(wording: &RangeWording) -> String {
    let m = |value: f64| metres(Metres(value));
    match wording {
        RangeWording::AtLeast { metres } => {
            format!("at least {}; the walk did not go far enough to see where it ends", m(metres.floor()))
        }
        RangeWording::About { metres, low, high } => {
            let best = metres.map_or_else(|| "beyond 100 km".to_owned(), |best| format!("about {}", m(best)));
            let upper = high.map_or_else(|| "upper end open".to_owned(), |high| format!("to {}", m(high.ceil())));
            format!("{best} (from {} {upper}): beyond the walk, so extrapolated and no promise", m(low.floor()))
        }
        RangeWording::Interval {
            low,
            metres,
            high: Some(high),
        } => format!("{} ({}–{})", m(*metres), number(low.floor(), 0), m(high.ceil())),
        RangeWording::Interval { low, metres, high: None } => {
            format!("{} (at least {}, upper end open)", m(*metres), m(low.floor()))
        }
        RangeWording::Below { metres } => format!("less than {}: nearer than the walk began", m(metres.ceil())),
        RangeWording::Unreachable { interference } => format!(
            "at no distance: interference alone takes {} of the exchanges",
            percent(*interference)
        ),
        RangeWording::NotMeasured(NoRange::NoSuchDelivery) => "not measured: no level gives such a delivery".to_owned(),
        RangeWording::NotMeasured(NoRange::Vague) => "not measured: the interval spans everything".to_owned(),
    }
}

/// Why no exponent is given.
pub fn no_slope(why: &NoSlope) -> String {
    match why {
        NoSlope::FewCells(cells) => format!("only {cells} stretches of ground were walked; 8 are needed"),
        NoSlope::ShortSpan(ratio) => format!(
            "the farthest ground walked is only {} times as far as the nearest; twice is needed",
            number(*ratio, 1)
        ),
        NoSlope::Vague(sd) => format!("it is known only to ±{} (one standard deviation)", number(*sd, 1)),
    }
}

/// What a reader of a fitted walk should know.
pub fn fit_warning(warning: &FitWarning) -> String {
    match warning {
        FitWarning::NoSlope(why) => format!("No exponent is given: {}.", no_slope(why)),
        FitWarning::SensitivityNotReached => "The walk never saw the weakest level this board can use: ranges are only \
            \"at least\". Walk on until about a third is lost."
            .to_owned(),
        FitWarning::Bend { at_m, .. } => format!(
            "The level seems to fall differently beyond about {}: ranges for a high delivery are then mostly too short.",
            metres(Metres(*at_m))
        ),
        FitWarning::Interference(share) => format!(
            "Interference, or a busy station, takes {} of all exchanges whatever their level.",
            percent(*share)
        ),
        FitWarning::MostlyRevisited(share) => format!(
            "{} of the ground was walked again: the slope rests on fewer independent places than it seems.",
            percent(*share)
        ),
    }
}

/// Why boards cannot be compared.
pub const fn no_comparison(why: NoComparison) -> &'static str {
    match why {
        NoComparison::ReferenceMissing => "the reference board was not measured at a point",
        NoComparison::NothingToCompare => "only the reference board was measured at points",
        NoComparison::BadInput => "the runs cannot be compared: no level was read in some of them",
    }
}

/// What a board gives over the reference, with the interval that holds together with those of all others.
pub fn effect(effect: &Effect) -> String {
    let signed = |db: f64| {
        let text = number(db, 1);
        if db >= 0.05 { format!("+{text}") } else { text }
    };
    match effect {
        Effect::Measured {
            estimate_db,
            simultaneous,
            ..
        } => format!(
            "{} dB ({} to {})",
            signed(*estimate_db),
            signed((simultaneous.low * 10.0).floor() / 10.0),
            signed((simultaneous.high * 10.0).ceil() / 10.0)
        ),
        Effect::OpenEnded {
            low_db: Some(low),
            high_db: Some(high),
        } => format!("between {} and {} dB", signed(*low), signed(*high)),
        Effect::OpenEnded { low_db: Some(low), .. } => format!("at least {} dB", signed(*low)),
        Effect::OpenEnded { high_db: Some(high), .. } => format!("at most {} dB", signed(*high)),
        Effect::OpenEnded { .. } => "nothing can be said: no common measure".to_owned(),
    }
}

/// Why messages were lost, one reason.
pub fn reason(reason: &Reason) -> String {
    let few = |lost: f64| count(lost.round().max(0.0) as u64);
    match reason {
        Reason::GapInStream { unread } => format!("{} were not read at all: unknown, not lost", count(*unread)),
        Reason::StationSilent { lost } => format!("{} were lost while the station was silent", count(*lost)),
        Reason::TooWeak { lost, .. } => format!("about {} were lost because the level is too low", few(*lost)),
        Reason::Interference { lost, strong: true, .. } => format!(
            "about {} were lost at a level strong enough: interference or a busy station, not range",
            few(*lost)
        ),
        Reason::Interference { lost, .. } => {
            format!("about {} more were lost than the level explains: interference or a busy station", few(*lost))
        }
        Reason::OneWay { worse, out, back } => format!(
            "{} loses more: {} of pings reached the station, {} of answers came back",
            match worse {
                Way::Out => "the way to the station",
                Way::Back => "the way back",
            },
            percent_interval(*out),
            percent_interval(*back)
        ),
        Reason::NotKnown { lost } => format!("{} have no reason that could be told", few(*lost)),
    }
}

/// What qualifies a delivery interval.
pub const fn delivery_note(note: DeliveryNote) -> &'static str {
    match note {
        DeliveryNote::NothingSent => "nothing was sent",
        DeliveryNote::VeryFew => "fewer than five messages",
        DeliveryNote::BurstsAssumed => "how losses bunch together is assumed, not measured",
        DeliveryNote::BurstsBeyondScope => "losses come in very long bursts: the interval is likely too narrow",
    }
}

/// What qualifies a level.
pub const fn level_note(note: LevelNote) -> &'static str {
    match note {
        LevelNote::OneFade => "the board stood still: all its exchanges saw one fade",
        LevelNote::PathUnknown => "how far the board moved is not known: if it stood still the interval is far too narrow",
        LevelNote::NothingReceived => "nothing was received",
        LevelNote::NoReadings => "what arrived carried no level",
    }
}

/// A turn with its interval, such as `112° (±14°)`, or why none is said.
pub fn turn(said: &Printed<Arc>) -> String {
    match said {
        Printed::Value(arc) => format!(
            "{}° (±{}°)",
            number(arc.centre_deg.rem_euclid(360.0), 0),
            number(arc.half_width_deg.ceil(), 0)
        ),
        Printed::AtLeast { why, .. } | Printed::AtMost { why, .. } | Printed::NotPrinted(why) => format!("not said: {why}"),
    }
}

/// A figure of a sweep with its interval and unit, or why none is said. `unit` follows the number: `°` or ` dB`.
pub fn figure(said: &Printed<Estimate>, unit: &str, scale: f64) -> String {
    let of = |value: f64| number(value * scale, 0);
    let (down, up) = (
        |v: f64| number((v * scale + 1e-9).floor(), 0),
        |v: f64| number((v * scale - 1e-9).ceil(), 0),
    );
    match said {
        Printed::Value(Estimate {
            value,
            low,
            high: Some(high),
        }) => format!("{}{unit} ({} to {})", of(*value), down(*low), up(*high)),
        Printed::Value(Estimate { value, low, high: None }) => {
            format!("{}{unit} (at least {}, upper end open)", of(*value), down(*low))
        }
        Printed::AtLeast { low, why } => format!("at least {}{unit}: {why}", down(*low)),
        Printed::AtMost { high, why } => format!("at most {}{unit}: {why}", up(*high)),
        Printed::NotPrinted(why) => format!("not said: {why}"),
    }
}

/// What the repeated first turn says of a sweep.
pub fn closure(closure: &Closure) -> String {
    let (low, high) = closure.interval_db();
    let by = format!(
        "{} dB ({} to {}) at {}°",
        number(closure.difference_db, 1),
        number(low, 1),
        number(high, 1),
        number(closure.turn_deg, 0)
    );
    match closure.meaning() {
        ClosureMeaning::Closes => format!("the first turn measured again differs by {by}: it closes within its interval"),
        ClosureMeaning::Stronger => {
            format!("the link became stronger during the sweep, by {by}: turns measured late look too strong")
        }
        ClosureMeaning::Weaker => {
            format!("the link became weaker during the sweep, by {by}: turns measured late look too weak")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::sweep::printed::WhyNot;

    #[test]
    fn numbers_have_true_signs_and_no_negative_zero() {
        assert_eq!(number(-71.4, 0), "−71");
        assert_eq!(number(-0.3, 0), "0");
        assert_eq!(number(f64::NAN, 1), "–");
        assert_eq!(count(1_234_567), "1,234,567");
        assert_eq!(count(12), "12");
    }

    #[test]
    fn nearly_all_is_not_all() {
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.999), "99.9 %");
        assert_eq!(percent(0.99951), "99.9 %");
        assert_eq!(percent(0.0004), "0.1 %");
        assert_eq!(percent(0.0), "0 %");
    }

    #[test]
    fn limits_are_rounded_away_from_the_estimate() {
        assert_eq!(
            percent_interval(Interval {
                low: 0.937,
                high: 0.981
            }),
            "93–99 %"
        );
        assert_eq!(percent_interval(Interval { low: 0.29, high: 0.57 }), "29–57 %");
        assert_eq!(
            decibel_interval(Interval {
                low: -73.1,
                high: -68.9
            }),
            "−74 to −68"
        );
    }

    #[test]
    fn a_margin_below_zero_is_short() {
        let between = |estimate_db: f64| Margin::Between {
            estimate_db,
            interval: Interval {
                low: estimate_db - 3.0,
                high: estimate_db + 4.0,
            },
        };
        assert_eq!(margin(&between(14.0)), "14 dB to spare (11 to 18)");
        assert_eq!(margin(&between(-3.0)), "3 dB short (−6 to 1)");
        assert_eq!(margin(&Margin::AtMost { high_db: -4.2 }), "at least 4 dB short");
        assert_eq!(margin(&Margin::AtLeast { low_db: -4.2 }), "at most 5 dB short");
    }

    #[test]
    fn what_is_not_said_says_why() {
        assert_eq!(
            turn(&Printed::NotPrinted(WhyNot::NeverFalls)),
            "not said: the pattern does not fall 3 dB on both sides"
        );
        let share = Printed::Value(Estimate {
            value: 0.4,
            low: 0.29,
            high: Some(0.57),
        });
        assert_eq!(figure(&share, " %", 100.0), "40 % (29 to 57)");
    }
}
