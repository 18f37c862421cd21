//! Writes `samples.csv` and `points.csv` of a survey.

use std::io;
use std::ops::Range;
use std::path::Path;
use std::thread;

use crate::findings::points;
use crate::session::{folder, format, points_csv, samples_csv};
use crate::survey::{Samples, Setup, Survey};

/// A row takes about so much.
const BYTES_A_ROW: usize = 160;

/// Brings a survey's rows up to date and writes both tables, each whole or not at all.
///
/// # Errors
/// When the disk does not take them.
pub fn write(to: &Path, survey: &mut Survey) -> io::Result<()> {
    let setup = survey.setup().clone();
    write_rows(to, survey.samples(), &setup)
}

/// Writes both tables from rows.
///
/// # Errors
/// When the disk does not take them.
pub fn write_rows(to: &Path, samples: &Samples, setup: &Setup) -> io::Result<()> {
    folder::write_whole_of(&to.join(format::SAMPLES), &sample_table(samples)?)?;
    let mut bytes = Vec::new();
    points_csv::write(&points::points(samples, setup), &mut bytes)?;
    folder::write_whole(&to.join(format::POINTS), &bytes)
}

/// The table of rows in parts: its header, and two halves, each written on a thread of its own.
fn sample_table(samples: &Samples) -> io::Result<[Vec<u8>; 3]> {
    let middle = samples.rows.len() / 2;
    let part = |rows: Range<usize>| {
        let mut bytes = Vec::with_capacity(rows.len() * BYTES_A_ROW + 512);
        samples_csv::write_rows(samples, rows, &mut bytes)?;
        Ok::<_, io::Error>(bytes)
    };
    let (first, second) = thread::scope(|scope| {
        let second = scope.spawn(|| part(middle..samples.rows.len()));
        (part(0..middle), second.join())
    });
    let second = second.map_err(|_| io::Error::other("the table's second half broke down"))?;
    let mut header = Vec::new();
    samples_csv::write_header(&mut header)?;
    Ok([header, first?, second?])
}
