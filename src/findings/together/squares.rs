//! One survey's exchanges by squares of ground, in a frame shared with other surveys.

use std::collections::BTreeMap;

use super::member::Member;
use crate::ground::Position;
use crate::ground::local::LocalPlane;
use crate::survey::sample::Sample;

/// Sides of a square tried, metres.
const SIDES_M: [f64; 6] = [10.0, 15.0, 20.0, 30.0, 50.0, 100.0];
/// A square is at least so many times as wide as the doubt between two positions of one place is large, one sigma.
const SIGMAS: f64 = 3.0;
/// Squares to a side of a patch.
const PATCH: i64 = 3;

/// A square: how many sides north and east of the origin its middle lies.
pub type Key = (i64, i64);

/// The frame that surveys share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    plane: LocalPlane,
    /// Side of a square, metres.
    pub side_m: f64,
    /// Whether its origin is the first survey's station; else it is the first place of all.
    pub about_station: bool,
}

impl Frame {
    /// About the first survey's station, or the first known place of any; `None` where none is known.
    ///
    /// `sigmas_m`: how well positions of the two surveys are known, one sigma per axis.
    pub fn of(members: &[Member<'_>], sigmas_m: [Option<f64>; 2]) -> Option<Self> {
        let station = members.first()?.setup.station.position;
        let first = || {
            let rows = members.iter().flat_map(|member| &member.samples.rows);
            rows.filter_map(|row| row.place).map(|place| place.position).next()
        };
        let between = sigmas_m.map(|sigma| sigma.unwrap_or(0.0));
        let least = SIGMAS * between[0].hypot(between[1]);
        let side_m = SIDES_M.into_iter().find(|side| *side >= least);
        Some(Self {
            plane: LocalPlane::about(station.or_else(first)?),
            side_m: side_m.unwrap_or(SIDES_M[SIDES_M.len() - 1]),
            about_station: station.is_some(),
        })
    }

    /// Metres east and north of the origin.
    pub fn at(&self, place: Position) -> (f64, f64) {
        let offset = self.plane.offset(place);
        (offset.east.0, offset.north.0)
    }

    /// The square a place lies in. The origin lies in the middle of one, so that a walk along an axis is not cut in two.
    pub fn key(&self, place: Position) -> Key {
        let (east, north) = self.at(place);
        let index = |metres: f64| (metres / self.side_m).round() as i64;
        (index(north), index(east))
    }

    /// The middle of a square, metres east and north of the origin.
    pub fn middle(&self, key: Key) -> (f64, f64) {
        (key.1 as f64 * self.side_m, key.0 as f64 * self.side_m)
    }
}

/// The patch a square belongs to: nine squares that share weather, walker and the error of positions.
pub fn patch((north, east): Key) -> Key {
    (north.div_euclid(PATCH), east.div_euclid(PATCH))
}

/// The rows of one board in each square, in order of time.
pub type Squares<'a> = BTreeMap<Key, Vec<&'a Sample>>;

/// Gathers one board's exchanges of a survey by squares.
pub fn squares<'a>(member: Member<'a>, board: &'a str, frame: &Frame) -> Squares<'a> {
    let mut squares = Squares::new();
    for row in member.placed(board) {
        if let Some(place) = row.place {
            squares.entry(frame.key(place.position)).or_default().push(row);
        }
    }
    squares
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nine_squares_make_a_patch_on_either_side_of_the_origin() {
        assert_eq!(patch((0, 2)), patch((2, 0)));
        assert_ne!(patch((0, 0)), patch((0, 3)));
        assert_ne!(patch((-1, 0)), patch((0, 0)));
        assert_eq!(patch((-3, -1)), patch((-1, -3)));
    }
}
