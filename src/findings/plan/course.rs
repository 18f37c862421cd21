//! Loss and level by distance, each loss from its own formula.

use serde::Serialize;

use super::inputs::{Ground, PlanInputs, PlanProblem};
use crate::link::Budget;
use crate::propagation::{earth_bulge, fading, free_space, fresnel, knife_edge, shadowing, street, two_ray, woodland};
use crate::units::{Db, Dbm, Megahertz, Metres};

/// What the plan expects at one distance. Losses are positive; levels are local means.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Row {
    /// Along the ground, from the station.
    pub distance_m: Metres,
    /// Free space alone (P.525).
    pub free_space_db: Db,
    /// Expected over this ground without anything in the way: P.1411 median, or free space and plane earth.
    pub ground_db: Db,
    /// As little as is to be expected over ground: the lower bound of P.1411, or less where the ground course is less.
    pub ground_low_db: Db,
    /// As much as is to be expected over ground: the upper bound of P.1411, or more where the ground course is more.
    pub ground_high_db: Db,
    /// Two rays over smooth flat ground, ripples and all; empty where they cancel.
    pub two_ray_db: Option<Db>,
    /// What trees add (P.833).
    pub trees_db: Db,
    /// What the edge adds (P.526); its small gains are not counted on.
    pub edge_db: Db,
    /// What a wall takes that the signal passes through, as given.
    pub through_db: Db,
    /// Expected level at the node.
    pub here_dbm: Dbm,
    /// Expected level at the station.
    pub there_dbm: Dbm,
    /// Level of the weaker way with the greatest loss over ground.
    pub level_low_dbm: Dbm,
    /// Level of the weaker way with the least loss over ground.
    pub level_high_dbm: Dbm,
    /// How far the weaker way's expected level stands above the receivers' 90 % level.
    pub margin_db: Db,
    /// Share of messages expected through at a place with the expected level, fading alone against the 90 % level.
    pub delivery: f64,
    /// Share of the places at this distance that meet the goal, scatter of local means allowed for.
    pub places: f64,
}

/// The level of the weaker way at one distance, for drawing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Along the ground, from the station.
    pub distance_m: Metres,
    /// With the expected loss over ground.
    pub level_dbm: Dbm,
    /// With the greatest.
    pub level_low_dbm: Dbm,
    /// With the least.
    pub level_high_dbm: Dbm,
}

/// How far the weaker way stands above the receivers' 90 % level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margins {
    /// With the expected loss over ground.
    pub expected: Db,
    /// With the greatest.
    pub least: Db,
    /// With the least.
    pub most: Db,
}

/// The loss model of one set of inputs, checked.
#[derive(Clone, Debug)]
pub struct Course<'a> {
    inputs: &'a PlanInputs,
    frequency: Megahertz,
    /// The receivers' 90 % level.
    pub threshold: Dbm,
    /// How far a local mean must stand above the threshold to meet the goal.
    pub needed: Db,
    /// The part of it that fading alone asks for.
    pub fading: Db,
    steadiness: f64,
}

impl<'a> Course<'a> {
    /// The model.
    ///
    /// # Errors
    /// When an input is out of range.
    pub fn new(inputs: &'a PlanInputs) -> Result<Self, PlanProblem> {
        inputs.check()?;
        let steadiness = inputs.steadiness();
        let fading = fading::margin(steadiness, 1.0 - inputs.goal.delivery).ok_or(PlanProblem::Share {
            what: "delivery goal",
            value: inputs.goal.delivery,
        })?;
        let threshold = inputs.threshold().ok_or(PlanProblem::Range {
            what: "the receiver's level",
            value: f64::NAN,
            low: -150.0,
            high: -20.0,
            unit: "dBm",
            remedy: "give the level itself",
        })?;
        Ok(Self {
            inputs,
            frequency: inputs.frequency()?,
            threshold,
            needed: Db(fading.0.max(inputs.goal.margin_db.0)),
            fading,
            steadiness,
        })
    }

    /// The frequency.
    pub fn frequency(&self) -> Megahertz {
        self.frequency
    }

    /// What is expected at a distance; `None` when it is not finite and above zero.
    pub fn at(&self, distance: Metres) -> Option<Row> {
        let losses = self.losses(distance)?;
        let margins = self.margins(distance)?;
        let (h1, h2) = (self.inputs.station.height_m, self.inputs.node.height_m);
        let level = |transmit: Dbm, ground: Db| transmit + self.ends() - ground - losses.in_the_way();
        let weaker = self.weaker_power();
        Some(Row {
            distance_m: distance,
            free_space_db: free_space::loss(self.frequency, distance)?,
            ground_db: losses.ground,
            ground_low_db: losses.low,
            ground_high_db: losses.high,
            two_ray_db: two_ray::loss(self.frequency, h1, h2, distance, two_ray::GRAZING),
            trees_db: losses.trees,
            edge_db: losses.edge,
            through_db: losses.through,
            here_dbm: level(self.inputs.station.tx_dbm, losses.ground),
            there_dbm: level(self.inputs.node.tx_dbm, losses.ground),
            level_low_dbm: level(weaker, losses.high),
            level_high_dbm: level(weaker, losses.low),
            margin_db: margins.expected,
            delivery: 1.0 - fading::outage(self.steadiness, margins.expected)?,
            places: shadowing::covered(margins.expected - self.needed, self.inputs.sigma_db)?,
        })
    }

