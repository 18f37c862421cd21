//! Where the station told a level of two boards at one point: what a comparison of boards rests on, and where a board fell silent.

use super::points::PointRow;
use super::side::Side;
use crate::survey::sample::{Activity, Samples};

/// What the station heard of boards at points, by board and then by point.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CommonMeter {
    told: Vec<Vec<Told>>,
}

/// What the station heard of one board at one point, all runs together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Told {
    /// Runs.
    pub runs: u64,
    /// Of them those with a level at the station.
    pub runs_with_level: u64,
    /// Messages that count.
    pub sent: u64,
    /// Of them answered.
    pub answered: u64,
    /// Of these, with the level at the station.
    pub levels: u64,
}

impl Told {
    /// Whether the board was measured and not one message was answered.
    pub const fn is_silent(&self) -> bool {
        self.sent > 0 && self.answered == 0
    }
}

impl CommonMeter {
    /// Counts the runs of boards at points, both named in the order they go by.
    pub fn of(samples: &Samples, rows: &[&PointRow], boards: &[String], points: &[String]) -> Self {
        let mut told = vec![vec![Told::default(); points.len()]; boards.len()];
        for row in rows {
            let board = boards.iter().position(|name| *name == row.board);
            let point = points.iter().position(|name| *name == row.point);
            let (Some(board), Some(point)) = (board, point) else {
                continue;
            };
            let cell = &mut told[board][point];
            cell.runs += 1;
            let before = cell.levels;
            for sample in &samples.rows[row.rows.clone()] {
                if sample.counts() && matches!(sample.activity, Activity::Point(_)) {
                    cell.sent += 1;
                    cell.answered += u64::from(sample.delivered());
                    cell.levels += u64::from(Side::There.level(sample).is_some());
                }
            }
            cell.runs_with_level += u64::from(cell.levels > before);
        }
        Self { told }
    }

    /// What was heard of a board at a point; nothing where it was not measured.
    pub fn at(&self, board: usize, point: usize) -> Told {
        let points = self.told.get(board);
        points.and_then(|points| points.get(point)).copied().unwrap_or_default()
    }

    fn points(&self) -> std::ops::Range<usize> {
        0..self.told.first().map_or(0, Vec::len)
    }

    /// Whether a board answered and its lines never told a level at the station.
    pub fn is_unread(&self, board: usize) -> bool {
        let sum = |count: fn(Told) -> u64| self.points().map(|point| count(self.at(board, point))).sum::<u64>();
        sum(|told| told.answered) > 0 && sum(|told| told.levels) == 0
    }

    /// How many runs of a board there are at all points.
    pub fn runs(&self, board: usize) -> u64 {
        self.points().map(|point| self.at(board, point).runs).sum()
    }

    /// At how many points the station told a level of both boards.
    pub fn both(&self, one: usize, other: usize) -> usize {
        let told = |point: &usize| self.at(one, *point).levels > 0 && self.at(other, *point).levels > 0;
        self.points().filter(told).count()
    }

    /// Whether both boards were measured at one point at least.
    pub fn met(&self, one: usize, other: usize) -> bool {
        self.points()
            .any(|point| self.at(one, point).runs > 0 && self.at(other, point).runs > 0)
    }

    /// The points where a board answered nothing and another one did.
    pub fn silent(&self, board: usize, other: usize) -> Vec<usize> {
        self.points()
            .filter(|point| self.at(board, *point).is_silent() && self.at(other, *point).answered > 0)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_counts_for_two_boards_only_with_a_level_of_both() {
        let told = |answered, levels| Told {
            runs: 1,
            runs_with_level: u64::from(levels > 0),
            sent: 40,
            answered,
            levels,
        };
        let meter = CommonMeter {
            told: vec![
                vec![told(40, 40), told(38, 38), told(30, 30), Told::default()],
                vec![told(40, 40), told(0, 0), Told::default(), told(9, 9)],
                vec![told(40, 0), told(0, 0), told(12, 0), Told::default()],
            ],
        };
        assert_eq!((meter.both(0, 1), meter.both(1, 0), meter.both(0, 2)), (1, 1, 0));
        assert_eq!((meter.silent(1, 0), meter.silent(0, 1)), (vec![1], vec![]));
        assert_eq!((meter.is_unread(1), meter.is_unread(2)), (false, true));
        assert!(meter.met(0, 2) && meter.at(7, 0) == Told::default());
    }
}
