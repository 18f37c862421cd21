//! Where a node can go: what was walked ([`walked`]), the map of it with its best spots and where to walk next ([`map`]), and
//! where a second station or a relay might stand ([`second`]).

pub mod map;
pub mod second;
pub mod walked;

pub use map::{NoPlaces, Places, Spot, places};
pub use second::{NoSecond, Second, SecondPlace};
