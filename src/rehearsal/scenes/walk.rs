//! A walk out along an alley, across the headland and home through the rows.

use crate::rehearsal::boards;
use crate::rehearsal::orchard::larkfield;
use crate::rehearsal::place::Place;
use crate::rehearsal::scenario::{MORNING, Scenario};
use crate::rehearsal::script::Script;
use crate::rehearsal::world::WorldParams;

/// The scenario `walk`.
pub fn scene() -> Scenario {
    Scenario {
        name: "walk",
        story: "out past the far hedge with the reference board until it falls silent, and back by other alleys",
        site: larkfield(),
        params: WorldParams::larkfield(),
        boards: vec![boards::yew()],
        script: Script::begin(Place::new(6.0, 1.0))
            .stand(4.0)
            .walking()
            .walk(Place::new(110.0, 12.0))
            .mark("gap in the hedge")
            .walk(Place::new(205.0, 24.0))
            .walk(Place::new(330.0, 60.0))
            .stand(3.0)
            .mark("far hedge")
            .walk(Place::new(300.0, 108.0))
            .walk(Place::new(150.0, 84.0))
            .walk(Place::new(96.0, 60.0))
            .mark("by the neighbour's garden")
            .stand(6.0)
            .walk(Place::new(40.0, 36.0))
            .walk(Place::new(20.0, 6.0))
            .finish(),
        begins: MORNING,
    }
}
