//! Mean, spread and comparison of directions, which an ordinary average gets wrong across north.
//!
//! Every angle is in degrees; results lie in 0 (inclusive) to 360 (exclusive) unless said. Definitions follow Mardia and
//! Jupp, *Directional Statistics* (2000), chapter 2, and Fisher, *Statistical Analysis of Circular Data* (1993), chapter 2.

use std::f64::consts::PI;

/// Mean resultant lengths below this are rounding of zero: the directions balance and no mean direction exists.
const BALANCED: f64 = 1e-12;

/// What a handful of directions have in common.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CircularSummary {
    /// How many directions were summarised.
    pub count: usize,
    /// Mean direction, degrees in 0 to below 360; `None` where the directions balance (a resultant of zero).
    pub mean_deg: Option<f64>,
    /// Mean resultant length R: 1 when all directions agree, 0 when they balance.
    pub resultant: f64,
}

impl CircularSummary {
    /// Summarises directions in degrees; `None` for no directions or one that is not finite.
    pub fn of(directions_deg: &[f64]) -> Option<Self> {
        if directions_deg.is_empty() || directions_deg.iter().any(|direction| !direction.is_finite()) {
            return None;
        }
        let count = directions_deg.len();
        let (mut cosine, mut sine) = (0.0, 0.0);
        for direction in directions_deg {
            // Reducing first keeps full precision for turns that were counted on past 360.
            let (s, c) = direction.rem_euclid(360.0).to_radians().sin_cos();
            cosine += c;
            sine += s;
        }
        let resultant = (cosine.hypot(sine) / count as f64).min(1.0);
        Some(Self {
            count,
            mean_deg: (resultant > BALANCED).then(|| normalised(sine.atan2(cosine).to_degrees())),
            resultant,
        })
    }

    /// Circular variance 1 - R, from 0 to 1, without unit.
    pub fn variance(&self) -> f64 {
        1.0 - self.resultant
    }

    /// Circular standard deviation √(-2 ln R) in degrees, 0 for one direction, infinite when the directions balance.
    pub fn standard_deviation_deg(&self) -> f64 {
        if self.resultant <= BALANCED {
            return f64::INFINITY;
        }
        // `+ 0.0` turns the negative zero of full agreement into zero.
        ((-2.0 * self.resultant.ln()).max(0.0).sqrt() + 0.0).to_degrees()
    }

    /// Probability of so long a resultant when all directions are equally likely (Rayleigh's test).
    ///
    /// Approximation of Zar, *Biostatistical Analysis*, 5th edition (2010), section 27.1; good to about 0.001 from five
    /// directions on.
    pub fn rayleigh_p(&self) -> f64 {
        let n = self.count as f64;
        let r = n * self.resultant;
        ((1.0 + 4.0 * n + 4.0 * (n * n - r * r)).sqrt() - (1.0 + 2.0 * n))
            .exp()
            .min(1.0)
    }
}

/// The same direction in 0 (inclusive) to 360 (exclusive), degrees; not a number when the argument is not finite.
pub fn normalised(direction_deg: f64) -> f64 {
    let turned = direction_deg.rem_euclid(360.0);
    // A direction a hair below zero is rounded up to the modulus itself.
    if turned >= 360.0 { 0.0 } else { turned }
}

/// The shortest turn from one direction to another, degrees in -180 (inclusive) to +180 (exclusive), clockwise positive.
pub fn signed_difference(from_deg: f64, to_deg: f64) -> f64 {
    let turned = normalised(to_deg - from_deg);
    if turned >= 180.0 { turned - 360.0 } else { turned }
}

/// Half the width, in degrees, of the arc around `centre_deg` that holds a `share` (0 to 1) of the directions.
///
/// The arc holds at least ⌈share · count⌉ of them. `None` for no directions or one that is not finite.
pub fn half_width_holding(centre_deg: f64, directions_deg: &[f64], share: f64) -> Option<f64> {
    let mut away: Vec<f64> = directions_deg
        .iter()
        .map(|direction| signed_difference(centre_deg, *direction).abs())
        .collect();
    if away.is_empty() || away.iter().any(|angle| !angle.is_finite()) {
        return None;
    }
    away.sort_by(f64::total_cmp);
    let wanted = (share.clamp(0.0, 1.0) * away.len() as f64).ceil() as usize;
    Some(away[wanted.clamp(1, away.len()) - 1])
}

