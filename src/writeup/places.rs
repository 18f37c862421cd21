//! Where a node can go, as the write-up takes it: places asked about, the best spots, where to walk next.

use crate::findings::places::{Places, SecondPlace, Spot, telling};
use crate::findings::words;
use crate::stats::places::{Class, Place, Role, Threshold};

/// The map of places of one survey.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlacesPart {
    /// The board it was walked with.
    pub board: String,
    /// Delivery a place must give, 0 to 1.
    pub delivery: f64,
    /// Margin a place must have, dB.
    pub margin_db: f64,
    /// The local mean level a place needs, and its standard deviation, dBm and dB; `None` where no level is enough.
    pub needed: Option<Threshold>,
    /// Metres between the places asked about.
    pub step_m: f64,
    /// Exchanges it rests on.
    pub exchanges: usize,
    /// The places asked about, in metres east and north of the station.
    pub cells: Vec<Place>,
    /// The best spots, best first.
    pub spots: Vec<Spot>,
    /// Where to walk next and why, a sentence each.
    pub next: Vec<String>,
    /// Where a second station might stand, then where a relay: lists to test by walking.
    pub second: Vec<SecondRows>,
    /// That the levels doubt where the station is noted, and what to do about it.
    pub station_doubted: Option<String>,
    /// What every chance rests on where what the board needs is taken, as a condition.
    pub if_taken: Option<String>,
    /// What is assumed of the node, a sentence each; empty for the board as it was walked with.
    pub assumed: Vec<String>,
    /// The same as briefly as it can be named, for tables; empty likewise.
    pub assumed_briefly: String,
    /// What a reader of the map should know; a sentence each.
    pub cautions: Vec<String>,
}

/// A shortlist to test by walking.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondRows {
    /// `second station` or `relay`.
    pub what: &'static str,
    /// What it is, or why there is none; a sentence.
    pub head: String,
    /// The places, best first.
    pub rows: Vec<SecondPlace>,
}

impl PlacesPart {
    /// What a write-up takes of a survey's map of places.
    pub fn of(found: &Places) -> Self {
        let not_assumed = found.not_assumed.iter().map(|why| telling::not_assumed(why));
        let assumed: Vec<String> = found.assumptions.iter().map(telling::assumption).collect();
        let second = [(Role::SecondStation, "second station"), (Role::Relay, "relay")].map(|(role, what)| {
            let list = found.second.of_role(role);
            SecondRows {
                what,
                head: telling::second_head(role, list.as_ref().err().copied()),
                rows: list.clone().unwrap_or_default(),
            }
        });
        Self {
            board: found.board.clone(),
            station_doubted: found.station_doubt.as_ref().map(telling::station_doubt),
            delivery: found.delivery,
            margin_db: found.margin_db,
            needed: found.needed,
            step_m: found.step_m,
            exchanges: found.exchanges,
            cells: found.places.clone(),
            spots: found.spots.clone(),
            next: found
                .legs
                .iter()
                .filter(|leg| leg.settles >= telling::WORTH_A_WALK)
                .map(|leg| words::sentence(&words::leg(leg)))
                .collect(),
            second: second.into(),
            cautions: not_assumed.chain(telling::place_notes(found)).collect(),
            if_taken: telling::if_taken(found),
            assumed_briefly: telling::assumed(&found.assumptions).unwrap_or_default(),
            assumed,
        }
    }

    /// The node that is told about, in words.
    pub fn node(&self) -> String {
        if self.assumed.is_empty() {
            format!("a node like {}", self.board)
        } else {
            "the node assumed".to_owned()
        }
    }

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
