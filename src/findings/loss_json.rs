//! Why messages were lost, as JSON: of how many, with limits where there are any, beside the words.

use serde_json::{Value, json};

use super::loss_words::{self as words, Among, told};
use crate::stats::losses::{LossReasons, Reason, Way};

/// The reasons for the losses of a stretch.
pub fn losses(losses: &LossReasons) -> Vec<Value> {
    let told = told(losses, Among::All);
    // What was lost outside silences of the station, which is all that an estimated reason can have taken.
    let lost = losses.lost - (losses.exchanges - losses.heard_out());
    told.map(|(of, among)| reason(of, lost, &words::reason(of, among)))
        .collect()
}

/// The 95 % limits of how many messages were lost for a reason, where they are known and it is not counted; no limit is above
/// `all_lost`, the messages that were lost for the reasons together.
pub fn limits(reason: &Reason, all_lost: u64) -> Option<(f64, f64)> {
    let Reason::TooWeak { lost, of, explained } = reason else {
        return None;
    };
    let low = (*of as f64 * (1.0 - explained.interval.high)).clamp(0.0, *lost);
    let high = (*of as f64 * (1.0 - explained.interval.low)).min(all_lost as f64).max(*lost);
    Some((low, high))
}

/// One reason: `lost` of `of` messages, with its limits; `all_lost` were lost for the reasons together.
fn reason(reason: &Reason, all_lost: u64, words: &str) -> Value {
    let whole = |number: u64| number as f64;
    let (low, high) = limits(reason, all_lost).unzip();
    let (kind, lost, of) = match reason {
        // Counted, not estimated, as are the losses of one way.
        Reason::GapInStream { unread } => ("not_read", whole(*unread), None),
        Reason::StationSilent { lost, of } => ("station_silent", whole(*lost), Some(*of)),
        Reason::TooWeak { lost, of, .. } => ("too_weak", *lost, Some(*of)),
        Reason::Interference { lost, of, .. } => ("interference", *lost, Some(*of)),
        Reason::OneWay { worse, counts, .. } => match worse {
            Way::Out => {
                let (lost, of) = (counts.sent.saturating_sub(counts.heard), counts.sent);
                ("to_the_station", whole(lost), Some(of))
            }
            Way::Back => {
                let (lost, of) = (counts.heard.saturating_sub(counts.answered), counts.heard);
                ("to_the_board", whole(lost), Some(of))
            }
        },
        Reason::NotKnown { lost, of, .. } => ("not_known", whole(*lost), Some(*of)),
    };
    json!({ "kind": kind, "lost": lost, "of": of, "low": low, "high": high, "words": words })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::directions::Directions;
    use crate::stats::losses::{Basis, Explained};
    use crate::stats::proportions::Interval;

    #[test]
    fn every_reason_has_its_kind_its_counts_and_its_limits_where_there_are_some() {
        let explained = Explained {
            rate: 0.9,
            interval: Interval { low: 0.8, high: 0.95 },
            by: Basis::Need,
        };
        let counts = Directions {
            sent: 97,
            heard: 96,
            answered: 88,
        };
        let back = Interval { low: 0.5, high: 0.75 };
        let one_way = Reason::OneWay {
            worse: Way::Back,
            counts,
            out: Interval { low: 0.9, high: 1.0 },
            back,
        };
        let told = |of: &Reason| {
            let told = reason(of, 12, "");
            let number = |key: &str| told[key].as_f64();
            (
                told["kind"].as_str().map(str::to_owned),
                number("lost"),
                number("of"),
                number("low"),
                number("high"),
            )
        };
        let weak = Reason::TooWeak {
            lost: 10.0,
            of: 100,
            explained,
        };
        let (kind, lost, of, low, high) = told(&weak);
        assert_eq!((kind.as_deref(), lost, of), (Some("too_weak"), Some(10.0), Some(100.0)));
        assert!(
            (low.unwrap() - 5.0).abs() < 1e-9 && (high.unwrap() - 12.0).abs() < 1e-9,
            "at most all"
        );
        // Clamped to what was lost: the level alone would lose 5 to 20.
        let few = Reason::TooWeak {
            lost: 3.0,
            of: 100,
            explained,
        };
        let few = reason(&few, 3, "");
        assert_eq!((few["low"].as_f64(), few["high"].as_f64()), (Some(3.0), Some(3.0)));
        let found = told(&one_way);
        assert_eq!(
            found,
            (Some("to_the_board".to_owned()), Some(8.0), Some(96.0), None, None)
        );
        let gap = told(&Reason::GapInStream { unread: 7 });
        assert_eq!(gap, (Some("not_read".to_owned()), Some(7.0), None, None, None));
    }
}
