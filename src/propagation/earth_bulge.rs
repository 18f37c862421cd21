//! The curve of the earth under a path.

use super::Published;
use super::published::{not_negative, positive};
use crate::units::Metres;

/// The formula and its source.
pub const PUBLISHED: Published = Published {
    formula: "h = d1 d2 / (2 k a), k = 4/3, a = 6371 km",
    source: "Rec. ITU-R P.526-15 (2019) and P.530",
};

/// The earth's mean radius.
pub const EARTH_RADIUS: Metres = Metres(6_371_000.0);

/// How much refraction flattens the earth for radio in an average atmosphere.
pub const EFFECTIVE_RADIUS_FACTOR: f64 = 4.0 / 3.0;

/// How far the ground rises above the chord between two ends, at `d1` from one and `d2` from the other; `factor` is the
/// effective earth radius over the true one ([`EFFECTIVE_RADIUS_FACTOR`]). Below 2 cm for a kilometre of path.
pub fn height(d1: Metres, d2: Metres, factor: f64, radius: Metres) -> Option<Metres> {
    let curve = 2.0 * positive(factor)? * positive(radius.0)?;
    Some(Metres(not_negative(d1.0)? * not_negative(d2.0)? / curve))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_either_end_there_is_no_bulge() {
        let at_end = height(Metres(0.0), Metres(900.0), EFFECTIVE_RADIUS_FACTOR, EARTH_RADIUS);
        assert_eq!(at_end, Some(Metres(0.0)));
        assert_eq!(height(Metres(1.0), Metres(1.0), 0.0, EARTH_RADIUS), None);
    }
}