    /// How far the weaker way stands above the threshold at a distance; the cheap part of [`Self::at`], for searching.
    pub fn margins(&self, distance: Metres) -> Option<Margins> {
        let losses = self.losses(distance)?;
        let before_ground = self.weaker_power() + self.ends() - losses.in_the_way() - self.threshold;
        Some(Margins {
            expected: before_ground - losses.ground,
            least: before_ground - losses.high,
            most: before_ground - losses.low,
        })
    }

    /// The weaker way's level at `count` distances (two at least) evenly spread over the logarithm from `from` to `to`.
    pub fn curve(&self, from: Metres, to: Metres, count: usize) -> Vec<CurvePoint> {
        let last = count.max(2) - 1;
        (0..=last)
            .filter_map(|index| {
                let distance = Metres(from.0 * (to.0 / from.0).powf(index as f64 / last as f64));
                let margins = self.margins(distance)?;
                Some(CurvePoint {
                    distance_m: distance,
                    level_dbm: self.threshold + margins.expected,
                    level_low_dbm: self.threshold + margins.least,
                    level_high_dbm: self.threshold + margins.most,
                })
            })
            .collect()
    }

    fn losses(&self, distance: Metres) -> Option<Losses> {
        let (h1, h2) = (self.inputs.station.height_m, self.inputs.node.height_m);
        let bounds = street::loss(self.frequency, h1, h2, distance)?;
        let ground = match self.inputs.ground {
            Ground::Flat => two_ray::smooth_loss(self.frequency, h1, h2, distance)?,
            Ground::Cluttered => bounds.median,
        };
        Some(Losses {
            ground,
            low: Db(bounds.lower.0.min(ground.0)),
            high: Db(bounds.upper.0.max(ground.0)),
            trees: self.trees(distance),
            edge: self.edge_loss(distance),
            through: self.inputs.through_db,
        })
    }

    /// Both aerials less both cables: the same for either way.
    fn ends(&self) -> Db {
        let (station, node) = (self.inputs.station, self.inputs.node);
        station.gain_dbi + node.gain_dbi - station.loss_db - node.loss_db
    }

    fn weaker_power(&self) -> Dbm {
        Dbm(self.inputs.station.tx_dbm.0.min(self.inputs.node.tx_dbm.0))
    }

    /// The budget of one way at a distance; `to_node` is from the station to the node.
    pub fn budget(&self, distance: Metres, to_node: bool) -> Option<Budget> {
        let row = self.at(distance)?;
        let (from, to) = if to_node {
            (self.inputs.station, self.inputs.node)
        } else {
            (self.inputs.node, self.inputs.station)
        };
        let (ground, source) = match self.inputs.ground {
            Ground::Flat => ("what the flat ground adds", two_ray::PLANE_EARTH.source),
            Ground::Cluttered => ("what ground and clutter add", street::PUBLISHED.source),
        };
        let mut budget = Budget::new(from.tx_dbm, "given")
            .loss("cable at the sending end", from.loss_db, "given")
            .gain("sending aerial", from.gain_dbi, "given")
            .loss("free space", row.free_space_db, free_space::PUBLISHED.source)
            .loss(ground, row.ground_db - row.free_space_db, source);
        if self.inputs.trees.is_some() {
            budget = budget.loss("trees", row.trees_db, woodland::PUBLISHED.source);
        }
        if self.inputs.edge.is_some() {
            budget = budget.loss("edge", row.edge_db, knife_edge::PUBLISHED.source);
        }
        if self.inputs.through_db.0 > 0.0 {
            budget = budget.loss("wall passed through", self.inputs.through_db, "given");
        }
        Some(budget.gain("receiving aerial", to.gain_dbi, "given").loss(
            "cable at the receiving end",
            to.loss_db,
            "given",
        ))
    }

    /// Height of the line of sight above the ground at `from_station` on the way to a node at `distance`, earth's curve allowed
    /// for; `None` outside the path.
    pub fn line_height(&self, distance: Metres, from_station: Metres) -> Option<Metres> {
        let beyond = Metres(distance.0 - from_station.0);
        let bulge = earth_bulge::height(
            from_station,
            beyond,
            earth_bulge::EFFECTIVE_RADIUS_FACTOR,
            earth_bulge::EARTH_RADIUS,
        )?;
        let (h1, h2) = (self.inputs.station.height_m.0, self.inputs.node.height_m.0);
        Some(Metres(h1 + (h2 - h1) * from_station.0 / distance.0 - bulge.0))
    }

