//! The words for figures: one wording for screen, table and write-up. Numbers carry their unit and their interval.

pub use super::amounts::{count, so_many};
pub use super::loss_words::{loss, loss_afterwards, reason_alone, reasons, remedy};
use super::no_link;
use super::places::NoPlaces;
use super::stop::Surer;
use crate::ground::compass;
use crate::stats::boards::NoComparison;
use crate::stats::burst::DeliveryNote;
use crate::stats::level::{Level, LevelNote, MeanPower};
use crate::stats::margin::Margin;
use crate::stats::places::{Caveat, Leg};
use crate::stats::proportions::Interval;
use crate::stats::sweep::{Estimate, Printed};
use crate::units::Degrees;

/// A share as a percentage: whole, but with one decimal from 99 to 100 % and from 0 to 1 %, where it matters.
pub fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if (percent > 99.0 && percent < 100.0) || (percent > 0.0 && percent < 1.0) {
        // Rounding must not turn "nearly all" into "all".
        let tenths = (percent * 10.0).floor() / 10.0;
        return format!("{tenths:.1} %");
    }
    format!("{percent:.0} %")
}

/// An interval of shares, such as `93–99.8 %`, rounded outwards: whole, but with one decimal above 99 and below 1 %.
pub fn percents(interval: Interval) -> String {
    let decimals = |share: f64| i32::from((share > 0.99 && share < 1.0) || (share > 0.0 && share < 0.01));
    let written = |percent: f64| {
        let text = format!("{percent:.1}");
        text.strip_suffix(".0").map_or_else(|| text.clone(), str::to_owned)
    };
    let low = down(interval.low * 100.0, decimals(interval.low)).max(0.0);
    let high = up(interval.high * 100.0, decimals(interval.high)).min(100.0);
    format!("{}–{} %", written(low), written(high))
}

/// A goal in per cent, with as many decimals as it needs, two at most.
pub fn goal(rate: f64) -> String {
    let text = format!("{:.2}", rate * 100.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} %")
}

/// A length of time in words short enough to read walking.
pub fn span(seconds: f64) -> String {
    let seconds = seconds.max(0.0);
    if seconds < 119.5 {
        format!("{seconds:.0} s")
    } else if seconds < 7170.0 {
        format!("{:.0} min", (seconds / 60.0).round())
    } else {
        format!("{:.0} h", (seconds / 3600.0).round())
    }
}

/// A difference with its sign, such as `+14 dB`; a true minus sign, and no sign on zero.
pub fn decibels(db: f64) -> String {
    let rounded = db.round();
    if rounded == 0.0 {
        "0 dB".to_owned()
    } else {
        format!("{} dB", signed(rounded, 0))
    }
}

/// A number with its sign and a true minus; what rounds to zero has none.
pub fn signed(number: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", number.abs());
    if !text.chars().any(|digit| ('1'..='9').contains(&digit)) {
        return text;
    }
    let sign = if number < 0.0 { "−" } else { "+" };
    format!("{sign}{text}")
}

/// A level, such as `−71 dBm`.
pub fn dbm(level: f64) -> String {
    format!("{} dBm", minus(level, 0))
}

/// A number with a true minus where it is negative.
pub fn minus(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    match text.strip_prefix('-') {
        Some(bare) if bare.chars().any(|c| c.is_ascii_digit() && c != '0') => format!("−{bare}"),
        Some(bare) => bare.to_owned(),
        None => text,
    }
}

/// A number rounded down to so many decimals, as what something is at least: rounded up it would claim more than is known.
pub fn down(number: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    (number * scale + 1e-9).floor() / scale
}

/// A number rounded up to so many decimals, as what something is at most.
pub fn up(number: f64, decimals: i32) -> f64 {
    -down(-number, decimals)
}

/// An interval of differences rounded outwards, such as `−1 to +7`: zero inside it stays inside.
pub fn outwards(interval: Interval, decimals: i32) -> String {
    let places = usize::try_from(decimals).unwrap_or(0);
    format!(
        "{} to {}",
        signed(down(interval.low, decimals), places),
        signed(up(interval.high, decimals), places)
    )
}

/// Metres: whole from 10 m on.
pub fn metres(metres: f64) -> String {
    if metres.abs() < 9.95 {
        format!("{metres:.1} m")
    } else {
        format!("{metres:.0} m")
    }
}

/// A bearing against true north with its point of the compass, such as `082° true E`.
pub fn bearing(bearing: Degrees) -> String {
    let point = compass::point(bearing).map_or_else(String::new, |point| format!(" {point}"));
    true_bearing(bearing) + &point
}

