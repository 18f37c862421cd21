//! Why messages were lost, as JSON: of how many, with limits where there are any, beside the words.

use serde_json::{Value, json};

use super::loss_words::{self as words, Among, told};
use crate::stats::losses::{LossReasons, Reason, Way};

/// The reasons for the losses of a stretch.
pub fn losses(losses: &LossReasons) -> Vec<Value> {
    let told = told(losses, Among::All);
    told.map(|(of, among)| reason(of, &words::reason(of, among))).collect()
}

/// The 95 % limits of how many messages were lost for a reason; `None` where they were counted or nothing tells them.
pub const fn limits(reason: &Reason) -> Option<(f64, f64)> {
    match reason {
        Reason::TooWeak { limits, .. } | Reason::Interference { limits, .. } => Some((limits.low, limits.high)),
        Reason::GapInStream { .. } | Reason::StationSilent { .. } | Reason::OneWay { .. } | Reason::NotKnown { .. } => {
            None
        }
    }
}

/// One reason: `lost` of `of` messages, with its limits.
fn reason(reason: &Reason, words: &str) -> Value {
    let whole = |number: u64| number as f64;
    let (low, high) = limits(reason).unzip();
    let (kind, lost, of) = match reason {
        // Counted, not estimated, as are the losses of one way.
        Reason::GapInStream { unread } => ("not_read", whole(*unread), None),
        Reason::StationSilent { lost, of, lasted: true } => ("station_silent", whole(*lost), Some(*of)),
        Reason::StationSilent {
            lost,
            of,
            lasted: false,
        } => ("lost_in_one_go", whole(*lost), Some(*of)),
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
            let told = reason(of, "");
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
            limits: Interval { low: 3.0, high: 12.0 },
            explained,
        };
        let (kind, lost, of, low, high) = told(&weak);
        assert_eq!((kind.as_deref(), lost, of), (Some("too_weak"), Some(10.0), Some(100.0)));
        assert_eq!((low, high), (Some(3.0), Some(12.0)));
        let beyond = Reason::Interference {
            lost: 2.0,
            limits: Interval { low: 0.0, high: 9.0 },
            of: 100,
            found: back,
            explained,
            strong: false,
        };
        let (kind, lost, _, low, high) = told(&beyond);
        assert_eq!(
            (kind.as_deref(), lost, low, high),
            (Some("interference"), Some(2.0), Some(0.0), Some(9.0))
        );
        let found = told(&one_way);
        assert_eq!(
            found,
            (Some("to_the_board".to_owned()), Some(8.0), Some(96.0), None, None)
        );
        let gap = told(&Reason::GapInStream { unread: 7 });
        assert_eq!(gap, (Some("not_read".to_owned()), Some(7.0), None, None, None));
    }
}
