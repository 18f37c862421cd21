//! Boards at points: which board was measured where, and what has still to be measured at a point before moving on.

use super::points::PointRow;
use super::words::metres;
use crate::ground::{Position, separation};
use crate::units::Metres;

/// Boards down, points across by distance.
#[derive(Clone, Debug)]
pub struct Grid<'a> {
    /// The points, nearest first; those without a distance last, in the order they were measured.
    pub points: Vec<GridPoint<'a>>,
    /// The boards, the reference first.
    pub boards: Vec<&'a str>,
    /// The board the others are compared with, where there is one.
    pub reference: Option<&'a str>,
    /// Every run of every board at every point, by board and then by point.
    cells: Vec<Vec<Run<'a>>>,
}

/// A point of the grid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GridPoint<'a> {
    /// Its name.
    pub name: &'a str,
    /// From the station, as its first run that has a place says.
    pub distance: Option<Metres>,
}

/// A run of a board at a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run<'a> {
    /// Its figures.
    pub row: &'a PointRow,
    /// Messages it was to have.
    pub wanted: u64,
}

/// What has still to be measured at a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Still<'a> {
    /// This board has not been measured there.
    Measure(&'a str),
    /// This board's run is short of so many messages.
    Finish(&'a str, u64),
    /// The reference was not measured after the others: what drifted meanwhile cannot be told from the boards.
    Again(&'a str),
}

/// Boards are swapped and held this far from each other at one point, metres, however well positions are known.
const SAME_PLACE_M: f64 = 15.0;

/// Points at different distances from which on a comparison says something about the boards, and not of those spots alone
/// (common practice).
pub const POINTS_TO_COMPARE: usize = 4;

impl<'a> Grid<'a> {
    /// Lays the runs at points out. `known` are boards that belong to the survey though they may not have been measured
    /// yet; `reference` picks one of all boards; `wanted` says how many messages a run was to have.
    pub fn of(
        rows: impl IntoIterator<Item = &'a PointRow>,
        known: impl IntoIterator<Item = &'a str>,
        reference: impl FnOnce(&[&'a str]) -> Option<&'a str>,
        wanted: impl Fn(&PointRow) -> u64,
    ) -> Self {
        let rows: Vec<&PointRow> = rows.into_iter().filter(|row| row.activity == "point").collect();
        let mut points: Vec<GridPoint<'a>> = Vec::new();
        let mut boards: Vec<&'a str> = Vec::new();
        for row in &rows {
            match points.iter_mut().find(|point| point.name == row.point) {
                Some(point) => point.distance = point.distance.or(row.distance),
                None => points.push(GridPoint {
                    name: &row.point,
                    distance: row.distance,
                }),
            }
            if !boards.contains(&row.board.as_str()) {
                boards.push(&row.board);
            }
        }
        if !rows.is_empty() {
            for board in known {
                if !boards.contains(&board) {
                    boards.push(board);
                }
            }
        }
        let far = |point: &GridPoint<'_>| point.distance.map_or(f64::INFINITY, |distance| distance.0);
        points.sort_by(|one, other| far(one).total_cmp(&far(other)));
        let reference = reference(&boards).filter(|reference| boards.contains(reference));
        boards.sort_by_key(|board| (Some(*board) != reference, *board));
        let mut cells = vec![Vec::new(); boards.len() * points.len()];
        for row in rows {
            let board = boards.iter().position(|board| *board == row.board);
            let point = points.iter().position(|point| point.name == row.point);
            if let (Some(board), Some(point)) = (board, point) {
                let wanted = wanted(row);
                cells[board * points.len() + point].push(Run { row, wanted });
            }
        }
        Self {
            points,
            boards,
            reference,
            cells,
        }
    }

    /// The runs of a board at a point, both by their place in the grid, in order of time.
    pub fn runs(&self, board: usize, point: usize) -> &[Run<'a>] {
        if point >= self.points.len() {
            return &[];
        }
        self.cells
            .get(board * self.points.len() + point)
            .map_or(&[], Vec::as_slice)
    }

    /// The run that stands for a cell: the last one that had all its messages, else the last.
    pub fn cell(&self, board: usize, point: usize) -> Option<&Run<'a>> {
        let runs = self.runs(board, point);
        let whole = runs.iter().rev().find(|run| run.row.messages >= run.wanted);
        whole.or(runs.last())
    }

    /// What has still to be measured at a point before moving on, in the order to do it; `in_hand` comes first, so that no
    /// board is changed needlessly.
    pub fn still(&self, point: usize, in_hand: Option<&str>) -> Vec<Still<'a>> {
        let mut still = Vec::new();
        let mut order: Vec<usize> = (0..self.boards.len()).collect();
        order.sort_by_key(|board| Some(self.boards[*board]) != in_hand);
        for board in order {
            let name = self.boards[board];
            match self.cell(board, point) {
                None => still.push(Still::Measure(name)),
                Some(run) if run.row.messages < run.wanted => {
                    still.push(Still::Finish(name, run.wanted - run.row.messages));
                }
                Some(_) => {}
            }
        }
        // Where the reference is still to come anyway it will come last of its own.
        if let Some(reference) = self.reference
            && self.is_open(point)
            && !still.contains(&Still::Measure(reference))
        {
            if self.is_followed(point) {
                still.retain(|one| !matches!(one, Still::Finish(name, _) if *name == reference));
            }
            still.push(Still::Again(reference));
        }
        still
    }

    /// Whether a cell that is not empty is still to be measured again.
    pub fn is_unfinished(&self, board: usize, point: usize) -> bool {
        let name = self.boards.get(board);
        self.still(point, None).iter().any(|one| match one {
            Still::Measure(_) => false,
            Still::Finish(board, _) | Still::Again(board) => Some(board) == name,
        })
    }

    /// Whether the reference was measured at a point and has not been since the others were.
    fn is_open(&self, point: usize) -> bool {
        let begin = |run: &Run<'_>| run.row.rows.start;
        let Some(of) = self.boards.iter().position(|board| Some(*board) == self.reference) else {
            return false;
        };
        let others = (0..self.boards.len()).filter(|board| *board != of);
        let last_other = others.flat_map(|board| self.runs(board, point)).map(begin).max();
        let last_own = self.runs(of, point).iter().map(begin).max();
        // With no other board to compare it with yet, the boards still missing come first.
        self.boards.len() > 1 && last_own.is_some() && last_own < last_other.or(last_own.map(|own| own + 1))
    }

    /// Whether another board was measured at a point after the reference: what the reference was short of is then made up for
    /// when it is measured again.
    fn is_followed(&self, point: usize) -> bool {
        let begin = |run: &Run<'_>| run.row.rows.start;
        let of = self.boards.iter().position(|board| Some(*board) == self.reference);
        let own = of.and_then(|of| self.runs(of, point).iter().map(begin).max());
        let others = (0..self.boards.len()).filter(|board| Some(*board) != of);
        let last = others.flat_map(|board| self.runs(board, point)).map(begin).max();
        last > own
    }

    /// The other point nearest to one where both may be the same place: nearer than the doubt of their positions, 95 %, and not
    /// both told apart by a name of the surveyor's own. With how far apart the positions lie; `None` where a position or its
    /// doubt is not known.
    ///
    /// A point is one place by its name alone: what only may be the same place is never put together.
    pub fn maybe_same(&self, point: usize) -> Option<(&'a str, Metres)> {
        let here = self.points.get(point)?;
        let (place, sigma) = self.place(point)?;
        let near = (0..self.points.len()).filter_map(|other| {
            let there = self.points[other];
            if other == point || !(is_numbered(here.name) || is_numbered(there.name)) {
                return None;
            }
            let (elsewhere, other_sigma) = self.place(other)?;
            let apart = separation(place, elsewhere).distance;
            (apart.0 <= RADIUS_95 * sigma.0.hypot(other_sigma.0)).then_some((there.name, apart))
        });
        near.min_by(|one, other| one.1.0.total_cmp(&other.1.0))
    }

    /// How far apart runs at one point lie that cannot be at one place; `None` where their positions allow one, or are not
    /// known. They stand in one column by their name, and that is said.
    pub fn two_places(&self, point: usize) -> Option<Metres> {
        let runs = || (0..self.boards.len()).flat_map(|board| self.runs(board, point));
        let placed: Vec<(Position, Metres)> = runs()
            .filter_map(|run| Some((run.row.position?, run.row.sigma?)))
            .collect();
        let (first, others) = placed.split_first()?;
        let apart = others.iter().map(|other| {
            let doubt = RADIUS_95 * first.1.0.hypot(other.1.0);
            (separation(first.0, other.0).distance, doubt.max(SAME_PLACE_M))
        });
        let far = apart.filter(|(apart, doubt)| apart.0 > *doubt).map(|(apart, _)| apart);
        far.max_by(|one, other| one.0.total_cmp(&other.0))
    }

    /// Where a point is, as its first run with a position says, and the one-sigma doubt of that per axis.
    fn place(&self, point: usize) -> Option<(Position, Metres)> {
        let runs = (0..self.boards.len()).flat_map(|board| self.runs(board, point));
        let placed = runs.filter_map(|run| Some((run.row.rows.start, run.row.position?, run.row.sigma?)));
        placed
            .min_by_key(|(begin, ..)| *begin)
            .map(|(_, place, sigma)| (place, sigma))
    }

    /// Where a point of a name stands in the grid.
    pub fn point(&self, name: &str) -> Option<usize> {
        self.points.iter().position(|point| point.name == name)
    }

    /// Where a board of a name stands in the grid.
    pub fn board(&self, name: &str) -> Option<usize> {
        self.boards.iter().position(|board| *board == name)
    }

    /// How many cells are empty.
    pub fn missing(&self) -> usize {
        self.cells.iter().filter(|runs| runs.is_empty()).count()
    }
}

/// How far off 95 of 100 positions lie, in sigmas per axis: √(−2 ln 0.05), of a Rayleigh distribution.
const RADIUS_95: f64 = 2.448;

/// Whether a name is one that the survey gave, `P1`, `P2` and so on, and not the surveyor.
fn is_numbered(name: &str) -> bool {
    name.strip_prefix('P')
        .is_some_and(|number| !number.is_empty() && number.bytes().all(|digit| digit.is_ascii_digit()))
}

/// That two points may be one, in a sentence.
pub fn maybe_same_words(point: &str, (other, apart): (&str, Metres)) -> String {
    format!(
        "{point} lies {} from {other}, nearer than their positions are sure of: perhaps the same place, kept apart here.",
        metres(apart.0)
    )
}

/// That one name stands for two places, in a sentence.
pub fn two_places_words(point: &str, apart: Metres) -> String {
    format!(
        "{point} was measured at places {} apart under one name: compare its boards with that in mind, or measure one again.",
        metres(apart.0)
    )
}

/// What has still to be measured, such as `fern, hazel, then yew again`; `None` of nothing.
pub fn words(still: &[Still<'_>]) -> Option<String> {
    let mut boards = Vec::new();
    let mut again = None;
    for one in still {
        match one {
            Still::Measure(board) => boards.push((*board).to_owned()),
            Still::Finish(board, more) => boards.push(format!("{board} ({more} more)")),
            Still::Again(board) => again = Some(*board),
        }
    }
    match (boards.is_empty(), again) {
        (true, None) => None,
        (true, Some(board)) => Some(format!("{board} again")),
        (false, None) => Some(boards.join(", ")),
        (false, Some(board)) => Some(format!("{}, then {board} again", boards.join(", "))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::points::points;
    use crate::survey::exchange::Heard;
    use crate::survey::sample::{Activity, BootName, Sample, Samples};
    use crate::survey::setup::Setup;
    use crate::units::{Elapsed, UtcMs};

    /// Runs at points, each as board, point and messages.
    fn measured(runs: &[(&str, &str, u64)]) -> Vec<PointRow> {
        let mut samples = Samples::default();
        for (run, (board, point, messages)) in runs.iter().enumerate() {
            samples.boots.push(BootName {
                board: (*board).into(),
                boot: 1,
            });
            samples.points.push((*point).into());
            for n in 0..*messages {
                samples.rows.push(Sample {
                    utc: UtcMs(0),
                    at: Elapsed(samples.rows.len() as u64 * 100_000),
                    boot: run as u32,
                    run: run as u32 + 1,
                    n,
                    echo: Some(Heard::default()),
                    channel: None,
                    place: None,
                    activity: Activity::Point(run as u32),
                    excluded: None,
                });
            }
        }
        points(&samples, &Setup::default())
    }

    fn grid(rows: &[PointRow]) -> Grid<'_> {
        Grid::of(rows, ["hazel"], |_| Some("yew"), |_| 100)
    }

    #[test]
    fn an_empty_cell_is_still_to_be_measured_and_the_reference_brackets() {
        let rows = measured(&[("yew", "P1", 100)]);
        let found = grid(&rows);
        assert_eq!((found.boards.clone(), found.missing()), (vec!["yew", "hazel"], 1));
        assert_eq!(words(&found.still(0, None)).unwrap(), "hazel, then yew again");

        let rows = measured(&[("yew", "P1", 100), ("fern", "P1", 41), ("hazel", "P1", 100)]);
        let still = grid(&rows).still(0, None);
        assert_eq!(still, [Still::Finish("fern", 59), Still::Again("yew")]);

        let rows = measured(&[("yew", "P1", 100), ("hazel", "P1", 100), ("yew", "P1", 100)]);
        assert_eq!(words(&grid(&rows).still(0, None)), None);
    }

    #[test]
    fn the_board_in_hand_comes_first_and_a_reference_measured_last_is_enough() {
        let rows = measured(&[("fern", "P1", 100)]);
        let found = grid(&rows);
        let still = found.still(0, Some("hazel"));
        assert_eq!(
            words(&still).unwrap(),
            "hazel",
            "the only other one: no yew in this survey"
        );

        let rows = measured(&[("yew", "P2", 100), ("fern", "P1", 100)]);
        let found = grid(&rows);
        let of = |point: &str| words(&found.still(found.point(point).unwrap(), Some("fern")));
        assert_eq!(of("P1").unwrap(), "yew, hazel");
        assert_eq!(of("P2").unwrap(), "fern, hazel, then yew again");
    }

    #[test]
    fn a_run_cut_short_does_not_hide_the_whole_one_before_it() {
        let rows = measured(&[("yew", "P1", 100), ("yew", "P1", 7)]);
        let found = grid(&rows);
        assert_eq!(found.runs(0, 0).len(), 2);
        assert_eq!(found.cell(0, 0).unwrap().row.messages, 100);
        assert_eq!(found.cell(0, 9), None);
    }

    #[test]
    fn a_reference_cut_short_is_finished_before_the_others_and_measured_again_after_them() {
        let rows = measured(&[("yew", "P1", 41)]);
        assert_eq!(
            words(&grid(&rows).still(0, None)).unwrap(),
            "yew (59 more), hazel, then yew again"
        );
        // Followed by another board, it comes last anyway.
        let rows = measured(&[("yew", "P1", 41), ("hazel", "P1", 100)]);
        assert_eq!(words(&grid(&rows).still(0, None)).unwrap(), "yew again");
    }

    #[test]
    fn points_nearer_than_their_doubt_may_be_one_and_say_so() {
        use crate::units::Degrees;
        // Metres north of the first, sigma per axis.
        let told = |names: [&str; 2], north: f64, sigma: Option<f64>| {
            let mut rows = measured(&[("yew", names[0], 100), ("hazel", names[1], 100)]);
            for (row, north) in rows.iter_mut().zip([0.0, north]) {
                row.position = Position::new(Degrees(52.1 + north / 111_260.0), Degrees(-2.9)).ok();
                row.sigma = sigma.map(Metres);
            }
            let found = grid(&rows);
            let of = |name: &str| {
                found
                    .maybe_same(found.point(name).unwrap())
                    .map(|(name, _)| name.to_owned())
            };
            (of(names[0]), of(names[1]))
        };
        let both = |one: &str, other: &str| (Some(other.to_owned()), Some(one.to_owned()));
        assert_eq!(told(["P1", "P2"], 2.0, Some(1.5)), both("P1", "P2"));
        assert_eq!(told(["P1", "gate"], 2.0, Some(1.5)), both("P1", "gate"));
        assert_eq!(
            told(["pear", "gate"], 2.0, Some(1.5)),
            (None, None),
            "the surveyor tells them apart"
        );
        // 2.448 √2 1.5 = 5.19 m.
        assert_eq!(told(["P1", "P2"], 5.1, Some(1.5)), both("P1", "P2"));
        assert_eq!(told(["P1", "P2"], 5.3, Some(1.5)), (None, None));
        assert_eq!(told(["P1", "P2"], 2.0, None), (None, None), "no doubt is known");
        let words = maybe_same_words("P2", ("P1", Metres(1.83)));
        assert!(words.starts_with("P2 lies 1.8 m from P1, nearer"), "{words}");
    }

    #[test]
    fn one_name_for_two_places_is_said() {
        use crate::units::Degrees;
        let told = |north: f64, sigma: f64| {
            let mut rows = measured(&[("yew", "P2", 100), ("fern", "P2", 100)]);
            for (row, north) in rows.iter_mut().zip([0.0, north]) {
                row.position = Position::new(Degrees(52.1 + north / 111_260.0), Degrees(-2.9)).ok();
                row.sigma = Some(Metres(sigma));
            }
            grid(&rows).two_places(0).map(|apart| apart.0.round())
        };
        assert_eq!(told(62.0, 1.5), Some(62.0));
        assert_eq!(told(12.0, 1.5), None, "swapped a few steps aside");
        assert_eq!(
            told(62.0, 20.0),
            None,
            "as far as these positions are known it may be one place"
        );
        assert!(two_places_words("P2", Metres(62.0)).starts_with("P2 was measured at places 62 m apart"));
    }

    #[test]
    fn nothing_measured_is_an_empty_grid() {
        let found = grid(&[]);
        assert!(found.boards.is_empty() && found.points.is_empty());
        assert_eq!(words(&found.still(0, None)), None);
    }
}
