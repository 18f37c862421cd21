//! The covariance of the field, and the search for its parameters.

/// Median and logarithmic standard deviation believed of the field's standard deviation (dB), correlation length (m) and
/// nugget (dB), before any record.
const PRIOR: [(f64, f64); 3] = [(6.0, 0.35), (20.0, 0.60), (2.0, 0.50)];
/// Limits of the same three.
const LIMITS: [(f64, f64); 3] = [(1.5, 15.0), (3.0, 60.0), (0.3, 8.0)];
/// The search ends when its step in the logarithm is down to this.
const FINEST: f64 = 0.05;
/// A move must gain this much.
const GAIN: f64 = 1e-9;

/// Exponential covariance sd² exp(-h/length) (Gudmundson 1991, Electron. Lett. 27:2145-2146) with a nugget.
///
/// Kept as natural logarithms, in which the search steps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Covariance {
    /// Logarithms of the field's standard deviation in dB, the correlation length in metres, the nugget in dB.
    pub theta: [f64; 3],
}

impl Covariance {
    /// The covariance believed before any record.
    pub(super) fn prior() -> Self {
        Self {
            theta: PRIOR.map(|(median, _)| median.ln()),
        }
    }

    /// From standard deviation (dB), length (m) and nugget (dB).
    #[cfg(test)]
    pub(super) fn new(sd: f64, length: f64, nugget: f64) -> Self {
        Self {
            theta: [sd.ln(), length.ln(), nugget.ln()],
        }
    }

    /// Variance of the field in dB².
    pub(super) fn sill(&self) -> f64 {
        (2.0 * self.theta[0]).exp()
    }

    /// Correlation length in metres.
    pub(super) fn length(&self) -> f64 {
        self.theta[1].exp()
    }

    /// Variance of the nugget in dB²: within-cell variation and what positions do not share.
    pub(super) fn nugget(&self) -> f64 {
        (2.0 * self.theta[2]).exp()
    }

    /// Logarithm of the prior density, up to a constant.
    pub(super) fn log_prior(&self) -> f64 {
        self.theta
            .iter()
            .zip(PRIOR)
            .map(|(value, (median, sd))| {
                let z = (value - median.ln()) / sd;
                -0.5 * z * z
            })
            .sum()
    }

    /// Compass search for the greatest `objective` from here with a first `step` in the logarithms.
    ///
    /// For each parameter it tries up, then down, and takes the first move that gains; a round without gain halves the
    /// step. It ends at a step of 0.05, so it stays on a lattice and cannot drift by rounding.
    pub(super) fn search(self, mut step: f64, mut objective: impl FnMut(&Self) -> f64) -> Self {
        let mut at = self;
        let mut best = objective(&at);
        while step > FINEST {
            let mut moved = false;
            for (j, limits) in LIMITS.iter().enumerate() {
                for side in [1.0, -1.0] {
                    let mut tried = at;
                    let (low, high) = (limits.0.ln(), limits.1.ln());
                    tried.theta[j] = (tried.theta[j] + side * step).clamp(low, high);
                    if tried.theta[j] == at.theta[j] {
                        continue;
                    }
                    let value = objective(&tried);
                    if value > best + GAIN {
                        (at, best, moved) = (tried, value, true);
                        break;
                    }
                }
            }
            if !moved {
                step *= 0.5;
            }
        }
        at
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_search_comes_near_the_peak_and_keeps_its_limits() {
        let peak = [2.0, 3.3, 0.1];
        let found = Covariance::prior().search(0.6, |at| {
            -at.theta.iter().zip(peak).map(|(a, b)| (a - b) * (a - b)).sum::<f64>()
        });
        for (got, wanted) in found.theta.iter().zip(peak) {
            assert!((got - wanted).abs() <= 0.075, "{got} {wanted}");
        }
        let far = Covariance::prior().search(0.6, |at| at.theta.iter().sum());
        assert!((far.length() - 60.0).abs() < 1e-9 && (far.sill() - 225.0).abs() < 1e-9);
        // An objective that is nowhere defined leaves the start.
        assert_eq!(Covariance::prior().search(0.6, |_| f64::NAN), Covariance::prior());
    }
}
