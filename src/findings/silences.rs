//! Spells in which the station was silent: their losses are the station's, not the ground's.

use super::side::Side;
use crate::stats::places::{Exchange, outages};
use crate::survey::sample::{Sample, Samples};
use crate::units::Elapsed;

/// The silences of the station as one board met them, in order of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Silences(Vec<(Elapsed, Elapsed)>);

impl Silences {
    /// Finds them among a board's rows that count; `half_level_dbm` is the level at which it delivers half.
    pub fn of(samples: &Samples, board: &str, side: Side, half_level_dbm: f64) -> Self {
        let own = |row: &&Sample| row.counts() && samples.board(row) == board;
        Self::among(samples.rows.iter().filter(own), side, half_level_dbm)
    }

    /// Finds them among some rows of one board, in order of time.
    pub fn among<'a>(rows: impl Iterator<Item = &'a Sample>, side: Side, half_level_dbm: f64) -> Self {
        let told = |row: &&Sample| !row.delivered() || side.level(row).is_some();
        let rows: Vec<&Sample> = rows.filter(told).collect();
        // Where it was does not matter: a silence is told by how abruptly it begins and ends.
        let exchanges: Vec<Exchange> = rows
            .iter()
            .map(|row| Exchange {
                x: 0.0,
                y: 0.0,
                t: row.at.seconds(),
                level: side.level(row).map(f64::from),
                lost: !row.delivered(),
                speed: None,
                course: None,
            })
            .collect();
        let found = outages(&exchanges, half_level_dbm);
        Self(
            found
                .iter()
                .map(|gap| (rows[gap.first].at, rows[gap.past - 1].at))
                .collect(),
        )
    }

    /// Whether a row was lost in one.
    pub fn took(&self, row: &Sample) -> bool {
        if row.delivered() {
            return false;
        }
        let after = self.0.partition_point(|(from, _)| *from <= row.at);
        after > 0 && row.at <= self.0[after - 1].1
    }
}
