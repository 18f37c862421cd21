//! How far a level stands above what the board needs.

use super::cells::SCurve;
use super::level::{Level, MeanPower};
use super::proportions::Interval;
use super::special::normal_quantile;

/// How far the local mean level stands above the level at which the board still delivers 90 %, dB.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Margin {
    /// Between two limits.
    Between {
        /// The estimate.
        estimate_db: f64,
        /// Its limits.
        interval: Interval,
    },
    /// At most this.
    AtMost {
        /// Upper limit.
        high_db: f64,
    },
    /// At least this.
    AtLeast {
        /// Lower limit.
        low_db: f64,
    },
}

/// Returns the margin of a level over [`SCurve::level90_dbm`], that level being known to `sd_level90_db`, one standard
/// deviation; half-widths are added in quadrature.
///
/// Take the level as estimated, not [`Level::widened`]: an error of m near sensitivity moves level and requirement the same
/// way, so the quadrature is already on the safe side there. `None` for a negative or unknown deviation, or an open level.
pub fn margin(level: &Level, curve: SCurve, sd_level90_db: f64) -> Option<Margin> {
    if !(sd_level90_db >= 0.0 && sd_level90_db.is_finite()) {
        return None;
    }
    // The deviation of the requirement is taken as normal.
    let extra = normal_quantile(0.5 + 0.5 * level.confidence)? * sd_level90_db;
    let required = curve.level90_dbm();
    Some(match level.mean_power {
        MeanPower::Between { median_dbm, interval } => {
            let estimate_db = median_dbm - required;
            Margin::Between {
                estimate_db,
                interval: Interval {
                    low: estimate_db - (median_dbm - interval.low).hypot(extra),
                    high: estimate_db + (interval.high - median_dbm).hypot(extra),
                },
            }
        }
        MeanPower::AtMost { high_dbm } => Margin::AtMost {
            high_db: high_dbm - required + extra,
        },
        MeanPower::Open => return None,
        MeanPower::AtLeast { low_dbm } => Margin::AtLeast {
            low_db: low_dbm - required - extra,
        },
    })
}

/// Returns the standard deviation of m + s ln 9 from the variances of m and s and their covariance, dB; `None` when these
/// are no covariance.
pub fn level90_sd(variance_m: f64, variance_s: f64, covariance: f64) -> Option<f64> {
    let step = 9.0_f64.ln();
    let variance = variance_m + step * step * variance_s + 2.0 * step * covariance;
    (variance_m >= 0.0 && variance_s >= 0.0 && variance >= 0.0 && variance.is_finite()).then(|| variance.sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_requirement_carries_both_errors() {
        let step = 9.0_f64.ln();
        assert!((level90_sd(0.09, 0.0, 0.0).unwrap() - 0.3).abs() < 1e-12);
        assert!((level90_sd(0.0, 0.01, 0.0).unwrap() - 0.1 * step).abs() < 1e-12);
        assert_eq!(level90_sd(-1.0, 0.0, 0.0), None);
    }
}
