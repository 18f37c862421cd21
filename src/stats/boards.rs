//! Boards measured at the same stops: how many dB one gives over the reference.
//!
//! Each cell's mean power is stop + board (the reference is 0) + orientation + a drift along each stop where the reference was
//! measured more than once, and what a board shows when put back. A board never heard has no estimate but a bound.
//! Simulated, the intervals held the truth in 93 to 96 % of comparisons where the difference of mean dBm was off by 1.6 to
//! 2.3 dB and held it in 48 to 73 %.

use std::collections::BTreeSet;

use nalgebra::DMatrix;

use super::cells::{MEAN_MIN_DBM, MEANS, mean_at};
use super::dunnett::dunnett_critical;
use super::lincell::{LinearFit, Options, fit, flat_moments, gaussian_moments};
use super::proportions::Interval;
use super::special::{normal_quantile, student_t_quantile};

/// One cell of a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardCell {
    /// Where.
    pub stop: usize,
    /// Which board.
    pub board: usize,
    /// How it was held; only differences matter.
    pub orientation: usize,
    /// When, within the stop; any unit.
    pub time: f64,
    /// Log likelihood of the mean power on the grid of [`super::cells`], through this board's own table.
    pub log_likelihood: Vec<f64>,
}

/// What one board gives over the reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Effect {
    /// So many dB, positive: stronger than the reference.
    Measured {
        /// The estimate, dB.
        estimate_db: f64,
        /// Its standard error, dB.
        standard_error_db: f64,
        /// Interval for this board alone, dB.
        individual: Interval,
        /// Interval that holds together with those of all other boards, dB.
        simultaneous: Interval,
    },
    /// No common measure: at most, or at least, so many dB, each on its own at the upper or lower end of the confidence asked
    /// for. Both `None`: nothing can be said.
    OpenEnded {
        /// At least, dB.
        low_db: Option<f64>,
        /// At most, dB.
        high_db: Option<f64>,
    },
}

/// One board's part of a comparison.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoardEffect {
    /// Which board.
    pub board: usize,
    /// What it gives over the reference.
    pub effect: Effect,
    /// Cells it was measured in.
    pub cells: usize,
    /// Of these, cells that bound its level from both sides.
    pub two_sided: usize,
}

/// A side effect of the fit: an orientation against the first, or the drift over one stop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SideEffect {
    /// Which orientation, or which stop.
    pub of: usize,
    /// Estimate, dB; a drift is that from the stop's first cell to its last.
    pub estimate_db: f64,
    /// Standard error, dB.
    pub standard_error_db: f64,
}

/// A comparison of boards.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// Every board but the reference, ascending.
    pub boards: Vec<BoardEffect>,
    /// Orientations against the lowest one.
    pub orientations: Vec<SideEffect>,
    /// Drift at each stop that allows it.
    pub drifts: Vec<SideEffect>,
    /// What putting a board back changes, one standard deviation, dB.
    pub spread_db: f64,
    /// Degrees of freedom of the standard errors.
    pub degrees: f64,
    /// Confidence of all intervals.
    pub confidence: f64,
    /// Cells fitted.
    pub cells: usize,
    /// Stops among them.
    pub stops: usize,
    /// The fit itself, a row for each cell.
    pub fit: LinearFit,
}

/// Why boards cannot be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoComparison {
    /// The reference was not measured.
    ReferenceMissing,
    /// Only the reference was measured.
    NothingToCompare,
    /// The confidence does not lie between 0 and 1, or a cell is not a likelihood on the grid.
    BadInput,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Column {
    Stop,
    Board(usize),
    Orientation(usize),
    Drift(usize),
}

