//! A little of everything in three minutes.

use crate::rehearsal::boards;
use crate::rehearsal::orchard::larkfield;
use crate::rehearsal::pattern::Pose;
use crate::rehearsal::place::Place;
use crate::rehearsal::scenario::{MORNING, Scenario};
use crate::rehearsal::script::Script;
use crate::rehearsal::world::WorldParams;

/// The scenario `first-look`.
pub fn scene() -> Scenario {
    Scenario {
        name: "first-look",
        story: "a short walk with a point near, a point far and a quick sweep: all there is, in a few minutes",
        site: larkfield(),
        params: WorldParams::larkfield(),
        boards: vec![boards::fern()],
        script: Script::begin(Place::new(6.0, 1.0))
            .stand(4.0)
            .walking()
            .walk(Place::new(44.0, 12.0))
            .point("P1", 100)
            .walking()
            .walk(Place::new(95.0, 18.0))
            .sweep("S1", Pose::Flat, 8, 20)
            .walking()
            .walk(Place::new(140.0, 30.0))
            .point("P2", 100)
            .finish(),
        begins: MORNING,
    }
}
