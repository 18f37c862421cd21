//! The fitted law drawn over distance: mean level and delivery with their bands.

use super::fit::{NoSlope, WalkFit};
use super::inflation::Inflation;
use super::learn::LOGIT_F;
use super::posterior::{Spread, mixture};
use super::rounds::NUGGET_DB;
use super::scurve::MeasuredSCurve;
use crate::stats::special::{logistic, logit};

/// The law at one distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LawPoint {
    /// Distance, metres.
    pub distance_m: f64,
    /// Mean level over shadowing and fading, dBm. Single places scatter about it by the shadowing.
    pub level_dbm: Spread,
    /// Share of exchanges delivered there on average over places, interference included.
    pub delivery: Spread,
    /// Whether the distance lies outside the walk: an extrapolation.
    pub extrapolated: bool,
}

impl WalkFit {
    /// The law at distances in metres; those not above 0 are left out.
    ///
    /// The band of delivery carries the level's uncertainty and that of the board's m, not that of the shadowing's
    /// spread.
    pub fn law(&self, distances_m: &[f64], inflation: &Inflation) -> Vec<LawPoint> {
        let sigma = self.posterior.mean(|part| part.ln_sigma).exp();
        let scatter = (sigma * sigma + NUGGET_DB * NUGGET_DB).sqrt();
        let board = 1.96 * self.covariance[0][0].max(0.0).sqrt() * inflation.sensitivity;
        let beliefs = self.beliefs(inflation.other_laws);
        let ripple = self.other_laws.ripple.as_ref();
        let usable = distances_m.iter().copied().filter(|d| *d > 0.0 && d.is_finite());
        usable
            .map(|distance_m| {
                let at = distance_m.log10();
                let level_dbm = mixture(beliefs.iter().map(|belief| {
                    let more = belief.shape.map_or(0.0, |shape| shape.at(at, ripple));
                    let (mean, variance) = belief.level(at - self.posterior.log10_reference, more);
                    let lack = self.lack(belief, at, inflation);
                    (mean, (variance + lack).sqrt(), belief.weight)
                }))
                .stretched(inflation.level);
                let against_board = Spread {
                    low: level_dbm.median - (level_dbm.median - level_dbm.low).hypot(board),
                    median: level_dbm.median,
                    high: level_dbm.median + (level_dbm.high - level_dbm.median).hypot(board),
                };
                LawPoint {
                    distance_m,
                    level_dbm,
                    delivery: against_board
                        .map(|level| (1.0 - self.interference) * self.delivery.shadowed(level, scatter)),
                    extrapolated: distance_m < self.extent.nearest_m || distance_m > self.extent.farthest_m,
                }
            })
            .collect()
    }

    /// The exponent n as it may be printed.
    ///
    /// # Errors
    ///
    /// Why none may be.
    pub fn slope(&self, inflation: &Inflation) -> Result<Spread, NoSlope> {
        match self.no_slope {
            Some(reason) => Err(reason),
            None => Ok(self
                .posterior
                .slope()
                .stretched(inflation.slope + inflation.slope_revisited * self.extent.revisited)),
        }
    }

    /// What the walker's body takes with the back to the station, dB: level and ranges are then those of a board that faces
    /// it. `None` where the walk did not go both ways, and body and law cannot be told apart.
    pub fn body_db(&self, inflation: &Inflation) -> Option<Spread> {
        self.body_apart
            .then(|| self.posterior.body_db().stretched(inflation.body))
    }

    /// The shadowing's standard deviation at a point, dB.
    pub fn shadowing_db(&self, inflation: &Inflation) -> Spread {
        let logarithm = self.posterior.sigma_db().map(f64::ln);
        logarithm.stretched(inflation.shadowing).map(f64::exp)
    }

    /// Share of exchanges lost at any level, however near the station: what interference takes, 0 to 1. Widened like the
    /// board's own curve, which rests on the same stretches of the walk.
    pub fn interference_share(&self, inflation: &Inflation) -> Spread {
        let near = logit(self.interference.clamp(1e-9, 1.0 - 1e-9)).unwrap_or_default();
        let half = 1.96 * self.covariance[LOGIT_F][LOGIT_F].max(0.0).sqrt();
        let spread = Spread {
            low: near - half,
            median: near,
            high: near + half,
        };
        spread.stretched(inflation.sensitivity).map(logistic)
    }

    /// The S-curve this walk measured, ready to be kept; `None` where it was known beforehand or its limit was not
    /// seen.
    pub fn measured_scurve(&self, inflation: &Inflation) -> Option<MeasuredSCurve> {
        if !self.curve_learned || !self.sensitivity_reached {
            return None;
        }
        let square = inflation.sensitivity * inflation.sensitivity;
        let c = &self.covariance;
        let cross = 0.5 * (c[0][1] + c[1][0]) * square;
        MeasuredSCurve::new(self.curve, [[c[0][0] * square, cross], [cross, c[1][1] * square]], 1)
    }

    /// 95 % interval of the Rician factor, dB; `None` where it was taken and not learned.
    ///
    /// Widened as m and s are, with which it was learned; never beyond the values tried, -10 to 15 dB.
    pub fn fading_k_interval_db(&self, inflation: &Inflation) -> Option<(f64, f64)> {
        let half = 1.96 * inflation.sensitivity * self.covariance[3][3].max(0.0).sqrt();
        (half > 0.0).then(|| ((self.k_db - half).max(-10.0), (self.k_db + half).min(15.0)))
    }
}
