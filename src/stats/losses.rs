//! Why messages were lost over a stretch: what each possible reason has for it.
//!
//! A small classifier with its evidence in the open. The order is that of certainty: what was never read is no loss; what
//! fell into a silence of the station has its reason; of the rest, the level explains a share, and what it cannot explain is
//! interference or a busy station. Which direction lost more is told apart where the station counts what it hears.

use super::directions::Directions;
use super::proportions::{Interval, wilson_at};
use super::special::normal_quantile;
use super::weak_losses::Counted;

/// Which way messages went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// From the board to the station.
    Out,
    /// From the station back to the board.
    Back,
}

/// A stretch whose losses are to be explained.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Exchanges that were read: delivered or lost.
    pub exchanges: u64,
    /// Of these, lost.
    pub lost: u64,
    /// Of these losses, those within runs found to be silences of the station.
    pub lost_in_silence: u64,
    /// Whether most of these lie in runs that last longer than a burst of interference does; else it may have been one.
    pub silence_lasted: bool,
    /// Exchanges of which nothing is known because the stream was broken; not among `exchanges`.
    pub unread: u64,
    /// How many messages are worth one, at least 1.
    pub inflation: f64,
    /// The delivery rate the level alone explains, with limits; `None` where the level is not known.
    pub explained: Option<Explained>,
    /// The share lost at any level, at most, where a walk tells; `None` where none does.
    pub struck_at_most: Option<f64>,
    /// Deliveries each way, where known.
    pub directions: Option<Directions>,
}

/// The delivery rate that a level explains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Explained {
    /// At the median level.
    pub rate: f64,
    /// At the limits of the level.
    pub interval: Interval,
    /// What it goes by.
    pub by: Basis,
}

/// What says how much a level delivers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Basis {
    /// The need of the board, which is known.
    Need,
    /// The highest need that a board of this kind may have, dBm for half delivered, for its own is not known: what is
    /// delivered is then no less, and a loss is never put down to weakness.
    AnyBoard {
        /// The level of half delivery taken.
        half_dbm: f64,
    },
    /// Earlier stretches at no better a level: whether that is strong is not known.
    Earlier,
}

/// One reason, with what speaks for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reason {
    /// The stream was broken: these are unknown, not lost.
    GapInStream {
        /// Exchanges not read.
        unread: u64,
    },
    /// The station fell silent and came back.
    StationSilent {
        /// Losses in its silences.
        lost: u64,
        /// Of so many exchanges.
        of: u64,
        /// Whether most of them lasted longer than a burst of interference does; else it may have been one.
        lasted: bool,
    },
    /// The level is too low: about so many of the losses are what such a level loses.
    TooWeak {
        /// Losses the level explains.
        lost: f64,
        /// Of so many exchanges, silences left out.
        of: u64,
        /// Limits of that number.
        limits: Interval,
        /// The delivery rate the level explains.
        explained: Explained,
    },
    /// More is lost than the level explains: interference, or a station too busy to answer.
    Interference {
        /// Losses the level leaves unexplained.
        lost: f64,
        /// Limits of that number.
        limits: Interval,
        /// Of so many exchanges, silences left out.
        of: u64,
        /// The delivery rate found, silences left out.
        found: Interval,
        /// The delivery rate the level explains.
        explained: Explained,
        /// Whether the level, by what the board needs, would deliver 90 % at least: strong, and yet losing.
        strong: bool,
    },
    /// One way loses clearly more than the other.
    OneWay {
        /// The worse way.
        worse: Way,
        /// The counts.
        counts: Directions,
        /// The delivery rate from board to station.
        out: Interval,
        /// The delivery rate of answers.
        back: Interval,
    },
    /// So many losses have no reason found.
    NotKnown {
        /// Losses.
        lost: u64,
        /// Of so many exchanges, silences left out.
        of: u64,
        /// Why none can be told.
        why: Unclear,
    },
}

/// Why the reason of losses cannot be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unclear {
    /// So few, or so bunched, that they may be chance.
    TooFew,
    /// These are beyond the losses that were put down to weakness, and the level may or may not explain them too.
    Rest,
    /// What the level delivers is not known, since what the board needs is not, or no level was read.
    NeedUnknown,
    /// The level is known too coarsely: at one end of its interval it explains them, at the other it does not.
    LevelOpen,
}

