//! The scenarios, one a file.

pub mod boards;
pub mod first_look;
pub mod sweep;
pub mod trouble;
pub mod two_turned;
pub mod walk;
