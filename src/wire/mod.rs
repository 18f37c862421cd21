//! The text of one line and its meaning, both ways.
//!
//! In reading order: [`record`] (what lines can say); [`visible`] (text made safe to show and to keep); [`pairs`] and
//! [`fields`] (the form that node, surveyor and gear lines share); [`node`], [`surveyor`], [`gear`]; [`nmea`]
//! (sentences of receivers) and [`gpsd`] (reports of a gpsd server), which [`epoch`] joins into positions.

pub mod record;

pub mod visible;

pub mod fields;
pub mod pairs;

pub mod gear;
pub mod node;
pub mod surveyor;

pub mod nmea;

pub mod gpsd;

pub mod epoch;

pub use record::{
    Echo, Epoch, EpochFix, GearRecord, GearSource, Hello, Lost, Malformed, NoFix, NodeLine, NodeRecord, SigmaFrom,
    SurveyorRecord,
};
