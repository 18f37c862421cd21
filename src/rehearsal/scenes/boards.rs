//! Five boards in turn at five distances, the reference before and after.

use crate::rehearsal::boards;
use crate::rehearsal::orchard::larkfield;
use crate::rehearsal::place::Place;
use crate::rehearsal::scenario::{MORNING, Scenario};
use crate::rehearsal::script::{RATE, Script};
use crate::rehearsal::world::WorldParams;
use crate::wire::SurveyorRecord;

/// Distances of the points, metres.
const DISTANCES: [f64; 5] = [20.0, 60.0, 100.0, 140.0, 180.0];

/// Bearing of the line of points from the station, degrees: it slants through the rows.
const BEARING: f64 = 80.0;

/// Messages a run.
const MESSAGES: u32 = 100;

/// The scenario `boards`.
pub fn scene() -> Scenario {
    let boards = vec![
        boards::yew(),
        boards::fern(),
        boards::hazel(),
        boards::sorrel(),
        boards::thistle(),
    ];
    Scenario {
        name: "boards",
        story: "the reference and four other boards at 20, 60, 100, 140 and 180 m, a run of messages each",
        site: larkfield(),
        params: WorldParams::larkfield(),
        script: script(boards.len(), &DISTANCES, BEARING, MESSAGES),
        boards,
        begins: MORNING,
    }
}

/// So many boards, the reference first, at distances in metres on a bearing in degrees, a run of messages each.
///
/// The others come in another order at each stop, so that none is always first; then the reference again, to see what
/// has drifted.
pub fn script(boards: usize, distances: &[f64], bearing: f64, messages: u32) -> Script {
    let others = boards.saturating_sub(1);
    let mut script = Script::begin(Place::new(6.0, 1.0)).stand(4.0);
    for (stop, distance) in distances.iter().enumerate() {
        let name = format!("{distance:.0} m");
        script = script
            .walking()
            .walk(Place::out(*distance, bearing))
            .point(&name, messages);
        for board in (0..others).map(|place| 1 + (place + stop) % others).chain([0]) {
            script = again_at(script.swap(board), &name, messages);
        }
    }
    script.finish()
}

/// The same point with the board now in hand: the pause of the swap ends with the new run.
fn again_at(script: Script, name: &str, messages: u32) -> Script {
    script
        .press(SurveyorRecord::Point {
            name: Some(name.to_owned()),
            messages: Some(messages),
        })
        .press(SurveyorRecord::Resume)
        .shuffle(f64::from(messages) / RATE + 0.7)
}
