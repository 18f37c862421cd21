//! One board turned round in two poses, another in one.

use crate::rehearsal::boards;
use crate::rehearsal::orchard::larkfield;
use crate::rehearsal::pattern::Pose;
use crate::rehearsal::place::Place;
use crate::rehearsal::scenario::{MORNING, Scenario};
use crate::rehearsal::script::Script;
use crate::rehearsal::world::WorldParams;
use crate::wire::SurveyorRecord;

/// The scenario `sweep`.
pub fn scene() -> Scenario {
    Scenario {
        name: "sweep",
        story: "fern turned round flat and upright at 45 m, then hazel with its two lobes in sixteen steps",
        site: larkfield(),
        params: WorldParams::larkfield(),
        boards: vec![boards::fern(), boards::hazel()],
        script: Script::begin(Place::new(6.0, 1.0))
            .stand(4.0)
            .walking()
            .walk(Place::out(45.0, 84.0))
            .sweep("S1", Pose::Flat, 8, 40)
            .stand(3.0)
            .sweep("S2", Pose::Upright, 8, 40)
            .swap(1)
            .press(SurveyorRecord::Resume)
            .sweep("S3", Pose::Flat, 16, 40)
            .walking()
            .walk(Place::new(12.0, 2.0))
            .finish(),
        begins: MORNING,
    }
}
