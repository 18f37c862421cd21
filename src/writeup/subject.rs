//! What a write-up is made from: a survey's set-up, rows and estimates, and what is needed to make it again.

use super::places::PlacesPart;
use crate::findings::assumptions::Wanted;
use crate::findings::estimates::Estimates;
use crate::survey::reducer::Counts;
use crate::survey::sample::Samples;
use crate::survey::setup::Setup;
use crate::units::Elapsed;
use crate::wire::Hello;

/// One survey to be written up.
#[derive(Clone, Debug)]
pub struct Subject {
    /// The last part of its folder's name.
    pub folder: String,
    /// Its set-up.
    pub setup: Setup,
    /// Its rows.
    pub samples: Samples,
    /// What they say.
    pub estimates: Estimates,
    /// Where a node can go, where that was worked out.
    pub places: Option<PlacesPart>,
    /// Notes made on the way.
    pub notes: Vec<Note>,
    /// What each board said of itself, by its name.
    pub hellos: Vec<(String, Hello)>,
    /// What became of its lines; `None` where there is no journal.
    pub counts: Option<Counts>,
    /// What was found wanting when it was opened.
    pub warnings: Vec<String>,
    /// The files it was made from.
    pub inputs: Vec<Input>,
}

/// A note made on the way.
#[derive(Clone, Debug, PartialEq)]
pub struct Note {
    /// When.
    pub at: Elapsed,
    /// What.
    pub text: String,
}

/// A file that went in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Input {
    /// Its name within the folder.
    pub name: String,
    /// SHA-256 of its bytes, in hexadecimal.
    pub sha256: String,
    /// How many bytes.
    pub bytes: u64,
}

/// What is left out for the sake of privacy.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Privacy {
    /// Metres east and north of the station stand for coordinates.
    pub positions: bool,
    /// Title, notes and names of places are left out as well.
    pub words: bool,
}

/// How it is made.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Making {
    /// The program's version.
    pub version: String,
    /// What is left out.
    pub privacy: Privacy,
    /// What places were to assume.
    pub assumed: Wanted,
}
