//! The fitted law drawn over distance: mean level and delivery with their bands.

use super::fit::{NoSlope, WalkFit};
use super::inflation::Inflation;
use super::learn::{K, LOGIT_F};
use super::posterior::{Spread, mixture};
use super::rounds::NUGGET_DB;
use super::scurve::MeasuredSCurve;
use crate::stats::cells::{fade_masses, fades};
use crate::stats::special::{logistic, logit};

/// The law at one distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LawPoint {
    /// Distance, metres.
    pub distance_m: f64,
    /// Mean level over shadowing and fading, dBm. Single places scatter about it by the shadowing.
    pub level_dbm: Spread,
    /// Share of exchanges delivered there on average over places and over the interference of the way walked, to a walker who faces the
    /// station.
    pub delivery: Spread,
    /// Whether the distance lies outside the walk: an extrapolation.
    pub extrapolated: bool,
}

impl WalkFit {
    /// The law at distances in metres; those not above 0 are left out.
    ///
    /// The band of delivery carries what is not known of the level and of the board's m, of the shadowing's spread, and of what
    /// interference takes, which alone tells near the station. They are added up as squares of log odds.
    pub fn law(&self, distances_m: &[f64], inflation: &Inflation) -> Vec<LawPoint> {
        let sigma = self.posterior.mean(|part| part.ln_sigma).exp();
        let scatter = (sigma * sigma + NUGGET_DB * NUGGET_DB).sqrt();
        let board = 1.96 * self.covariance[0][0].max(0.0).sqrt() * inflation.sensitivity;
        let lost = self.interference_share(inflation);
        let shadowing = self.shadowing_db(inflation);
        let scatters = [shadowing.low, shadowing.high].map(|other| scatter * other / shadowing.median);
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
                let through = |level: f64, scatter: f64| self.delivery.shadowed(level, scatter);
                let middle = through(against_board.median, scatter);
                let kept = 1.0 - lost.median;
                let others = [against_board.low, against_board.high]
                    .map(|level| kept * through(level, scatter))
                    .into_iter()
                    .chain(scatters.map(|scatter| kept * through(against_board.median, scatter)))
                    .chain([lost.low, lost.high].map(|lost| (1.0 - lost) * middle));
                LawPoint {
                    distance_m,
                    level_dbm,
                    delivery: about(kept * middle, others),
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

    /// 95 % interval of the Rician factor, dB, in the mean over the exchanges of the walk where it changes on the way; `None` where it
    /// was taken and not learned. An end is open, `None`, beyond the values tried, -10 and 15 dB: fades hardly differ there.
    ///
    /// Widened as m and s are, with which it was learned; and upward by scatter within a cell that is none of fading
    /// ([`Inflation::unseen_scatter`]).
    pub fn fading_k_interval_db(&self, inflation: &Inflation) -> Option<(Option<f64>, Option<f64>)> {
        let half = 1.96 * inflation.sensitivity * self.covariance[K][K].max(0.0).sqrt();
        let less = fade_variance(self.k_db) - inflation.unseen_scatter;
        let more = (k_of_variance(less) - self.k_db).max(0.0);
        let (low, high) = (self.k_db - half, self.k_db + half.hypot(more));
        (half > 0.0).then(|| ((low > K_TRIED.0).then_some(low), (high < K_TRIED.1).then_some(high)))
    }
}

/// Rician factors tried, dB.
const K_TRIED: (f64, f64) = (-10.0, 15.0);

/// Variance in dB² of Rician fades; it falls as K, in dB, grows.
fn fade_variance(k_db: f64) -> f64 {
    let masses = fade_masses(k_db, 0.0);
    let fade = |i: usize| fades::FADE_MIN_DB + fades::LEVEL_STEP_DB * i as f64;
    let mean: f64 = masses.iter().enumerate().map(|(i, mass)| mass * fade(i)).sum();
    let squares = masses
        .iter()
        .enumerate()
        .map(|(i, mass)| mass * (fade(i) - mean).powi(2));
    squares.sum()
}

/// The K in dB whose fades have a variance in dB², to a hundredth; the ends of what is tried for one beyond it.
fn k_of_variance(variance: f64) -> f64 {
    let (mut low, mut high) = K_TRIED;
    while high - low > 0.01 {
        let middle = f64::midpoint(low, high);
        if fade_variance(middle) > variance {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// A share with what it would be were one thing or another different; what those change is added up as squares of log odds.
fn about(share: f64, others: impl Iterator<Item = f64>) -> Spread {
    let odds = |share: f64| logit(share.clamp(1e-9, 1.0 - 1e-9)).unwrap_or_default();
    let middle = odds(share);
    let (mut down, mut up) = (0.0_f64, 0.0_f64);
    for other in others {
        let change = odds(other) - middle;
        if change < 0.0 {
            down = down.hypot(change);
        } else {
            up = up.hypot(change);
        }
    }
    Spread {
        low: logistic(middle - down).min(share),
        median: share,
        high: logistic(middle + up).max(share),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_spread_of_fades_falls_with_k_and_is_undone() {
        // Rayleigh in decibels: 5.57 dB (J. Parsons 2000, The Mobile Radio Propagation Channel, 5.4); -10 dB is all but that.
        assert!((fade_variance(-10.0).sqrt() - 5.57).abs() < 0.05);
        for k_db in [-3.0, 4.0, 11.0] {
            assert!((k_of_variance(fade_variance(k_db)) - k_db).abs() < 0.02, "{k_db}");
        }
        assert!((k_of_variance(0.0) - 15.0).abs() < 0.02);
    }

    #[test]
    fn what_changes_a_share_is_added_up_as_squares_of_log_odds() {
        let odds = |share: f64| (share / (1.0 - share)).ln();
        let found = about(0.5, [0.6, 0.4, 0.3].into_iter());
        assert!((odds(found.low) + odds(0.6).hypot(odds(0.7))).abs() < 1e-9);
        assert!((odds(found.high) - odds(0.6)).abs() < 1e-9);
        let sure = about(1.0, std::iter::once(1.0));
        assert_eq!((sure.median, sure.high), (1.0, 1.0));
    }
}
