//! The survey: what happened (events), what it means (the reducer), and a row for each exchange.
//!
//! In reading order: [`event`], [`setup`], [`says`], [`reducer`]; then what the reducer is made of: [`exchange`], [`numbering`]
//! and [`node_stream`] for the node, [`fixes`] for positions, [`activity`] for the surveyor; last [`sample`] and
//! [`rows`] with [`to_station`], which put them together
//! ([`remakes`] says how far back). Knows no clock, file, thread or terminal.

pub mod activity;
pub mod event;
pub mod exchange;
pub mod fixes;
pub mod node_stream;
pub mod notice;
pub mod numbering;
pub mod reducer;
pub mod remakes;
pub mod rows;
pub mod sample;
pub mod says;
pub mod setup;
pub mod to_station;

pub use event::{JournalLine, Source};
pub use notice::{Notice, Noticed};
pub use reducer::Survey;
pub use sample::{Activity, BootName, Excluded, Place, Sample, Samples};
pub use setup::Setup;
