//! A row for each exchange: what `samples.csv` holds and every figure is made from.

use crate::ground::Position;
use crate::units::{Degrees, Elapsed, Metres, UtcMs};

use super::exchange::Heard;
use super::fixes::Facts;

/// All rows of a survey with the names they share, in the order of `samples.csv`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Samples {
    /// A row for each exchange.
    pub rows: Vec<Sample>,
    /// The boots the rows name.
    pub boots: Vec<BootName>,
    /// The names of points and sweeps.
    pub points: Vec<String>,
    /// The poses of sweeps.
    pub poses: Vec<String>,
    /// What receivers said at the fixes used.
    pub facts: Vec<Facts>,
}

/// A board and which start of it.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct BootName {
    /// The board.
    pub board: String,
    /// Its count of starts.
    pub boot: u64,
}

/// One exchange and all that is known around it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Universal time; never earlier than the row before.
    pub utc: UtcMs,
    /// On the survey's clock.
    pub at: Elapsed,
    /// Index of its boot in [`Samples::boots`].
    pub boot: u32,
    /// Counts from 1.
    pub run: u32,
    /// The ping's number, unwrapped, within the boot.
    pub n: u64,
    /// What became of it: `None` is lost.
    pub echo: Option<Heard>,
    /// Channel number.
    pub channel: Option<u32>,
    /// Where it was.
    pub place: Option<Place>,
    /// What was going on.
    pub activity: Activity,
    /// Why it does not count.
    pub excluded: Option<Excluded>,
}

/// Where an exchange was.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// On the ground.
    pub position: Position,
    /// Index of what the receiver said in [`Samples::facts`].
    pub facts: u32,
    /// Geodesic to the station, on the ground; `None` where the station's position is unknown.
    pub distance: Option<Metres>,
    /// True bearing to the station; `None` too where it is less than 5 mm away.
    pub bearing: Option<Degrees>,
}

/// What was going on at an exchange.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Activity {
    /// Walking.
    Walk,
    /// Standing at a point: its index in [`Samples::points`].
    Point(u32),
    /// Sweeping.
    Sweep {
        /// Index of its name in [`Samples::points`].
        point: u32,
        /// Index of the pose in [`Samples::poses`].
        pose: Option<u32>,
        /// The turn; `None` while turning.
        turn: Option<Degrees>,
        /// The ordinal of the step within the survey, told apart even at the same turn; 0 while turning.
        step: u32,
    },
}

impl Activity {
    /// The word in `samples.csv`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Walk => "walk",
            Self::Point(_) => "point",
            Self::Sweep { .. } => "sweep",
        }
    }

    /// Index of the point's name.
    pub const fn point(self) -> Option<u32> {
        match self {
            Self::Walk => None,
            Self::Point(point) | Self::Sweep { point, .. } => Some(point),
        }
    }
}

/// Why a row does not count: the first that holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Excluded {
    /// The source was not being read.
    Unread,
    /// The surveyor had paused.
    Paused,
    /// The board was being moved.
    Turning,
    /// It was measured anew.
    Again,
    /// Left out afterwards, with a reason in the set-up.
    LeftOut,
}

impl Excluded {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Unread, Self::Paused, Self::Turning, Self::Again, Self::LeftOut];

    /// The word in `samples.csv`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Unread => "unread",
            Self::Paused => "paused",
            Self::Turning => "turning",
            Self::Again => "again",
            Self::LeftOut => "left out",
        }
    }

    /// The reason a word of `samples.csv` stands for.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|reason| reason.word() == word)
    }
}

impl Sample {
    /// Whether it counts.
    pub const fn counts(&self) -> bool {
        self.excluded.is_none()
    }

    /// Whether the ping was answered.
    pub const fn delivered(&self) -> bool {
        self.echo.is_some()
    }

    /// The station as the board heard it, dBm.
    pub fn here(&self) -> Option<f32> {
        self.echo.and_then(|heard| heard.here)
    }

    /// The board as the station heard it, dBm.
    pub fn there(&self) -> Option<f32> {
        self.echo.and_then(|heard| heard.there)
    }

    /// Distance to the station, where it is known.
    pub fn distance(&self) -> Option<Metres> {
        self.place.and_then(|place| place.distance)
    }
}

impl Samples {
    /// The board of a row.
    pub fn board(&self, sample: &Sample) -> &str {
        &self.boots[sample.boot as usize].board
    }

    /// The rows of a board that count, in order of time.
    pub fn counted<'a>(&'a self, board: &str) -> impl Iterator<Item = &'a Sample> + use<'a> {
        let counts = self.counts_for(board);
        self.rows.iter().filter(move |row| counts(row))
    }

    /// Whether a row is a board's and counts.
    pub fn counts_for(&self, board: &str) -> impl Fn(&Sample) -> bool + use<> {
        // Names are compared once a boot, not once a row.
        let own: Vec<bool> = self.boots.iter().map(|boot| boot.board == board).collect();
        move |row| row.counts() && own.get(row.boot as usize) == Some(&true)
    }

    /// The name of the point or sweep of a row.
    pub fn point(&self, sample: &Sample) -> Option<&str> {
        sample
            .activity
            .point()
            .map(|point| self.points[point as usize].as_str())
    }

    /// The pose of a row.
    pub fn pose(&self, sample: &Sample) -> Option<&str> {
        match sample.activity {
            Activity::Sweep { pose: Some(pose), .. } => Some(&self.poses[pose as usize]),
            _ => None,
        }
    }

    /// What the receiver said at a row's fix.
    pub fn facts(&self, place: &Place) -> &Facts {
        &self.facts[place.facts as usize]
    }

    /// The index of a name in one of the tables, added if it is new.
    pub fn intern(names: &mut Vec<String>, name: &str) -> u32 {
        let known = names.iter().rposition(|known| known == name);
        known.unwrap_or_else(|| {
            names.push(name.to_owned());
            names.len() - 1
        }) as u32
    }
}