/// The same where there is no room for the point, such as `082° true`.
pub fn true_bearing(bearing: Degrees) -> String {
    bearing.normalised().map_or_else(
        || "–".to_owned(),
        |whole| format!("{:03.0}° true", whole.0.round() % 360.0),
    )
}

/// The station by its name; where it goes by no other, no more than that.
pub fn the_station(name: &str) -> String {
    if name == "station" {
        "the station".to_owned()
    } else {
        format!("the station {name}")
    }
}

/// The same, rounded down, as how far something is at least.
pub fn metres_down(far: f64) -> String {
    metres(down(far, i32::from(far.abs() < 9.95)))
}

/// Why a level has neither end.
pub const NOTHING_OF_THE_LEVEL: &str = "what arrived says nothing about the level";

/// How many independent messages a count is worth, in words.
pub fn worth(effective: f64) -> String {
    if effective < 1.0 {
        "less than one independent one".to_owned()
    } else {
        so_many(effective.round() as u64, "independent one", "independent ones")
    }
}

/// A local mean level with its interval.
pub fn level(level: &Level) -> String {
    match level.mean_power {
        MeanPower::Between { median_dbm, interval } => {
            format!(
                "{} ({} to {})",
                dbm(median_dbm),
                minus(interval.low, 0),
                minus(interval.high, 0)
            )
        }
        MeanPower::AtMost { high_dbm } => format!("at most {}", dbm(up(high_dbm, 0))),
        MeanPower::AtLeast { low_dbm } => format!("at least {}", dbm(down(low_dbm, 0))),
        MeanPower::Open => format!("— ({NOTHING_OF_THE_LEVEL})"),
    }
}

/// What qualifies a level, in words.
pub const fn level_note(note: LevelNote) -> &'static str {
    match note {
        LevelNote::OneFade => {
            "the board stood still: one fading sample; move slowly through five metres for a tighter figure"
        }
        LevelNote::PathUnknown => "how far the board moved is not known",
        LevelNote::NothingReceived => "nothing was received",
        LevelNote::NoReadings => "the answers carried no levels",
    }
}

/// What would make a level much surer, in words.
pub const fn surer(how: Surer) -> &'static str {
    match how {
        Surer::Move { .. } => "measuring again while moving slowly through five metres",
        Surer::SpeedUnknown => {
            "measuring with a GPS that has a fix and tells its speed: whether the board moved is not known, so one fading sample is taken"
        }
    }
}

/// A margin with its interval.
pub fn margin(margin: &Margin) -> String {
    match margin {
        Margin::Between { estimate_db, interval } => {
            format!("{} ({})", decibels(*estimate_db), outwards(*interval, 0))
        }
        Margin::AtMost { high_db } => format!("at most {}", decibels(up(*high_db, 0))),
        Margin::AtLeast { low_db } => format!("at least {}", decibels(down(*low_db, 0))),
    }
}

/// A margin short enough for a cell: its interval in dB, `+9…+20`, rounded outwards. Its ends lie unevenly about the best guess, so
/// that half of its width would be wrong at the low end, which decides.
pub fn margin_ends(margin: &Margin) -> String {
    match margin {
        Margin::Between { interval, .. } => {
            format!(
                "{}…{}",
                signed(down(interval.low, 0), 0),
                signed(up(interval.high, 0), 0)
            )
        }
        Margin::AtMost { high_db } => format!("≤ {}", signed(up(*high_db, 0), 0)),
        Margin::AtLeast { low_db } => format!("≥ {}", signed(down(*low_db, 0), 0)),
    }
}

/// The same words with a capital at their beginning.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters).collect()
}

/// A figure of a sweep in a unit, or why there is none.
pub fn printed(figure: &Printed<Estimate>, unit: &str, decimals: usize) -> String {
    let to = i32::try_from(decimals).unwrap_or(0);
    match figure {
        Printed::Value(estimate) => {
            let high = estimate.high.map_or("more".to_owned(), |high| minus(high, decimals));
            format!(
                "{} {unit} ({} to {high})",
                minus(estimate.value, decimals),
                minus(estimate.low, decimals)
            )
        }
        Printed::AtLeast { low, why } => format!("at least {} {unit} ({why})", minus(down(*low, to), decimals)),
        Printed::AtMost { high, why } => format!("at most {} {unit} ({why})", minus(up(*high, to), decimals)),
        Printed::NotPrinted(why) => format!("— ({why})"),
    }
}

