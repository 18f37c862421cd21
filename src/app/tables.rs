//! Writes `samples.csv` and `points.csv` of a survey.

use std::io;
use std::path::Path;

use crate::findings::points;
use crate::session::{folder, format, points_csv, samples_csv};
use crate::survey::{Samples, Setup, Survey};

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
    let mut bytes = Vec::with_capacity(samples.rows.len() * 160 + 512);
    samples_csv::write(samples, &mut bytes)?;
    folder::write_whole(&to.join(format::SAMPLES), &bytes)?;
    let mut bytes = Vec::new();
    points_csv::write(&points::points(samples, setup), &mut bytes)?;
    folder::write_whole(&to.join(format::POINTS), &bytes)
}
