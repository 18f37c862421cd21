//! What the surveyor set up before walking, and may correct afterwards.

use crate::ground::Position;
use crate::units::{Dbm, Megahertz, Metres};

/// The set-up of a survey: the content of `survey.toml`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Setup {
    /// What the survey is called.
    pub title: String,
    /// Conditions: weather, leaves, anything that may matter later.
    pub note: Option<String>,
    /// The fixed end of the link.
    pub station: Station,
    /// The radio, where hello lines do not say.
    pub radio: Radio,
    /// What a place must meet.
    pub goal: Goal,
    /// What is known of each board beforehand.
    pub boards: Vec<BoardNote>,
    /// Stretches left out of the figures afterwards.
    pub leave_out: Vec<LeaveOut>,
    /// Where the lines come from.
    pub sources: SourceAddresses,
}

/// The fixed end of the link.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Station {
    /// Its name.
    pub name: Option<String>,
    /// Where it stands; without it, distances and bearings stay empty.
    pub position: Option<Position>,
    /// Height of its aerial above the ground it stands on.
    pub height: Option<Metres>,
    /// How well its position is known: one sigma per axis.
    pub sigma: Option<Metres>,
}

/// The radio.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Radio {
    /// `802.11`, `802.15.4`, `ble` or another word.
    pub kind: Option<String>,
    /// Channel number.
    pub channel: Option<u32>,
    /// Centre frequency.
    pub frequency: Option<Megahertz>,
}

/// What a place must meet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Goal {
    /// The least delivery rate, between 0 and 1, both exclusive.
    pub delivery: f64,
    /// How sure one must be, between 0.5 and 1, both exclusive.
    pub confidence: f64,
    /// The least margin, dB.
    pub margin_db: f64,
    /// Messages in a run at a point.
    pub messages: u32,
}

impl Default for Goal {
    /// 95 % delivered, 95 % sure, 10 dB to spare, runs of 100 messages (common practice).
    fn default() -> Self {
        Self {
            delivery: 0.95,
            confidence: 0.95,
            margin_db: 10.0,
            messages: 100,
        }
    }
}

/// What is known of a board beforehand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BoardNote {
    /// Its name, as its hello lines say it.
    pub name: String,
    /// Whether the others are compared with it.
    pub reference: bool,
    /// How high it is carried.
    pub height: Option<Metres>,
    /// Transmit power.
    pub tx: Option<Dbm>,
    /// Aerial, feed, anything that tells it apart.
    pub note: Option<String>,
}

/// A stretch left out of the figures, with the reason.
#[derive(Clone, Debug, PartialEq)]
pub struct LeaveOut {
    /// Its first moment, seconds since the survey began; belongs to it.
    pub from_s: f64,
    /// Its last moment; belongs to it.
    pub to_s: f64,
    /// Why.
    pub why: String,
}

impl LeaveOut {
    /// Whether a row that is written as so many milliseconds belongs to the stretch.
    pub fn holds(&self, elapsed_ms: u64) -> bool {
        let seconds = elapsed_ms as f64 / 1000.0;
        (self.from_s..=self.to_s).contains(&seconds)
    }
}

/// Where the lines come from, as addresses.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SourceAddresses {
    /// The node's.
    pub node: Option<String>,
    /// The receiver's.
    pub gps: Option<String>,
    /// A regular expression for firmware that prints something else.
    pub node_pattern: Option<String>,
}
