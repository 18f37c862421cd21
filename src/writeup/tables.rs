//! Tables as CSV: RFC 4180 with LF, UTF-8, formulas guarded, hidden characters written out.

use super::document::{Cell, DataTable};
use crate::wire::visible;

/// Writes a table.
///
/// # Errors
/// When a row has not as many cells as there are columns.
pub fn csv(table: &DataTable) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::Any(b'\n'))
        .from_writer(Vec::new());
    writer.write_record(&table.head)?;
    for row in &table.rows {
        writer.write_record(row.iter().map(|cell| match cell {
            Cell::Text(text) => visible::cell(text.as_bytes()),
            Cell::Number(number) => number.clone(),
        }))?;
    }
    writer
        .into_inner()
        .map_err(|error| csv::Error::from(error.into_error()))
}
