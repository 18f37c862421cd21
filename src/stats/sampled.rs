//! The handbook figures of a pattern sampled evenly all the way round: strongest turn, beamwidth, front-to-back, null.
//!
//! Terms follow IEEE Std 145-2013 (wording from memory): the half-power beamwidth lies between the two directions 3 dB
//! below the maximum, the front-to-back ratio compares the maximum with the direction opposite. These are exact figures of
//! a given curve; what a measured sweep allows to be said, with its intervals, is in [`crate::stats::sweep`].

/// Figures of one sampled curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SampledFigures {
    /// Greatest level, dB on the curve's own scale.
    pub maximum_db: f64,
    /// Turn of the greatest level, degrees; the first one where several are equal.
    pub maximum_deg: f64,
    /// Lowest level, dB on the curve's own scale.
    pub minimum_db: f64,
    /// Turn of the lowest level, degrees; the first one where several are equal.
    pub minimum_deg: f64,
    /// Width between the points 3 dB below the maximum, degrees, interpolated linearly in dB; `None` where the curve
    /// does not fall so far on both sides.
    pub beamwidth_deg: Option<f64>,
    /// Greatest level less the level opposite, dB; interpolated halfway with an odd number of samples.
    pub front_to_back_db: f64,
    /// Greatest level less the greatest within 30° of the direction opposite, dB.
    pub front_to_rear_sector_db: f64,
    /// 10 lg of the mean power over the curve, dB on the curve's own scale.
    pub mean_power_db: f64,
    /// Share of the samples no more than 3 dB below the maximum, 0 to 1.
    pub share_within_3_db: f64,
}

impl SampledFigures {
    /// Figures of levels (dB) sampled at evenly spaced turns from 0° clockwise; `None` for fewer than three samples or one
    /// that is not finite.
    pub fn of(levels_db: &[f64]) -> Option<Self> {
        let count = levels_db.len();
        if count < 3 || levels_db.iter().any(|level| !level.is_finite()) {
            return None;
        }
        let spacing_deg = 360.0 / count as f64;
        let (top, bottom) = extremes(levels_db);
        let maximum_db = levels_db[top];
        let at = |offset: usize| levels_db[(top + offset) % count];
        let opposite = f64::midpoint(at(count / 2), at(count.div_ceil(2)));
        let rear = (0..count)
            .filter(|offset| (*offset as f64 * spacing_deg - 180.0).abs() <= 30.0 + 1e-9)
            .map(at)
            .fold(opposite, f64::max);
        let mean_power = levels_db.iter().map(|level| 10_f64.powf(level / 10.0)).sum::<f64>() / count as f64;
        let within = levels_db.iter().filter(|level| **level >= maximum_db - 3.0).count();
        Some(Self {
            maximum_db,
            maximum_deg: top as f64 * spacing_deg,
            minimum_db: levels_db[bottom],
            minimum_deg: bottom as f64 * spacing_deg,
            beamwidth_deg: beamwidth_samples(levels_db, top).map(|width| width * spacing_deg),
            front_to_back_db: maximum_db - opposite,
            front_to_rear_sector_db: maximum_db - rear,
            mean_power_db: 10.0 * mean_power.log10(),
            share_within_3_db: within as f64 / count as f64,
        })
    }

    /// Greatest less lowest level, dB.
    pub fn peak_to_null_db(&self) -> f64 {
        self.maximum_db - self.minimum_db
    }

    /// Directivity within this cut, dB: greatest over mean power. Not the directivity of IEEE Std 145, which averages
    /// over the sphere.
    pub fn cut_directivity_db(&self) -> f64 {
        self.maximum_db - self.mean_power_db
    }
}

/// The places of the first greatest and the first lowest sample; (0, 0) for none.
pub(crate) fn extremes(levels_db: &[f64]) -> (usize, usize) {
    let (mut top, mut bottom) = (0, 0);
    for (index, level) in levels_db.iter().enumerate() {
        if *level > levels_db[top] {
            top = index;
        }
        if *level < levels_db[bottom] {
            bottom = index;
        }
    }
    (top, bottom)
}

/// Width between the 3 dB points either side of sample `top`, in samples; `None` where one side never falls so far.
pub(crate) fn beamwidth_samples(levels_db: &[f64], top: usize) -> Option<f64> {
    let count = levels_db.len();
    let half_power = levels_db[top] - 3.0;
    let side = |step: usize| {
        let mut inner = levels_db[top];
        for k in 1..count {
            let outer = levels_db[(top + k * step) % count];
            if outer < half_power {
                return Some((k - 1) as f64 + (inner - half_power) / (inner - outer));
            }
            inner = outer;
        }
        None
    };
    // Going back by one sample is going on by all the others.
    Some(side(1)? + side(count - 1)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::reference::{rows, sampled_curve};

    #[test]
    fn agrees_with_the_figures_of_the_wire_models() {
        let mut seen = 0;
        for row in rows(include_str!("../../tests/reference/antenna.csv")) {
            if !row.quantity.starts_with("pattern_") || row.quantity.starts_with("pattern_fourier") {
                continue;
            }
            let figures = SampledFigures::of(&sampled_curve(row.text("file")).1).unwrap();
            row.assert_near(match row.quantity.as_str() {
                "pattern_max_dB" => figures.maximum_db,
                "pattern_max_azimuth" => figures.maximum_deg,
                "pattern_min_dB" => figures.minimum_db,
                "pattern_ripple_dB" => figures.peak_to_null_db(),
                "pattern_linear_mean_dB" => figures.mean_power_db,
                "pattern_cut_directivity_dB" => figures.cut_directivity_db(),
                "pattern_front_to_back_180" => figures.front_to_back_db,
                "pattern_front_to_back_rear_sector_30" => figures.front_to_rear_sector_db,
                "pattern_HPBW_3dB_linear_interp" => figures.beamwidth_deg.unwrap(),
                other => panic!("{}: {other} is not read", row.id),
            });
            seen += 1;
        }
        assert_eq!(seen, 26, "rows read");
    }

    #[test]
    fn a_round_pattern_has_no_beamwidth() {
        let figures = SampledFigures::of(&[-70.0; 12]).unwrap();
        assert_eq!(figures.beamwidth_deg, None);
        assert_eq!(figures.front_to_back_db, 0.0);
        assert_eq!(figures.share_within_3_db, 1.0);
    }

    #[test]
    fn the_cardioid_has_its_known_width() {
        // 131.06° between half-power points (3.0103 dB down); at 3.0 dB the closed form gives 130.87°.
        let levels: Vec<f64> = (0..3600)
            .map(|tenth| {
                let voltage = 0.5 + 0.5 * (f64::from(tenth) / 10.0).to_radians().cos();
                20.0 * voltage.max(1e-9).log10()
            })
            .collect();
        let half_width = ((10_f64.powf(-0.15) - 0.5) / 0.5).acos().to_degrees();
        let figures = SampledFigures::of(&levels).unwrap();
        assert!((figures.beamwidth_deg.unwrap() - 2.0 * half_width).abs() < 0.01);
        assert_eq!(figures.minimum_deg, 180.0);
        // The mean of cos⁴(φ/2) over a turn is 3/8.
        assert!((figures.cut_directivity_db() + 10.0 * 0.375_f64.log10()).abs() < 1e-3);
    }

    #[test]
    fn too_few_samples_or_unknown_ones_have_no_figures() {
        assert_eq!(SampledFigures::of(&[-70.0, -71.0]), None);
        assert_eq!(SampledFigures::of(&[-70.0, -71.0, f64::NEG_INFINITY]), None);
    }
}
