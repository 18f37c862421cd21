//! `journal.csv`: every line received, as it came. Append-only, a whole record at a time.

use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use fs_err as fs;
use thiserror::Error;

use super::format;
use super::numbers;
use super::records::{self, Records};
use crate::survey::JournalLine;
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
    let (whole, torn) = bytes.split_at(records::whole_rows(bytes));
    for record in Records::of(whole) {
        match record {
            Ok(line) => journal.lines.push(line),
            Err(why) => journal.unreadable.push(why),
        }
    }
    journal.whole_bytes = whole.len() as u64;
    journal.torn = (!torn.is_empty()).then(|| torn.to_vec());
    journal
}
