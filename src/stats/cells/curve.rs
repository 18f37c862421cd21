//! A board's delivery against level.

use crate::stats::special::logistic;

/// The delivery of one board against level, without fading and without interference: S(L) = 1 / (1 + exp(-(L - m)/s)).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SCurve {
    m_dbm: f64,
    s_db: f64,
}

impl SCurve {
    /// Takes the level of half delivery `m_dbm` and the scale `s_db` > 0; `None` when either is out of range.
    pub fn new(m_dbm: f64, s_db: f64) -> Option<Self> {
        (m_dbm.is_finite() && s_db.is_finite() && s_db > 0.0).then_some(Self { m_dbm, s_db })
    }

    /// The level of half delivery, dBm.
    pub fn m_dbm(self) -> f64 {
        self.m_dbm
    }

    /// The logistic scale, dB: smaller is steeper.
    pub fn s_db(self) -> f64 {
        self.s_db
    }

    /// The probability of delivery at a steady `level_dbm`.
    pub fn delivery(self, level_dbm: f64) -> f64 {
        logistic((level_dbm - self.m_dbm) / self.s_db)
    }

    /// The level at which the board itself delivers 90 %: m + s ln 9, dBm.
    pub fn level90_dbm(self) -> f64 {
        self.m_dbm + self.s_db * 9.0_f64.ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_at_m_and_ninety_at_its_level() {
        let curve = SCurve::new(-92.0, 1.3).unwrap();
        assert!((curve.delivery(-92.0) - 0.5).abs() < 1e-15);
        assert!((curve.delivery(curve.level90_dbm()) - 0.9).abs() < 1e-12);
        assert_eq!(SCurve::new(-92.0, 0.0), None);
        assert_eq!(SCurve::new(f64::NAN, 1.0), None);
    }
}