impl LossReasons {
    /// Exchanges outside silences of the station: what the reasons but silences and gaps are told of.
    pub fn heard_out(&self) -> u64 {
        let silent = self.reasons.iter().find_map(|reason| match reason {
            Reason::StationSilent { lost, .. } => Some(*lost),
            _ => None,
        });
        self.exchanges - silent.unwrap_or(0)
    }
}

/// The reasons for the losses of a stretch, largest certainty first; empty when nothing was lost or unread.
#[derive(Clone, Debug, PartialEq)]
pub struct LossReasons {
    /// Exchanges read.
    pub exchanges: u64,
    /// Exchanges lost.
    pub lost: u64,
    /// The delivery rate outside silences, with bursts allowed for; `None` when there is nothing outside them.
    pub found: Option<Interval>,
    /// The reasons.
    pub reasons: Vec<Reason>,
}

/// Explains the losses of a stretch, each comparison at `confidence`.
///
/// `None` unless the counts of the stretch fit together, inflation is at least 1 and 0 < confidence < 1.
pub fn explain(stretch: &Stretch, confidence: f64) -> Option<LossReasons> {
    if stretch.lost > stretch.exchanges
        || stretch.lost_in_silence > stretch.lost
        || !(stretch.inflation >= 1.0 && stretch.inflation.is_finite())
        || !(confidence > 0.0 && confidence < 1.0)
    {
        return None;
    }
    let z = normal_quantile(0.5 + 0.5 * confidence)?;
    let rate = |kept: u64, of: u64| {
        if of == 0 {
            None
        } else {
            wilson_at(kept as f64 / stretch.inflation, of as f64 / stretch.inflation, z)
        }
    };
    let mut reasons = Vec::new();
    if stretch.unread > 0 {
        reasons.push(Reason::GapInStream { unread: stretch.unread });
    }
    if stretch.lost_in_silence > 0 {
        reasons.push(Reason::StationSilent {
            lost: stretch.lost_in_silence,
            of: stretch.exchanges,
            lasted: stretch.silence_lasted,
        });
    }
    let exchanges = stretch.exchanges - stretch.lost_in_silence;
    let lost = stretch.lost - stretch.lost_in_silence;
    let found = rate(exchanges - lost, exchanges);
    if lost > 0 && is_too_few(lost, exchanges) {
        reasons.push(Reason::NotKnown {
            lost,
            of: exchanges,
            why: Unclear::TooFew,
        });
    } else if let (true, Some(found)) = (lost > 0, found) {
        reasons.extend(by_level(stretch, lost, exchanges, found, z));
        if let Some(d) = stretch.directions
            && d.heard <= d.sent
            && d.answered <= d.heard
            && let (Some(out), Some(back)) = (rate(d.heard, d.sent), rate(d.answered, d.heard))
        {
            if out.high < back.low {
                reasons.push(Reason::OneWay {
                    worse: Way::Out,
                    counts: d,
                    out,
                    back,
                });
            } else if back.high < out.low {
                reasons.push(Reason::OneWay {
                    worse: Way::Back,
                    counts: d,
                    out,
                    back,
                });
            }
        }
    }
    if reasons.iter().any(|reason| matches!(reason, Reason::OneWay { .. })) {
        // Where they were lost says more than that the level does not tell why.
        reasons.retain(|reason| !matches!(reason, Reason::NotKnown { .. }));
    }
    Some(LossReasons {
        exchanges: stretch.exchanges,
        lost: stretch.lost,
        found,
        reasons,
    })
}

/// Fewer losses tell no reason. A Poisson count of four has 95 % limits of 1.09 and 10.24 (Garwood 1936), a factor of three
/// either way about their geometric middle: what any reason would lose agrees with it. Five (1.62 to 11.67) is the first count
/// that is closer.
const TELLING: u64 = 5;

/// Whether losses are too few to tell why: fewer than [`TELLING`], unless nearly all that was sent (four of five) was lost.
const fn is_too_few(lost: u64, of: u64) -> bool {
    lost < TELLING && 5 * (of - lost) > of
}

