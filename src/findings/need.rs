//! What a board needs, learned at points where no walk shows it.

use std::collections::BTreeMap;

use super::points::PointRow;
use super::side::Side;
use super::silences::Silences;
use super::usual_board::stand_in;
use crate::stats::cells::{Cell, Heard};
use crate::stats::independence::independent_fades;
use crate::stats::stop_curve::{NoCurve, StopHeard, StopTables};
use crate::stats::walk::scurve::MeasuredSCurve;
use crate::survey::sample::Samples;

/// Learns one board's S-curve from its runs at points, each a stop; silences of the station left out.
///
/// All runs at one point are one stop: what disturbs there disturbs them all. Sweeps are left out for the same reason: their
/// steps stand at one place, whose interference would pass for the limit of the board.
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
    let hardly_lost = stand_in(samples, board, side).is_none();
    let silences = Silences::of(samples, board, side, None);
    let mut points: BTreeMap<&str, (Vec<Heard>, f64)> = BTreeMap::new();
    for row in stops.iter().filter(|row| row.board == board && row.activity == "point") {
        let counted = samples.rows[row.rows.clone()].iter().filter(|row| row.counts());
        let heard: Vec<Heard> = counted
            .filter(|row| !silences.took(row))
            .map(|row| side.heard(row))
            .collect();
        let stop = points.entry(&row.point).or_default();
        stop.1 += independent_fades(&heard, None);
        stop.0.extend(heard);
    }
    let heard: Vec<StopHeard> = points
        .into_values()
        .map(|(heard, fades)| StopHeard {
            weight: (fades / (heard.len() as f64).max(1.0)).min(1.0),
            cell: Cell::count(heard),
        })
        .collect();
    if hardly_lost {
        // It lost fewer than ten messages in all, or one in a hundred: too few anywhere, and the tables are costly.
        return Err(too_few_lost(&heard));
    }
    tables.get_or_insert_default().learn(&heard)
}

/// What is the matter with stops of a board that hardly loses.
fn too_few_lost(stops: &[StopHeard]) -> NoCurve {
    let read = || stops.iter().filter(|stop| !stop.cell.readings.is_empty());
    match read().count() {
        0 => NoCurve::NoStop,
        1 => NoCurve::FewStops,
        _ => NoCurve::FewLosses {
            sent: read().map(|stop| stop.cell.exchanges()).sum::<f64>().round() as u64,
            lost: read().map(|stop| stop.cell.lost).sum::<f64>().round() as u64,
        },
    }
}
