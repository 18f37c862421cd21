//! What a radio link is: boards, aerials, channels, echoes and the budget between them.
//!
//! In reading order: [`antenna`] (patterns of handbook aerials), [`wave`] (frequency and wavelength), [`power`] (milliwatts, decibels, radiated power), [`channel`]
//! (the three channel plans at 2.4 GHz), [`budget`] (levels summed term by term), [`limits`] (examples of rules).

pub mod antenna;

pub mod budget;
pub mod channel;
pub mod limits;
pub mod power;
pub mod wave;

pub use budget::Budget;
pub use channel::ChannelPlan;
pub use wave::wavelength;
