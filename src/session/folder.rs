//! A survey's folder: its name, what is in it, opening it again, writing its tables whole or not at all.

use std::io::{self, Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

use fs_err::{self as fs, File};
use thiserror::Error;

use super::format;
use super::records::Pieces;
use super::samples_csv::{self, SamplesError};
use super::setup_file::{self, SetupError};
use crate::survey::{JournalLine, Samples, Setup, Survey};
use crate::wire::node::{NodePattern, PatternError};

/// How many unusable rows are named; beyond, they are counted.
const NAMED: usize = 5;
/// So many bytes of a journal's end are read at once.
const READ_AT_ONCE: usize = 1 << 18;

/// Why a folder cannot be opened as a survey.
#[derive(Debug, Error)]
pub enum FolderError {
    /// It is no folder.
    #[error("{0} is no folder: give the folder of a survey")]
    NotAFolder(PathBuf),
    /// Nothing of a survey is in it.
    #[error("{0} holds neither journal.csv nor samples.csv: it is no survey")]
    Empty(PathBuf),
    /// It is there already.
    #[error("{0} holds a survey already: give another folder, or go on with that one")]
    Exists(PathBuf),
    /// The set-up cannot be used.
    #[error("{path}: {cause}")]
    Setup {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it.
        cause: SetupError,
    },
    /// The pattern of the set-up cannot be used.
    #[error("{path}: sources.node_pattern: {cause}")]
    Pattern {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it.
        cause: PatternError,
    },
    /// The rows cannot be used.
    #[error("{path}: {cause}")]
    Samples {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it.
        cause: SamplesError,
    },
    /// The system refuses.
    #[error(transparent)]
    Io(#[from] io::Error),
}

/// A survey as it was found on disk.
#[derive(Debug)]
pub struct Found {
    /// Where.
    pub folder: PathBuf,
    /// Its set-up.
    pub setup: Setup,
    /// The reader for firmware that prints something else.
    pub pattern: Option<NodePattern>,
    /// What is known of it.
    pub content: Content,
    /// What a person should know: unknown keys, torn records, rows that cannot be read.
    pub warnings: Vec<String>,
}

/// What is known of a survey on disk.
#[derive(Debug)]
pub enum Content {
    /// Its journal: everything.
    Journal(Vec<JournalLine>),
    /// Only its rows.
    Rows(Samples),
}

impl Found {
    /// The survey with every line applied and settled; `None` where only rows are left.
    pub fn survey(&self) -> Option<Survey> {
        let Content::Journal(lines) = &self.content else {
            return None;
        };
        let mut survey = Survey::new(self.setup.clone(), self.pattern.clone());
        for line in lines {
            survey.apply(line);
        }
        survey.settle();
        Some(survey)
    }

    /// The rows: made from the journal where there is one, else as they were saved, with what the set-up leaves out.
    pub fn samples(&self) -> Samples {
        match (self.survey(), &self.content) {
            (Some(mut survey), _) => {
                survey.samples();
                survey.into_samples()
            }
            (None, Content::Rows(samples)) => samples.clone(),
            (None, Content::Journal(_)) => Samples::default(),
        }
    }
}

/// Opens a folder that holds a survey, or only its `samples.csv`, with every line in memory.
///
/// # Errors
/// When it is no survey, or its set-up cannot be used.
pub fn open(folder: &Path) -> Result<Found, FolderError> {
    let Opened {
        setup,
        pattern,
        kept,
        mut warnings,
    } = begin_reading(folder)?;
    let content = match kept {
        Kept::Journal(mut pieces, _) => {
            let mut unreadable = Unreadable::default();
            let mut lines = Vec::new();
            let mut used = Vec::new();
            while let Some(piece) = pieces.cut(used)? {
                for record in piece.records() {
                    match record {
                        Ok(line) => lines.push(line),
                        Err(why) => unreadable.count(why),
                    }
                }
                used = piece.into_bytes();
            }
            warnings.extend(unreadable.end(pieces.torn()));
            Content::Journal(lines)
        }
        Kept::Rows(samples) => Content::Rows(samples),
    };
    Ok(Found {
        folder: folder.to_owned(),
        setup,
        pattern,
        content,
        warnings,
    })
}

/// A survey's folder, its journal not read yet.
#[derive(Debug)]
pub struct Opened {
    /// Its set-up.
    pub setup: Setup,
    /// The reader for firmware that prints something else.
    pub pattern: Option<NodePattern>,
    /// What is kept of it.
    pub kept: Kept,
    /// What a person should know so far.
    pub warnings: Vec<String>,
}

/// What is kept of a survey.
#[derive(Debug)]
pub enum Kept {
    /// Its journal, and how many bytes that holds.
    Journal(Box<Pieces<File>>, u64),
    /// Only its rows.
    Rows(Samples),
}

/// Opens a folder that holds a survey, to read its journal piece by piece; rows are read at once.
///
/// # Errors
/// When it is no survey, or its set-up cannot be used.
pub fn begin_reading(folder: &Path) -> Result<Opened, FolderError> {
    if !folder.is_dir() {
        return Err(FolderError::NotAFolder(folder.to_owned()));
    }
    let mut warnings = Vec::new();
    let setup_path = folder.join(format::SETUP);
    let setup = if setup_path.exists() {
        let text = String::from_utf8_lossy(&fs::read(&setup_path)?).into_owned();
        let read = setup_file::read(&text).map_err(|cause| FolderError::Setup {
            path: setup_path.clone(),
            cause,
        })?;
        for key in read.unknown {
            warnings.push(format!("survey.toml: `{key}` is not known and has no effect"));
        }
        for stretch in read
            .setup
            .leave_out
            .iter()
            .filter(|stretch| stretch.from_s > stretch.to_s)
        {
            warnings.push(format!(
                "survey.toml: a stretch to leave out begins at {} s and ends before that, at {} s: it leaves out nothing; change them",
                stretch.from_s, stretch.to_s
            ));
        }
        read.setup
    } else {
        warnings
            .push("survey.toml is missing: distances and bearings stay empty, the goal is the usual one".to_owned());
        Setup::default()
    };
    let pattern = match &setup.sources.node_pattern {
        Some(text) => Some(NodePattern::new(text).map_err(|cause| FolderError::Pattern {
            path: setup_path.clone(),
            cause,
        })?),
        None => None,
    };
    let journal = folder.join(format::JOURNAL);
    let path = folder.join(format::SAMPLES);
    let kept = if journal.exists() {
        let file = File::open(&journal)?;
        let bytes = file.metadata()?.len();
        Kept::Journal(Box::new(Pieces::of(file)), bytes)
    } else if path.exists() {
        let back = samples_csv::read(&fs::read(&path)?).map_err(|cause| FolderError::Samples {
            path: path.clone(),
            cause,
        })?;
        for (line, column) in back.unreadable.iter().take(NAMED) {
            warnings.push(format!(
                "samples.csv, line {line}: not used, its {column} cannot be read"
            ));
        }
        Kept::Rows(back.samples)
    } else {
        return Err(FolderError::Empty(folder.to_owned()));
    };
    Ok(Opened {
        setup,
        pattern,
        kept,
        warnings,
    })
}

/// Records of a journal that cannot be read.
#[derive(Debug, Default)]
pub struct Unreadable {
    named: Vec<String>,
    count: usize,
}

impl Unreadable {
    /// Counts one: its line number in the file and why.
    pub fn count(&mut self, (line, why): (usize, &'static str)) {
        self.count += 1;
        if self.count <= NAMED {
            self.named.push(format!("journal.csv, line {line}: not used, {why}"));
        }
    }

    /// What a person should know once all of a journal was read, of which so many bytes of a last record were `torn` off.
    pub fn end(self, torn: Option<usize>) -> Vec<String> {
        let torn = torn.map(|torn| {
            format!(
                "journal.csv: its last record was cut off after {} and is not used",
                match torn {
                    1 => "1 byte".to_owned(),
                    more => format!("{more} bytes"),
                }
            )
        });
        let all = (self.count > NAMED).then(|| format!("journal.csv: {} lines in all were not used", self.count));
        torn.into_iter().chain(self.named).chain(all).collect()
    }
}

/// Makes the folder of a new survey, with its set-up in it.
///
/// # Errors
/// When there is a survey in it already, or the system refuses.
pub fn begin(folder: &Path, setup: &Setup) -> Result<(), FolderError> {
    if folder.join(format::JOURNAL).exists() || folder.join(format::SAMPLES).exists() {
        return Err(FolderError::Exists(folder.to_owned()));
    }
    fs::create_dir_all(folder)?;
    if !folder.join(format::SETUP).exists() {
        write_whole(&folder.join(format::SETUP), setup_file::write(setup).as_bytes())?;
    }
    Ok(())
}

/// Sets the torn end of a journal aside before more is appended, and says how many bytes that were.
///
/// # Errors
/// When the system refuses.
pub fn set_torn_aside(folder: &Path) -> io::Result<Option<usize>> {
    let path = folder.join(format::JOURNAL);
    if !path.exists() {
        return Ok(None);
    }
    let torn = torn_end(&path)?;
    if torn.is_empty() {
        return Ok(None);
    }
    let mut aside = fs::OpenOptions::new()
        .create(true)
        .append(true)
        .open(folder.join(format::TORN))?;
    aside.write_all(&torn)?;
    aside.write_all(b"\n")?;
    aside.sync_all()?;
    let file = fs::OpenOptions::new().write(true).open(&path)?;
    file.set_len(file.metadata()?.len() - torn.len() as u64)?;
    file.sync_all()?;
    Ok(Some(torn.len()))
}

/// What comes after the last line end of a file, found from its end.
fn torn_end(path: &Path) -> io::Result<Vec<u8>> {
    let mut file = File::open(path)?;
    let mut begin = file.metadata()?.len();
    let mut torn = Vec::new();
    while begin > 0 {
        let mut block = vec![0; READ_AT_ONCE.min(begin as usize)];
        begin -= block.len() as u64;
        file.seek(SeekFrom::Start(begin))?;
        file.read_exact(&mut block)?;
        if let Some(end) = block.iter().rposition(|byte| *byte == b'\n') {
            block.drain(..=end);
            begin = 0;
        }
        block.append(&mut torn);
        torn = block;
    }
    Ok(torn)
}

/// Writes a file whole or not at all: beside it first, then in its place.
///
/// # Errors
/// When the system refuses.
pub fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    write_whole_of(path, &[bytes])
}

/// As [`write_whole`], of a file's parts in order.
///
/// # Errors
/// When the system refuses.
pub fn write_whole_of(path: &Path, parts: &[impl AsRef<[u8]>]) -> io::Result<()> {
    let folder = path
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    // What went wrong is told of the file that was to be, not of the one beside it.
    let named = |error: io::Error| {
        let kind = error.kind();
        let inner = error
            .get_ref()
            .and_then(std::error::Error::source)
            .map(ToString::to_string);
        let why = inner.unwrap_or_else(|| error.to_string());
        io::Error::new(kind, format!("{} cannot be written: {why}", path.display()))
    };
    let written = || -> io::Result<()> {
        let mut file = tempfile::Builder::new().prefix(".farpace-").tempfile_in(folder)?;
        for part in parts {
            file.as_file_mut().write_all(part.as_ref())?;
        }
        file.as_file().sync_all()?;
        set_usual_rights(file.as_file())?;
        file.persist(path).map_err(|error| error.error)?;
        Ok(())
    };
    written().map_err(named)
}

/// A temporary file is its owner's alone; a survey's tables may be read like any other file.
#[cfg(unix)]
fn set_usual_rights(file: &std::fs::File) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt as _;
    file.set_permissions(std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn set_usual_rights(_: &std::fs::File) -> io::Result<()> {
    Ok(())
}

/// The name of a survey's folder: local date and time, then the title in plain letters.
pub fn name(date_and_time: &str, title: &str) -> String {
    let mut plain = String::new();
    for character in title.chars() {
        if character.is_alphanumeric() {
            plain.extend(character.to_lowercase());
        } else if !plain.ends_with('-') && !plain.is_empty() {
            plain.push('-');
        }
        if plain.len() >= 60 {
            break;
        }
    }
    let plain = plain.trim_end_matches('-');
    if plain.is_empty() {
        date_and_time.to_owned()
    } else {
        format!("{date_and_time}-{plain}")
    }
}

/// A folder below `parent` that is not there yet: with `-2`, `-3` … behind the name where it is taken.
pub fn free(parent: &Path, name: &str) -> PathBuf {
    let first = parent.join(name);
    if !first.exists() {
        return first;
    }
    let numbered = |number: u32| parent.join(format!("{name}-{number}"));
    (2..10_000).map(numbered).find(|path| !path.exists()).unwrap_or(first)
}

/// The surveys below `parent`, the latest name first.
pub fn list(parent: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(parent) else {
        return Vec::new();
    };
    let holds_survey = |path: &PathBuf| path.join(format::JOURNAL).exists() || path.join(format::SAMPLES).exists();
    let mut surveys: Vec<PathBuf> = entries
        .filter_map(Result::ok)
        .map(|entry| entry.path())
        .filter(holds_survey)
        .collect();
    surveys.sort();
    surveys.reverse();
    surveys
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_are_named_by_time_and_title() {
        assert_eq!(
            name("2026-05-02-1941", "Larkfield orchard, east side"),
            "2026-05-02-1941-larkfield-orchard-east-side"
        );
        assert_eq!(name("2026-05-02-1941", "../../etc"), "2026-05-02-1941-etc");
        assert_eq!(name("2026-05-02-1941", " \u{1b}[31m "), "2026-05-02-1941-31m");
        assert_eq!(name("2026-05-02-1941", "///"), "2026-05-02-1941");
    }
}
