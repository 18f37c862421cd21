//! What is asked of a place, and the local mean level that answers it.

use super::tails::normal_quantile;

/// The uncertainty left in the needed level itself, as a standard deviation in dB.
const THRESHOLD_SD: f64 = 1.0;

/// How the receiver turns level into delivery: a steep waterfall around one level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Receiver {
    /// The level in dBm at which half of the exchanges are delivered, as its maker or an earlier measurement says.
    pub half_level: f64,
    /// How far that may be off, as a standard deviation in dB; 3 where nothing better is known.
    pub half_level_sd: f64,
    /// The width of the waterfall: standard deviation in dB of a normal curve; 1.2 for the radios the method was tuned on.
    pub waterfall: f64,
}

impl Receiver {
    /// A receiver known by its half-delivery level in dBm alone: 3 dB doubt, 1.2 dB waterfall.
    pub const fn at(half_level: f64) -> Self {
        Self {
            half_level,
            half_level_sd: 3.0,
            waterfall: 1.2,
        }
    }
}

/// What a placed node shall do that the walked one did not: a shift of its level and how well that shift is known.
///
/// Another board, another antenna, another mounting height: each enters the needed level as a shift with extra variance.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Change {
    /// dB by which the placed node's level lies above the walked node's; negative when it is weaker.
    pub gain: f64,
    /// Standard deviation of that gain in dB, 0 when it is exact.
    pub sd: f64,
}

/// Why a goal cannot be asked for.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum GoalError {
    /// The delivered share is not a share.
    #[error("the delivered share must lie between 0 and 1, both excluded; got {0}")]
    Share(f64),
    /// The margin is not a number.
    #[error("the margin must be a finite number of dB; got {0}")]
    Margin(f64),
    /// A change has no usable gain or spread.
    #[error("a change needs a finite gain and a spread of 0 dB or more; got {0} dB with spread {1} dB")]
    Change(f64, f64),
}

/// What a place must do: deliver a share of the exchanges even after some dB are lost.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Goal {
    share: f64,
    margin: f64,
    gain: f64,
    gain_variance: f64,
}

impl Goal {
    /// A goal of delivering `share` (0 to 1, both excluded) with `margin` dB lost (leaves, rain, ageing, a door).
    ///
    /// # Errors
    /// When the share is no share, or the margin not finite.
    pub fn new(share: f64, margin: f64) -> Result<Self, GoalError> {
        if !(share > 0.0 && share < 1.0) {
            return Err(GoalError::Share(share));
        }
        if !margin.is_finite() {
            return Err(GoalError::Margin(margin));
        }
        Ok(Self {
            share,
            margin,
            gain: 0.0,
            gain_variance: 0.0,
        })
    }

    /// The same goal for a node that differs by `change`; several changes add up, their spreads in squares.
    ///
    /// # Errors
    /// When the gain is not finite, or its spread negative or not finite.
    pub fn with(mut self, change: Change) -> Result<Self, GoalError> {
        if !(change.gain.is_finite() && change.sd.is_finite() && change.sd >= 0.0) {
            return Err(GoalError::Change(change.gain, change.sd));
        }
        self.gain += change.gain;
        self.gain_variance += change.sd * change.sd;
        Ok(self)
    }

    /// The delivered share asked for, between 0 and 1.
    pub const fn share(&self) -> f64 {
        self.share
    }

    /// The loss in dB the place must stand.
    pub const fn margin(&self) -> f64 {
        self.margin
    }

    /// The local mean level in dBm, as the walked node would measure it, that a place needs for this goal.
    ///
    /// `half_level` is the level of 50 % delivery (dBm), `fading_sd` the small-scale fading (dB), `waterfall` the
    /// receiver's width (dB), `background_loss` the share lost whatever the level. `None` when that background loss alone
    /// breaks the goal: then no level is enough.
    pub fn threshold(
        &self,
        half_level: f64,
        fading_sd: f64,
        waterfall: f64,
        background_loss: f64,
    ) -> Option<Threshold> {
        let spread = fading_sd.hypot(waterfall);
        let above = normal_quantile(self.share / (1.0 - background_loss))?;
        Some(Threshold {
            level: half_level + spread * above + self.margin - self.gain,
            sd: (THRESHOLD_SD * THRESHOLD_SD + self.gain_variance).sqrt(),
        })
    }
}

/// The level a place needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Threshold {
    /// Local mean level in dBm.
    pub level: f64,
    /// Its standard deviation in dB.
    pub sd: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_delivery_without_margin_needs_the_half_level() {
        let needed = Goal::new(0.5, 0.0).unwrap().threshold(-98.0, 5.0, 1.2, 0.0).unwrap();
        assert!((needed.level + 98.0).abs() < 1e-12);
        assert_eq!(needed.sd, 1.0);
    }

    #[test]
    fn changes_shift_the_level_and_widen_it() {
        let plain = Goal::new(0.95, 10.0).unwrap();
        let changed = plain
            .with(Change { gain: 4.0, sd: 2.0 })
            .and_then(|goal| goal.with(Change { gain: -1.0, sd: 1.0 }))
            .unwrap();
        let (a, b) = (
            plain.threshold(-98.0, 4.0, 1.2, 0.01).unwrap(),
            changed.threshold(-98.0, 4.0, 1.2, 0.01).unwrap(),
        );
        assert!((a.level - b.level - 3.0).abs() < 1e-12);
        assert!((b.sd - 6.0_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn background_loss_can_break_the_goal() {
        assert_eq!(Goal::new(0.95, 0.0).unwrap().threshold(-98.0, 4.0, 1.2, 0.05), None);
        assert!(
            Goal::new(0.95, 0.0)
                .unwrap()
                .threshold(-98.0, 4.0, 1.2, 0.049)
                .is_some()
        );
    }

    #[test]
    fn senseless_goals_are_refused() {
        assert_eq!(Goal::new(1.0, 0.0), Err(GoalError::Share(1.0)));
        assert!(Goal::new(f64::NAN, 0.0).is_err());
        assert!(Goal::new(0.9, f64::INFINITY).is_err());
        assert!(
            Goal::new(0.9, 3.0)
                .unwrap()
                .with(Change { gain: 0.0, sd: -1.0 })
                .is_err()
        );
    }
}
