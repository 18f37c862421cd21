//! Privacy: where a survey was, and the words that could tell it.

use std::sync::LazyLock;

use regex::Regex;

use super::subject::{Note, Privacy};
use crate::ground::Position;
use crate::ground::local::LocalPlane;
use crate::survey::sample::Samples;
use crate::survey::setup::Setup;

/// Numbers in free words that look like coordinates: three decimals or more, or a degree sign with minutes.
#[expect(clippy::expect_used, reason = "a constant pattern, compiled by a test")]
static COORDINATE: LazyLock<Regex> = LazyLock::new(|| {
    Regex::new(r#"[-−+]?\d{1,3}[.,]\d{3,}|\d{1,3}\s*°\s*\d{1,2}[0-9.,'′’"″\s]*[NSEWnsew]?"#)
        .expect("a constant pattern")
});

/// Where a place is, as it may be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Told {
    /// In degrees.
    Degrees(Position),
    /// In metres east and north of the station.
    Metres {
        /// East.
        east: f64,
        /// North.
        north: f64,
    },
}

/// Tells places as a survey's privacy asks.
#[derive(Clone, Copy, Debug)]
pub struct Teller {
    private: bool,
    plane: Option<LocalPlane>,
}

impl Teller {
    /// For a set-up and what is to be left out.
    pub fn new(setup: &Setup, privacy: Privacy) -> Self {
        Self {
            private: privacy.positions,
            plane: setup.station.position.map(LocalPlane::about),
        }
    }

    /// Whether positions are left out.
    pub const fn is_private(&self) -> bool {
        self.private
    }

    /// A place; `None` where it may not be told: private, and no station to count metres from.
    pub fn tell(&self, place: Position) -> Option<Told> {
        if !self.private {
            return Some(Told::Degrees(place));
        }
        let offset = self.plane?.offset(place);
        Some(Told::Metres {
            east: offset.east.0,
            north: offset.north.0,
        })
    }
}

/// Free words without what looks like a coordinate.
pub fn without_coordinates(text: &str) -> String {
    COORDINATE.replace_all(text, "[position left out]").into_owned()
}

/// Takes out of a survey what privacy asks for: of `positions` the coordinates in free words, of `words` the words themselves.
///
/// Do this before anything is estimated: names of points change with it.
pub fn redact(setup: &mut Setup, samples: &mut Samples, notes: &mut Vec<Note>, privacy: Privacy) {
    if privacy.words {
        setup.title = String::new();
        setup.note = None;
        setup.station.name = None;
        for board in &mut setup.boards {
            board.note = None;
        }
        for stretch in &mut setup.leave_out {
            "(left out)".clone_into(&mut stretch.why);
        }
        notes.clear();
        // Names as the program gives them tell nothing; others are numbered, but never as one that is already there.
        let given = |name: &str| {
            name.strip_prefix(['P', 'S'])
                .is_some_and(|digits| !digits.is_empty() && digits.bytes().all(|digit| digit.is_ascii_digit()))
        };
        for (index, name) in samples.points.iter_mut().enumerate() {
            if !given(name) {
                *name = format!("place {}", index + 1);
            }
        }
        for (index, pose) in samples.poses.iter_mut().enumerate() {
            if !["flat", "upright", "edge"].contains(&pose.as_str()) {
                *pose = format!("pose {}", index + 1);
            }
        }
    } else if privacy.positions {
        let redact = |text: &mut String| *text = without_coordinates(text);
        redact(&mut setup.title);
        setup.note.iter_mut().for_each(redact);
        setup.station.name.iter_mut().for_each(redact);
        setup
            .boards
            .iter_mut()
            .filter_map(|board| board.note.as_mut())
            .for_each(redact);
        setup.leave_out.iter_mut().for_each(|stretch| redact(&mut stretch.why));
        for note in notes {
            redact(&mut note.text);
        }
        samples.points.iter_mut().for_each(redact);
        samples.poses.iter_mut().for_each(redact);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_leave_free_words() {
        assert_eq!(
            without_coordinates("shed at 52.10000, -2.90000; 12.5 m mast"),
            "shed at [position left out], [position left out]; 12.5 m mast"
        );
        assert_eq!(
            without_coordinates("52° 06' 00\" N by the oak"),
            "[position left out] by the oak"
        );
        assert_eq!(
            without_coordinates("turned 90° left, 2437 MHz"),
            "turned 90° left, 2437 MHz"
        );
    }

    #[test]
    fn names_people_gave_are_numbered_and_stay_apart() {
        let mut samples = Samples {
            points: vec!["P1".into(), "by the church".into(), "S12".into(), "Smith".into()],
            poses: vec!["flat".into(), "on my hat".into()],
            ..Samples::default()
        };
        let mut setup = Setup {
            title: "mine".into(),
            ..Setup::default()
        };
        let privacy = Privacy {
            positions: true,
            words: true,
        };
        redact(&mut setup, &mut samples, &mut Vec::new(), privacy);
        assert_eq!(samples.points, ["P1", "place 2", "S12", "place 4"]);
        assert_eq!(samples.poses, ["flat", "pose 2"]);
        assert_eq!(setup.title, "");
    }
}
