//! Why the messages of a board's walks were lost, as its fit tells: too weak, at any level, in a silence of the station.

use super::loss_words::{self, Among};
use super::reach::Reach;
use super::silences::Silences;
use super::stop::CONFIDENCE;
use super::words::{count, metres};
use crate::stats::burst::{BurstMemory, INTERVAL_PRIOR, Outcomes};
use crate::stats::losses::{Reason, Stretch, explain};
use crate::stats::walk::posterior::Spread;
use crate::survey::sample::{Activity, Excluded, Sample, Samples};

/// What was lost on the walks of one board.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WalkLosses {
    /// Exchanges of its walks that count.
    pub exchanges: u64,
    /// Of them lost.
    pub lost: u64,
    /// Of these, in silences of the station.
    pub silent: u64,
    /// Exchanges not read, which do not count.
    pub unread: u64,
    /// The others, as far as the fit tells them apart; `None` without a fit.
    pub split: Option<Split>,
    /// Where one way lost clearly more than the other.
    pub one_way: Option<Reason>,
    /// Nearest and farthest from the station, metres, of those that have a distance.
    pub span_m: Option<(f64, f64)>,
}

/// Losses outside silences by their reason: how many, with 95 % limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Split {
    /// Because the signal was below what the board needs.
    pub weak: Spread,
    /// At levels that were enough: interference, or a station too busy to answer.
    pub strong: Spread,
}

impl Split {
    /// Tells `lost` of `exchanges` apart by the share that is lost at any level.
    ///
    /// What is lost at any level is lost of what the level let through, delivered or not: of D delivered, D f / (1 - f).
    fn of(exchanges: u64, lost: u64, interference: Spread) -> Self {
        let delivered = (exchanges - lost) as f64;
        let all = lost as f64;
        let strong = interference.map(|share| (delivered * share / (1.0 - share).max(1e-9)).min(all));
        Self {
            strong,
            weak: Spread {
                low: all - strong.high,
                median: all - strong.median,
                high: all - strong.low,
            },
        }
    }
}

impl WalkLosses {
    /// Looks at the walks of a board; `reach` is what they showed of it, where levels were read.
    pub fn of(samples: &Samples, board: &str, reach: Option<&Reach>) -> Self {
        let mut losses = Self {
            unread: unread(samples, board),
            ..Self::default()
        };
        let silences = reach.map_or_else(Silences::default, |reach| {
            let known = reach.need.map(|need| need.curve.m_dbm());
            Silences::of(samples, board, reach.side, known)
        });
        let walked = || samples.counted(board).filter(|row| row.activity == Activity::Walk);
        let mut outcomes = Outcomes::default();
        for row in walked() {
            outcomes.push(row.delivered());
            losses.silent += u64::from(silences.took(row));
            if let Some(metres) = row.distance().map(|distance| distance.0) {
                let span = losses.span_m.get_or_insert((metres, metres));
                *span = (span.0.min(metres), span.1.max(metres));
            }
        }
        (losses.exchanges, losses.lost) = (outcomes.exchanges(), outcomes.lost());
        let (exchanges, lost) = (losses.exchanges - losses.silent, losses.lost - losses.silent);
        losses.split = reach
            .and_then(Reach::interference_share)
            .map(|share| Split::of(exchanges, lost, share));
        let stretch = Stretch {
            exchanges: losses.exchanges,
            lost: losses.lost,
            lost_in_silence: losses.silent,
            silence_lasted: true,
            unread: 0,
            // Losses of a walk come in clumps of the ground's own making: few of them are worth one.
            inflation: BurstMemory::default().with(&outcomes).inflation(INTERVAL_PRIOR),
            explained: None,
            struck_at_most: None,
            directions: silences.directions(walked()),
        };
        let reasons = explain(&stretch, CONFIDENCE).map(|found| found.reasons);
        losses.one_way = reasons
            .into_iter()
            .flatten()
            .find(|reason| matches!(reason, Reason::OneWay { .. }));
        losses
    }

    /// How many were lost of how many and why, each in a clause: first all of them, then each reason; none where nothing was
    /// lost or missed. `why_not`: why the fit does not tell them apart, where there is none; `needed`: whether what the board
    /// needs is known.
    pub fn words(&self, why_not: Option<&str>, needed: bool) -> Vec<String> {
        let mut said = Vec::new();
        if self.lost > 0 {
            said.push(format!(
                "{} of {} lost while walking",
                count(self.lost),
                count(self.exchanges)
            ));
        }
        if self.unread > 0 {
            let gap = Reason::GapInStream { unread: self.unread };
            said.push(loss_words::reason(&gap, Among::All));
        }
        if self.silent > 0 {
            said.push(format!(
                "{} while the station was silent: left out of law, ranges and map",
                count(self.silent)
            ));
        }
        let others = self.lost - self.silent;
        match (self.split, why_not) {
            _ if others == 0 => {}
            (Some(_), _) if others < FEW => said.push(format!("{}: too few to tell why", count(others))),
            (Some(split), _) if split.weak.low < 1.0 && split.strong.low < 1.0 => said.push(format!(
                "{} too weak or lost to interference: the fit leaves both open",
                count(others)
            )),
            (Some(split), _) => {
                let below = if needed {
                    "below what the board needs"
                } else {
                    "by the fit"
                };
                said.push(format!(
                    "{} because the signal was too weak, {below}",
                    spread(split.weak)
                ));
                said.push(format!(
                    "{} at levels that were enough: interference or a busy station, not range",
                    spread(split.strong)
                ));
            }
            // Where they were lost says more than that nothing tells why.
            (None, Some(why)) if self.one_way.is_none() => {
                said.push(format!("why {} were lost cannot be told: {why}", count(others)));
            }
            (None, _) => {}
        }
        if let Some(one_way) = &self.one_way {
            said.push(loss_words::reason(one_way, Among::All));
        }
        said
    }

