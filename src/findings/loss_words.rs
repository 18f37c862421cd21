//! The words for why messages were lost, of how many, and what to do about it: one wording for screen, table and write-up.

use super::words::{count, dbm, sentence};
use crate::stats::losses::{Basis, LossReasons, Reason, Unclear, Way};

/// Which messages a number is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Among {
    /// All that were sent there.
    All,
    /// The first so many; more have come since.
    First,
    /// The last so many.
    Last,
    /// Those outside a silence that was told of before.
    Other,
}

impl Among {
    const fn word(self) -> &'static str {
        match self {
            Self::All => "",
            Self::First => "the first ",
            Self::Last => "the last ",
            Self::Other => "the other ",
        }
    }
}

/// Each reason for the losses of a stretch, with the messages its number is of.
pub fn told(losses: &LossReasons, among: Among) -> impl Iterator<Item = (&Reason, Among)> {
    let silence = losses.heard_out() < losses.exchanges;
    losses.reasons.iter().map(move |reason| {
        let of_all = matches!(reason, Reason::GapInStream { .. } | Reason::StationSilent { .. });
        (reason, if silence && !of_all { Among::Other } else { among })
    })
}

/// Why the messages of a whole stretch were lost.
pub fn reasons(losses: &LossReasons) -> Vec<String> {
    told(losses, Among::All)
        .map(|(reason, among)| self::reason(reason, among))
        .collect()
}

