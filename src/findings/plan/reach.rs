//! How far the goal carries: by the expected level, with scatter allowed for, and at the published bounds.

use serde::Serialize;

use super::course::{Course, Margins};
use crate::units::{Db, Metres};

/// The farthest distance looked at.
pub const LONGEST: Metres = Metres(20_000.0);

/// The nearest distance looked at.
pub const NEAREST: Metres = Metres(1.0);

/// Each step of the search is this many times the last: 2 %, finer than any of the formulas.
const STEP: f64 = 1.02;

/// From the station outwards, how far a requirement is met without a break.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Reach {
    /// The distance, to the centimetre; `None` when the requirement fails already at 1 m.
    pub distance_m: Option<Metres>,
    /// Whether it is still met at the farthest distance looked at, 20 km, so that the distance is only a least one.
    pub at_least: bool,
    /// Where it is met again farther out (behind an edge, say); `None` when nowhere.
    pub again_from_m: Option<Metres>,
    /// And where that stretch ends.
    pub again_to_m: Option<Metres>,
}

/// The four distances for the goal.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Reaches {
    /// The goal's share of unseen places meets it (scatter sigma allowed for).
    pub sure: Reach,
    /// Half of the places meet it.
    pub even: Reach,
    /// Every place meets it if the loss is at the upper bound.
    pub at_upper_bound: Reach,
    /// Every place meets it if the loss is at the lower bound.
    pub at_lower_bound: Reach,
}

/// Works out the four; `scatter` is what the goal's confidence asks for on top.
pub fn reaches(course: &Course<'_>, scatter: Db) -> Reaches {
    let needed = course.needed;
    Reaches {
        sure: reach(course, |margins| margins.expected >= needed + scatter),
        even: reach(course, |margins| margins.expected >= needed),
        at_upper_bound: reach(course, |margins| margins.least >= needed),
        at_lower_bound: reach(course, |margins| margins.most >= needed),
    }
}

/// Walks outwards in steps of 2 % and closes in on each change by bisection to a centimetre. A break narrower than a step may
/// be passed over.
pub fn reach(course: &Course<'_>, meets: impl Fn(&Margins) -> bool) -> Reach {
    let met = |distance: f64| course.margins(Metres(distance)).is_some_and(|margins| meets(&margins));
    let mut changes = Vec::new();
    let mut before = NEAREST.0;
    let begins = met(before);
    let mut state = begins;
    while before < LONGEST.0 && changes.len() < 3 {
        let next = (before * STEP).min(LONGEST.0);
        if met(next) != state {
            changes.push(close_in(before, next, state, &met));
            state = !state;
        }
        before = next;
    }
    let at = |index: usize| changes.get(index).copied().map(Metres);
    if begins {
        Reach {
            distance_m: at(0).or(Some(LONGEST)),
            at_least: changes.is_empty(),
            again_from_m: at(1),
            again_to_m: at(1).map(|_| at(2).unwrap_or(LONGEST)),
        }
    } else {
        Reach {
            distance_m: None,
            at_least: false,
            again_from_m: at(0),
            again_to_m: at(0).map(|_| at(1).unwrap_or(LONGEST)),
        }
    }
}

/// Between `low`, where it is `state`, and `high`, where it is not: the change, to a centimetre, on the side that meets it.
fn close_in(mut low: f64, mut high: f64, state: bool, met: &impl Fn(f64) -> bool) -> f64 {
    while high - low > 0.01 {
        let middle = f64::midpoint(low, high);
        if met(middle) == state {
            low = middle;
        } else {
            high = middle;
        }
    }
    if state { low } else { high }
}

#[cfg(test)]
mod tests {
    use super::super::inputs::{Edge, Ground, PlanInputs, Receiver};
    use super::*;
    use crate::propagation::free_space;
    use crate::units::{Dbm, Megahertz};

    #[test]
    fn near_free_space_it_is_the_inverse_of_the_published_formula() {
        // High aerials keep the crossover far out; 10 dB of margin over -60 dBm leaves 85 - 10 dB of loss from 15 dBm.
        let mut inputs = PlanInputs {
            ground: Ground::Flat,
            receiver: Receiver::Stated {
                level90_dbm: Dbm(-60.0),
            },
            ..PlanInputs::default()
        };
        inputs.station.height_m = Metres(10.0);
        inputs.node.height_m = Metres(10.0);
        let course = Course::new(&inputs).unwrap();
        let found = reach(&course, |margins| margins.expected >= course.needed)
            .distance_m
            .unwrap();
        let expected = free_space::range(Megahertz(2437.0), Db(75.0 - course.needed.0)).unwrap();
        assert!((found.0 - expected.0).abs() < 0.011, "{found:?} {expected:?}");
    }

    #[test]
    fn behind_an_edge_the_goal_may_be_met_again() {
        let inputs = PlanInputs {
            edge: Some(Edge {
                from_station_m: Metres(30.0),
                height_m: Metres(2.6),
            }),
            ..PlanInputs::default()
        };
        let course = Course::new(&inputs).unwrap();
        let all = reaches(&course, Db(0.0));
        let gap = all.even;
        assert!((gap.distance_m.unwrap().0 - 30.0).abs() < 2.0, "{gap:?}");
        assert!(gap.again_from_m.unwrap() > gap.distance_m.unwrap(), "{gap:?}");
        assert!(gap.again_to_m.unwrap() > gap.again_from_m.unwrap());
    }

    #[test]
    fn a_goal_out_of_reach_has_no_distance() {
        let inputs = PlanInputs {
            receiver: Receiver::Stated {
                level90_dbm: Dbm(-20.0),
            },
            ..PlanInputs::default()
        };
        let course = Course::new(&inputs).unwrap();
        let all = reaches(&course, Db(10.0));
        assert_eq!(all.sure.distance_m, None);
        assert_eq!(all.sure.again_from_m, None);
        assert!(!all.sure.at_least);
    }
}
