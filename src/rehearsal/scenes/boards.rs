//! Five boards in turn at four distances, the reference before and after.

use crate::rehearsal::boards;
use crate::rehearsal::orchard::larkfield;
use crate::rehearsal::place::Place;
use crate::rehearsal::scenario::{MORNING, Scenario};
use crate::rehearsal::script::Script;
use crate::rehearsal::world::WorldParams;
use crate::wire::SurveyorRecord;

/// Distances of the points, metres.
const DISTANCES: [f64; 4] = [20.0, 60.0, 100.0, 140.0];

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
    let mut script = Script::begin(Place::new(6.0, 1.0)).stand(4.0);
    for (stop, distance) in DISTANCES.into_iter().enumerate() {
        let name = format!("{distance:.0} m");
        script = script
            .walking()
            .walk(Place::out(distance, BEARING))
            .point(&name, MESSAGES);
        // The others in another order at each stop, so that none is always first on a cold battery; then the reference
        // again, to see what has drifted.
        let others = (0..boards.len() - 1).map(|place| 1 + (place + stop) % (boards.len() - 1));
        for board in others.chain([0]) {
            script = script.swap(board);
            script = again_at(script, &name);
        }
    }
    Scenario {
        name: "boards",
        story: "the reference and four other boards at 20, 60, 100 and 140 m, a run of messages each",
        site: larkfield(),
        params: WorldParams::larkfield(),
        boards,
        script: script.finish(),
        begins: MORNING,
    }
}

/// The same point with the board now in hand: the pause of the swap ends with the new run.
fn again_at(script: Script, name: &str) -> Script {
    script
        .press(SurveyorRecord::Point {
            name: Some(name.to_owned()),
            messages: Some(MESSAGES),
        })
        .press(SurveyorRecord::Resume)
        .shuffle(f64::from(MESSAGES) / crate::rehearsal::script::RATE + 0.7)
}