/// Why messages were lost.
pub fn reason(reason: &Reason, among: Among) -> String {
    let of = |number: u64| format!("{}{}", among.word(), count(number));
    match reason {
        Reason::GapInStream { unread } => {
            format!(
                "{} not read: the stream was broken, they are unknown and not lost",
                count(*unread)
            )
        }
        Reason::StationSilent { lost, of: sent, lasted } => {
            let what = if *lasted {
                "while the station was silent"
            } else {
                "in one go, the station silent or a burst of interference"
            };
            format!(
                "{} of {} lost {what}: in the count, not in the level",
                count(*lost),
                of(*sent)
            )
        }
        Reason::TooWeak { lost, of: sent, .. } => {
            format!(
                "{} of {} lost because the signal is too weak",
                estimate(*lost),
                of(*sent)
            )
        }
        Reason::Interference {
            lost,
            of: sent,
            explained,
            strong,
            ..
        } => {
            let level = match (strong, explained.by) {
                (true, Basis::AnyBoard { half_dbm }) => {
                    format!(
                        " at a level strong for any such board (half arrives at {} at most)",
                        dbm(half_dbm)
                    )
                }
                (true, _) => " at a strong level".to_owned(),
                (false, Basis::Need) => " beyond what the level explains".to_owned(),
                (false, Basis::AnyBoard { half_dbm }) => format!(
                    " beyond what the level explains for any such board (half arrives at {} at most)",
                    dbm(half_dbm)
                ),
                (false, Basis::Earlier) => ", though as weak a level lost fewer before".to_owned(),
            };
            format!(
                "{} of {} lost{level}: interference or a busy station, not range",
                estimate(*lost),
                of(*sent)
            )
        }
        Reason::OneWay { worse, counts, .. } => {
            let pings = format!(
                "{} of {} pings",
                count(counts.sent.saturating_sub(counts.heard)),
                of(counts.sent)
            );
            let answers = format!(
                "{} of {} answers",
                count(counts.heard.saturating_sub(counts.answered)),
                of(counts.heard)
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
        Reason::NotKnown {
            lost,
            why: Unclear::Rest,
            ..
        } => {
            format!(
                "about {} more lost: too weak or interference, the level leaves both open",
                count(*lost)
            )
        }
        Reason::NotKnown { lost, of: sent, why } => {
            let lost_of = format!("{} of {} lost", count(*lost), of(*sent));
            match why {
                Unclear::TooFew if *lost < BUNCHED => format!("{lost_of}: too few to tell why"),
                Unclear::TooFew => format!("{lost_of}, but in bunches, and too few of these to tell why"),
                Unclear::NeedUnknown => {
                    format!("{lost_of}; why cannot be told: what the board needs is not known")
                }
                Unclear::LevelOpen | Unclear::Rest => {
                    format!("{lost_of}: too weak or interference, the level leaves both open")
                }
            }
        }
    }
}

/// So many losses are too few only where they come in bunches.
const BUNCHED: u64 = 10;

/// A number of losses: what is reckoned is "about" so many, what is counted is a whole number and so many.
fn estimate(lost: f64) -> String {
    let about = if lost.fract() == 0.0 { "" } else { "about " };
    format!("{about}{}", count(lost.round() as u64))
}

/// What to do about a reason; `None` where nothing can be done.
pub const fn remedy(reason: &Reason) -> Option<&'static str> {
    Some(match reason {
        Reason::GapInStream { .. } => "Look at the board's cable; the survey goes on.",
        Reason::StationSilent { lasted: false, .. } => {
            "That is not this place's doing: measure again if it comes again."
        }
        Reason::StationSilent { lasted: true, .. } => {
            "That is the station's doing and not this place's: look at its power if it comes again."
        }
        Reason::TooWeak { .. } => "Go nearer, hold the board higher, or turn it.",
        Reason::Interference { .. } => "Wait a minute and measure again.",
        Reason::OneWay { worse: Way::Out, .. } => "Look at the board's power and aerial.",
        Reason::OneWay { worse: Way::Back, .. } => "Look for noise near the board, and at the station's power.",
        Reason::NotKnown { .. } => return None,
    })
}

/// Why messages were lost, as a sentence.
pub fn reason_alone(of: &Reason, among: Among) -> String {
    sentence(&reason(of, among))
}

/// Why messages were lost and what to do, as sentences; `None` where nothing can be done.
pub fn loss(of: &Reason, among: Among) -> Option<String> {
    remedy(of).map(|remedy| format!("{} {remedy}", reason_alone(of, among)))
}

/// The same afterwards, for somebody who is not there: what was, without what to do.
pub fn loss_afterwards(of: &Reason, among: Among) -> Option<String> {
    remedy(of).map(|_| reason_alone(of, among))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::directions::Directions;
    use crate::stats::losses::Explained;
    use crate::stats::proportions::Interval;

    #[test]
    fn a_level_strong_for_any_board_says_what_it_takes() {
        let interval = Interval { low: 0.86, high: 0.94 };
        let reason = Reason::Interference {
            lost: 55.0,
            limits: interval,
            of: 600,
            found: interval,
            explained: Explained {
                rate: 1.0,
                interval: Interval { low: 0.99, high: 1.0 },
                by: Basis::AnyBoard { half_dbm: -82.2 },
            },
            strong: true,
        };
        let losses = LossReasons {
            exchanges: 720,
            lost: 175,
            found: Some(interval),
            reasons: vec![
                Reason::StationSilent {
                    lost: 120,
                    of: 720,
                    lasted: true,
                },
                reason,
            ],
        };
        assert_eq!(
            reasons(&losses),
            [
                "120 of 720 lost while the station was silent: in the count, not in the level",
                "55 of the other 600 lost at a level strong for any such board (half arrives at −82 dBm at most): interference or a busy station, not range",
            ]
        );
    }

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
            Reason::StationSilent {
                lost: 43,
                of: 120,
                lasted: true,
            },
            Reason::TooWeak {
                lost: 12.4,
                of: 100,
                limits: interval,
                explained,
            },
            Reason::Interference {
                lost: 12.0,
                limits: interval,
                of: 100,
                found: interval,
                explained,
                strong: true,
            },
            one_way(Way::Out),
            one_way(Way::Back),
        ];
        let said: Vec<String> = reasons.iter().map(|reason| loss(reason, Among::All).unwrap()).collect();
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
        assert!(said[2].starts_with("About 12 of 100"), "what is reckoned: {said:?}");
        assert!(said[3].starts_with("12 of 100"), "what is counted: {said:?}");
        let not_known = |lost, why| Reason::NotKnown { lost, of: 107, why };
        assert_eq!(loss(&not_known(3, Unclear::TooFew), Among::All), None);
        let why = |lost, why| reason(&not_known(lost, why), Among::Other);
        assert_eq!(why(3, Unclear::TooFew), "3 of the other 107 lost: too few to tell why");
        assert!(why(30, Unclear::TooFew).contains("in bunches"));
        assert_eq!(
            why(92, Unclear::NeedUnknown),
            "92 of the other 107 lost; why cannot be told: what the board needs is not known"
        );
        assert!(why(9, Unclear::LevelOpen).starts_with("9 of the other 107 lost: too weak or interference"));
        assert!(why(7, Unclear::Rest).starts_with("about 7 more lost: too weak or interference"));
        let weak = &reasons[0];
        assert_eq!(
            format!(
                "{} {}",
                loss_afterwards(weak, Among::All).unwrap(),
                remedy(weak).unwrap()
            ),
            said[0]
        );
        assert_eq!(loss_afterwards(&not_known(3, Unclear::TooFew), Among::All), None);
        let by_earlier = Reason::Interference {
            lost: 33.0,
            limits: interval,
            of: 100,
            found: interval,
            explained: Explained {
                by: Basis::Earlier,
                ..explained
            },
            strong: false,
        };
        let said = loss(&by_earlier, Among::Last).unwrap();
        assert!(
            said.starts_with("33 of the last 100 lost, though") && !said.contains("strong"),
            "{said}"
        );
    }
}