/// Compares all boards with `reference` at 0 < `confidence` < 1.
///
/// Individual intervals by Student's t, simultaneous ones by Dunnett's.
///
/// # Errors
///
/// [`NoComparison`] says which part is missing.
pub fn compare(cells: &[BoardCell], reference: usize, confidence: f64) -> Result<Comparison, NoComparison> {
    let well_formed = |c: &BoardCell| {
        c.time.is_finite() && c.log_likelihood.len() == MEANS && c.log_likelihood.iter().all(|v| v.is_finite())
    };
    if !(confidence > 0.0 && confidence < 1.0 && cells.iter().all(well_formed)) {
        return Err(NoComparison::BadInput);
    }
    let boards: BTreeSet<usize> = cells.iter().map(|c| c.board).collect();
    if !boards.contains(&reference) {
        return Err(NoComparison::ReferenceMissing);
    }
    if boards.len() < 2 {
        return Err(NoComparison::NothingToCompare);
    }
    let (matrix, columns) = design(cells, &boards, reference);
    let likelihoods: Vec<&[f64]> = cells.iter().map(|c| c.log_likelihood.as_slice()).collect();
    let fit = fit(&likelihoods, &matrix, &Options::default()).ok_or(NoComparison::BadInput)?;

    let upper = 0.5 + 0.5 * confidence;
    let single = student_t_quantile(upper, fit.degrees).ok_or(NoComparison::BadInput)?;
    let together = if boards.len() > 2 {
        dunnett_critical(boards.len() - 1, fit.degrees, confidence).ok_or(NoComparison::BadInput)?
    } else {
        single
    };
    let sides: Vec<Sides> = cells.iter().map(|c| Sides::of(&c.log_likelihood, upper)).collect();
    let linked = linked_boards(cells, &sides, reference);
    let (mut effects, mut orientations, mut drifts) = (Vec::new(), Vec::new(), Vec::new());
    for (i, column) in columns.iter().enumerate() {
        let estimate_db = fit.coefficients[i];
        let standard_error_db = fit.covariance[(i, i)].max(0.0).sqrt();
        let around = |q: f64| Interval {
            low: estimate_db - q * standard_error_db,
            high: estimate_db + q * standard_error_db,
        };
        match *column {
            Column::Stop => {}
            Column::Board(board) => {
                let own = || cells.iter().zip(&sides).filter(|(c, _)| c.board == board);
                effects.push(BoardEffect {
                    board,
                    effect: if linked.contains(&board) {
                        Effect::Measured {
                            estimate_db,
                            standard_error_db,
                            individual: around(single),
                            simultaneous: around(together),
                        }
                    } else {
                        Effect::OpenEnded {
                            low_db: limit(cells, &sides, board, reference, fit.spread_db, upper).map(|d| -d),
                            high_db: limit(cells, &sides, reference, board, fit.spread_db, upper),
                        }
                    },
                    cells: own().count(),
                    two_sided: own().filter(|(_, s)| s.two()).count(),
                });
            }
            Column::Orientation(of) => orientations.push(SideEffect {
                of,
                estimate_db,
                standard_error_db,
            }),
            Column::Drift(of) => drifts.push(SideEffect {
                of,
                estimate_db,
                standard_error_db,
            }),
        }
    }
    Ok(Comparison {
        boards: effects,
        orientations,
        drifts,
        spread_db: fit.spread_db,
        degrees: fit.degrees,
        confidence,
        cells: cells.len(),
        stops: cells.iter().map(|c| c.stop).collect::<BTreeSet<_>>().len(),
        fit,
    })
}

