//! Room for the signal: the first Fresnel zone along a path, and what an edge in it costs.

use serde::Serialize;

use super::course::Course;
use crate::propagation::{fresnel, knife_edge, two_ray};
use crate::units::{Db, Metres};

/// Clearance on the way to one distance.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Room {
    /// The node's distance along the ground.
    pub distance_m: Metres,
    /// Radius of the first zone half way, where it is widest.
    pub radius_m: Metres,
    /// The room wanted half way: 0.6 of that radius.
    pub wanted_m: Metres,
    /// Height of the line of sight above the ground half way, earth's curve taken off.
    pub line_m: Metres,
    /// That height over the radius: 0.6 and more is as good as free space.
    pub clear_share: f64,
    /// Where the first zone begins to touch flat ground, 4 h1 h2 / wavelength: beyond it the level falls twice as fast.
    pub break_point_m: Metres,
    /// How high both aerials would have to stand, equally, for the room wanted half way.
    pub both_heights_m: Metres,
    /// The edge given on the way there, where there is one.
    pub edge: Option<EdgeCost>,
    /// The zone at places along the path.
    pub along: Vec<Zone>,
    /// What an edge half way costs, by its height over the line of sight.
    pub edges: Vec<EdgeCost>,
}

/// The first zone at one place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Zone {
    /// From the station.
    pub from_station_m: Metres,
    /// Radius of the first zone.
    pub radius_m: Metres,
    /// The room wanted: 0.6 of it.
    pub wanted_m: Metres,
    /// Height of the line of sight above the ground.
    pub line_m: Metres,
    /// The tallest thing that leaves the room wanted; below 0 where the ground itself is too near.
    pub may_stand_m: Metres,
}

/// What one edge costs.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct EdgeCost {
    /// Its top over the line of sight, negative below it.
    pub over_line_m: Metres,
    /// The same without unit, P.526's v.
    pub v: f64,
    /// The loss by Fresnel's integrals; negative is a gain.
    pub exact_db: Db,
    /// The loss by the usual approximation.
    pub approximate_db: Db,
}

/// Heights of an edge over the line of sight that are shown, besides the one that just leaves the room wanted.
const HEIGHTS_M: [f64; 5] = [0.0, 0.5, 1.0, 2.0, 4.0];

/// The room on the way to `distance`; `None` when it is not finite and above zero.
pub fn room(course: &Course<'_>, heights: (Metres, Metres), distance: Metres) -> Option<Room> {
    let frequency = course.frequency();
    let half = Metres(distance.0 / 2.0);
    let radius = fresnel::radius(frequency, half, half, 1)?;
    let wanted = fresnel::clearance(frequency, half, half)?;
    let line = course.line_height(distance, half)?;
    let along = [0.1, 0.25, 0.5, 0.75, 0.9]
        .into_iter()
        .map(|share| zone(course, distance, Metres(share * distance.0)))
        .collect::<Option<Vec<_>>>()?;
    let edges = std::iter::once(-wanted.0)
        .chain(HEIGHTS_M)
        .map(|over| {
            edge_cost(
                Metres(over),
                knife_edge::parameter(frequency, Metres(over), half, half)?,
            )
        })
        .collect::<Option<Vec<_>>>()?;
    let bulge = f64::midpoint(heights.0.0, heights.1.0) - line.0;
    Some(Room {
        distance_m: distance,
        radius_m: radius,
        wanted_m: wanted,
        line_m: line,
        clear_share: course.clear_share(distance)?,
        break_point_m: two_ray::break_point(frequency, heights.0, heights.1)?,
        both_heights_m: Metres(wanted.0 + bulge),
        edge: course.edge_over_line(distance).and_then(|(over, v)| edge_cost(over, v)),
        along,
        edges,
    })
}

fn edge_cost(over_line: Metres, v: f64) -> Option<EdgeCost> {
    Some(EdgeCost {
        over_line_m: over_line,
        v,
        exact_db: knife_edge::loss(v)?,
        approximate_db: knife_edge::approximate_loss(v)?,
    })
}

fn zone(course: &Course<'_>, distance: Metres, from_station: Metres) -> Option<Zone> {
    let beyond = Metres(distance.0 - from_station.0);
    let radius = fresnel::radius(course.frequency(), from_station, beyond, 1)?;
    let wanted = fresnel::clearance(course.frequency(), from_station, beyond)?;
    let line = course.line_height(distance, from_station)?;
    Some(Zone {
        from_station_m: from_station,
        radius_m: radius,
        wanted_m: wanted,
        line_m: line,
        may_stand_m: Metres(line.0 - wanted.0),
    })
}

#[cfg(test)]
mod tests {
    use super::super::inputs::PlanInputs;
    use super::*;

    /// Half way along 100 m at 2437 MHz the zone is 1.75369 m and the room wanted 1.05221 m (Rec. ITU-R P.526-15, 2).
    #[test]
    fn the_zone_half_way_is_the_published_one() {
        let inputs = PlanInputs::default();
        let course = Course::new(&inputs).unwrap();
        let heights = (inputs.station.height_m, inputs.node.height_m);
        let room = room(&course, heights, Metres(100.0)).unwrap();
        assert!((room.radius_m.0 - 1.75369).abs() < 1e-5);
        assert!((room.wanted_m.0 - 1.05221).abs() < 1e-5);
        // (3 + 1.2) / 2 less 0.147 mm of the earth's curve.
        assert!((room.line_m.0 - 2.099_853).abs() < 1e-6, "{:?}", room.line_m);
        assert!((room.clear_share - 2.099_853 / 1.75369).abs() < 1e-5);
        // An edge that leaves 0.6 of the radius: v = -0.6 √2, where the exact loss is a gain below 0.5 dB.
        assert!((room.edges[0].v - -0.6 * std::f64::consts::SQRT_2).abs() < 1e-9);
        assert!(room.edges[0].exact_db.0.abs() < 0.5);
        assert!((room.edges[1].exact_db.0 - 6.0206).abs() < 1e-4);
        assert_eq!(room.along.len(), 5);
    }
}
