//! What may be said of a fitted sweep: each figure as an interval, as a bound, or not at all, with the reason.

use super::direction_test::{TURNS_FOR_HOW_MUCH, needed};
use super::features::{Features, SPACING_DEG};
use super::fit::{PatternFit, UNEVEN_DB};
use super::printed::{Arc, Estimate, Printed, WhyNot};
use crate::stats::circular::{signed_difference, widest_gap_deg};

/// Widest stretch without a step for which figures of the whole circle are said, degrees.
const GAP_MAX_DEG: f64 = 120.0;
/// Estimate of a width or share, degrees, that is still printed.
const WIDTH_INTERVAL_MAX_DEG: f64 = 120.0;
/// Half-width of a turn's interval, degrees, that is still printed.
const TURN_HALF_WIDTH_MAX_DEG: f64 = 90.0;

/// The interval of the strongest turn is widened so much: draws of the curve alone held the turn in 93.5 of 100 twelve-turn
/// sweeps over one lobe among trees.
const TURN_WIDENING: f64 = 1.15;
/// The same below [`TURNS_FOR_HOW_MUCH`]: there they held it in 91 of 100, and a quarter as wide again in 94.
const FEW_TURNS_WIDENING: f64 = 1.4;
/// The interval of the null's turn is widened so much: draws of the curve alone held it in 89 of 100 sweeps among trees,
/// half as wide again in 92 at 16 turns, and at 12 turns 1.75 times as wide in 16 of 18 rehearsed sweeps over drawn patterns
/// (seeds 33000 to 33047).
const NULL_TURN_WIDENING: f64 = 2.0;
/// The same below [`TURNS_FOR_HOW_MUCH`]: among trees 1.75 times as wide held it in 24 of 26 sweeps over one lobe.
const FEW_NULL_TURN_WIDENING: f64 = 2.3;
/// Intervals of front to back reach so much further from the estimate, to either side, than the draws do.
///
/// The sweeps that are called directional are those whose fades make lobes look stronger than they are, and fades that
/// neighbouring turns share pass for a pattern. In 1 300 rehearsals the draws' own interval of peak to null began above the
/// truth in 6 of 100 sweeps that gave one (in 12 of 100 over two lobes in 16 turns), that of front to back ended below it in
/// 4; of two equal lobes among trees the lower end of front to back was above 0 in 9 of 100. At 1.4 times the distance 1 of
/// 100 is left.
const DEPTH_WIDENING: f64 = 1.4;
/// The same for peak to null, where a board that is nearly round is called directional only in sweeps whose fades are large: at
/// 1.4 times the distance it held 46 of 50 in rehearsals over drawn patterns of 12 turns (seeds 36000 to 36199), and for 96 in 100
/// had to reach 1.09 times as far in plain worlds, 1.11 times in rough ones.
const NULL_DEPTH_WIDENING: f64 = 1.65;
/// Widths reach so much further as well: over one lobe in sixteen turns the draws' own held in 86 of 100 rehearsals.
const WIDTH_WIDENING: f64 = 1.4;
/// What is said as "at most" of a board not shown to be directional is so many times what the draws say: in 2 of 100
/// rehearsals one broad lobe had drowned in fades and was as deep as their 97.5 % point, or deeper.
const AT_MOST_WIDENING: f64 = 1.1;
/// The bound where peak to null is said as "at least" is taken so much further: it is worded so because the null looks deep or
/// the steps are uneven, and both happen most where fades deepen it. The draws' own 2.5 % point was above the truth in 12 of 100 such
/// sweeps; 98.5 of 100 needed 1.6 times its distance from the estimate, those over two lobes more: at 1.6 times theirs held in
/// 90 of 100.
const NULL_BOUND_WIDENING: f64 = 2.0;
/// The same for front to back: the draws' own point was above the truth in 5 of 100, never at 1.25 times the distance.
const BACK_BOUND_WIDENING: f64 = 1.25;
/// "At least" less than this, dB, says nothing: figures are told in whole decibels.
const LEAST_SAID_DB: f64 = 1.0;
/// A null nearer than this to the direction opposite the strongest may lie in it, degrees.
const NULL_BEHIND_DEG: f64 = 60.0;
/// A null whose interval reaches deeper than this, dB, is sharper than three harmonics can follow. Of 122 sweeps over the nulls
/// of a dipole, 22 dB deep, none stayed below it and 7 below 20 dB; over broad lobes of some 10 dB nine of ten do.
const NULL_MAX_DB: f64 = 18.0;
/// Turns from which on two opposite nulls narrower than the steps show in the steps beside them.
const TURNS_FOR_TWO_NULLS: usize = 16;
/// The same as [`NULL_MAX_DB`] for two nulls opposite each other in fewer turns: steps 30° apart pass a dipole's nulls at 15°,
/// where it is 11 dB down and hardly told from two broad lobes. In 200 rehearsals over nulls 22 dB deep (seeds 12000 to 12199)
/// the draws' interval reached 16 and 17 dB where it passed for that of a broad null.
const TWO_NULLS_MAX_DB: f64 = 15.0;