fn design(cells: &[BoardCell], boards: &BTreeSet<usize>, reference: usize) -> (DMatrix<f64>, Vec<Column>) {
    let stops: BTreeSet<usize> = cells.iter().map(|c| c.stop).collect();
    let orientations: BTreeSet<usize> = cells.iter().map(|c| c.orientation).collect();
    let mut columns = Vec::new();
    let mut values: Vec<f64> = Vec::new();
    let mut add = |column: Column, of: &dyn Fn(&BoardCell) -> f64| {
        columns.push(column);
        values.extend(cells.iter().map(of));
    };
    let indicator = |is: bool| if is { 1.0 } else { 0.0 };
    for &stop in &stops {
        add(Column::Stop, &|c| indicator(c.stop == stop));
    }
    for &board in boards.iter().filter(|b| **b != reference) {
        add(Column::Board(board), &|c| indicator(c.board == board));
    }
    for &orientation in orientations.iter().skip(1) {
        add(Column::Orientation(orientation), &|c| {
            indicator(c.orientation == orientation)
        });
    }
    for &stop in &stops {
        let times: Vec<f64> = cells.iter().filter(|c| c.stop == stop).map(|c| c.time).collect();
        let first = times.iter().copied().fold(f64::INFINITY, f64::min);
        let span = times.iter().copied().fold(f64::NEG_INFINITY, f64::max) - first;
        let bracketed = cells.iter().filter(|c| c.stop == stop && c.board == reference).count() >= 2;
        if bracketed && span > 0.0 {
            let mean = times.iter().sum::<f64>() / times.len() as f64;
            add(Column::Drift(stop), &|c| {
                if c.stop == stop { (c.time - mean) / span } else { 0.0 }
            });
        }
    }
    (DMatrix::from_vec(cells.len(), columns.len(), values), columns)
}

/// From which sides a cell bounds its level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Sides {
    below: bool,
    above: bool,
}

impl Sides {
    /// A side is bounded when the log likelihood falls towards that end of the grid by what an interval end takes.
    fn of(log_likelihood: &[f64], upper: f64) -> Self {
        let drop = half_square(upper);
        let top = log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let falls = |end: Option<&f64>| end.is_some_and(|v| top - v > drop);
        Self {
            below: falls(log_likelihood.first()),
            above: falls(log_likelihood.last()),
        }
    }

    fn two(self) -> bool {
        self.below && self.above
    }
}

fn half_square(upper: f64) -> f64 {
    let z = normal_quantile(upper).unwrap_or(0.0);
    0.5 * z * z
}

/// The boards that stops measured from both sides link to the reference, one over another.
fn linked_boards(cells: &[BoardCell], sides: &[Sides], reference: usize) -> BTreeSet<usize> {
    let sound: Vec<&BoardCell> = cells
        .iter()
        .zip(sides)
        .filter(|(_, s)| s.two())
        .map(|(c, _)| c)
        .collect();
    let mut boards = BTreeSet::from([reference]);
    let mut stops = BTreeSet::new();
    loop {
        let before = boards.len() + stops.len();
        for cell in &sound {
            if boards.contains(&cell.board) {
                stops.insert(cell.stop);
            }
            if stops.contains(&cell.stop) {
                boards.insert(cell.board);
            }
        }
        if boards.len() + stops.len() == before {
            return boards;
        }
    }
}

/// The most dB `faint` can stand above `loud`, from stops where the first was bounded only from above and the second from
/// both sides; `None` where there is no such stop or no bound.
///
/// The limit is where the likelihood has fallen from its plateau by what a one-sided interval end takes. Drift is left out
/// and cells are taken as independent.
fn limit(cells: &[BoardCell], sides: &[Sides], loud: usize, faint: usize, spread_db: f64, upper: f64) -> Option<f64> {
    let mut pairs: Vec<(f64, f64, Vec<f64>)> = Vec::new();
    for (cell, side) in cells.iter().zip(sides) {
        if cell.board != faint || side.below || !side.above {
            continue;
        }
        let (mut weights, mut sum) = (0.0, 0.0);
        for (other, other_side) in cells.iter().zip(sides) {
            if other.stop == cell.stop && other.board == loud && other_side.two() {
                let (mean, variance) = flat_moments(&likelihood(&other.log_likelihood));
                let weight = 1.0 / (variance + spread_db * spread_db);
                weights += weight;
                sum += weight * mean;
            }
        }
        if weights > 0.0 {
            let deviation = (spread_db * spread_db + 1.0 / weights).sqrt();
            pairs.push((sum / weights, deviation, likelihood(&cell.log_likelihood)));
        }
    }
    if pairs.is_empty() {
        return None;
    }
    let fit_at = |difference: f64| {
        pairs
            .iter()
            .map(|(level, deviation, faint)| {
                let centre = (level + difference).clamp(MEAN_MIN_DBM + 1.0, mean_at(MEANS - 1) - 1.0);
                gaussian_moments(faint, centre, *deviation).map_or(-300.0, |(_, _, log)| log)
            })
            .sum::<f64>()
    };
    let (mut low, mut high) = (-150.0, 150.0);
    let wanted = fit_at(low) - half_square(upper);
    if fit_at(high) > wanted {
        return None;
    }
    while high - low > 1e-3 {
        let middle = 0.5 * (low + high);
        if fit_at(middle) > wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(high)
}

fn likelihood(log_likelihood: &[f64]) -> Vec<f64> {
    let top = log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    log_likelihood.iter().map(|v| (v - top).exp()).collect()
}

/// How many times as far one board reaches as another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RangeRatio {
    /// The estimate.
    pub ratio: f64,
    /// Its limits.
    pub interval: Interval,
}