    /// That all was lost, from where to where, and that why cannot be told, in a clause; `None` where something arrived or
    /// nothing was sent.
    pub fn all_lost(&self) -> Option<String> {
        if self.exchanges == 0 || self.lost < self.exchanges {
            return None;
        }
        let whence = self.span_m.map_or_else(
            || ", at no known distance,".to_owned(),
            |(near, far)| format!(" between {} and {} from the station", metres(near), metres(far)),
        );
        Some(format!(
            "all {} messages of its walks{whence} were lost; no level arrived on them, so why cannot be told: the station off or on another channel, or every place too far",
            count(self.exchanges)
        ))
    }
}

/// Fewer losses than this are not told apart by their reason.
const FEW: u64 = 10;

/// Rows of a board's walks that were not read.
fn unread(samples: &Samples, board: &str) -> u64 {
    let of_walk = |row: &&Sample| {
        row.excluded == Some(Excluded::Unread) && row.activity == Activity::Walk && samples.board(row) == board
    };
    samples.rows.iter().filter(of_walk).count() as u64
}

/// A number reckoned, with its limits rounded outwards: `about 194 (66 to 229)`.
fn spread(number: Spread) -> String {
    let (low, high) = (number.low.floor().max(0.0) as u64, number.high.ceil() as u64);
    if number.median < 0.5 {
        return format!("at most {}", count(high));
    }
    format!(
        "about {} ({} to {})",
        count(number.median.round() as u64),
        count(low),
        count(high)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::directions::Directions;

    #[test]
    fn what_is_lost_at_any_level_is_told_apart_from_weakness() {
        // 1000 sent; the level lets 800 through, of which a twentieth is lost: 760 arrive, 200 were too weak, 40 were not.
        let share = Spread {
            low: 0.03,
            median: 0.05,
            high: 0.3,
        };
        let split = Split::of(1000, 240, share);
        assert!((split.strong.median - 40.0).abs() < 1e-9 && (split.weak.median - 200.0).abs() < 1e-9);
        // No more than were lost.
        assert_eq!((split.strong.high, split.weak.low), (240.0, 0.0));
        assert!(split.weak.high < 240.0 && split.strong.low > 0.0);
    }

    #[test]
    fn each_reason_is_said_with_its_number() {
        let losses = WalkLosses {
            exchanges: 1120,
            lost: 360,
            silent: 120,
            unread: 31,
            split: Some(Split::of(
                1000,
                240,
                Spread {
                    low: 0.03,
                    median: 0.05,
                    high: 0.1,
                },
            )),
            one_way: None,
            span_m: Some((10.0, 300.0)),
        };
        assert_eq!(
            losses.words(None, true),
            [
                "360 of 1,120 lost while walking",
                "31 not read: the stream was broken, they are unknown and not lost",
                "120 while the station was silent: left out of law, ranges and map",
                "about 200 (155 to 217) because the signal was too weak, below what the board needs",
                "about 40 (23 to 85) at levels that were enough: interference or a busy station, not range",
            ]
        );
        let unfitted = WalkLosses { split: None, ..losses };
        let said = unfitted.words(Some("no exchange of a walk has a position"), false);
        assert_eq!(
            said.last().unwrap(),
            "why 240 were lost cannot be told: no exchange of a walk has a position"
        );
        assert_eq!(WalkLosses::default().words(None, true), [""; 0]);
        let few = WalkLosses {
            lost: 122,
            split: Some(Split::of(
                1000,
                2,
                Spread {
                    low: 0.0,
                    median: 0.001,
                    high: 0.1,
                },
            )),
            ..unfitted.clone()
        };
        assert_eq!(few.words(None, true).last().unwrap(), "2: too few to tell why");
        assert_eq!(unfitted.all_lost(), None);
    }

    #[test]
    fn nothing_arrived_says_from_where_to_where() {
        let losses = WalkLosses {
            exchanges: 1550,
            lost: 1550,
            span_m: Some((4.2, 301.0)),
            ..WalkLosses::default()
        };
        let said = losses.all_lost().unwrap();
        assert!(
            said.starts_with(
                "all 1,550 messages of its walks between 4.2 m and 301 m from the station were lost; no level"
            ),
            "{said}"
        );
    }

    #[test]
    fn a_walk_that_loses_its_answers_says_which_way() {
        use crate::stats::losses::Way;
        let row = |index: u32| Sample {
            utc: crate::units::UtcMs(0),
            at: crate::units::Elapsed(u64::from(index) * 100_000),
            boot: 0,
            run: 1,
            n: u64::from(index),
            echo: (!index.is_multiple_of(3)).then(|| crate::survey::exchange::Heard {
                heard: Some(u64::from(index)),
                ..crate::survey::exchange::Heard::default()
            }),
            channel: None,
            place: None,
            activity: Activity::Walk,
            excluded: (index >= 600).then_some(Excluded::Unread),
        };
        let samples = Samples {
            rows: (0..640).map(row).collect(),
            boots: vec![crate::survey::sample::BootName {
                board: "yew".into(),
                boot: 1,
            }],
            ..Samples::default()
        };
        let losses = WalkLosses::of(&samples, "yew", None);
        assert_eq!((losses.exchanges, losses.lost, losses.unread), (600, 200, 40));
        let Some(Reason::OneWay { worse, counts, .. }) = losses.one_way else {
            panic!("{losses:?}")
        };
        let Directions { sent, heard, answered } = counts;
        assert_eq!((worse, sent, heard), (Way::Back, heard, sent));
        assert!((heard - answered).abs_diff(199) <= 1, "{counts:?}");
    }
}