/// Decides what may be said about the features of a fit.
///
/// The rules and constants follow the calibration in `tests/calibration_sweep.rs`.
pub(super) struct Wording<'a> {
    fit: &'a PatternFit,
    features: Features,
    /// Why nothing about the whole circle may be said.
    silent: Option<WhyNot>,
}

impl<'a> Wording<'a> {
    /// Takes a fit, the turns measured, and the features read off it.
    pub(super) fn of(fit: &'a PatternFit, turns_deg: &[f64], features: Features) -> Self {
        let gap_deg = widest_gap_deg(turns_deg);
        Self {
            fit,
            features,
            silent: (gap_deg > GAP_MAX_DEG + 1e-6).then_some(WhyNot::Gap { gap_deg }),
        }
    }

    /// Why no direction may be named.
    fn undirected(&self) -> Option<WhyNot> {
        self.silent.or_else(|| {
            (!self.fit.directional).then(|| WhyNot::NoDirectivity {
                p: self.fit.direction_p.unwrap_or(1.0),
                needed: needed(self.fit.tau_db, self.fit.turns),
            })
        })
    }

    fn turn(&self, arc: Arc, widening: f64) -> Printed<Arc> {
        if let Some(why) = self.undirected() {
            return Printed::NotPrinted(why);
        }
        // Half a sample more: the extreme lies between samples of the curve.
        let arc = Arc {
            half_width_deg: arc.half_width_deg * widening + SPACING_DEG / 2.0,
            ..arc
        };
        if arc.half_width_deg >= TURN_HALF_WIDTH_MAX_DEG {
            return Printed::NotPrinted(WhyNot::TooWide {
                width_deg: 2.0 * arc.half_width_deg,
                most_deg: 2.0 * TURN_HALF_WIDTH_MAX_DEG,
            });
        }
        Printed::Value(arc)
    }

    /// The turn of the strongest direction.
    pub(super) fn strongest(&self) -> Printed<Arc> {
        self.turn(
            self.features.strongest,
            if self.fit.turns < TURNS_FOR_HOW_MUCH {
                FEW_TURNS_WIDENING
            } else {
                TURN_WIDENING
            },
        )
    }

    /// The turn of the deepest null.
    pub(super) fn weakest(&self) -> Printed<Arc> {
        let few = self.fit.turns < TURNS_FOR_HOW_MUCH;
        self.turn(
            self.features.weakest,
            if few {
                FEW_NULL_TURN_WIDENING
            } else {
                NULL_TURN_WIDENING
            },
        )
    }

    /// The width 3 dB below the strongest direction, degrees.
    pub(super) fn beamwidth(&self) -> Printed<Estimate> {
        if let Some(why) = self.undirected().or_else(|| self.bound_only()) {
            return Printed::NotPrinted(why);
        }
        if !self.features.beamwidth_exists {
            return Printed::NotPrinted(WhyNot::NeverFalls);
        }
        narrow(widened(self.features.beamwidth_deg, WIDTH_WIDENING))
    }

    /// The share of all directions within 3 dB of the strongest, 0 to 1.
    pub(super) fn share(&self) -> Printed<Estimate> {
        if let Some(why) = self.undirected().or_else(|| self.bound_only()) {
            return Printed::NotPrinted(why);
        }
        match narrow(widened(self.features.within_3_db_deg, WIDTH_WIDENING)) {
            Printed::Value(interval) => Printed::Value(Estimate {
                value: interval.value / 360.0,
                low: (interval.low / 360.0).max(0.0),
                high: interval.high.map(|high| (high / 360.0).min(1.0)),
            }),
            other => other,
        }
    }

