//! How many of the losses of a stretch were the level's doing, with limits.
//!
//! A message counts as lost to weakness where its level alone would have lost it, whatever else befell it; the others were taken
//! at a level that was enough. The number of a stretch scatters about what its level loses in the long run, as any count does.

use super::proportions::Interval;

/// A stretch outside silences, and what is known of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counted {
    /// Messages sent.
    pub sent: u64,
    /// Of these, lost.
    pub lost: u64,
    /// The share the level alone loses, 0 to 1: estimate, and limits of the level.
    pub share: (f64, Interval),
    /// What is lost at any level, at most: a share of 0 to 1; `None` where no walk tells.
    pub struck_at_most: Option<f64>,
    /// How many messages are worth one, at least 1.
    pub inflation: f64,
}

/// By how many times the odds of being lost at any level may be higher at a place than the walk's: others' traffic is patchy.
const PATCHY: f64 = 2.0;

impl Counted {
    /// The number that the level's estimate makes of it, at most all that were lost.
    pub fn estimate(&self) -> f64 {
        (self.sent as f64 * self.share.0).clamp(0.0, self.lost as f64)
    }

    /// Limits of the number lost to weakness, `z` normal quantiles either way: whole numbers, outwards; the estimate lies between.
    pub fn limits(&self, z: f64) -> Interval {
        let estimate = self.estimate();
        Interval {
            low: self.at_least(z).floor().min(estimate),
            high: self.at_most(z).ceil().min(self.lost as f64).max(estimate),
        }
    }

    /// No fewer than this were lost to weakness, `z` normal quantiles off.
    ///
    /// The level's end and the count's own scatter there, added in quadrature; or what is left when all that may be lost at any
    /// level has been taken off, where that is more.
    pub fn at_least(&self, z: f64) -> f64 {
        let level = self.middle() - self.away(self.share.1.low, z);
        level.max(self.left_by_interference(z)).clamp(0.0, self.lost as f64)
    }

    /// No more than this: of a count whose mean is small the upper limit lies farther off than its deviation says.
    fn at_most(&self, z: f64) -> f64 {
        self.middle() + self.away(self.share.1.high, z) + 0.5 * z * z
    }

    fn middle(&self) -> f64 {
        self.sent as f64 * self.share.0
    }

    fn away(&self, share: f64, z: f64) -> f64 {
        let sent = self.sent as f64;
        let of_level = (sent * share - self.middle()) * z / LEVEL_Z;
        of_level.hypot(z * (sent * share * (1.0 - share)).max(0.0).sqrt())
    }

    /// What is lost beyond all that may be lost at any level.
    fn left_by_interference(&self, z: f64) -> f64 {
        let Some(share) = self.struck_at_most.filter(|share| *share < 1.0) else {
            return 0.0;
        };
        let delivered = (self.sent - self.lost) as f64;
        let taken = PATCHY * delivered * share / (1.0 - share);
        self.lost as f64 - taken - z * (self.inflation * taken).sqrt() - 0.5 * z * z
    }
}

/// The limits of a level are so many deviations off.
const LEVEL_Z: f64 = 1.959_964;

#[cfg(test)]
mod tests {
    use super::*;

    fn counted(lost: u64, share: f64, low: f64, high: f64) -> Counted {
        Counted {
            sent: 400,
            lost,
            share: (share, Interval { low, high }),
            struck_at_most: None,
            inflation: 1.0,
        }
    }

    #[test]
    fn a_level_known_exactly_leaves_the_scatter_of_the_count() {
        // Binomial(400, 0.2): mean 80, deviation 8, by hand.
        let limits = counted(400, 0.2, 0.2, 0.2).limits(2.0);
        assert_eq!((limits.low, limits.high), (64.0, 98.0));
        // Of what was lost, no more can have been.
        assert_eq!(counted(85, 0.2, 0.2, 0.2).limits(2.0).high, 85.0);
        // How often a binomial count lies within: P(64 <= X <= 98) > 0.95, summed term by term.
        let mut term = 0.8_f64.powi(400);
        let mut within = 0.0;
        for count in 0..=400_u32 {
            within += if (64..=98).contains(&count) { term } else { 0.0 };
            term *= f64::from(400 - count) / f64::from(count + 1) * 0.25;
        }
        assert!((0.95..0.985).contains(&within), "{within}");
    }

    #[test]
    fn an_open_level_leaves_the_number_open_and_interference_bounds_it() {
        let open = counted(200, 0.5, 0.0, 1.0);
        let limits = open.limits(1.96);
        assert_eq!((limits.low, limits.high), (0.0, 200.0));
        let struck = Counted {
            struck_at_most: Some(0.05),
            ..open
        };
        // Of 200 delivered, 21 may have been struck beside them where it is patchy: 200 - 21 - 9 - 2.
        assert_eq!(struck.limits(1.96).low, 168.0);
        assert!(struck.at_least(1.0) > 168.0);
        let all = Counted {
            struck_at_most: Some(1.0),
            ..open
        };
        assert_eq!(all.limits(1.96).low, 0.0);
    }

    #[test]
    fn the_estimate_lies_within_its_limits() {
        let more_than_lost = counted(5, 0.2, 0.1, 0.3);
        let limits = more_than_lost.limits(1.96);
        assert_eq!((more_than_lost.estimate(), limits.high), (5.0, 5.0));
        let none = Counted {
            sent: 0,
            ..counted(0, 0.0, 0.0, 1.0)
        };
        assert_eq!(
            (none.estimate(), none.limits(1.96)),
            (0.0, Interval { low: 0.0, high: 0.0 })
        );
    }
}
