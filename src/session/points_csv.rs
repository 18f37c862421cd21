//! `points.csv`: a row for each point and sweep step, with its figures.

use std::io::{self, Write};

use super::format::POINT_COLUMNS;
use super::numbers::{angle, fixed, shortest, whole};
use crate::findings::points::PointRow;
use crate::wire::visible;

/// Writes the header and a row for each run at a point and step of a sweep.
///
/// # Errors
/// When `out` does not take them.
pub fn write(points: &[PointRow], out: impl Write) -> io::Result<()> {
    let mut table = csv::WriterBuilder::new()
        .terminator(csv::Terminator::Any(b'\n'))
        .from_writer(out);
    table.write_record(POINT_COLUMNS)?;
    let text = |text: &str| visible::guard(text).into_owned();
    for row in points {
        let plain = row.plain();
        let cell = |write: &dyn Fn(&mut String)| {
            let mut cell = String::new();
            write(&mut cell);
            cell
        };
        let cells = [
            text(&row.point),
            row.activity.to_owned(),
            row.pose.as_deref().map(text).unwrap_or_default(),
            cell(&|out| shortest(out, row.turn.map(|turn| turn.0))),
            text(&row.board),
            cell(&|out| whole(out, Some(row.boot))),
            cell(&|out| whole(out, Some(u64::from(row.run)))),
            row.begin.rfc3339().unwrap_or_default(),
            cell(&|out| whole(out, Some(plain.messages))),
            cell(&|out| whole(out, Some(plain.delivered))),
            cell(&|out| fixed(out, Some(plain.delivered as f64 / plain.messages as f64), 4)),
            cell(&|out| fixed(out, Some(plain.interval.low), 4)),
            cell(&|out| fixed(out, Some(plain.interval.high), 4)),
            cell(&|out| fixed(out, plain.here_dbm, 1)),
            cell(&|out| fixed(out, plain.there_dbm, 1)),
            cell(&|out| fixed(out, plain.position.map(|position| position.lat().0), 8)),
            cell(&|out| fixed(out, plain.position.map(|position| position.lon().0), 8)),
            cell(&|out| fixed(out, plain.sigma.map(|sigma| sigma.0), 3)),
            cell(&|out| fixed(out, plain.distance.map(|distance| distance.0), 2)),
            cell(&|out| angle(out, plain.bearing.map(|bearing| bearing.0), 1)),
            row.standing.word().to_owned(),
        ];
        table.write_record(cells)?;
    }
    table.flush()
}
