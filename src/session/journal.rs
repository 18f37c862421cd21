//! `journal.csv`: every line received, as it came. Append-only, a whole record at a time.

use std::fs::File;
use std::io::{self, BufRead, Write};
use std::path::{Path, PathBuf};

use fs_err as fs;
use thiserror::Error;

use super::format;
use super::numbers;
use crate::survey::{JournalLine, Source};
use crate::units::UtcMs;
use crate::wire::visible;

/// Appends records to a journal.
#[derive(Debug)]
pub struct JournalWriter {
    file: File,
    path: PathBuf,
    waiting: String,
    written_since_sync: bool,
}

/// Why a journal cannot be kept.
#[derive(Debug, Error)]
pub enum JournalError {
    /// The disk does not take it.
    #[error(
        "the journal {path} cannot be written: {cause}. Free some space or check the disk; what was received so far is kept in memory and is tried again"
    )]
    Write {
        /// Which file.
        path: PathBuf,
        /// What the system says.
        cause: io::Error,
    },
    /// Another program holds it.
    #[error("{path} is being written by another farpace: end that one first")]
    Held {
        /// Which file.
        path: PathBuf,
    },
    /// It cannot be opened.
    #[error("{path} cannot be opened: {cause}")]
    Open {
        /// Which file.
        path: PathBuf,
        /// What the system says.
        cause: io::Error,
    },
}

impl JournalWriter {
    /// Begins a journal in a folder, or goes on with the one that is there. A torn last record is set aside first; the
    /// count of its bytes is given back.
    ///
    /// # Errors
    /// When the file cannot be opened, or another program is writing it.
    pub fn open(folder: &Path) -> Result<(Self, Option<usize>), JournalError> {
        let path = folder.join(format::JOURNAL);
        let open_error = |cause| JournalError::Open {
            path: path.clone(),
            cause,
        };
        let file = File::options()
            .create(true)
            .append(true)
            .open(&path)
            .map_err(open_error)?;
        if file.try_lock().is_err() {
            return Err(JournalError::Held { path });
        }
        let torn = super::folder::set_torn_aside(folder).map_err(open_error)?;
        let empty = file.metadata().map_err(open_error)?.len() == 0;
        let mut waiting = String::new();
        if empty {
            waiting.push_str(&format::JOURNAL_COLUMNS.join(","));
            waiting.push('\n');
        }
        Ok((
            Self {
                file,
                path,
                waiting,
                written_since_sync: false,
            },
            torn,
        ))
    }

    /// Takes a record; it reaches the disk with the next [`Self::sync`].
    pub fn append(&mut self, line: &JournalLine) {
        record(&mut self.waiting, line);
    }

    /// Whether something has not reached the disk yet.
    pub fn is_behind(&self) -> bool {
        !self.waiting.is_empty() || self.written_since_sync
    }

    /// Brings everything taken so far to the disk. What could not be written is kept for the next time.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn sync(&mut self) -> Result<(), JournalError> {
        let mut done = 0;
        while done < self.waiting.len() {
            match self.file.write(&self.waiting.as_bytes()[done..]) {
                Ok(0) => break,
                Ok(count) => {
                    done += count;
                    self.written_since_sync = true;
                }
                Err(cause) if cause.kind() == io::ErrorKind::Interrupted => {}
                Err(cause) => {
                    self.forget(done);
                    return Err(JournalError::Write {
                        path: self.path.clone(),
                        cause,
                    });
                }
            }
        }
        self.forget(done);
        if self.written_since_sync {
            self.file.sync_data().map_err(|cause| JournalError::Write {
                path: self.path.clone(),
                cause,
            })?;
            self.written_since_sync = false;
        }
        Ok(())
    }

    /// Drops what has been written; a cut inside a character cannot happen to a reader of whole records.
    fn forget(&mut self, bytes: usize) {
        if bytes >= self.waiting.len() {
            self.waiting.clear();
        } else if bytes > 0 {
            let rest = self.waiting.as_bytes()[bytes..].to_vec();
            self.waiting = String::from_utf8_lossy(&rest).into_owned();
        }
    }
}

/// Writes one record, line end included.
pub fn record(out: &mut String, line: &JournalLine) {
    numbers::seconds_6(out, line.at);
    out.push(',');
    let _ = line.wall.push_rfc3339(out);
    out.push(',');
    out.push_str(line.source.word());
    out.push(',');
    let cell = visible::line_cell(&line.bytes, line.left_out as u64);
    if cell.contains(['"', ',']) {
        out.push('"');
        for character in cell.chars() {
            if character == '"' {
                out.push('"');
            }
            out.push(character);
        }
        out.push('"');
    } else {
        out.push_str(&cell);
    }
    out.push('\n');
}

