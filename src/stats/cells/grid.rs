//! The grid of mean powers, and the whole readings told apart.

/// Number of mean powers on the grid.
pub const MEANS: usize = 301;
/// Lowest mean power of the grid, dBm.
pub const MEAN_MIN_DBM: f64 = -150.0;
/// Step of the grid of mean powers, dB.
pub const MEAN_STEP_DB: f64 = 0.5;
/// Lowest whole reading a table knows, dBm. A reading outside the table counts as delivered at an unknown level.
pub const READING_MIN_DBM: i32 = -130;
/// Highest whole reading a table knows, dBm.
pub const READING_MAX_DBM: i32 = 0;

/// Number of whole readings told apart.
pub(super) const READINGS: usize = (READING_MAX_DBM - READING_MIN_DBM + 1) as usize;

/// Returns the `index`-th mean power of the grid, dBm.
pub fn mean_at(index: usize) -> f64 {
    MEAN_MIN_DBM + MEAN_STEP_DB * index as f64
}
