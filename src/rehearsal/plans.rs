//! What to do in a drawn world: walks, sweeps, points and boards in turn, each a scenario like any other.

use super::boards::Board;
use super::draws::Drawn;
use super::orchard::larkfield;
use super::pattern::{Pattern, Pose};
use super::place::Place;
use super::scenario::{MORNING, Scenario};
use super::scenes;
use super::script::Script;

/// The form of a walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Route {
    /// Straight away from the station.
    Straight,
    /// Straight away and back the same way.
    OutAndBack,
    /// Outward with swings to both sides.
    Zigzag,
    /// Two loops, each through the station's neighbourhood.
    Loops,
    /// Along a straight line that passes the station at a fifth of the extent.
    PassingBy,
}

impl Route {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Straight,
        Self::OutAndBack,
        Self::Zigzag,
        Self::Loops,
        Self::PassingBy,
    ];

    /// The places walked through, in order, on a bearing in degrees out to an extent in metres.
    pub fn places(self, extent: f64, bearing: f64) -> Vec<Place> {
        let at = |share: f64, off: f64| Place::out((share * extent).max(8.0), bearing + off);
        match self {
            Self::Straight => vec![at(0.0, 0.0), at(1.0, 0.0)],
            Self::OutAndBack => vec![at(0.0, 0.0), at(1.0, 0.0), at(0.0, 0.0)],
            Self::Zigzag => (0..=12)
                .map(|leg| {
                    let swing = if leg % 2 == 0 { 14.0 } else { -14.0 };
                    at(f64::from(leg) / 12.0, swing)
                })
                .collect(),
            Self::Loops => vec![
                at(0.0, 0.0),
                at(0.6, -40.0),
                at(1.0, -15.0),
                at(0.7, 5.0),
                at(0.0, 0.0),
                at(0.5, 60.0),
                at(0.9, 35.0),
                at(0.6, 15.0),
                at(0.0, 0.0),
            ],
            Self::PassingBy => {
                let nearest = Place::out(extent / 5.0, bearing + 90.0);
                vec![nearest.beside(extent, bearing + 180.0), nearest.beside(extent, bearing)]
            }
        }
    }
}

/// A scenario that walks a route with a drawn world and board: playable like any other.
pub fn walk_scenario(drawn: &Drawn, route: Route, extent: f64, bearing: f64) -> Scenario {
    let mut places = route.places(extent, bearing).into_iter();
    let begin = Script::begin(places.next().unwrap_or_default()).stand(3.0).walking();
    let script = places.fold(begin, Script::walk).finish();
    scenario(drawn, "drawn-walk", script)
}

/// A scenario that sweeps one pose at a distance in metres, on a bearing in degrees; the board has the pattern in every
/// pose.
pub fn sweep_scenario(
    drawn: &Drawn,
    pattern: &Pattern,
    distance: f64,
    bearing: f64,
    steps: u32,
    messages: u32,
) -> Scenario {
    let mut drawn = drawn.clone();
    drawn.board.patterns = [pattern.clone(), pattern.clone(), pattern.clone()];
    let script = Script::begin(Place::out(distance, bearing))
        .hand(drawn.seed)
        .stand(3.0)
        .sweep("S1", Pose::Flat, steps, messages)
        .finish();
    scenario(&drawn, "drawn-sweep", script)
}

/// A scenario with a point at each distance in metres, on a bearing in degrees.
pub fn points_scenario(drawn: &Drawn, distances: &[f64], bearing: f64, messages: u32) -> Scenario {
    let begin = Script::begin(Place::out(8.0, bearing)).stand(3.0);
    let script = distances.iter().zip(1..).fold(begin, |script, (distance, number)| {
        script
            .walking()
            .walk(Place::out(*distance, bearing))
            .point(&format!("P{number}"), messages)
    });
    scenario(drawn, "drawn-points", script.finish())
}

/// A scenario that tries boards in turn at each distance in metres, the first before and after the others.
pub fn boards_scenario(drawn: &Drawn, boards: &[Board], distances: &[f64], bearing: f64, messages: u32) -> Scenario {
    let script = scenes::boards::script(boards.len(), distances, bearing, messages);
    Scenario {
        boards: boards.to_vec(),
        ..scenario(drawn, "drawn-boards", script)
    }
}

fn scenario(drawn: &Drawn, name: &'static str, script: Script) -> Scenario {
    Scenario {
        name,
        story: "a drawn world",
        site: larkfield(),
        params: drawn.params.clone(),
        boards: vec![drawn.board.clone()],
        script,
        begins: MORNING,
    }
}

#[cfg(test)]
mod tests {
    use super::super::draws::{Manner, drawn};
    use super::super::law::Law;
    use super::super::pattern::Shape;
    use super::super::script::Event;
    use super::super::trial::exchanges;
    use super::*;
    use crate::wire::SurveyorRecord;

    #[test]
    fn routes_reach_their_extent_and_stay_clear_of_the_station() {
        for route in Route::ALL {
            let places = route.places(200.0, 75.0);
            let farthest = places.iter().map(|place| place.distance()).fold(0.0, f64::max);
            assert!((199.0..206.0).contains(&farthest), "{route:?} {farthest}");
            let track = walk_scenario(&drawn(1, Manner::Plain), route, 200.0, 75.0);
            let nearest = (0..(track.script.seconds() as u32))
                .map(|second| track.script.track().at(f64::from(second)).person.distance())
                .fold(f64::INFINITY, f64::min);
            assert!(nearest > 5.0, "{route:?} {nearest}");
        }
    }

    /// Averaged over worlds, the power met at each turn follows the pattern: the strongest where the mark stands at the
    /// turn that the pattern says, clockwise from the station.
    #[test]
    fn a_sweep_shows_the_pattern_at_the_turns_pressed() {
        let pattern = Pattern {
            peak: 0.0,
            towards: 90.0,
            shape: Shape::OneLobe { depth: 12.0 },
        };
        let (steps, worlds) = (8, 60);
        let mut power = vec![0.0; steps];
        let mut rows_of = vec![0.0; steps];
        for seed in 0..worlds {
            let mut drawn = drawn(seed, Manner::Plain);
            drawn.params.law = Law::LogDistance {
                loss_1m: 40.0,
                exponent: 2.0,
            };
            drawn.params.shadow.clear();
            drawn.params.fading.k_db = 6.0;
            let scenario = sweep_scenario(&drawn, &pattern, 40.0, 75.0, steps as u32, 40);
            let mut turn = None;
            let mut presses = scenario.script.happenings().iter().peekable();
            for row in exchanges(&scenario, seed) {
                while let Some(happening) = presses.next_if(|happening| happening.at_s <= row.at_s) {
                    turn = match happening.event {
                        Event::Press(SurveyorRecord::Turn { deg }) => Some(deg.0),
                        _ => None,
                    };
                }
                if let Some(turn) = turn {
                    let step = (turn / 45.0).round() as usize;
                    power[step] += 10_f64.powf((row.exchange.here - drawn.board.tx) / 10.0);
                    rows_of[step] += 1.0;
                }
            }
        }
        for step in 0..steps {
            let found = 10.0 * (power[step] / rows_of[step]).log10();
            // 40 m from the hand, some half a metre nearer: free space without a shadow, 2 dBi at the station.
            let wanted = 2.0 + pattern.gain(45.0 * step as f64) - 40.0 - 20.0 * 39.45_f64.log10();
            // A step is one fade in each of 60 worlds (K 6 dB: sd 0.6 of the mean): a standard error of some 0.35 dB.
            assert!((found - wanted).abs() < 1.2, "{step}: {found} for {wanted}");
        }
    }
}
