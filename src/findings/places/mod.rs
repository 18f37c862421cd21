//! Where a node can go: what was walked ([`walked`]), the map of it with its best spots and where to walk next ([`map`]), and
//! where a second station or a relay might stand ([`second`]), and whether the one there is stands where it is said to ([`station`]); last how it
//! is said: [`telling`], [`json`].

pub mod json;
pub mod map;
pub mod second;
pub mod station;
pub mod telling;
pub mod walked;

pub use map::{Cleared, NoPlaces, Places, Spot};
pub use second::{NoSecond, Second, SecondPlace};
pub use station::{Rather, StationDoubt};
pub use walked::Walk;
