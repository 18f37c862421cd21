//! Everything in one CSV table, a row for each thing: what a spreadsheet or a GIS that reads delimited text opens.

use super::features::{COLUMNS, each};
use crate::wire::visible;
use crate::writeup::compose::points::{place_cells, place_columns};
use crate::writeup::document::Cell;
use crate::writeup::number;
use crate::writeup::private::{Teller, Told};
use crate::writeup::subject::Subject;

/// Writes it: the columns of all exports, and after `name` the place in degrees or, with privacy, in metres.
///
/// # Errors
/// When a row cannot be written.
pub fn write(subject: &Subject, teller: &Teller) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::Any(b'\n'))
        .from_writer(Vec::new());
    let columns = COLUMNS.iter().map(|(name, _)| *name);
    writer.write_record(
        columns
            .clone()
            .take(2)
            .chain(place_columns(teller))
            .chain(columns.skip(2)),
    )?;
    let mut failed = None;
    each(subject, teller, |feature| {
        let place = match feature.place {
            Some(Told::Degrees(position)) => place_cells(teller, Some(position)),
            Some(Told::Metres { east, north }) => [number::cell(Some(east), 2), number::cell(Some(north), 2)],
            None => place_cells(teller, None),
        };
        let place = place.into_iter().map(|cell| match cell {
            Cell::Text(text) | Cell::Number(text) => text,
        });
        let cells = feature.cells.iter().zip(COLUMNS).map(|(cell, (_, number))| {
            if number {
                cell.clone()
            } else {
                visible::cell(cell.as_bytes())
            }
        });
        let written = writer.write_record(cells.clone().take(2).chain(place).chain(cells.skip(2)));
        if failed.is_none() {
            failed = written.err();
        }
    });
    match failed {
        Some(error) => Err(error),
        None => writer
            .into_inner()
            .map_err(|error| csv::Error::from(error.into_error())),
    }
}