/// Why boards are not compared.
pub const fn no_comparison(why: NoComparison) -> &'static str {
    match why {
        NoComparison::ReferenceMissing => "the reference board was not measured at a point",
        NoComparison::NothingToCompare => "only one board was measured at points",
        NoComparison::ReferenceUnread => {
            "the reference's lines do not tell how the station heard it (no there=), the one meter all boards share"
        }
        NoComparison::NoneRead => {
            "only the reference's lines tell how the station heard it (there=), the one meter all boards share"
        }
        NoComparison::BadInput => "the goal's confidence is none",
    }
}

/// Why there is no map of places.
pub fn no_places(why: &NoPlaces) -> String {
    match why {
        NoPlaces::NoStation => "the station's position is not known: put it into survey.toml and rebuild".to_owned(),
        NoPlaces::StationFar(away) => no_link::station_far(*away),
        NoPlaces::FewExchanges { exchanges, needed } => format!(
            "only {} with a position, {needed} are needed before anything is said of a place",
            so_many(*exchanges as u64, "exchange", "exchanges")
        ),
        NoPlaces::NoLevels => "no answer carried a level".to_owned(),
        NoPlaces::Goal(why) => why.to_string(),
        NoPlaces::Empty(why) => why.to_string(),
    }
}

/// What a map must be read with; `silences`: whether losses in silences of the station were left out of it.
pub fn caveat(caveat: &Caveat, silences: bool) -> String {
    match caveat {
        Caveat::FewRecords { records, needed } => {
            let pieces = if *records == 1 {
                "piece of ground was"
            } else {
                "pieces of ground were"
            };
            format!("only {records} {pieces} walked, {needed} are needed to learn from: nearly all stays unwalked")
        }
        Caveat::NothingDelivered => {
            "nothing was delivered anywhere: only that the walked ground is dead is known".to_owned()
        }
        Caveat::LimitTaken { half_level, tested } => {
            format!(
                "{}: that the board stops at {} is taken, not seen, and every chance rests on it",
                match (*tested, silences) {
                    (true, _) => "what the board needs is not known",
                    (false, true) => "nothing was lost outside silences of the station",
                    (false, false) => "nothing was lost",
                },
                dbm(*half_level)
            )
        }
        Caveat::FadingAssumed { sd } => format!("the fading could not be told; {sd:.0} dB is taken"),
        Caveat::Unchecked { checked } => {
            format!(
                "too little ground to check the map against itself ({} left out in turn)",
                so_many(*checked as u64, "place", "places")
            )
        }
        Caveat::Widened { by, inside } => {
            format!(
                "places left out in turn fell outside too often ({} inside): all intervals are {by:.1} times wider",
                percent(*inside)
            )
        }
        Caveat::CourseUnknown { share } => {
            format!(
                "which way the walker faced is unknown for {}: the body's shade is guessed",
                percent(*share)
            )
        }
        Caveat::BodyVague { sd } => {
            format!(
                "how much your body takes is known to ± {:.0} dB only: carry the node in front, and walk back the way you came",
                2.0 * sd
            )
        }
        Caveat::CarriedBehind => {
            "facing the station was worse than turning the back: was the node carried behind the body?".to_owned()
        }
        Caveat::CoarseCells { cell } => format!("much ground: pieces of {} are used", metres(*cell)),
        Caveat::BackgroundDoubt { possible } => {
            format!(
                "so much may be lost at any level that with a chance of {} no place can meet the goal, however strong: no place \
                 is surer than {}, whatever its level has to spare",
                percent(1.0 - possible),
                percent(*possible)
            )
        }
        Caveat::BackgroundLoss { share } => {
            format!(
                "{} is lost at any level: that alone breaks the goal, no place can meet it",
                percent(*share)
            )
        }
    }
}

/// Words with a capital and a full stop.
pub fn sentence(words: &str) -> String {
    capital(words) + "."
}

/// What qualifies a delivery interval, in words.
pub const fn delivery_note(note: DeliveryNote) -> &'static str {
    match note {
        DeliveryNote::NothingSent => "nothing was sent",
        DeliveryNote::VeryFew => "fewer than five messages",
        DeliveryNote::BurstsAssumed => "how losses bunch together is assumed, not measured",
        DeliveryNote::BurstsBeyondScope => "losses come in very long bursts: the interval is likely too narrow",
    }
}

