//! Where a node can go, as the write-up takes it: places asked about, the best spots, where to walk next.

use crate::ground::Position;
use crate::stats::places::Class;
use crate::units::{Degrees, Metres};

/// The map of places of one survey.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlacesPart {
    /// The board it was walked with.
    pub board: String,
    /// Delivery a place must give, 0 to 1.
    pub delivery: f64,
    /// Margin a place must have, dB.
    pub margin_db: f64,
    /// Metres between the places asked about.
    pub step_m: f64,
    /// Exchanges it rests on.
    pub exchanges: usize,
    /// The places, in metres east and north of the station.
    pub cells: Vec<PlaceCell>,
    /// The best spots, best first.
    pub spots: Vec<SpotRow>,
    /// Where to walk next and why, a sentence each.
    pub next: Vec<String>,
    /// What was assumed, and what a reader of the map should know; a sentence each.
    pub cautions: Vec<String>,
}

/// A place asked about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaceCell {
    /// Metres east of the station.
    pub east: f64,
    /// Metres north of the station.
    pub north: f64,
    /// What may be said of it.
    pub class: Class,
    /// Chance that a node here meets the goal, 0 to 1; `None` where nothing tells.
    pub chance: Option<f64>,
}

/// A spot worth a look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpotRow {
    /// Metres east of the station.
    pub east: f64,
    /// Metres north of the station.
    pub north: f64,
    /// Where.
    pub position: Position,
    /// How far from the station.
    pub distance: Metres,
    /// Which way from the station, true.
    pub bearing: Option<Degrees>,
    /// Chance that a node there meets the goal, 0 to 1.
    pub chance: f64,
    /// dB to spare beyond the goal's own margin, the best guess.
    pub spare_db: f64,
    /// Its lower end, 95 %.
    pub spare_low_db: f64,
    /// Exchanges within 15 m.
    pub exchanges: u32,
}

impl PlacesPart {
    /// How many places are of a class.
    pub fn count(&self, class: Class) -> usize {
        self.cells.iter().filter(|cell| cell.class == class).count()
    }
}

/// The class in words.
pub const fn class_words(class: Class) -> &'static str {
    match class {
        Class::Good => "good",
        Class::Marginal => "marginal",
        Class::Poor => "poor",
        Class::Unwalked => "unwalked",
    }
}