    /// Share of the first Fresnel zone's radius that is clear above the ground half way; below 0 where the ground itself is in
    /// the line.
    pub fn clear_share(&self, distance: Metres) -> Option<f64> {
        let half = Metres(distance.0 / 2.0);
        let radius = fresnel::radius(self.frequency, half, half, 1)?;
        Some(self.line_height(distance, half)?.0 / radius.0)
    }

    fn trees(&self, distance: Metres) -> Db {
        let loss = self.inputs.trees.zip(self.inputs.wood()).and_then(|(trees, wood)| {
            let depth = (distance.0 - trees.from_station_m.0).clamp(0.0, trees.depth_m.0);
            woodland::excess(wood, Metres(depth))
        });
        loss.unwrap_or_default()
    }

    /// The given edge on the way to a node at `distance`: its top over the line of sight and P.526's v. `None` without an edge,
    /// or where the node has not yet passed it.
    pub fn edge_over_line(&self, distance: Metres) -> Option<(Metres, f64)> {
        let edge = self.inputs.edge?;
        let beyond = Metres(distance.0 - edge.from_station_m.0);
        let over = Metres(edge.height_m.0 - self.line_height(distance, edge.from_station_m)?.0);
        let v = knife_edge::parameter(self.frequency, over, edge.from_station_m, beyond)?;
        Some((over, v))
    }

    fn edge_loss(&self, distance: Metres) -> Db {
        let loss = self.edge_over_line(distance).and_then(|(_, v)| knife_edge::loss(v));
        // A gain at an edge hangs on centimetres of its height, and nothing is built on it.
        Db(loss.unwrap_or_default().0.max(0.0))
    }
}

/// Losses at one distance, positive.
#[derive(Clone, Copy, Debug)]
struct Losses {
    ground: Db,
    low: Db,
    high: Db,
    trees: Db,
    edge: Db,
    through: Db,
}

impl Losses {
    fn in_the_way(self) -> Db {
        self.trees + self.edge + self.through
    }
}

#[cfg(test)]
mod tests {
    use super::super::inputs::{Edge, Trees};
    use super::*;

    #[test]
    fn each_way_adds_up_to_the_row() {
        let mut inputs = PlanInputs {
            trees: Some(Trees {
                from_station_m: Metres(40.0),
                depth_m: Metres(30.0),
                db_per_m: None,
                most_db: None,
            }),
            edge: Some(Edge {
                from_station_m: Metres(20.0),
                height_m: Metres(4.0),
            }),
            through_db: Db(5.0),
            ..PlanInputs::default()
        };
        inputs.station.gain_dbi = Db(3.0);
        inputs.node.loss_db = Db(0.5);
        inputs.node.tx_dbm = Dbm(10.0);
        let course = Course::new(&inputs).unwrap();
        let row = course.at(Metres(100.0)).unwrap();
        let down = course.budget(Metres(100.0), true).unwrap();
        let up = course.budget(Metres(100.0), false).unwrap();
        assert!((down.level().0 - row.here_dbm.0).abs() < 1e-9);
        assert!((up.level().0 - row.there_dbm.0).abs() < 1e-9);
        // The node sends 5 dB less, so its way back is the weaker one and sets the margin.
        assert!((up.margin(course.threshold).0 - row.margin_db.0).abs() < 1e-9);
        // 30 m of measured mixed forest, P.833: 34.1 (1 - exp(-30 × 0.34 / 34.1)).
        assert!((row.trees_db.0 - 8.8159).abs() < 1e-4, "{:?}", row.trees_db);
    }

    #[test]
    fn trees_and_edge_wait_until_they_are_in_between() {
        let inputs = PlanInputs {
            trees: Some(Trees {
                from_station_m: Metres(40.0),
                depth_m: Metres(30.0),
                db_per_m: Some(0.5),
                most_db: Some(Db(30.0)),
            }),
            edge: Some(Edge {
                from_station_m: Metres(20.0),
                height_m: Metres(4.0),
            }),
            ..PlanInputs::default()
        };
        let course = Course::new(&inputs).unwrap();
        let near = course.at(Metres(19.0)).unwrap();
        assert_eq!((near.trees_db, near.edge_db), (Db(0.0), Db(0.0)));
        let behind = course.at(Metres(25.0)).unwrap();
        assert_eq!(behind.trees_db, Db(0.0));
        assert!(behind.edge_db.0 > 10.0, "{behind:?}");
    }

    #[test]
    fn flat_ground_is_free_space_near_and_plane_earth_far() {
        let inputs = PlanInputs {
            ground: Ground::Flat,
            ..PlanInputs::default()
        };
        let course = Course::new(&inputs).unwrap();
        let near = course.at(Metres(20.0)).unwrap();
        assert_eq!(near.ground_db, near.free_space_db);
        let far = course.at(Metres(1000.0)).unwrap();
        // 40 log10 1000 - 20 log10 (3 × 1.2)
        assert!((far.ground_db.0 - 108.8739).abs() < 1e-3, "{far:?}");
        assert!(far.ground_low_db.0 <= far.ground_db.0 && far.ground_db.0 <= far.ground_high_db.0);
    }
}
