//! What a board needs, learned at points and in sweeps where no walk shows it.

use super::points::PointRow;
use super::side::Side;
use super::silences::Silences;
use super::stop::{FALLBACK_DBM, weakest_heard};
use crate::stats::cells::{Cell, Heard};
use crate::stats::independence::independent_fades;
use crate::stats::stop_curve::{NoCurve, StopHeard, StopTables};
use crate::stats::walk::scurve::MeasuredSCurve;
use crate::survey::sample::Samples;

/// Learns one board's S-curve from its runs at points and its steps of sweeps, each a stop; silences of the station left out.
///
/// Nothing is taken over from another board: how much stronger the station hears one board than another says nothing of how
/// weak a message of the station each still understands, and the level at which half of the exchanges fail has both in it.
///
/// # Errors
///
/// Why the stops tell none.
pub fn at_stops(
    samples: &Samples,
    stops: &[PointRow],
    board: &str,
    side: Side,
    tables: &mut Option<StopTables>,
) -> Result<MeasuredSCurve, NoCurve> {
    let weakest = weakest_heard(samples, board, side).ok_or(NoCurve::NoLosses)?;
    let silences = Silences::of(samples, board, side, weakest.max(FALLBACK_DBM));
    let own = stops.iter().filter(|row| row.board == board);
    let heard: Vec<StopHeard> = own
        .map(|row| {
            let counted = samples.rows[row.rows.clone()].iter().filter(|row| row.counts());
            let heard: Vec<Heard> = counted
                .filter(|row| !silences.took(row))
                .map(|row| side.heard(row))
                .collect();
            StopHeard {
                weight: (independent_fades(&heard, None) / (heard.len() as f64).max(1.0)).min(1.0),
                cell: Cell::count(heard),
            }
        })
        .collect();
    tables.get_or_insert_default().learn(&heard)
}