fn by_level(stretch: &Stretch, count: u64, of: u64, found: Interval, z: f64) -> Vec<Reason> {
    let not_known = |why| vec![Reason::NotKnown { lost: count, of, why }];
    let Some(explained) = stretch.explained else {
        return not_known(Unclear::NeedUnknown);
    };
    let lost = count as f64;
    let counted = Counted {
        sent: of,
        lost: count,
        share: (
            1.0 - explained.rate,
            Interval {
                low: 1.0 - explained.interval.high,
                high: 1.0 - explained.interval.low,
            },
        ),
        struck_at_most: stretch.struck_at_most,
        inflation: stretch.inflation,
    };
    let by_weakness = match explained.by {
        Basis::Need | Basis::Earlier => counted.estimate(),
        Basis::AnyBoard { .. } => 0.0,
    };
    let limits = counted.limits(z);
    // Where more is found to be lost than the level explains, what a walk says may be lost at any level at most is no witness
    // that the rest was weakness: by it the limits of what interference took held 86 in 100 (126, seeds 30000 to 30059).
    let by_level = Counted {
        struck_at_most: None,
        ..counted
    }
    .limits(z);
    let weak = Reason::TooWeak {
        lost: by_weakness,
        of,
        limits,
        explained,
    };
    // Told of some only where no fewer than half of them, nine times in ten, were lost so.
    let surely_weak = by_weakness <= 2.0 * counted.at_least(NINE_IN_TEN);
    let rest = |told: f64| {
        // Told as a whole number beside a whole number: both are to make up the sum.
        let rest = count.saturating_sub(told.round() as u64);
        (rest >= TELLING).then_some(Reason::NotKnown {
            lost: rest,
            of,
            why: Unclear::Rest,
        })
    };
    if found.high < explained.interval.low {
        let beyond = Reason::Interference {
            lost: lost - by_weakness,
            limits: Interval {
                low: lost - limits.high,
                high: match explained.by {
                    // Such a board may need far less than the highest: none need have been lost to weakness.
                    Basis::AnyBoard { .. } => lost,
                    Basis::Need | Basis::Earlier => lost - by_level.low,
                },
            },
            of,
            found,
            explained,
            strong: explained.by != Basis::Earlier && explained.interval.low >= STRONG,
        };
        // A twentieth of the losses is within what the level's own limits leave open, and so is less than one of them.
        let other = if by_weakness < (0.05 * lost).max(0.5) {
            None
        } else if surely_weak {
            Some(weak)
        } else {
            rest(lost - by_weakness)
        };
        return std::iter::once(beyond).chain(other).collect();
    }
    if by_weakness >= 0.5 * lost && surely_weak {
        return std::iter::once(weak).chain(rest(by_weakness)).collect();
    }
    // Were the messages independent and many, so many lost would be beyond what the level explains.
    let too_few = 1.0 - lost / (of as f64) < explained.interval.low;
    not_known(match explained.by {
        Basis::AnyBoard { .. } if explained.interval.low < STRONG => Unclear::NeedUnknown,
        _ if too_few => Unclear::TooFew,
        Basis::AnyBoard { .. } => Unclear::NeedUnknown,
        Basis::Need | Basis::Earlier => Unclear::LevelOpen,
    })
}

/// The normal quantile that 90 in 100 lie below.
const NINE_IN_TEN: f64 = 1.281_552;

