//! The scenarios by name.

use super::boards::Board;
use super::orchard::Site;
use super::scenes;
use super::script::Script;
use super::world::WorldParams;
use crate::units::UtcMs;

/// A rehearsal: where, with what, and what the surveyor does.
#[derive(Clone, Debug, PartialEq)]
pub struct Scenario {
    /// Its name.
    pub name: &'static str,
    /// What it shows, in a line.
    pub story: &'static str,
    /// Where it takes place.
    pub site: Site,
    /// The world there.
    pub params: WorldParams,
    /// The boards in the bag; the first is plugged in at the beginning.
    pub boards: Vec<Board>,
    /// What the surveyor does and what befalls the gear.
    pub script: Script,
    /// UTC of the beginning, by the position receiver.
    pub begins: UtcMs,
}

/// The names, the shortest introduction first.
pub const NAMES: [&str; 6] = ["first-look", "walk", "boards", "sweep", "two-turned", "trouble"];

/// Sixteenth of May 2026, 09:12:00 UTC: an invented dry morning.
pub const MORNING: UtcMs = UtcMs(1_778_922_720_000);

/// The scenario of a name; `None` where there is none.
pub fn named(name: &str) -> Option<Scenario> {
    match name {
        "first-look" => Some(scenes::first_look::scene()),
        "walk" => Some(scenes::walk::scene()),
        "boards" => Some(scenes::boards::scene()),
        "sweep" => Some(scenes::sweep::scene()),
        "two-turned" => Some(scenes::two_turned::scene()),
        "trouble" => Some(scenes::trouble::scene()),
        _ => None,
    }
}

/// All scenarios, in the order of [`NAMES`].
pub fn all() -> impl Iterator<Item = Scenario> {
    NAMES.into_iter().filter_map(named)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_has_its_scenario_and_a_sensible_length() {
        assert_eq!(MORNING.rfc3339().unwrap(), "2026-05-16T09:12:00.000Z");
        for name in NAMES {
            let scenario = named(name).unwrap();
            assert_eq!(scenario.name, name);
            let minutes = scenario.script.seconds() / 60.0;
            assert!((2.0..30.0).contains(&minutes), "{name}: {minutes} min");
            assert!(!scenario.story.contains('\n') && !scenario.boards.is_empty());
        }
        assert_eq!(named("elsewhere"), None);
    }
}
