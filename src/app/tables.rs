//! Writes `samples.csv` and `points.csv` of a survey.

use std::io::{self, BufRead as _};
use std::ops::Range;
use std::path::Path;
use std::thread;

use crate::findings::points;
use crate::findings::words::{count, so_many};
use crate::session::{folder, format, points_csv, records, samples_csv};
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

/// Writes both tables from rows. Tables that held more exchanges are kept beside them first: what was measured is lost by no
/// damage to a journal.
///
/// # Errors
/// When the disk does not take them.
pub fn write_rows(to: &Path, samples: &Samples, setup: &Setup) -> io::Result<()> {
    if exchanges(to)? > samples.rows.len() {
        keep_before(to)?;
    }
    folder::write_whole_of(&to.join(format::SAMPLES), &sample_table(samples)?)?;
    let mut bytes = Vec::new();
    points_csv::write(&points::points(samples, setup), &mut bytes)?;
    folder::write_whole(&to.join(format::POINTS), &bytes)
}

/// What a person should know where `samples.csv` holds more exchanges, `held`, than the `rows` its journal tells of; `None` where
/// it holds no more.
pub fn more_than_journal(at: &Path, held: usize, rows: usize) -> Option<String> {
    (held > rows).then(|| {
        format!(
            "samples.csv holds {} exchanges, journal.csv tells of {} only: the journal was cut short or damaged, and what is made \
             of it lacks the others. To use the table instead, move journal.csv out of {}",
            count(held as u64),
            count(rows as u64),
            at.display()
        )
    })
}

/// The same in a line, for somebody who looks at the survey; `more` is how many exchanges the table holds beyond the journal's.
pub fn more_in_a_line(more: usize) -> Option<String> {
    (more > 0).then(|| {
        format!(
            "{} in samples.csv: move journal.csv away to see them",
            so_many(more as u64, "more exchange", "more exchanges")
        )
    })
}

/// How many exchanges the table of rows holds; none where there is no table.
///
/// # Errors
/// When it is there and cannot be read.
pub fn exchanges(at: &Path) -> io::Result<usize> {
    let path = at.join(format::SAMPLES);
    if !path.exists() {
        return Ok(0);
    }
    let mut table = io::BufReader::with_capacity(1 << 18, fs_err::File::open(path)?);
    let mut ends = 0_usize;
    loop {
        let part = table.fill_buf()?;
        if part.is_empty() {
            // Its header is no exchange.
            return Ok(ends.saturating_sub(1));
        }
        ends += records::line_ends(part);
        let read = part.len();
        table.consume(read);
    }
}

/// Copies both tables to names of their own beside them, such as `samples.csv.before`; what was kept earlier stays.
fn keep_before(at: &Path) -> io::Result<()> {
    let name = |table: &str, number: u32| match number {
        1 => at.join(format!("{table}.{}", format::BEFORE)),
        more => at.join(format!("{table}.{}-{more}", format::BEFORE)),
    };
    let tables = [format::SAMPLES, format::POINTS];
    let free = |number: &u32| tables.iter().all(|table| !name(table, *number).exists());
    let number = (1..10_000).find(free).ok_or_else(|| {
        io::Error::other(format!(
            "{}: too many tables are kept there: move some away",
            at.display()
        ))
    })?;
    for table in tables.iter().filter(|table| at.join(table).exists()) {
        fs_err::copy(at.join(table), name(table, number))?;
    }
    Ok(())
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
