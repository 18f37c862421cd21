//! From findings to sections: what is said, in which order.
//!
//! [`whole`] puts a write-up together from: [`answer`], [`conditions`], [`ground`], [`distance`], [`points`], [`sweeps`],
//! [`places`]; [`together`] (of several surveys, what differs where); [`method`], [`cautions`], [`again`].

pub mod whole;

pub mod answer;
pub mod conditions;
pub mod distance;
pub mod ground;
pub mod places;
pub mod points;
pub mod sweeps;
pub mod together;

pub mod again;
pub mod cautions;
pub mod method;
