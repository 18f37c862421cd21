//! Where each exchange was about the station, worked out once for all that ask.

use std::sync::OnceLock;

use crate::ground::Position;
use crate::ground::local::{LocalPlane, Offset};
use crate::survey::sample::{Sample, Samples};

/// The exchanges of a survey on the plane about its station. Whoever asks first works them out; who asks meanwhile waits for it.
#[derive(Debug)]
pub struct Offsets<'a> {
    samples: &'a Samples,
    plane: LocalPlane,
    /// One for each row; `None` where it has no place or does not count.
    of_rows: OnceLock<Vec<Option<Offset>>>,
}

impl<'a> Offsets<'a> {
    /// Those about a station.
    pub fn about(station: Position, samples: &'a Samples) -> Self {
        Self {
            samples,
            plane: LocalPlane::about(station),
            of_rows: OnceLock::new(),
        }
    }

    /// The plane about the station.
    pub const fn plane(&self) -> LocalPlane {
        self.plane
    }

    /// The rows of a board that count and have a place, in order of time, each with where that is.
    pub fn counted(&self, board: &str) -> impl Iterator<Item = (&'a Sample, Offset)> {
        let of_rows = self.of_rows.get_or_init(|| {
            let offset = |row: &Sample| Some(self.plane.offset(row.place.filter(|_| row.counts())?.position));
            self.samples.rows.iter().map(offset).collect()
        });
        let own = self.samples.counts_for(board);
        let rows = self.samples.rows.iter().zip(of_rows);
        rows.filter_map(move |(row, offset)| Some((row, (*offset).filter(|_| own(row))?)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::sample::{Activity, BootName, Excluded, Place};
    use crate::units::{Degrees, Elapsed, UtcMs};

    #[test]
    fn rows_of_a_board_that_count_and_have_a_place_are_told() {
        let at = |step: u32| Position::new(Degrees(52.1 + f64::from(step) * 1e-4), Degrees(-2.9)).unwrap();
        let row = |n: u32| Sample {
            utc: UtcMs(0),
            at: Elapsed(u64::from(n) * 100_000),
            boot: n % 2,
            run: 1,
            n: u64::from(n),
            echo: None,
            channel: None,
            place: (n != 4).then(|| Place {
                position: at(n),
                facts: 0,
                distance: None,
                bearing: None,
            }),
            activity: Activity::Walk,
            excluded: (n == 2).then_some(Excluded::Paused),
        };
        let boot = |board: &str| BootName {
            board: board.to_owned(),
            boot: 1,
        };
        let samples = Samples {
            rows: (0..8).map(row).collect(),
            boots: vec![boot("yew"), boot("fern")],
            ..Samples::default()
        };
        let offsets = Offsets::about(at(0), &samples);
        let told: Vec<(u64, Offset)> = offsets.counted("yew").map(|(row, offset)| (row.n, offset)).collect();
        let expected = [0, 6].map(|n| (u64::from(n), LocalPlane::about(at(0)).offset(at(n))));
        assert_eq!(told, expected);
        assert_eq!(offsets.counted("elm").count(), 0);
    }
}