/// A journal as it was found.
#[derive(Debug, Default)]
pub struct Journal {
    /// Its records.
    pub lines: Vec<JournalLine>,
    /// The bytes of a last record that was cut off, if there is one.
    pub torn: Option<Vec<u8>>,
    /// Where in the file the whole records end, bytes.
    pub whole_bytes: u64,
    /// Records that cannot be read: line number in the file and why.
    pub unreadable: Vec<(usize, &'static str)>,
}

/// Reads a journal. What cannot be read is reported, never fatal.
///
/// # Errors
/// When the file itself cannot be read.
pub fn read(folder: &Path) -> io::Result<Journal> {
    Ok(parse(&fs::read(folder.join(format::JOURNAL))?))
}

/// Understands the bytes of a journal.
pub fn parse(bytes: &[u8]) -> Journal {
    let mut journal = Journal::default();
    let mut records = Records::of(bytes);
    for record in &mut records {
        match record {
            Ok(line) => journal.lines.push(line),
            Err(why) => journal.unreadable.push(why),
        }
    }
    journal.whole_bytes = records.whole_bytes();
    journal.torn = records.torn();
    journal
}

/// The records of a journal one after the other, as they are read: it need not fit into memory.
#[derive(Debug)]
pub struct Records<R> {
    input: R,
    reader: csv_core::Reader,
    row: Vec<u8>,
    cells: Vec<u8>,
    number: usize,
    whole_bytes: u64,
    wall: UtcMs,
    trouble: Option<io::Error>,
    spare: Vec<Vec<u8>>,
}

impl<R: BufRead> Records<R> {
    /// The records that `input` holds, its header first.
    pub fn of(input: R) -> Self {
        Self {
            input,
            reader: csv_core::Reader::new(),
            row: Vec::new(),
            cells: Vec::new(),
            number: 0,
            whole_bytes: 0,
            wall: UtcMs::default(),
            trouble: None,
            spare: Vec::new(),
        }
    }

    /// Takes back the bytes of lines that nobody needs any more, for lines to come.
    pub fn take_back(&mut self, used: Vec<Vec<u8>>) {
        self.spare.extend(used);
    }

    /// Where the whole records read so far end, bytes.
    pub fn whole_bytes(&self) -> u64 {
        self.whole_bytes
    }

    /// The bytes of a last record that was cut off, if there is one; known once all were read.
    pub fn torn(&self) -> Option<Vec<u8>> {
        (!self.row.is_empty() && self.row.last() != Some(&b'\n')).then(|| self.row.clone())
    }

    /// What ended the reading before the end, if anything did.
    pub fn trouble(&mut self) -> Option<io::Error> {
        self.trouble.take()
    }

    /// Brings the next whole row into `row`; false at the end.
    fn advance(&mut self) -> bool {
        self.row.clear();
        if let Err(trouble) = self.input.read_until(b'\n', &mut self.row) {
            self.trouble = Some(trouble);
            return false;
        }
        if self.row.last() != Some(&b'\n') {
            return false;
        }
        self.whole_bytes += self.row.len() as u64;
        self.number += 1;
        if self.number == 1 && self.row.starts_with(MARK) {
            self.row.drain(..MARK.len());
        }
        true
    }
}

/// The byte-order mark that some editors put before UTF-8.
const MARK: &[u8] = b"\xEF\xBB\xBF";

impl<R: BufRead> Iterator for Records<R> {
    /// A line, or the number in the file of a record that cannot be read and why.
    type Item = Result<JournalLine, (usize, &'static str)>;

    fn next(&mut self) -> Option<Self::Item> {
        while self.advance() {
            let header = self.number == 1 && self.row.starts_with(b"elapsed_s");
            if header || self.row.iter().all(u8::is_ascii_whitespace) {
                continue;
            }
            let mut bytes = self.spare.pop().unwrap_or_default();
            bytes.clear();
            let line = row_to_line(&mut self.reader, &self.row, &mut self.cells, self.wall, bytes);
            if let Ok(line) = &line {
                self.wall = line.wall;
            }
            return Some(line.map_err(|why| (self.number, why)));
        }
        None
    }
}

fn row_to_line(
    reader: &mut csv_core::Reader,
    row: &[u8],
    cells: &mut Vec<u8>,
    before: UtcMs,
    bytes: Vec<u8>,
) -> Result<JournalLine, &'static str> {
    if let Some(plain) = plain_cells(row) {
        return line_of(plain, before, bytes);
    }
    cells.resize(cells.len().max(row.len() + 8), 0);
    let mut ends = [0; 8];
    reader.reset();
    let (result, _, _, fields) = reader.read_record(row, cells, &mut ends);
    match result {
        csv_core::ReadRecordResult::Record if fields >= 4 => {}
        csv_core::ReadRecordResult::Record => return Err("it has fewer than four cells"),
        csv_core::ReadRecordResult::OutputEndsFull => return Err("it has more than eight cells"),
        _ => return Err("a quote in it has no end"),
    }
    let cell = |index: usize| {
        let begin = if index == 0 { 0 } else { ends[index - 1] };
        cells.get(begin..ends[index]).unwrap_or_default()
    };
    line_of([0, 1, 2, 3].map(cell), before, bytes)
}

/// The cells of a row without quotes, as most are; `None` where it takes more to tell them apart.
fn plain_cells(row: &[u8]) -> Option<[&[u8]; 4]> {
    let row = row.strip_suffix(b"\n")?;
    if row.iter().any(|byte| matches!(byte, b'"' | b'\r')) {
        return None;
    }
    let mut cells = row.split(|byte| *byte == b',');
    let four = [cells.next()?, cells.next()?, cells.next()?, cells.next()?];
    cells.next().is_none().then_some(four)
}

/// The line of four cells, its own bytes in `bytes`, which is empty.
fn line_of(cells: [&[u8]; 4], before: UtcMs, mut bytes: Vec<u8>) -> Result<JournalLine, &'static str> {
    let text = |index: usize| std::str::from_utf8(cells[index]).map_err(|_| "it holds bytes that are no text");
    let at = numbers::read_seconds(text(0)?).ok_or("its elapsed_s is no number of seconds")?;
    let source = Source::from_word(text(2)?).ok_or("its source is none of node, gps, surveyor, gear")?;
    let left_out = visible::from_line_cell(text(3)?, &mut bytes);
    Ok(JournalLine {
        at,
        wall: UtcMs::parse(text(1)?).unwrap_or(before),
        source,
        bytes,
        left_out: left_out as usize,
    })
}
