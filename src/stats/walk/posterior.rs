//! What is believed about the law of level against distance after a walk.

use crate::stats::special::normal_cdf;

/// A median with the interval that holds the truth 95 times in 100.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// The 2.5 % point.
    pub low: f64,
    /// The 50 % point.
    pub median: f64,
    /// The 97.5 % point.
    pub high: f64,
}

impl Spread {
    /// The same median with both distances to it stretched by `factor`.
    pub fn stretched(self, factor: f64) -> Self {
        Self {
            low: self.median - factor * (self.median - self.low),
            median: self.median,
            high: self.median + factor * (self.high - self.median),
        }
    }

    /// The same points seen through a rising function.
    pub fn map(self, f: impl Fn(f64) -> f64) -> Self {
        Self {
            low: f(self.low),
            median: f(self.median),
            high: f(self.high),
        }
    }
}

/// The belief for one pair of shadowing parameters: level and exponent are normal together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// ln of the shadowing's standard deviation in dB, as cells show it.
    pub ln_sigma: f64,
    /// ln of its correlation distance in metres.
    pub ln_delta: f64,
    /// Mean level at the reference distance, dBm.
    pub level_dbm: f64,
    /// Exponent n.
    pub slope: f64,
    /// Covariance of level and exponent.
    pub covariance: [[f64; 2]; 2],
    /// What the walker's body takes with the back to the station, dB; 0 where it was not looked for.
    pub body_db: f64,
    /// Variance of that, dB²; 0 where it was not looked for.
    pub body_variance: f64,
    /// Share of the belief; all shares sum to 1.
    pub weight: f64,
}

/// A mixture over shadowing parameters of normal beliefs about level and exponent.
#[derive(Clone, Debug, PartialEq)]
pub struct Posterior {
    /// Decimal logarithm of the reference distance in metres.
    pub log10_reference: f64,
    /// The parts.
    pub parts: Vec<Part>,
    /// Length over which a cell averages the shadowing, metres.
    pub cell_extent_m: f64,
}

impl Posterior {
    /// Mean over the parts of `value`.
    pub fn mean(&self, value: impl Fn(&Part) -> f64) -> f64 {
        self.parts.iter().map(|part| part.weight * value(part)).sum()
    }

    /// Standard deviation of the exponent.
    pub fn slope_sd(&self) -> f64 {
        let mean = self.mean(|part| part.slope);
        (self.mean(|part| part.slope * part.slope + part.covariance[1][1]) - mean * mean)
            .max(0.0)
            .sqrt()
    }

    /// The exponent n.
    pub fn slope(&self) -> Spread {
        self.mixture(|part| (part.slope, part.covariance[1][1].max(0.0).sqrt()))
    }

    /// The shadowing's standard deviation at a point, dB: cells average it over their extent, which is undone here.
    pub fn sigma_db(&self) -> Spread {
        self.mixture(|part| {
            let averaged = averaging(self.cell_extent_m, part.ln_delta.exp());
            (part.ln_sigma - 0.5 * averaged.ln(), 0.09)
        })
        .map(f64::exp)
    }

    /// What the walker's body takes with the back to the station, dB.
    pub fn body_db(&self) -> Spread {
        self.mixture(|part| (part.body_db, part.body_variance.max(0.0).sqrt()))
    }

    /// The mean level over shadowing and fading at a distance of `distance_m` > 0 metres, dBm.
    pub fn level_dbm(&self, distance_m: f64) -> Spread {
        let t = distance_m.log10() - self.log10_reference;
        self.mixture(|part| {
            (
                part.level_dbm - 10.0 * part.slope * t,
                variance_at(part, t).max(0.0).sqrt(),
            )
        })
    }

    fn mixture(&self, part: impl Fn(&Part) -> (f64, f64)) -> Spread {
        mixture(self.parts.iter().map(|p| {
            let (mean, sd) = part(p);
            (mean, sd, p.weight)
        }))
    }
}

/// Percent points of a mixture of normals, given as (mean, standard deviation, share).
pub(super) fn mixture(normals: impl Iterator<Item = (f64, f64, f64)>) -> Spread {
    let normals: Vec<(f64, f64, f64)> = normals.map(|(mean, sd, share)| (mean, sd.max(1e-9), share)).collect();
    let quantile = |q: f64| {
        let mut low = normals.iter().fold(f64::INFINITY, |a, n| a.min(n.0 - 8.0 * n.1));
        let mut high = normals.iter().fold(f64::NEG_INFINITY, |a, n| a.max(n.0 + 8.0 * n.1));
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let below: f64 = normals.iter().map(|n| n.2 * normal_cdf((middle - n.0) / n.1)).sum();
            if below < q {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    };
    Spread {
        low: quantile(0.025),
        median: quantile(0.5),
        high: quantile(0.975),
    }
}

/// Variance of the mean level `t` decades beyond the reference distance, dB².
pub(super) fn variance_at(part: &Part, t: f64) -> f64 {
    let v = &part.covariance;
    v[0][0] - 20.0 * t * v[0][1] + 100.0 * t * t * v[1][1]
}

/// Variance of the mean of an exponentially correlated line of length `extent_m`, as a share of the variance at a
/// point.
pub(super) fn averaging(extent_m: f64, delta_m: f64) -> f64 {
    let a = (extent_m / delta_m).max(1e-3);
    2.0 * (a - 1.0 + (-a).exp()) / (a * a)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn normal(level: f64, slope: f64) -> Posterior {
        Posterior {
            log10_reference: 2.0,
            cell_extent_m: 6.0,
            parts: vec![Part {
                ln_sigma: 5.0_f64.ln(),
                ln_delta: 10.0_f64.ln(),
                level_dbm: level,
                slope,
                covariance: [[4.0, 0.1], [0.1, 0.04]],
                body_db: 0.0,
                body_variance: 0.0,
                weight: 1.0,
            }],
        }
    }

    #[test]
    fn one_part_is_a_normal() {
        let n = normal(-80.0, 3.0).slope();
        assert!((n.median - 3.0).abs() < 1e-9 && (n.high - 3.0 - 1.959_964 * 0.2).abs() < 1e-6);
        assert!((n.low + n.high - 6.0).abs() < 1e-9);
        assert!((normal(-80.0, 3.0).slope_sd() - 0.2).abs() < 1e-12);
    }

    #[test]
    fn the_band_is_narrowest_inside_the_walk() {
        let law = normal(-80.0, 3.0);
        let at = law.level_dbm(1000.0);
        assert!((at.median + 110.0).abs() < 1e-6);
        // 4 - 20·0.1 + 100·0.04 = 6 dB².
        assert!((at.high - at.median - 1.959_964 * 6.0_f64.sqrt()).abs() < 1e-5);
    }

    #[test]
    fn averaging_has_its_two_limits() {
        assert!((averaging(0.01, 10.0) - 1.0).abs() < 1e-3);
        assert!((averaging(1e4, 10.0) - 2.0 * 10.0 / 1e4).abs() < 1e-5);
    }
}
