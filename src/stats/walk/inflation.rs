//! By how much intervals are widened so that they hold as often as they say, on walks unlike those they were made for.

/// Factors by which an interval's distances from its median are stretched.
///
/// The fit's own intervals assume that its model is true. Measured on simulated walks that break it in ways real ones do
/// (fading that changes along the way, patchy interference, shadowing on two scales), they hold less often than their 95 in
/// 100; these factors, chosen on one set of worlds and checked on another, bring them to 93 or more.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inflation {
    /// For the exponent n.
    pub slope: f64,
    /// Added to `slope` for each unit of the share of cells that were visited again: a walk out and back sees every shadow twice.
    pub slope_revisited: f64,
    /// For the logarithm of the shadowing's standard deviation.
    pub shadowing: f64,
    /// For a board's m and s, on their standard deviations; also before they enter a range.
    pub sensitivity: f64,
    /// For log10 of a range.
    pub range: f64,
    /// For the mean level at a distance.
    pub level: f64,
}

impl Inflation {
    /// The fit's own intervals, as its model has them.
    pub const NONE: Self = Self {
        slope: 1.0,
        slope_revisited: 0.0,
        shadowing: 1.0,
        sensitivity: 1.0,
        range: 1.0,
        level: 1.0,
    };

    /// The factors measured.
    pub const MEASURED: Self = Self {
        slope: 1.2,
        slope_revisited: 0.4,
        shadowing: 1.1,
        sensitivity: 1.65,
        range: 1.35,
        level: 1.4,
    };
}
