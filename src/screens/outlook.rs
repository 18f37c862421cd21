//! The slower estimates as the panels draw them: each with its interval, or not there at all.

use crate::units::{Dbm, Metres};

/// A figure with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// The figure.
    pub value: f64,
    /// Where it may lie.
    pub low: f64,
    /// Where it may lie.
    pub high: f64,
}

/// The slower estimates, as far as they are known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outlook {
    /// How much there is to spare here, dB above the level at which this board still delivers 90 %.
    pub margin_db: Option<Spread>,
    /// Why that is not known, in words.
    pub why_no_margin: Option<String>,
    /// The level at which this board still delivers 90 %.
    pub needed: Option<Dbm>,
    /// Level by distance: the fitted line with its band.
    pub law: Vec<(Metres, Spread)>,
    /// How each board compares with the reference, dB.
    pub against_reference: Vec<(String, Spread)>,
    /// The reference board.
    pub reference: Option<String>,
    /// The best spots, the best first.
    pub spots: Vec<Spot>,
    /// Where to walk next and why.
    pub walk_next: Option<String>,
    /// What a sweep shows in words, by its name and pose.
    pub patterns: Vec<(String, String)>,
}

/// A spot where a node may go.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// Metres east of the station.
    pub east: Metres,
    /// Metres north of the station.
    pub north: Metres,
    /// How much there is to spare, dB.
    pub margin_db: Spread,
    /// How sure it is that the goal is met, 0 to 1.
    pub sure: f64,
}