/// Returns the ratio of ranges 10^(difference / (10 n)) for boards `estimate_db` +- `standard_error_db` apart (with
/// `degrees` of freedom) where level falls with 10 n dB a decade of distance, n being `exponent` +- `exponent_sd`.
///
/// Limits after Fieller 1954, J. Royal Statistical Society B 16:175-185: Student's quantile for the difference, the normal
/// for n. `None` when n is not clearly above 0 at this confidence, or an argument is out of range.
pub fn range_ratio(
    estimate_db: f64,
    standard_error_db: f64,
    degrees: f64,
    exponent: f64,
    exponent_sd: f64,
    confidence: f64,
) -> Option<RangeRatio> {
    if !(confidence > 0.0 && confidence < 1.0 && standard_error_db >= 0.0 && exponent_sd >= 0.0) {
        return None;
    }
    let upper = 0.5 + 0.5 * confidence;
    let reach = student_t_quantile(upper, degrees)? * standard_error_db;
    let slack = normal_quantile(upper)? * exponent_sd;
    // (d - r n)^2 = reach^2 + r^2 slack^2, r being the tenfold logarithm of the ratio.
    let a = exponent * exponent - slack * slack;
    if !(a > 0.0 && exponent > 0.0) {
        return None;
    }
    let b = estimate_db * exponent;
    let root = (b * b - a * (estimate_db * estimate_db - reach * reach))
        .max(0.0)
        .sqrt();
    let ratio = |r: f64| 10_f64.powf(0.1 * r);
    let result = RangeRatio {
        ratio: ratio(estimate_db / exponent),
        interval: Interval {
            low: ratio((b - root) / a),
            high: ratio((b + root) / a),
        },
    };
    (result.ratio.is_finite() && result.interval.high.is_finite()).then_some(result)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::cells::{Cell, CellModel, CellTable, Heard, Interference, SCurve};

    fn model() -> CellModel {
        CellModel::new(
            CellTable::new(SCurve::new(-92.0, 1.0).unwrap(), 6.0, 0.0),
            &Interference::varying(0.02),
        )
    }

    fn cell(stop: usize, board: usize, time: f64, exchanges: impl IntoIterator<Item = Heard>) -> BoardCell {
        let log_likelihood = model().log_likelihood(&Cell::count(exchanges), 0.3);
        BoardCell {
            stop,
            board,
            orientation: 0,
            time,
            log_likelihood,
        }
    }

    fn around(level: i32) -> Vec<Heard> {
        (0..40).map(|i| Heard::At(level - 3 + i % 6)).collect()
    }

    #[test]
    fn a_board_never_heard_is_bounded_from_above() {
        let cells: Vec<BoardCell> = (0..4)
            .flat_map(|s| {
                let level = -70 - s as i32;
                [
                    cell(s, 0, 0.0, around(level)),
                    cell(s, 1, 1.0, around(level - 5)),
                    cell(s, 2, 2.0, [Heard::Lost; 40]),
                ]
            })
            .collect();
        let c = compare(&cells, 0, 0.95).unwrap();
        let Effect::Measured {
            estimate_db,
            individual,
            simultaneous,
            ..
        } = c.boards[0].effect
        else {
            panic!("{:?}", c.boards)
        };
        assert!((estimate_db + 5.0).abs() < 0.3, "{estimate_db}");
        assert!(simultaneous.low < individual.low && individual.high < simultaneous.high);
        let Effect::OpenEnded {
            low_db: None,
            high_db: Some(high),
        } = c.boards[1].effect
        else {
            panic!("{:?}", c.boards)
        };
        // The reference stands near -71.8 dBm. Losing 4 times 12 effective messages costs 1.92 where 4 % arrive, which for
        // K = 6 dB is near -96.5 dBm: some 24.5 dB below.
        assert!((high + 24.5).abs() < 1.5, "{high}");
        assert_eq!((c.boards[1].cells, c.boards[1].two_sided), (4, 0));
    }

    #[test]
    fn a_dead_reference_bounds_the_others_from_below() {
        let cells: Vec<BoardCell> = (0..3)
            .flat_map(|s| [cell(s, 7, 0.0, [Heard::Lost; 40]), cell(s, 1, 1.0, around(-80))])
            .collect();
        let c = compare(&cells, 7, 0.95).unwrap();
        let Effect::OpenEnded {
            low_db: Some(low),
            high_db: None,
        } = c.boards[0].effect
        else {
            panic!("{:?}", c.boards)
        };
        // As above: 3 times 12 losses cost 1.92 where 5 % arrive, near -96 dBm; the board stands near -80.3.
        assert!((low - 15.5).abs() < 1.5, "{low}");
    }

    #[test]
    fn boards_link_over_other_boards() {
        let cells = [
            cell(0, 0, 0.0, around(-70)),
            cell(0, 1, 1.0, around(-74)),
            cell(1, 1, 0.0, around(-80)),
            cell(1, 2, 1.0, around(-83)),
            cell(2, 3, 0.0, around(-80)),
        ];
        let c = compare(&cells, 0, 0.95).unwrap();
        let Effect::Measured { estimate_db, .. } = c.boards[1].effect else {
            panic!("{:?}", c.boards)
        };
        assert!((estimate_db + 7.0).abs() < 0.5, "{estimate_db}");
        assert_eq!(
            c.boards[2].effect,
            Effect::OpenEnded {
                low_db: None,
                high_db: None
            }
        );
    }

    #[test]
    fn what_is_missing_is_said() {
        let one = [cell(0, 0, 0.0, around(-70))];
        assert_eq!(compare(&one, 1, 0.95), Err(NoComparison::ReferenceMissing));
        assert_eq!(compare(&one, 0, 0.95), Err(NoComparison::NothingToCompare));
        assert_eq!(compare(&[], 0, 0.95), Err(NoComparison::ReferenceMissing));
        assert_eq!(compare(&one, 0, 2.0), Err(NoComparison::BadInput));
    }

    #[test]
    fn six_db_at_square_law_doubles_the_range() {
        let r = range_ratio(20.0 * 2_f64.log10(), 1.0, 20.0, 2.0, 0.0, 0.95).unwrap();
        assert!((r.ratio - 2.0).abs() < 1e-12);
        // Without doubt about n the limits are those of the difference.
        let t = student_t_quantile(0.975, 20.0).unwrap();
        assert!((r.interval.high / 2.0 - 10_f64.powf(t / 20.0)).abs() < 1e-12);
        assert!((r.interval.low / 2.0 - 10_f64.powf(-t / 20.0)).abs() < 1e-12);
        let wide = range_ratio(6.0, 1.0, 20.0, 2.9, 0.5, 0.95).unwrap();
        assert!(wide.interval.low < wide.ratio && wide.ratio < wide.interval.high);
        assert_eq!(range_ratio(6.0, 1.0, 20.0, 2.0, 1.1, 0.95), None);
        assert_eq!(range_ratio(6.0, f64::NAN, 20.0, 2.0, 0.1, 0.95), None);
    }
}
