//! Directions in words.

use crate::units::Degrees;

/// The sixteen points clockwise from north, short and long; each stands for 22.5 degrees about it.
const POINTS: [(&str, &str); 16] = [
    ("N", "north"),
    ("NNE", "north-north-east"),
    ("NE", "north-east"),
    ("ENE", "east-north-east"),
    ("E", "east"),
    ("ESE", "east-south-east"),
    ("SE", "south-east"),
    ("SSE", "south-south-east"),
    ("S", "south"),
    ("SSW", "south-south-west"),
    ("SW", "south-west"),
    ("WSW", "west-south-west"),
    ("W", "west"),
    ("WNW", "west-north-west"),
    ("NW", "north-west"),
    ("NNW", "north-north-west"),
];

/// The nearest of the sixteen compass points in letters; `None` when the bearing is not finite. A bearing half way between
/// two goes to the clockwise one.
pub fn point(bearing: Degrees) -> Option<&'static str> {
    nearest(bearing).map(|(short, _)| short)
}

/// The same in words, for a sentence.
pub fn point_in_words(bearing: Degrees) -> Option<&'static str> {
    nearest(bearing).map(|(_, long)| long)
}

fn nearest(bearing: Degrees) -> Option<(&'static str, &'static str)> {
    let sixteenths = (bearing.normalised()?.0 / 22.5 + 0.5).floor();
    POINTS.get(sixteenths as usize % POINTS.len()).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tie_goes_clockwise_and_no_bearing_has_no_point() {
        assert_eq!(point(Degrees(11.25)), Some("NNE"));
        assert_eq!(point(Degrees(-0.1)), Some("N"));
        assert_eq!(point_in_words(Degrees(225.0)), Some("south-west"));
        assert_eq!(point(Degrees(f64::NAN)), None);
    }
}
