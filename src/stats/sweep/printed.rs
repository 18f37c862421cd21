//! What may be said about a figure, in which words, and why sometimes nothing.

use std::fmt;

/// A figure with what may be said about it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Printed<T> {
    /// The figure with its 95 % interval.
    Value(T),
    /// Only that it is no less than this, in the figure's own unit.
    AtLeast {
        /// The lower bound (2.5 % point, or what the calibration asks for below it).
        low: f64,
        /// Why the upper end is open.
        why: WhyNot,
    },
    /// Only that it is no more than this, in the figure's own unit.
    AtMost {
        /// The upper bound (97.5 % point).
        high: f64,
        /// Why the lower end is open.
        why: WhyNot,
    },
    /// Nothing.
    NotPrinted(WhyNot),
}

/// An estimate with its 95 % interval, all in one unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The estimate.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end; `None` when open.
    pub high: Option<f64>,
}

impl Printed<Estimate> {
    /// The same moved by an amount in the figure's own unit.
    #[must_use]
    pub fn moved(self, by: f64) -> Self {
        match self {
            Self::Value(estimate) => Self::Value(Estimate {
                value: estimate.value + by,
                low: estimate.low + by,
                high: estimate.high.map(|high| high + by),
            }),
            Self::AtLeast { low, why } => Self::AtLeast { low: low + by, why },
            Self::AtMost { high, why } => Self::AtMost { high: high + by, why },
            Self::NotPrinted(why) => Self::NotPrinted(why),
        }
    }
}

/// A direction with its 95 % interval to either side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// The estimate, degrees in 0 to below 360.
    pub centre_deg: f64,
    /// Half the width of the interval, degrees in 0 to 180.
    pub half_width_deg: f64,
}

impl Arc {
    /// Whether a turn in degrees lies on the arc.
    pub fn holds(&self, turn_deg: f64) -> bool {
        crate::stats::circular::signed_difference(self.centre_deg, turn_deg).abs() <= self.half_width_deg + 1e-9
    }
}

/// Why a figure is not said, or only one side of it. Screen and write-up share these words.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WhyNot {
    /// No step has an exchange.
    NoExchanges,
    /// Every exchange was lost.
    NothingHeard,
    /// Every exchange of this turn was lost.
    SilentTurn,
    /// No echo carries a level in this direction.
    NoReadings,
    /// No echo carries levels both ways.
    NoOffset,
    /// Too few different turns.
    TooFewTurns {
        /// Turns measured.
        have: usize,
        /// Turns needed.
        need: usize,
    },
    /// Enough turns to tell whether the level depends on them, too few to tell how much.
    NotHowMuch {
        /// Turns measured.
        have: usize,
        /// Turns needed.
        need: usize,
    },
    /// Too few turns at which anything was heard.
    TooFewHeard {
        /// Turns heard.
        have: usize,
        /// Turns needed.
        need: usize,
    },
    /// Nothing was measured over a wide stretch of turns.
    Gap {
        /// Width of the stretch, degrees.
        gap_deg: f64,
    },
    /// The level does not depend on the turn beyond noise.
    NoDirectivity {
        /// Probability of so much dependence by chance.
        p: f64,
        /// What it had to stay below.
        needed: f64,
    },
    /// A step heard nothing, hardly anything, or lies far below the fitted curve, or the null may be deeper than the curve
    /// can follow.
    SharpNull,
    /// The steps scatter about the curve more than multipath on open ground makes them: the pattern is sharper than the
    /// curve, or the ground is rough.
    Uneven {
        /// Scatter of the steps, dB.
        tau_db: f64,
    },
    /// The interval is too wide to help.
    TooWide {
        /// Width of the 95 % interval, degrees.
        width_deg: f64,
        /// Widest that is printed, degrees.
        most_deg: f64,
    },
    /// The pattern does not fall 3 dB on both sides.
    NeverFalls,
    /// The first turn was not measured again.
    NotRepeated,
    /// The fit failed.
    NoFit,
}

