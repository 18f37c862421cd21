//! The words for why messages were lost, of how many, and what to do about it: one wording for screen, table and write-up.

use super::words::{count, sentence};
use crate::stats::losses::{Basis, Reason, Way};

/// Why messages were lost.
pub fn reason(reason: &Reason) -> String {
    match reason {
        Reason::GapInStream { unread } => {
            format!("{unread} not read: the stream was broken, they are unknown and not lost")
        }
        Reason::StationSilent { lost, of } => {
            format!("{} of {} lost while the station was silent", count(*lost), count(*of))
        }
        Reason::TooWeak { lost, of, .. } => {
            format!("about {lost:.0} of {} lost because the signal is too weak", count(*of))
        }
        Reason::Interference {
            lost,
            of,
            explained,
            strong,
            ..
        } => {
            let level = match (strong, explained.by) {
                (true, _) => " at a strong level",
                (false, Basis::Need) => " beyond what the level explains",
                (false, Basis::Earlier) => ", though as weak a level lost fewer before",
            };
            format!(
                "about {lost:.0} of {} lost{level}: interference or a busy station, not range",
                count(*of)
            )
        }
        Reason::OneWay { worse, counts, .. } => {
            let pings = format!(
                "{} of {} pings",
                count(counts.sent.saturating_sub(counts.heard)),
                count(counts.sent)
            );
            let answers = format!(
                "{} of {} answers",
                count(counts.heard.saturating_sub(counts.answered)),
                count(counts.heard)
            );
            match worse {
                Way::Out => {
                    format!("lost mostly one way: {pings} do not reach the station, {answers} not the board")
                }
                Way::Back => {
                    format!("lost mostly one way: {answers} do not reach the board, {pings} not the station")
                }
            }
        }
        Reason::NotKnown { lost, of } => {
            format!("about {lost:.0} of {} lost for no reason that can be told", count(*of))
        }
    }
}

/// What to do about a reason; `None` where nothing can be done.
pub const fn remedy(reason: &Reason) -> Option<&'static str> {
    Some(match reason {
        Reason::GapInStream { .. } => "Look at the board's cable; the survey goes on.",
        Reason::StationSilent { .. } => {
            "That is the station's doing and not this place's: look at its power if it comes again."
        }
        Reason::TooWeak { .. } => "Go nearer, hold the board higher, or turn it.",
        Reason::Interference { .. } => "Wait a minute and measure again.",
        Reason::OneWay { worse: Way::Out, .. } => "Look at the board's power and aerial.",
        Reason::OneWay { worse: Way::Back, .. } => "Look for noise near the board, and at the station's power.",
        Reason::NotKnown { .. } => return None,
    })
}

/// Why messages were lost and what to do, as sentences; `None` where nothing can be done.
pub fn loss(of: &Reason) -> Option<String> {
    remedy(of).map(|remedy| format!("{} {remedy}", sentence(&reason(of))))
}

/// The same afterwards, for somebody who is not there: what was, without what to do.
pub fn loss_afterwards(of: &Reason) -> Option<String> {
    remedy(of).map(|_| sentence(&reason(of)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::directions::Directions;
    use crate::stats::losses::Explained;
    use crate::stats::proportions::Interval;

    #[test]
    fn every_reason_a_person_can_act_on_says_what_to_do() {
        let interval = Interval { low: 0.6, high: 0.8 };
        let explained = Explained {
            rate: 0.95,
            interval,
            by: Basis::Need,
        };
        let counts = Directions {
            sent: 97,
            heard: 96,
            answered: 88,
        };
        let one_way = |worse| Reason::OneWay {
            worse,
            counts,
            out: interval,
            back: interval,
        };
        let reasons = [
            Reason::GapInStream { unread: 31 },
            Reason::StationSilent { lost: 43, of: 120 },
            Reason::TooWeak {
                lost: 12.0,
                of: 100,
                explained,
            },
            Reason::Interference {
                lost: 12.0,
                of: 100,
                found: interval,
                explained,
                strong: true,
            },
            one_way(Way::Out),
            one_way(Way::Back),
        ];
        let said: Vec<String> = reasons.iter().map(|reason| loss(reason).unwrap()).collect();
        assert!(
            said[0].starts_with("31 not read") && said[0].contains("cable"),
            "{said:?}"
        );
        assert!(
            said[1].contains("station was silent") && said[1].contains("not this place's"),
            "{said:?}"
        );
        assert!(said[2].contains("too weak") && said[2].contains("nearer"), "{said:?}");
        assert!(
            said[3].contains("strong level") && said[3].contains("not range"),
            "{said:?}"
        );
        assert!(
            said[4].starts_with(
                "Lost mostly one way: 1 of 97 pings do not reach the station, 8 of 96 answers not the board."
            ),
            "{said:?}"
        );
        assert!(
            said[5].starts_with(
                "Lost mostly one way: 8 of 96 answers do not reach the board, 1 of 97 pings not the station."
            ),
            "{said:?}"
        );
        assert!(said[2].contains("12 of 100"), "{said:?}");
        assert_eq!(loss(&Reason::NotKnown { lost: 3.0, of: 99 }), None);
        for (reason, said) in reasons.iter().zip(&said) {
            let afterwards = loss_afterwards(reason).unwrap();
            assert_eq!(format!("{afterwards} {}", remedy(reason).unwrap()), *said);
        }
        assert_eq!(loss_afterwards(&Reason::NotKnown { lost: 3.0, of: 99 }), None);
        let by_earlier = Reason::Interference {
            lost: 33.0,
            of: 100,
            found: interval,
            explained: Explained {
                by: Basis::Earlier,
                ..explained
            },
            strong: false,
        };
        let said = loss(&by_earlier).unwrap();
        assert!(
            said.starts_with("About 33 of 100 lost, though") && !said.contains("strong"),
            "{said}"
        );
    }
}
