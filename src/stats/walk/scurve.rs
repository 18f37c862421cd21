//! The S-curve of a board as walks have measured it: kept from survey to survey, pooled from several walks.

use crate::stats::cells::SCurve;

/// A board's level of half delivery and its scale, with how well they are known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeasuredSCurve {
    /// The curve itself: m in dBm, s in dB.
    pub curve: SCurve,
    /// Covariance of (m, ln s), m in dB: `[[var m, cov], [cov, var ln s]]`.
    pub covariance: [[f64; 2]; 2],
    /// Walks it rests on.
    pub walks: u32,
}

/// Least standard deviation of m from one walk, dB: no walk's own figure is believed below this.
///
/// What one walk cannot see is what differs between walks (temperature, battery, how the board is held); a fifth of a
/// decibel is a choice, on the order of the bias of up to 0.16 dB found in simulated walks.
pub const M_FLOOR_DB: f64 = 0.2;
/// Least standard deviation of ln s from one walk: a tenth, chosen likewise.
pub const LN_S_FLOOR: f64 = 0.1;

impl MeasuredSCurve {
    /// Takes a curve and the covariance of (m, ln s); `None` unless that is symmetric with finite, non-negative
    /// variances and a correlation within ±1.
    pub fn new(curve: SCurve, covariance: [[f64; 2]; 2], walks: u32) -> Option<Self> {
        let [[a, b], [c, d]] = covariance;
        let sound = a >= 0.0 && d >= 0.0 && a.is_finite() && d.is_finite() && b == c && b * b <= a * d * (1.0 + 1e-9);
        sound.then_some(Self {
            curve,
            covariance,
            walks,
        })
    }

    /// Standard deviation of m, dB.
    pub fn m_sd_db(&self) -> f64 {
        self.covariance[0][0].sqrt()
    }

    /// Standard deviation of ln s.
    pub fn ln_s_sd(&self) -> f64 {
        self.covariance[1][1].sqrt()
    }

    /// Standard deviation of the level of nine deliveries in ten without interference, m + s ln 9, dB.
    pub fn level90_sd_db(&self) -> f64 {
        let slope = self.curve.s_db() * 9.0_f64.ln();
        let [[a, b], [_, d]] = self.covariance;
        (a + 2.0 * slope * b + slope * slope * d).max(0.0).sqrt()
    }

    /// 95 % interval of m, dBm.
    pub fn m_interval_dbm(&self) -> (f64, f64) {
        let half = 1.96 * self.m_sd_db();
        (self.curve.m_dbm() - half, self.curve.m_dbm() + half)
    }

    /// 95 % interval of the level of nine deliveries in ten without interference, dBm.
    pub fn level90_interval_dbm(&self) -> (f64, f64) {
        let half = 1.96 * self.level90_sd_db();
        (self.curve.level90_dbm() - half, self.curve.level90_dbm() + half)
    }

    /// 95 % interval of s, dB.
    pub fn s_interval_db(&self) -> (f64, f64) {
        let half = 1.96 * self.ln_s_sd();
        (self.curve.s_db() * (-half).exp(), self.curve.s_db() * half.exp())
    }
}

/// Pools the estimates of one board from several walks; `None` for an empty list.
///
/// Each walk's covariance is first raised by the floors (variances add), then means of (m, ln s) are taken by precision
/// (inverse covariance). Walks that differ more than their own deviations allow widen the result: the pooled covariance
/// is multiplied by chi²/df where that is over 1 (R. T. Birge 1932, Physical Review 40:207), df = 2(walks - 1). The
/// result is never surer than the floors over the root of the number of walks. Already pooled curves may be pooled
/// again: they count with the walks they rest on, their floors divided accordingly.
pub fn pool_scurves(walks: &[MeasuredSCurve]) -> Option<MeasuredSCurve> {
    let first = walks.first()?;
    if walks.len() == 1 {
        return MeasuredSCurve::new(first.curve, raised(first), first.walks.max(1));
    }
    let mut precision = [[0.0; 2]; 2];
    let mut weighted = [0.0; 2];
    let mut parts = Vec::with_capacity(walks.len());
    for walk in walks {
        let own = inverse(raised(walk))?;
        let at = [walk.curve.m_dbm(), walk.curve.s_db().ln()];
        for i in 0..2 {
            for j in 0..2 {
                precision[i][j] += own[i][j];
                weighted[i] += own[i][j] * at[j];
            }
        }
        parts.push((own, at));
    }
    let covariance = inverse(precision)?;
    let mean = [0, 1].map(|i| covariance[i][0] * weighted[0] + covariance[i][1] * weighted[1]);
    let mut chi_squared = 0.0;
    for (own, at) in &parts {
        let off = [at[0] - mean[0], at[1] - mean[1]];
        chi_squared += off[0] * (own[0][0] * off[0] + 2.0 * own[0][1] * off[1]) + own[1][1] * off[1] * off[1];
    }
    let birge = (chi_squared / (2.0 * (walks.len() as f64 - 1.0))).max(1.0);
    let cross = 0.5 * (covariance[0][1] + covariance[1][0]) * birge;
    MeasuredSCurve::new(
        SCurve::new(mean[0], mean[1].exp())?,
        [[covariance[0][0] * birge, cross], [cross, covariance[1][1] * birge]],
        walks.iter().map(|walk| walk.walks.max(1)).sum(),
    )
}