impl fmt::Display for WhyNot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoExchanges => f.write_str("no exchange was measured at any turn"),
            Self::NothingHeard => f.write_str("nothing was heard at any turn; go nearer to the station"),
            Self::SilentTurn => f.write_str("nothing was heard at this turn"),
            Self::NoReadings => f.write_str("the echoes carry no level in this direction"),
            Self::NoOffset => f.write_str("no echo carries a level both ways, so the two cannot be joined"),
            Self::TooFewTurns { have: 1, need } => write!(f, "1 turn measured, {need} needed"),
            Self::TooFewTurns { have, need } => write!(f, "{have} turns measured, {need} needed"),
            Self::NotHowMuch { have, need } => {
                write!(f, "{have} turns do not tell how much; measure {need} or more")
            }
            Self::TooFewHeard { have: 1, need } => {
                write!(f, "heard at 1 turn, {need} needed; go nearer to the station")
            }
            Self::TooFewHeard { have, need } => {
                write!(f, "heard at {have} turns, {need} needed; go nearer to the station")
            }
            Self::Gap { gap_deg } => write!(f, "nothing measured over {gap_deg:.0}° of turn"),
            Self::NoDirectivity { p, needed } => {
                write!(
                    f,
                    "no directivity beyond noise ({})",
                    super::direction_test::told(*p, *needed)
                )
            }
            Self::SharpNull => f.write_str("the null may be sharper than the steps show"),
            Self::Uneven { tau_db } => {
                write!(
                    f,
                    "the steps scatter by {tau_db:.1} dB about the curve; measure more turns, in the open"
                )
            }
            Self::TooWide { width_deg, most_deg } => {
                write!(
                    f,
                    "its interval is {:.0}° wide, and none wider than {most_deg:.0}° is told; measure more turns",
                    width_deg.min(360.0)
                )
            }
            Self::NeverFalls => f.write_str("the pattern does not fall 3 dB on both sides"),
            Self::NotRepeated => f.write_str("the first turn was not measured again at the end"),
            Self::NoFit => f.write_str("the steps could not be fitted"),
        }
    }
}

impl<T> Printed<T> {
    /// The figure with its interval, where it may be said in full.
    pub fn value(&self) -> Option<&T> {
        match self {
            Self::Value(value) => Some(value),
            _ => None,
        }
    }

    /// Why it is not said, or not in full.
    pub fn why(&self) -> Option<WhyNot> {
        match self {
            Self::Value(_) => None,
            Self::AtLeast { why, .. } | Self::AtMost { why, .. } | Self::NotPrinted(why) => Some(*why),
        }
    }
}

impl Printed<Estimate> {
    /// Whether what is said holds for a true value; `None` when nothing is said.
    pub fn holds(&self, truth: f64) -> Option<bool> {
        match self {
            Self::Value(interval) => Some(interval.low <= truth && interval.high.is_none_or(|high| truth <= high)),
            Self::AtLeast { low, .. } => Some(*low <= truth),
            Self::AtMost { high, .. } => Some(truth <= *high),
            Self::NotPrinted(_) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_arc_holds_turns_across_north() {
        let arc = Arc {
            centre_deg: 350.0,
            half_width_deg: 20.0,
        };
        assert!(arc.holds(10.0) && arc.holds(330.0) && !arc.holds(11.0) && !arc.holds(170.0));
    }

    #[test]
    fn every_way_of_saying_it_can_be_checked() {
        let interval = Estimate {
            value: 6.0,
            low: 4.0,
            high: Some(9.0),
        };
        assert_eq!(Printed::Value(interval).holds(9.0), Some(true));
        assert_eq!(Printed::Value(interval).holds(3.9), Some(false));
        let why = WhyNot::SharpNull;
        assert_eq!(Printed::<Estimate>::AtLeast { low: 4.0, why }.holds(40.0), Some(true));
        assert_eq!(Printed::<Estimate>::AtMost { high: 4.0, why }.holds(5.0), Some(false));
        assert_eq!(Printed::<Estimate>::NotPrinted(why).holds(5.0), None);
        assert_eq!(Printed::<Estimate>::NotPrinted(why).why(), Some(why));
    }
}