/// The widest stretch without any of the directions, in degrees; 360 for none or one.
pub fn widest_gap_deg(directions_deg: &[f64]) -> f64 {
    let mut sorted: Vec<f64> = directions_deg.iter().map(|direction| normalised(*direction)).collect();
    sorted.sort_by(f64::total_cmp);
    let (Some(first), Some(last)) = (sorted.first(), sorted.last()) else {
        return 360.0;
    };
    let across_north = first + 360.0 - last;
    sorted
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(across_north, f64::max)
}

/// The point of the sixteen-point compass nearest to a bearing in degrees; `None` when it is not finite.
///
/// Sectors of 22.5° are centred on the points; a bearing on a border belongs to the clockwise one.
pub fn compass_point(bearing_deg: f64) -> Option<&'static str> {
    const POINTS: [&str; 16] = [
        "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
    ];
    if !bearing_deg.is_finite() {
        return None;
    }
    let sector = (normalised(bearing_deg) / 22.5 + 0.5).floor() as usize;
    Some(POINTS[sector % 16])
}

/// Turns degrees into radians after reduction to one turn, in -π (exclusive) to π (inclusive).
pub(crate) fn reduced_radians(direction_deg: f64) -> f64 {
    let radians = normalised(direction_deg).to_radians();
    if radians > PI { radians - 2.0 * PI } else { radians }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::reference::{Row, rows};

    const CHECKS: &str = include_str!("../../tests/reference/circular.csv");

    fn directions(row: &Row) -> Vec<f64> {
        row.list("deg")
    }

    #[test]
    fn agrees_with_every_published_or_recomputed_row() {
        let mut seen = 0;
        for row in rows(CHECKS) {
            let got = match row.quantity.as_str() {
                "circular_mean" => {
                    let Some(mean) = CircularSummary::of(&directions(&row)).unwrap().mean_deg else {
                        assert_eq!(row.expected, "undefined", "{}", row.id);
                        seen += 1;
                        continue;
                    };
                    mean
                }
                "mean_resultant_length" => CircularSummary::of(&directions(&row)).unwrap().resultant,
                "circular_std" => CircularSummary::of(&directions(&row)).unwrap().standard_deviation_deg(),
                "circular_variance" => CircularSummary::of(&directions(&row)).unwrap().variance(),
                "rayleigh_test_p" => CircularSummary {
                    count: row.number("n") as usize,
                    mean_deg: None,
                    resultant: row.number("R"),
                }
                .rayleigh_p(),
                "signed_angle_difference" => signed_difference(row.number("from"), row.number("to")),
                "normalize_bearing" => normalised(row.number("deg")),
                "compass_point_16" => {
                    assert_eq!(
                        compass_point(row.number("deg")),
                        Some(row.expected.as_str()),
                        "{}",
                        row.id
                    );
                    seen += 1;
                    continue;
                }
                _ => continue,
            };
            row.assert_near(got);
            seen += 1;
        }
        assert_eq!(seen, 39, "rows read");
    }

    #[test]
    fn nothing_or_nonsense_has_no_summary() {
        assert_eq!(CircularSummary::of(&[]), None);
        assert_eq!(CircularSummary::of(&[10.0, f64::NAN]), None);
        assert_eq!(half_width_holding(0.0, &[], 0.95), None);
        assert_eq!(compass_point(f64::INFINITY), None);
        let balanced = CircularSummary::of(&[0.0, 180.0]).unwrap();
        assert!(balanced.standard_deviation_deg().is_infinite());
    }

    #[test]
    fn an_arc_holds_its_share_across_north() {
        let around = [350.0, 355.0, 0.0, 5.0, 30.0];
        assert_eq!(half_width_holding(0.0, &around, 0.8), Some(10.0));
        assert_eq!(half_width_holding(0.0, &around, 1.0), Some(30.0));
    }

    #[test]
    fn a_gap_may_lie_across_north() {
        assert_eq!(widest_gap_deg(&[10.0, 100.0, 200.0, 300.0]), 100.0);
        assert_eq!(widest_gap_deg(&[100.0, 180.0]), 280.0);
        assert_eq!(widest_gap_deg(&[77.0]), 360.0);
        assert_eq!(widest_gap_deg(&[]), 360.0);
    }
}
