//! How figures are written on the screen: true minus signs, thousands apart, a dash for what is not known.

pub use crate::findings::words::{goal, percents, span};
use crate::units::Elapsed;

/// What stands for a figure that is not known.
pub const UNKNOWN: &str = "–";

/// A whole number with a true minus sign, no sign on zero.
pub fn whole(number: f64) -> String {
    if !number.is_finite() {
        return UNKNOWN.to_owned();
    }
    let rounded = number.round();
    if rounded < 0.0 {
        format!("−{:.0}", -rounded)
    } else {
        format!("{:.0}", rounded.abs())
    }
}

/// A whole number that always carries its sign.
pub fn signed(number: f64) -> String {
    let text = whole(number);
    if number.is_finite() && number.round() > 0.0 {
        format!("+{text}")
    } else {
        text
    }
}

/// A level with its unit.
pub fn dbm(level: Option<f64>) -> String {
    level.map_or_else(|| format!("{UNKNOWN} dBm"), |level| format!("{} dBm", whole(level)))
}

/// A count with its thousands apart.
pub fn count(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// A rate, 0 to 1, as whole per cent; only all is 100 and only none is 0.
pub fn percent(rate: f64) -> String {
    let rounded = (rate * 100.0).round();
    let honest = if rate < 1.0 { rounded.min(99.0) } else { rounded };
    let honest = if rate > 0.0 { honest.max(1.0) } else { honest };
    format!("{honest:.0}")
}

/// A moment on the survey's clock as hours, minutes, seconds.
pub fn clock(at: Elapsed) -> String {
    let seconds = at.0 / 1_000_000;
    format!("{:02}:{:02}:{:02}", seconds / 3600, seconds / 60 % 60, seconds % 60)
}

/// A distance in metres or, from 10 km on, kilometres.
pub fn metres(distance: f64) -> String {
    if distance < 10.0 {
        format!("{distance:.1} m")
    } else if distance < 10_000.0 {
        format!("{distance:.0} m")
    } else {
        format!("{:.1} km", distance / 1000.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::proportions::Interval;

    #[test]
    fn only_all_is_a_hundred() {
        assert_eq!(percent(0.999), "99");
        assert_eq!(percent(1.0), "100");
        assert_eq!(percent(0.001), "1");
        assert_eq!(percent(0.0), "0");
    }

    #[test]
    fn figures_are_written_for_a_glance() {
        assert_eq!(whole(-71.4), "−71");
        assert_eq!(whole(-0.2), "0");
        assert_eq!(signed(14.0), "+14");
        assert_eq!(signed(-3.0), "−3");
        assert_eq!(count(7604), "7,604");
        assert_eq!(count(123), "123");
        assert_eq!(
            percents(Interval {
                low: 0.934,
                high: 0.9901
            }),
            "93–99.1 %"
        );
        assert_eq!(goal(0.95), "95 %");
        assert_eq!(goal(0.999), "99.9 %");
        assert_eq!(clock(Elapsed(761_000_000)), "00:12:41");
        assert_eq!(whole(f64::NAN), "–");
        let spans = [119.4, 119.7, 160.0, 7169.0, 7170.0].map(span);
        assert_eq!(spans, ["119 s", "2 min", "3 min", "119 min", "2 h"]);
    }
}
