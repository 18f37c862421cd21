//! The plan: every figure with the formula it comes from.

use serde::Serialize;

use super::caution::{Caution, cautions};
use super::course::{Course, CurvePoint, Row};
use super::inputs::{Ground, PlanInputs, PlanProblem, Receiver};
use super::reach::{Reaches, reaches};
use super::room::{Room, room};
use crate::findings::outdoors::CAUTIONS;
use crate::link::Budget;
use crate::link::power::eirp;
use crate::propagation::{
    Published, fading, free_space, fresnel, knife_edge, noise, shadowing, street, two_ray, woodland,
};
use crate::units::{Db, Dbm, Megahertz, Metres};

/// What is to be expected, before anything is measured.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Plan {
    /// What was asked.
    pub inputs: PlanInputs,
    /// The frequency used.
    pub frequency_mhz: Megahertz,
    /// Its wavelength.
    pub wavelength_m: Metres,
    /// What the station radiates, cable and aerial counted.
    pub station_eirp_dbm: Dbm,
    /// What the node radiates.
    pub node_eirp_dbm: Dbm,
    /// The receivers' 90 % level.
    pub level90_dbm: Dbm,
    /// What the goal asks of a place.
    pub needed: Needed,
    /// How far the goal carries.
    pub reaches: Reaches,
    /// Level, margin and delivery by distance.
    pub rows: Vec<Row>,
    /// The level of the weaker way from 5 m to the farthest distance, close enough to draw.
    pub curve: Vec<CurvePoint>,
    /// The budget from station to node at `room.distance_m`.
    pub to_node: Budget,
    /// The budget from node to station there.
    pub to_station: Budget,
    /// Fresnel clearance there.
    pub room: Room,
    /// Which formula each figure comes from.
    pub formulas: Vec<Formula>,
    /// What the figures leave out or lean on.
    pub cautions: Vec<Warning>,
    /// What to take care of outdoors.
    pub outdoors: &'static [&'static str],
}

/// What the goal asks of a place's local mean level.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Needed {
    /// Steady over scattered power assumed, a plain ratio; 0 is Rayleigh.
    pub steadiness: f64,
    /// Above the 90 % level, so that fades spoil no more messages than the goal allows.
    pub fading_db: Db,
    /// Above the 90 % level, as the goal's margin asks.
    pub goal_db: Db,
    /// The larger of the two.
    pub margin_db: Db,
    /// On top, so that the goal's share of unseen places meets it.
    pub scatter_db: Db,
}

/// A figure's formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Formula {
    /// What it gives, in words.
    pub what: &'static str,
    /// The figures it gives, by their keys.
    pub figures: &'static str,
    /// The formula and its source.
    #[serde(flatten)]
    pub published: Published,
}

/// A caution with its sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Warning {
    /// Which.
    pub caution: Caution,
    /// In words.
    pub words: &'static str,
}

/// The distance looked at when the goal reaches nowhere.
const FALLBACK: Metres = Metres(100.0);

/// Where the curve begins.
const CURVE_FROM: Metres = Metres(5.0);

/// Points of the curve: as many as a wide terminal has dots.
const CURVE_POINTS: usize = 241;

/// Works out a plan.
///
/// # Errors
/// When an input is no number or out of range, saying what to give.
pub fn plan(inputs: &PlanInputs) -> Result<Plan, PlanProblem> {
    let course = Course::new(inputs)?;
    let scatter = shadowing::margin(inputs.goal.confidence, inputs.sigma_db).unwrap_or_default();
    let reaches = reaches(&course, scatter);
    let farthest = reaches.even.again_to_m.or(reaches.even.distance_m);
    let at = inputs.at_m.or(farthest).unwrap_or(FALLBACK);
    let heights = (inputs.station.height_m, inputs.node.height_m);
    // The inputs are checked, so each of these has an answer; if one had none the distance would be to blame.
    let no_answer = PlanProblem::Range {
        what: "distance to look at",
        value: at.0,
        low: 1.0,
        high: 20_000.0,
        unit: "m",
        remedy: "give one to walk to",
    };
    let room = room(&course, heights, at).ok_or_else(|| no_answer.clone())?;
    let to_node = course.budget(at, true).ok_or_else(|| no_answer.clone())?;
    let to_station = course.budget(at, false).ok_or_else(|| no_answer.clone())?;
    let frequency = course.frequency();
    let radiated = |end: super::inputs::End| eirp(end.tx_dbm, end.gain_dbi, end.loss_db);
    let cautions = cautions(inputs, frequency, &reaches, &room);
    Ok(Plan {
        frequency_mhz: frequency,
        wavelength_m: inputs.wavelength().ok_or(no_answer)?,
        station_eirp_dbm: radiated(inputs.station),
        node_eirp_dbm: radiated(inputs.node),
        level90_dbm: course.threshold,
        needed: Needed {
            steadiness: inputs.steadiness(),
            fading_db: course.fading,
            goal_db: inputs.goal.margin_db,
            margin_db: course.needed,
            scatter_db: scatter,
        },
        reaches,
        rows: distances(inputs.farthest_m)
            .into_iter()
            .filter_map(|distance| course.at(distance))
            .collect(),
        curve: course.curve(CURVE_FROM, inputs.farthest_m, CURVE_POINTS),
        to_node,
        to_station,
        room,
        formulas: formulas(inputs),
        cautions: cautions
            .into_iter()
            .map(|caution| Warning {
                caution,
                words: caution.words(),
            })
            .collect(),
        outdoors: &CAUTIONS,
        inputs: inputs.clone(),
    })
}

