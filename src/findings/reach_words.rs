//! What may be said of how far a board reaches, in words: ranges and what they leave aside, the law, what the body takes.

use super::words::{metres, metres_down, minus, percent};
use crate::stats::walk::describe::{NoRange, RangeWording};
use crate::stats::walk::fit::{FitWarning, NoSlope};
use crate::stats::walk::posterior::Spread;

/// What may be said of a range.
pub fn range(wording: &RangeWording) -> String {
    let open = |low: f64, high: Option<f64>| match high {
        Some(high) => format!("{} to {}", metres(low).trim_end_matches(" m"), metres(high)),
        None => format!("{} or more", metres_down(low)),
    };
    match wording {
        RangeWording::AtLeast { metres: far } => format!("at least {}", metres_down(*far)),
        RangeWording::About {
            metres: Some(far),
            low,
            high,
            bent,
        } => {
            let why = if *bent { "the law bends" } else { "an extrapolation" };
            format!("about {} ({why}: {})", metres(*far), open(*low, *high))
        }
        RangeWording::About { metres: None, low, .. } => {
            format!(
                "beyond {}, surely; how much farther the walk does not tell",
                metres_down(*low)
            )
        }
        RangeWording::Interval { low, metres: far, high } => format!("{} ({})", metres(*far), open(*low, *high)),
        RangeWording::Below { metres: far } => format!("less than {}", metres(*far)),
        RangeWording::Unreachable { interference } => {
            format!(
                "nowhere while interference lasts: it alone takes {}",
                percent(*interference)
            )
        }
        RangeWording::NotMeasured(why) => format!("a distance not known ({})", no_range(*why)),
    }
}

/// Why nothing can be said of a range.
pub const fn no_range(why: NoRange) -> &'static str {
    match why {
        NoRange::NoSuchDelivery => "no level gives this delivery",
        NoRange::LimitNotSeen => "the walk lost too little to tell",
        NoRange::BeforeTheWalk => "nearer than the walk began",
    }
}

/// What interference takes at any distance, its interval rounded outwards: `2.1 % (0.7 to 6.1 %)`, and only its upper end
/// where the best estimate rounds to nothing.
pub fn interference(share: Spread) -> String {
    let decimals = usize::from(share.median < 0.0995);
    let scale = if decimals == 1 { 10.0 } else { 1.0 };
    let low = (share.low * 100.0 * scale).floor() / scale;
    let high = (share.high * 100.0 * scale).ceil() / scale;
    if share.median < 0.0005 {
        return format!("less than {high:.decimals$} %");
    }
    format!(
        "{:.decimals$} % ({low:.decimals$} to {high:.decimals$} %)",
        share.median * 100.0
    )
}

/// What every range leaves aside: `interference aside, which takes 2.1 % (0.7 to 6.1 %)`.
pub fn interference_aside(share: Spread) -> String {
    format!("interference aside, which takes {}", interference(share))
}

/// Why no exponent is given.
pub fn no_slope(why: &NoSlope) -> String {
    match why {
        NoSlope::FewCells(1) => "only 1 place far enough from others; walk on".to_owned(),
        NoSlope::FewCells(cells) => format!("only {cells} places far enough apart; walk on"),
        NoSlope::ShortSpan(ratio) => {
            format!("the farthest place is only {ratio:.1} times as far as the nearest; walk farther out")
        }
        NoSlope::Vague(sd) => format!("known only to ± {:.1}; walk straight out and back", 2.0 * sd),
    }
}

/// Why what the walker's body takes is not told.
pub const NO_BODY_LOSS: &str = "the walk went one way only, or its headings are not known";

/// What the walker's body takes, told the walker.
pub fn body_loss(body: Spread) -> String {
    format!("your body takes {}", body_takes(body))
}

/// The same, told a reader.
pub fn walkers_body_loss(body: Spread) -> String {
    format!("the walker's body takes {}", body_takes(body))
}

fn body_takes(body: Spread) -> String {
    format!(
        "{} dB with the back to the station ({} to {}); exponent and ranges: facing it",
        minus(body.median, 1),
        minus(body.low, 1),
        minus(body.high, 1)
    )
}

/// What a reader of a walk's fit should know.
pub fn fit_warning(warning: &FitWarning) -> String {
    match warning {
        FitWarning::NoSlope(why) => format!("no exponent: {}", no_slope(why)),
        FitWarning::SensitivityNotReached => {
            "the board's limit was not seen: ranges are \"at least\"; walk on until messages get lost".to_owned()
        }
        FitWarning::Bend { at_m, .. } => {
            format!(
                "the law bends at about {}: ranges are then no more than \"about\"",
                metres(*at_m)
            )
        }
        FitWarning::OneWay => {
            "the walk went one way: what your body takes with the back to the station is in the ranges; walk back as well"
                .to_owned()
        }
        FitWarning::Interference(share) => {
            format!("interference takes {} of all messages at any level", percent(*share))
        }
        FitWarning::MostlyRevisited(share) => {
            format!(
                "{} of the places were walked twice: the slope rests on fewer than it seems",
                percent(*share)
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_interference_takes_has_its_interval_rounded_outwards() {
        let share = |low, median, high| interference(Spread { low, median, high });
        assert_eq!(share(0.0072, 0.0214, 0.0606), "2.1 % (0.7 to 6.1 %)");
        assert_eq!(share(0.00002, 0.0004, 0.0061), "less than 0.7 %");
        assert_eq!(share(0.148, 0.21, 0.301), "21 % (14 to 31 %)");
    }
}
