//! Laws of level against distance that are not one straight line: a bend, or the ripple of two waves over level ground.
//!
//! Each is the straight law with one more column. None is ever sure from one walk; their likelihoods weigh them against the
//! straight law, and a range is that of all of them together (Bayesian model averaging: J. Hoeting, D. Madigan, A. Raftery
//! and C. Volinsky 1999, Statistical Science 14:382).

use super::filter::Filtered;

/// The course of a level over distance under a law with a ripple of known shape: departures in dB from the straight law.
#[derive(Clone, Debug, PartialEq)]
pub struct Ripple {
    /// Departures at log10 metres of 0, 0.01, 0.02 and so on, dB.
    departures_db: Vec<f64>,
}

/// Step of a ripple's table in decades.
const STEP: f64 = 0.01;
/// Points of a ripple's table: one metre to 100 km.
const POINTS: usize = 501;

impl Ripple {
    /// Tabulates a departure in dB as a function of metres, one metre to 100 km; `None` where one is no number.
    pub fn new(departure_db: impl Fn(f64) -> Option<f64>) -> Option<Self> {
        let departures_db: Vec<f64> = (0..POINTS)
            .map(|i| departure_db(10_f64.powf(STEP * i as f64)).filter(|db| db.is_finite()))
            .collect::<Option<_>>()?;
        Some(Self { departures_db })
    }

    /// Departure in dB at a decimal logarithm of metres, by straight interpolation; beyond the table its ends.
    fn at(&self, log10_distance: f64) -> f64 {
        let place = (log10_distance / STEP).clamp(0.0, (POINTS - 1) as f64);
        let below = self.departures_db[place.floor() as usize];
        below + (self.departures_db[place.ceil() as usize] - below) * place.fract()
    }
}

/// The shape of the column that a law has more than the straight one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Shape {
    /// The exponent changes at this log10 distance; the coefficient is the change.
    Bend(f64),
    /// The ripple; the coefficient is its height.
    Ripple,
}

impl Shape {
    /// What the coefficient is multiplied by at a log10 distance, dB.
    pub(super) fn at(self, log10_distance: f64, ripple: Option<&Ripple>) -> f64 {
        match self {
            Self::Bend(at) => -10.0 * (log10_distance - at).max(0.0),
            Self::Ripple => ripple.map_or(0.0, |ripple| ripple.at(log10_distance)),
        }
    }
}

/// Belief about level at the reference, exponent and the further coefficient, for one pair of shadowing parameters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct OtherPart {
    pub ln_sigma: f64,
    pub mean: [f64; 3],
    pub covariance: [[f64; 3]; 3],
    /// Share of the law's belief; all shares sum to 1.
    pub weight: f64,
}

/// One law.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct OtherLaw {
    pub shape: Shape,
    /// Logarithm of its likelihood over that of the straight law, its share of the prior among its kind included.
    pub log_factor: f64,
    pub parts: Vec<OtherPart>,
}

impl OtherLaw {
    /// From what is believed at each point of the grid: logarithm of likelihood times prior, ln sigma, belief. Coefficients
    /// between exponent and last one (the body's loss) are averaged over.
    pub(super) fn new<const P: usize>(shape: Shape, log_factor: f64, seen: &[(f64, f64, Filtered<P>)]) -> Self {
        let top = seen.iter().map(|seen| seen.0).fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = seen.iter().map(|seen| (seen.0 - top).exp()).sum();
        let own = [0, 1, P - 1];
        let parts = seen
            .iter()
            .map(|(log, ln_sigma, seen)| OtherPart {
                ln_sigma: *ln_sigma,
                mean: own.map(|i| seen.mean[i]),
                covariance: own.map(|i| own.map(|j| seen.covariance[i][j])),
                weight: (log - top).exp() / total,
            })
            .filter(|part| part.weight > 1e-4)
            .collect();
        Self {
            shape,
            log_factor,
            parts,
        }
    }
}

/// All of them.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct OtherLaws {
    pub laws: Vec<OtherLaw>,
    pub ripple: Option<Ripple>,
}

/// A normal belief about the level as a function of distance, one of many.
pub(super) struct Belief {
    pub weight: f64,
    pub ln_sigma: f64,
    pub mean: [f64; 3],
    pub covariance: [[f64; 3]; 3],
    pub shape: Option<Shape>,
}

impl Belief {
    /// Mean and variance of the mean level at `t` decades beyond the reference, where the further column is `more`.
    pub(super) fn level(&self, t: f64, more: f64) -> (f64, f64) {
        let h = [1.0, -10.0 * t, more];
        let mean = h.iter().zip(&self.mean).map(|(h, m)| h * m).sum();
        let mut variance = 0.0;
        for i in 0..3 {
            for j in 0..3 {
                variance += h[i] * self.covariance[i][j] * h[j];
            }
        }
        (mean, variance.max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ripple_is_what_it_was_made_of_and_ends_at_its_ends() {
        let ripple = Ripple::new(|metres| Some(3.0 * metres.log10())).unwrap();
        assert!((ripple.at(1.234) - 3.702).abs() < 1e-9);
        assert_eq!((ripple.at(-1.0), ripple.at(7.0)), (0.0, 15.0));
        assert!(Ripple::new(|metres| (metres < 100.0).then_some(0.0)).is_none());
        assert!(Ripple::new(|_| Some(f64::NAN)).is_none());
    }

    #[test]
    fn a_belief_falls_by_its_exponent_and_more_beyond_a_bend() {
        let belief = Belief {
            weight: 1.0,
            ln_sigma: 1.0,
            mean: [-70.0, 2.0, 1.5],
            covariance: [[1.0, 0.0, 0.0], [0.0, 0.04, 0.0], [0.0, 0.0, 0.25]],
            shape: Some(Shape::Bend(2.0)),
        };
        // One decade beyond the bend, two beyond the reference: 20 dB a decade, and 15 more.
        let (mean, variance) = belief.level(2.0, Shape::Bend(2.0).at(3.0, None));
        assert!((mean - (-70.0 - 40.0 - 15.0)).abs() < 1e-9);
        assert!((variance - (1.0 + 400.0 * 0.04 + 100.0 * 0.25)).abs() < 1e-9);
    }
}