/// Distances of the table: 1, 1.5, 2, 3, 5 and 7 of each decade from 5 m up to the farthest, and that one.
fn distances(farthest: Metres) -> Vec<Metres> {
    let mut list: Vec<Metres> = [1.0, 10.0, 100.0, 1000.0, 10_000.0]
        .into_iter()
        .flat_map(|decade| [1.0, 1.5, 2.0, 3.0, 5.0, 7.0].map(|step| Metres(step * decade)))
        .filter(|distance| distance.0 >= 5.0 && distance.0 < farthest.0)
        .collect();
    list.push(farthest);
    list
}

fn formulas(inputs: &PlanInputs) -> Vec<Formula> {
    let bounds = "ground_low_db, ground_high_db, level_low_dbm, level_high_dbm";
    let mut list = vec![("free space", "free_space_db", free_space::PUBLISHED)];
    match inputs.ground {
        Ground::Flat => list.extend([
            (
                "flat ground, expected",
                "ground_db, here_dbm, there_dbm, margin_db",
                two_ray::PLANE_EARTH,
            ),
            ("bounds over ground", bounds, street::PUBLISHED),
        ]),
        Ground::Cluttered => list.push((
            "ground with things beside the path, expected and bounds",
            "ground_db, here_dbm, there_dbm, margin_db, ground_low_db, ground_high_db, level_low_dbm, level_high_dbm",
            street::PUBLISHED,
        )),
    }
    list.push((
        "two rays over smooth ground, to compare",
        "two_ray_db",
        two_ray::TWO_RAYS,
    ));
    if inputs.trees.is_some() {
        list.push(("trees", "trees_db", woodland::PUBLISHED));
    }
    if matches!(inputs.receiver, Receiver::Worked { .. }) {
        list.push(("the receivers' 90 % level", "level90_dbm", noise::PUBLISHED));
    }
    list.extend([
        (
            "an edge in the way",
            "edge_db, room.edge, room.edges",
            knife_edge::PUBLISHED,
        ),
        (
            "room for the signal",
            "room.radius_m, room.wanted_m",
            fresnel::PUBLISHED,
        ),
        ("fading and delivery", "needed.fading_db, delivery", fading::PUBLISHED),
        (
            "scatter between places",
            "needed.scatter_db, places, reaches.sure",
            shadowing::PUBLISHED,
        ),
    ]);
    list.into_iter()
        .map(|(what, figures, published)| Formula {
            what,
            figures,
            published,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plan_of_the_defaults_hangs_together() {
        let plan = plan(&PlanInputs::default()).unwrap();
        // Rice with K = 6 dB, 5 % of fades allowed; the goal's 10 dB is larger.
        assert!(plan.needed.fading_db.0 < 10.0);
        assert_eq!(plan.needed.margin_db, Db(10.0));
        // 7 dB × 1.6449 for 95 of 100 places.
        assert!((plan.needed.scatter_db.0 - 11.514).abs() < 1e-3);
        let reach = |found: super::super::reach::Reach| found.distance_m.unwrap().0;
        let all = &plan.reaches;
        assert!(reach(all.sure) < reach(all.even) && reach(all.even) < reach(all.at_lower_bound));
        assert!(reach(all.at_upper_bound) < reach(all.even));
        assert_eq!(plan.room.distance_m, all.even.distance_m.unwrap());
        // Where half of the places meet the goal, the budget leaves just the margin asked for.
        assert!((plan.to_node.margin(plan.level90_dbm).0 - 10.0).abs() < 0.01);
        assert_eq!(plan.to_node.level(), plan.to_station.level());
        assert_eq!(plan.rows.last().unwrap().distance_m, Metres(1000.0));
        assert!(plan.rows.windows(2).all(|pair| pair[0].margin_db > pair[1].margin_db));
        assert!(
            plan.cautions
                .iter()
                .any(|warning| warning.caution == Caution::LocalRules)
        );
    }

    #[test]
    fn keys_name_their_units_and_hold_numbers() {
        let json = serde_json::to_value(plan(&PlanInputs::default()).unwrap()).unwrap();
        assert!(json["reaches"]["sure"]["distance_m"].is_f64());
        assert!(json["rows"][0]["level_low_dbm"].is_f64());
        assert_eq!(json["inputs"]["radio"], "802.11");
        assert_eq!(json["reaches"]["sure"]["again_from_m"], serde_json::Value::Null);
        assert_eq!(json["formulas"][0]["source"], "Rec. ITU-R P.525-5 (2024)");
        assert_eq!(json["cautions"][0]["caution"], "local_rules");
    }

    #[test]
    fn with_an_edge_the_budget_is_shown_behind_it() {
        use super::super::inputs::Edge;
        let inputs = PlanInputs {
            edge: Some(Edge {
                from_station_m: Metres(30.0),
                height_m: Metres(2.6),
            }),
            ..PlanInputs::default()
        };
        let plan = plan(&inputs).unwrap();
        assert_eq!(Some(plan.room.distance_m), plan.reaches.even.again_to_m);
        let edge = plan.room.edge.unwrap();
        let term = plan.to_node.terms.iter().find(|term| term.name == "edge").unwrap();
        assert_eq!(term.adds_db, -edge.exact_db);
        assert!(term.source.contains("P.526"));
    }

    #[test]
    fn every_corner_of_the_inputs_makes_a_plan() {
        use super::super::inputs::{Edge, Trees};
        for ground in [Ground::Flat, Ground::Cluttered] {
            for (height, far) in [(0.05, 10.0), (500.0, 20_000.0)] {
                for delivery in [1e-6, 0.5, 1.0 - 1e-9] {
                    let mut inputs = PlanInputs {
                        ground,
                        farthest_m: Metres(far),
                        trees: Some(Trees {
                            from_station_m: Metres(0.0),
                            depth_m: Metres(20_000.0),
                            db_per_m: None,
                            most_db: None,
                        }),
                        edge: Some(Edge {
                            from_station_m: Metres(0.1),
                            height_m: Metres(500.0),
                        }),
                        sigma_db: Db(0.0),
                        ..PlanInputs::default()
                    };
                    inputs.station.height_m = Metres(height);
                    inputs.node.height_m = Metres(height);
                    inputs.goal.delivery = delivery;
                    let made = plan(&inputs).unwrap();
                    assert!(!made.rows.is_empty());
                    assert!(
                        made.rows
                            .iter()
                            .all(|row| row.margin_db.0.is_finite() && row.delivery >= 0.0)
                    );
                }
            }
        }
    }

    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig::with_cases(48))]

        /// Any numbers at all are either refused in words or make a plan whose figures are all finite.
        #[test]
        fn any_numbers_make_a_plan_or_a_sentence(
            figures in proptest::collection::vec(proptest::prop_oneof![
                4 => 0.1f64..30.0,
                1 => proptest::num::f64::ANY,
            ], 8),
            shares in proptest::collection::vec(0.0f64..1.0, 2),
            channel in 0u32..16,
            flat in proptest::bool::ANY,
        ) {
            use super::super::inputs::Edge;
            let mut inputs = PlanInputs {
                channel,
                ground: if flat { Ground::Flat } else { Ground::Cluttered },
                edge: Some(Edge { from_station_m: Metres(figures[0]), height_m: Metres(figures[1]) }),
                rice_k_db: Some(Db(figures[2])),
                sigma_db: Db(figures[3]),
                at_m: Some(Metres(figures[4])),
                ..PlanInputs::default()
            };
            inputs.station.height_m = Metres(figures[5]);
            inputs.node.tx_dbm = Dbm(figures[6]);
            inputs.station.gain_dbi = Db(figures[7]);
            inputs.goal.delivery = shares[0];
            inputs.goal.confidence = shares[1];
            match plan(&inputs) {
                Err(problem) => proptest::prop_assert!(!problem.to_string().is_empty()),
                Ok(plan) => {
                    let text = super::super::render(&plan, 80);
                    proptest::prop_assert!(!text.contains("NaN") && !text.contains("inf"), "{}", text);
                    proptest::prop_assert!(plan.curve.iter().all(|point| point.level_low_dbm <= point.level_high_dbm));
                }
            }
        }
    }
}