    /// Front to back is open above only where the null may lie at the back.
    pub(super) fn front_to_back(&self) -> Printed<Estimate> {
        let ratio = self.features.front_to_back_db;
        let back_deg = self.features.strongest.centre_deg + 180.0;
        let null_off_deg = signed_difference(back_deg, self.features.weakest.centre_deg).abs();
        if self.undirected().is_some() || (self.distrusted().is_some() && null_off_deg < NULL_BEHIND_DEG) {
            return self.depth(ratio, self.distrusted(), BACK_BOUND_WIDENING);
        }
        Printed::Value(widened(ratio, DEPTH_WIDENING))
    }

    /// Strongest less weakest, dB.
    pub(super) fn null_depth(&self) -> Printed<Estimate> {
        let depth = self.features.peak_to_null_db;
        match self.depth(
            depth,
            self.bound_only().or_else(|| self.between_steps()),
            NULL_BOUND_WIDENING,
        ) {
            Printed::Value(depth) => Printed::Value(Estimate {
                low: depth.low.max(0.0),
                ..depth
            }),
            other => other,
        }
    }

    /// Why no more than a lower bound is said of how deep the pattern is and how wide its lobe: few turns tell whether, not
    /// how much. A curve of two harmonics does not see that a null is sharp: over nulls of 22 dB in eight turns two of
    /// twelve sweeps gave an interval that ended below 18 dB.
    fn bound_only(&self) -> Option<WhyNot> {
        let turns = self.fit.turns;
        let few = (turns < TURNS_FOR_HOW_MUCH).then_some(WhyNot::NotHowMuch {
            have: turns,
            need: TURNS_FOR_HOW_MUCH,
        });
        few.or_else(|| self.distrusted())
    }

    /// Why a null may lie between the steps, deeper than they show: two lobes back to back may be those of a dipole.
    fn between_steps(&self) -> Option<WhyNot> {
        let amplitude = |harmonic: usize| match self.fit.coefficients.get(2 * harmonic - 1..=2 * harmonic) {
            Some([cosine, sine]) => cosine.hypot(*sine),
            _ => 0.0,
        };
        let shallow = self
            .features
            .peak_to_null_db
            .high
            .is_some_and(|high| high <= TWO_NULLS_MAX_DB);
        let may_be = self.fit.turns < TURNS_FOR_TWO_NULLS && amplitude(2) > amplitude(1) && !shallow;
        may_be.then_some(WhyNot::SharpNull)
    }

    /// Why the curve's extremes may be passed by the true pattern.
    fn distrusted(&self) -> Option<WhyNot> {
        if self.fit.tau_db > UNEVEN_DB {
            return Some(WhyNot::Uneven {
                tau_db: self.fit.tau_db,
            });
        }
        match self.features.peak_to_null_db.high {
            Some(high) if high <= NULL_MAX_DB => None,
            _ => Some(WhyNot::SharpNull),
        }
    }

    /// A depth as an interval; where there is a reason why no more can be said, as a lower bound taken so many times as far
    /// as the draws'; of a board not shown to be directional, as what it has at most.
    fn depth(&self, interval: Estimate, bound_only: Option<WhyNot>, bound_widening: f64) -> Printed<Estimate> {
        if let Some(why) = self.silent {
            return Printed::NotPrinted(why);
        }
        match (self.undirected(), bound_only, self.features.at_most_db) {
            (Some(why), None, Some(high)) if self.fit.turns >= TURNS_FOR_HOW_MUCH => Printed::AtMost {
                high: AT_MOST_WIDENING * high,
                why,
            },
            (Some(why), _, _) => Printed::NotPrinted(why),
            (None, Some(why), _) => match widened(interval, bound_widening).low {
                low if low >= LEAST_SAID_DB => Printed::AtLeast { low, why },
                // At least nothing is nothing.
                _ => Printed::NotPrinted(why),
            },
            (None, None, _) => Printed::Value(widened(interval, NULL_DEPTH_WIDENING)),
        }
    }
}

/// An interval that reaches so many times as far from its estimate.
fn widened(interval: Estimate, times: f64) -> Estimate {
    Estimate {
        value: interval.value,
        low: interval.value - times * (interval.value - interval.low),
        high: interval
            .high
            .map(|high| interval.value + times * (high - interval.value)),
    }
}

/// A width in degrees, unless its interval is too wide to help.
fn narrow(interval: Estimate) -> Printed<Estimate> {
    let width_deg = interval.high.unwrap_or(360.0) - interval.low;
    if width_deg < WIDTH_INTERVAL_MAX_DEG {
        Printed::Value(interval)
    } else {
        Printed::NotPrinted(WhyNot::TooWide {
            width_deg,
            most_deg: WIDTH_INTERVAL_MAX_DEG,
        })
    }
}