/// Where to walk next, and what it settles.
pub fn leg(leg: &Leg) -> String {
    format!(
        "{} towards {}: it would settle about {} of what is still open",
        metres(leg.length),
        bearing(Degrees(leg.bearing)),
        percent(leg.settles)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    #[test]
    fn nothing_lost_is_said_of_what_silences_left() {
        let found = |tested, silences| {
            let half_level = -95.0;
            caveat(&Caveat::LimitTaken { half_level, tested }, silences)
        };
        assert!(found(false, false).starts_with("nothing was lost: that the board stops at −95 dBm"));
        assert!(found(false, true).starts_with("nothing was lost outside silences of the station: that"));
        assert_eq!(found(true, true), found(true, false));
    }

    #[test]
    fn at_least_is_never_rounded_up_nor_at_most_down() {
        use crate::stats::sweep::WhyNot;
        let why = WhyNot::SharpNull;
        let low = Printed::AtLeast { low: 3.52, why };
        assert!(printed(&low, "dB", 0).starts_with("at least 3 dB ("));
        assert!(printed(&low, "dB", 1).starts_with("at least 3.5 dB ("));
        let high = Printed::AtMost { high: -71.62, why };
        assert!(printed(&high, "dBm", 0).starts_with("at most −71 dBm ("));
        assert_eq!(margin(&Margin::AtLeast { low_db: 9.7 }), "at least +9 dB");
        assert_eq!(margin(&Margin::AtMost { high_db: -3.2 }), "at most −3 dB");
        let skewed = Margin::Between {
            estimate_db: 17.0,
            interval: Interval { low: 11.4, high: 30.2 },
        };
        assert_eq!(
            (margin_ends(&skewed), margin(&skewed)),
            ("+11…+31".to_owned(), "+17 dB (+11 to +31)".to_owned())
        );
        assert_eq!(margin_ends(&Margin::AtLeast { low_db: 9.7 }), "≥ +9");
        assert_eq!(margin_ends(&Margin::AtMost { high_db: -3.2 }), "≤ −3");
        assert_eq!((down(4.0, 0), up(4.0, 0), down(-3.2, 0)), (4.0, 4.0, -4.0));
        let interval = Interval { low: -0.4, high: 6.3 };
        assert_eq!(outwards(interval, 0), "−1 to +7", "zero inside is seen to be inside");
        assert_eq!(outwards(interval, 1), "−0.4 to +6.3");
    }

    #[test]
    fn nearly_all_is_never_all() {
        assert_eq!(percent(0.9996), "99.9 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.994), "99.4 %");
        assert_eq!(percent(0.93), "93 %");
        assert_eq!(
            percents(Interval {
                low: 0.934,
                high: 0.995
            }),
            "93–99.5 %"
        );
        let of = |low, high| percents(Interval { low, high });
        assert_eq!(of(0.8471, 0.9975), "84–99.8 %", "106 of 108");
        assert_eq!(of(0.8288, 1.0), "82–100 %", "103 of 103");
        assert_eq!(of(0.93, 0.934), "93–94 %");
        assert_eq!(of(0.991, 0.9991), "99.1–100 %", "nearly all, upwards");
        assert_eq!(of(0.0, 0.0042), "0–0.5 %");
    }

    #[test]
    fn bearings_have_three_digits_and_a_point() {
        assert_eq!(bearing(Degrees(81.6)), "082° true E");
        assert_eq!(bearing(Degrees(359.7)), "000° true N");
        assert_eq!(bearing(Degrees(-135.0)), "225° true SW");
        assert_eq!(true_bearing(Degrees(359.7)), "000° true");
        assert_eq!(
            (bearing(Degrees(f64::NAN)), true_bearing(Degrees(f64::NAN))),
            ("–".to_owned(), "–".to_owned())
        );
    }

    #[test]
    fn a_count_is_worth_no_fraction_of_a_message() {
        assert_eq!(worth(0.3), "less than one independent one");
        assert_eq!(
            (worth(1.2), worth(27.4)),
            ("1 independent one".to_owned(), "27 independent ones".to_owned())
        );
    }

    #[test]
    fn thousands_are_told_apart() {
        assert_eq!(count(1_234_567), "1,234,567");
        assert_eq!(count(999), "999");
    }

    #[test]
    fn signs_are_true_and_zero_has_none() {
        assert_eq!(decibels(14.2), "+14 dB");
        assert_eq!(decibels(-3.0), "−3 dB");
        assert_eq!(decibels(-0.2), "0 dB");
        assert_eq!(dbm(-71.3), "−71 dBm");
        assert_eq!(minus(-0.04, 1), "0.0");
        assert_eq!((signed(-0.3, 0), signed(0.04, 1)), ("0".to_owned(), "0.0".to_owned()));
        assert_eq!(
            (signed(-0.04, 1), signed(0.06, 1)),
            ("0.0".to_owned(), "+0.1".to_owned())
        );
    }
}
