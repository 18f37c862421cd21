//! How a formula names itself and its source.

use serde::Serialize;

/// A formula in words and signs, and where it was published.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Published {
    /// The formula as one line of text, with its units.
    pub formula: &'static str,
    /// The publication, with its year.
    pub source: &'static str,
}

/// A length that can stand under a logarithm: finite and above zero.
pub(super) fn positive(value: f64) -> Option<f64> {
    (value.is_finite() && value > 0.0).then_some(value)
}

/// A finite value of at least zero.
pub(super) fn not_negative(value: f64) -> Option<f64> {
    (value.is_finite() && value >= 0.0).then_some(value)
}
