//! The reference and another board turned round at the same spot.

use crate::rehearsal::boards;
use crate::rehearsal::orchard::larkfield;
use crate::rehearsal::pattern::Pose;
use crate::rehearsal::place::Place;
use crate::rehearsal::scenario::{MORNING, Scenario};
use crate::rehearsal::script::Script;
use crate::rehearsal::world::WorldParams;
use crate::wire::SurveyorRecord;

/// Turns of each sweep, enough to tell how much.
const TURNS: u32 = 12;
/// Messages a turn.
const MESSAGES: u32 = 30;

/// The scenario `two-turned`.
pub fn scene() -> Scenario {
    Scenario {
        name: "two-turned",
        story: "yew and then fern turned round at the same spot through twelve turns each, to lay over each other",
        site: larkfield(),
        params: WorldParams::larkfield(),
        boards: vec![boards::yew(), boards::fern()],
        script: Script::begin(Place::out(32.0, 84.0))
            .stand(3.0)
            .walking()
            .walk(Place::out(40.0, 84.0))
            .sweep("S1", Pose::Flat, TURNS, MESSAGES)
            .swap(1)
            .press(SurveyorRecord::Resume)
            .sweep("S2", Pose::Flat, TURNS, MESSAGES)
            .finish(),
        begins: MORNING,
    }
}
