//! What each board needs: its S-curve, learned over walks and surveys, kept with its uncertainty, and reused.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::side::Side;
use crate::stats::cells::SCurve;
use crate::stats::walk::scurve::MeasuredSCurve;

/// The S-curves known from earlier surveys, by board and by the end of the link they were read at.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Known {
    /// By board.
    pub boards: BTreeMap<String, Vec<Learned>>,
}

/// What one survey taught about one board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Learned {
    /// Which survey: learned again, it takes the place of what it taught before.
    pub survey: String,
    /// `there` or `here`.
    pub side: String,
    /// Level of half delivery, dBm.
    pub m_dbm: f64,
    /// Logistic scale, dB.
    pub s_db: f64,
    /// Covariance of (m, ln s), m in dB.
    pub covariance: [[f64; 2]; 2],
    /// Walks it rests on.
    pub walks: u32,
}

impl Known {
    /// What each survey taught of a board at one end; nothing where nothing is known, or nothing that makes sense.
    ///
    /// `but` names a survey to leave out: a survey is not told beforehand what it taught itself.
    pub fn curves(&self, board: &str, side: Side, but: Option<&str>) -> Vec<MeasuredSCurve> {
        let usable = |learned: &Learned| {
            (learned.side == word(side) && Some(learned.survey.as_str()) != but)
                .then(|| {
                    MeasuredSCurve::new(
                        SCurve::new(learned.m_dbm, learned.s_db)?,
                        learned.covariance,
                        learned.walks,
                    )
                })
                .flatten()
        };
        self.boards
            .get(board)
            .into_iter()
            .flatten()
            .filter_map(usable)
            .collect()
    }

    /// The surveys that taught something of a board at one end, save the one named by `but`.
    pub fn teachers(&self, board: &str, side: Side, but: Option<&str>) -> Vec<String> {
        let own = self.boards.get(board).into_iter().flatten();
        own.filter(|learned| learned.side == word(side) && Some(learned.survey.as_str()) != but)
            .map(|learned| learned.survey.clone())
            .collect()
    }

    /// Keeps what a survey taught about a board.
    pub fn learn(&mut self, board: &str, side: Side, survey: &str, curve: &MeasuredSCurve) {
        let learned = self.boards.entry(board.to_owned()).or_default();
        learned.retain(|other| other.survey != survey || other.side != word(side));
        learned.push(Learned {
            survey: survey.to_owned(),
            side: word(side).to_owned(),
            m_dbm: curve.curve.m_dbm(),
            s_db: curve.curve.s_db(),
            covariance: curve.covariance,
            walks: curve.walks,
        });
    }
}

const fn word(side: Side) -> &'static str {
    match side {
        Side::There => "there",
        Side::Here => "here",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::walk::scurve::pool_scurves;

    #[test]
    fn a_survey_learned_twice_counts_once_and_never_for_itself() {
        let curve = MeasuredSCurve::new(SCurve::new(-92.0, 1.0).unwrap(), [[0.09, 0.0], [0.0, 0.04]], 1).unwrap();
        let mut known = Known::default();
        known.learn("fern", Side::There, "first", &curve);
        known.learn("fern", Side::There, "first", &curve);
        assert_eq!(known.boards["fern"].len(), 1);
        let pooled = pool_scurves(&known.curves("fern", Side::There, None)).unwrap();
        assert!((pooled.curve.m_dbm() + 92.0).abs() < 1e-9);
        assert!(known.curves("fern", Side::There, Some("first")).is_empty());
        assert!(known.curves("fern", Side::Here, None).is_empty());
        assert_eq!(known.teachers("fern", Side::There, None), ["first"]);
        assert!(known.teachers("fern", Side::There, Some("first")).is_empty());
    }
}
