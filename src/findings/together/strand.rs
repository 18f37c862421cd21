//! Level by distance of one survey, to be laid over that of another.

use super::member::Member;
use crate::findings::by_distance::{Ring, by_distance};
use crate::findings::side::Side;
use crate::stats::walk::inflation::Inflation;

/// Points the fitted line is drawn through.
const LAW_POINTS: usize = 40;

/// A survey's level and delivery by distance from its own station.
#[derive(Clone, Debug, PartialEq)]
pub struct Strand {
    /// Where its levels are read.
    pub side: Side,
    /// Rings about the station, outward.
    pub rings: Vec<Ring>,
    /// The fitted line: metres, and dBm with 95 % limits (value, low, high); empty where none is fitted.
    pub law: Vec<(f64, [f64; 3])>,
    /// The level at which the board still delivers 90 %, dBm.
    pub needed: Option<f64>,
}

/// Gathers it, at the end given or else where the board's levels are read; `None` where nothing was measured at a distance.
pub fn strand(member: Member<'_>, board: &str, side: Option<Side>) -> Option<Strand> {
    let figures = member.estimates.boards.iter().find(|figures| figures.name == board)?;
    let side = side.or(figures.side)?;
    let rings = by_distance(member.samples, board, side).rings;
    if rings.is_empty() {
        return None;
    }
    let reach = figures.reach.as_ref().filter(|reach| reach.side == side);
    let fit = reach.and_then(|reach| reach.fit.as_ref().ok());
    let law = fit.map_or_else(Vec::new, |fit| {
        let (near, far) = (fit.extent.nearest_m.max(1.0), fit.extent.farthest_m.max(2.0));
        let distances: Vec<f64> = (0..=LAW_POINTS)
            .map(|index| near * (far / near).powf(index as f64 / LAW_POINTS as f64))
            .collect();
        let law = fit.law(&distances, &Inflation::MEASURED).into_iter();
        law.map(|point| {
            let level = point.level_dbm;
            (point.distance_m, [level.median, level.low, level.high])
        })
        .collect()
    });
    Some(Strand {
        side,
        rings,
        law,
        needed: reach.and_then(|reach| reach.need).map(|need| need.curve.level90_dbm()),
    })
}