/// A level that would deliver so much is strong.
const STRONG: f64 = 0.9;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::directions::{Ping, directions};

    fn stretch() -> Stretch {
        Stretch {
            exchanges: 400,
            lost: 80,
            lost_in_silence: 0,
            silence_lasted: true,
            unread: 0,
            inflation: 4.0,
            explained: None,
            struck_at_most: None,
            directions: None,
        }
    }

    fn level(rate: f64, low: f64, high: f64) -> Explained {
        Explained {
            rate,
            interval: Interval { low, high },
            by: Basis::Need,
        }
    }

    #[test]
    fn a_weak_level_explains_its_losses() {
        let weak = Stretch {
            explained: Some(level(0.8, 0.7, 0.88)),
            ..stretch()
        };
        let r = explain(&weak, 0.95).unwrap();
        assert!(
            matches!(r.reasons[..], [Reason::TooWeak { lost, .. }] if (lost - 80.0).abs() < 1e-9),
            "{r:?}"
        );
    }

    #[test]
    fn strong_and_yet_losing_is_interference() {
        let strong = Stretch {
            explained: Some(level(0.999, 0.99, 1.0)),
            ..stretch()
        };
        let r = explain(&strong, 0.95).unwrap();
        let [
            Reason::Interference {
                lost,
                found,
                strong: true,
                ..
            },
        ] = r.reasons[..]
        else {
            panic!("{r:?}")
        };
        assert!((lost - 79.6).abs() < 1e-9);
        assert!(found.holds(0.8) && found.high < 0.9);
    }

    #[test]
    fn a_level_is_strong_only_by_what_the_board_needs() {
        let earlier = Explained {
            by: Basis::Earlier,
            ..level(0.999, 0.95, 1.0)
        };
        let found = explain(
            &Stretch {
                explained: Some(earlier),
                ..stretch()
            },
            0.95,
        );
        assert!(
            matches!(
                found.unwrap().reasons[..],
                [Reason::Interference {
                    strong: false,
                    of: 400,
                    ..
                }]
            ),
            "{earlier:?}"
        );
    }

    #[test]
    fn both_can_hold() {
        let both = Stretch {
            lost: 300,
            explained: Some(level(0.7, 0.6, 0.8)),
            ..stretch()
        };
        let r = explain(&both, 0.95).unwrap();
        assert!(
            matches!(
                r.reasons[..],
                [Reason::Interference { strong: false, .. }, Reason::TooWeak { .. }]
            ),
            "{r:?}"
        );
    }

    #[test]
    fn too_few_messages_give_no_reason() {
        let few = Stretch {
            exchanges: 10,
            lost: 1,
            explained: Some(level(0.99, 0.97, 1.0)),
            ..stretch()
        };
        assert_eq!(
            explain(&few, 0.95).unwrap().reasons,
            vec![Reason::NotKnown {
                lost: 1,
                of: 10,
                why: Unclear::TooFew
            }]
        );
        assert_eq!(
            explain(&stretch(), 0.95).unwrap().reasons,
            vec![Reason::NotKnown {
                lost: 80,
                of: 400,
                why: Unclear::NeedUnknown
            }]
        );
        let coarse = Stretch {
            explained: Some(level(0.95, 0.7, 1.0)),
            ..stretch()
        };
        assert_eq!(
            explain(&coarse, 0.95).unwrap().reasons,
            vec![Reason::NotKnown {
                lost: 80,
                of: 400,
                why: Unclear::LevelOpen
            }]
        );
    }

    #[test]
    fn fewer_than_five_losses_tell_no_reason_whatever_the_level_says() {
        let of_107 = |lost, rate, low, high| {
            let stretch = Stretch {
                exchanges: 107,
                lost,
                inflation: 1.0,
                explained: Some(level(rate, low, high)),
                ..stretch()
            };
            explain(&stretch, 0.95).unwrap().reasons
        };
        for lost in 1..TELLING {
            let too_few = Reason::NotKnown {
                lost,
                of: 107,
                why: Unclear::TooFew,
            };
            // Weakness would explain all of them, or none, or the level leaves it open.
            for (rate, low, high) in [(0.95, 0.9, 0.98), (1.0, 0.9999, 1.0), (0.99, 0.6, 1.0)] {
                assert_eq!(of_107(lost, rate, low, high), [too_few]);
            }
        }
        assert!(matches!(of_107(TELLING, 0.95, 0.9, 0.98)[..], [Reason::TooWeak { .. }]));
        // Nearly all of a handful is another matter.
        let gone = Stretch {
            exchanges: 4,
            lost: 4,
            explained: Some(level(0.02, 0.0, 0.05)),
            ..stretch()
        };
        let found = explain(&gone, 0.95).unwrap().reasons;
        assert!(matches!(found[..], [Reason::TooWeak { .. }]), "{found:?}");
    }

    #[test]
    fn five_is_the_first_count_known_to_better_than_a_factor_of_three() {
        // P(X <= count) of a Poisson mean.
        let up_to = |count: u64, mean: f64| {
            let terms = (1..=count).scan(1.0, |term, k| {
                *term *= mean / k as f64;
                Some(*term)
            });
            (1.0 + terms.sum::<f64>()) * (-mean).exp()
        };
        // Garwood's 95 % limits of four and five (Garwood 1936, also in Ulm 1990).
        for (count, low, high) in [(TELLING - 1, 1.0899, 10.2416), (TELLING, 1.6235, 11.6683)] {
            assert!((1.0 - up_to(count - 1, low) - 0.025).abs() < 1e-4);
            assert!((up_to(count, high) - 0.025).abs() < 1e-4);
            let factor = f64::sqrt(high / low);
            assert_eq!(factor < 3.0, count >= TELLING, "{count}: {factor}");
        }
    }

    #[test]
    fn losses_beyond_those_of_a_weak_level_are_told_as_not_known() {
        let weak = |lost| {
            let stretch = Stretch {
                exchanges: 112,
                lost,
                explained: Some(level(0.916, 0.8, 0.97)),
                ..stretch()
            };
            explain(&stretch, 0.95).unwrap().reasons
        };
        let found = weak(16);
        assert!(
            matches!(
                found[..],
                [
                    Reason::TooWeak { .. },
                    Reason::NotKnown {
                        lost: 7,
                        of: 112,
                        why: Unclear::Rest
                    }
                ]
            ),
            "{found:?}"
        );
        assert!(matches!(weak(13)[..], [Reason::TooWeak { .. }]));
    }

    #[test]
    fn a_level_that_is_enough_for_any_board_is_strong() {
        let any = |rate, low| {
            let explained = Explained {
                by: Basis::AnyBoard { half_dbm: -82.0 },
                ..level(rate, low, 1.0)
            };
            let stretch = Stretch {
                exchanges: 600,
                lost: 55,
                explained: Some(explained),
                ..stretch()
            };
            explain(&stretch, 0.95).unwrap().reasons
        };
        assert!(
            matches!(any(0.999, 0.99)[..], [Reason::Interference { lost, of: 600, strong: true, .. }] if lost == 55.0),
            "{:?}",
            any(0.999, 0.99)
        );
        // Weakness is never told from it, whatever it would explain.
        assert_eq!(
            any(0.8, 0.6),
            vec![Reason::NotKnown {
                lost: 55,
                of: 600,
                why: Unclear::NeedUnknown
            }]
        );
    }

    #[test]
    fn silences_and_gaps_are_named_first() {
        let s = Stretch {
            lost_in_silence: 80,
            unread: 12,
            ..stretch()
        };
        let r = explain(&s, 0.95).unwrap();
        assert_eq!(
            r.reasons,
            vec![
                Reason::GapInStream { unread: 12 },
                Reason::StationSilent {
                    lost: 80,
                    of: 400,
                    lasted: true
                }
            ]
        );
        assert_eq!(r.found.unwrap().high, 1.0);
        let nothing = Stretch {
            exchanges: 0,
            lost: 0,
            ..stretch()
        };
        assert_eq!(explain(&nothing, 0.95).unwrap().found, None);
        assert_eq!(explain(&Stretch { lost: 401, ..stretch() }, 0.95), None);
    }

    #[test]
    fn counters_split_the_way_out_from_the_way_back() {
        let every_second = |count: fn(u64) -> u64| {
            directions((0..199).map(|number| Ping {
                number,
                answered: number % 2 == 0,
                heard: (number % 2 == 0).then(|| count(number)),
            }))
        };
        // Every second answer is lost on its way back; all pings are heard.
        let d = every_second(|number| number + 5).unwrap();
        assert_eq!(
            d,
            Directions {
                sent: 197,
                heard: 197,
                answered: 98
            }
        );
        let s = Stretch {
            exchanges: 199,
            lost: 99,
            directions: Some(d),
            ..stretch()
        };
        let r = explain(&s, 0.95).unwrap();
        assert!(
            matches!(r.reasons[..], [Reason::OneWay { worse: Way::Back, .. }]),
            "where they were lost stands alone: {r:?}"
        );
        // Every second ping is not heard: the way out.
        let d = every_second(|number| number / 2).unwrap();
        assert_eq!(
            d,
            Directions {
                sent: 197,
                heard: 98,
                answered: 98
            }
        );
        let r = explain(
            &Stretch {
                directions: Some(d),
                ..s
            },
            0.95,
        )
        .unwrap();
        assert!(
            r.reasons
                .iter()
                .any(|x| matches!(x, Reason::OneWay { worse: Way::Out, .. })),
            "{r:?}"
        );
    }
}