/// A walk's covariance with the floors added; a curve pooled before has them in it.
fn raised(walk: &MeasuredSCurve) -> [[f64; 2]; 2] {
    let [[a, b], [c, d]] = walk.covariance;
    if walk.walks > 1 {
        let share = 1.0 / f64::from(walk.walks);
        return [
            [a.max(M_FLOOR_DB * M_FLOOR_DB * share), b],
            [c, d.max(LN_S_FLOOR * LN_S_FLOOR * share)],
        ];
    }
    [[a + M_FLOOR_DB * M_FLOOR_DB, b], [c, d + LN_S_FLOOR * LN_S_FLOOR]]
}

fn inverse([[a, b], [c, d]]: [[f64; 2]; 2]) -> Option<[[f64; 2]; 2]> {
    let determinant = a * d - b * c;
    (determinant > 0.0 && determinant.is_finite())
        .then(|| [[d / determinant, -b / determinant], [-c / determinant, a / determinant]])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn walk(m: f64, s: f64, sd_m: f64, sd_ln_s: f64) -> MeasuredSCurve {
        MeasuredSCurve::new(
            SCurve::new(m, s).unwrap(),
            [[sd_m * sd_m, 0.0], [0.0, sd_ln_s * sd_ln_s]],
            1,
        )
        .unwrap()
    }

    #[test]
    fn like_walks_pool_by_precision() {
        let pooled = pool_scurves(&[walk(-92.0, 1.0, 0.3, 0.2), walk(-91.8, 1.1, 0.6, 0.3)]).unwrap();
        let (a, b) = (1.0 / (0.09 + 0.04), 1.0 / (0.36 + 0.04));
        assert!((pooled.curve.m_dbm() - (-92.0 * a - 91.8 * b) / (a + b)).abs() < 1e-9);
        assert!((pooled.m_sd_db() - (1.0_f64 / (a + b)).sqrt()).abs() < 1e-9);
        assert_eq!(pooled.walks, 2);
    }

    #[test]
    fn walks_that_disagree_widen_the_result() {
        let pooled = pool_scurves(&[walk(-94.0, 1.0, 0.2, 0.1), walk(-90.0, 1.0, 0.2, 0.1)]).unwrap();
        // chi² = 2 · 2²/0.08 = 100 with 2 degrees of freedom: variance 0.04 times 50.
        assert!((pooled.m_sd_db() - 2.0_f64.sqrt()).abs() < 1e-9, "{}", pooled.m_sd_db());
    }

    #[test]
    fn a_single_walk_is_never_believed_beyond_the_floor() {
        let pooled = pool_scurves(&[walk(-92.0, 1.0, 0.0, 0.0)]).unwrap();
        assert!((pooled.m_sd_db() - M_FLOOR_DB).abs() < 1e-12 && (pooled.ln_s_sd() - LN_S_FLOOR).abs() < 1e-12);
        assert!((pooled.level90_sd_db() - (0.04_f64 + (9.0_f64.ln() * 0.1).powi(2)).sqrt()).abs() < 1e-12);
        assert!(pool_scurves(&[]).is_none());
    }

    #[test]
    fn impossible_covariances_are_refused() {
        let curve = SCurve::new(-92.0, 1.0).unwrap();
        assert!(MeasuredSCurve::new(curve, [[1.0, 2.0], [2.0, 1.0]], 1).is_none());
        assert!(MeasuredSCurve::new(curve, [[f64::NAN, 0.0], [0.0, 1.0]], 1).is_none());
    }
}
