//! A survey's folder: its name, what is in it, opening it again, writing its tables whole or not at all.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use fs_err as fs;
use thiserror::Error;

use super::samples_csv::{self, SamplesError};
use super::setup_file::{self, SetupError};
use super::{format, journal};
use crate::survey::{JournalLine, Samples, Setup, Survey};
use crate::wire::node::{NodePattern, PatternError};

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

/// Opens a folder that holds a survey, or only its `samples.csv`.
///
/// # Errors
/// When it is no survey, or its set-up cannot be used.
pub fn open(folder: &Path) -> Result<Found, FolderError> {
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
    let content = if folder.join(format::JOURNAL).exists() {
        let read = journal::read(folder)?;
        if let Some(torn) = &read.torn {
            warnings.push(format!(
                "journal.csv: its last record was cut off after {} bytes and is set aside; everything before it is whole",
                torn.len()
            ));
        }
        for (line, why) in read.unreadable.iter().take(5) {
            warnings.push(format!("journal.csv, line {line}: not used, {why}"));
        }
        if read.unreadable.len() > 5 {
            warnings.push(format!(
                "journal.csv: {} lines in all were not used",
                read.unreadable.len()
            ));
        }
        Content::Journal(read.lines)
    } else if folder.join(format::SAMPLES).exists() {
        let path = folder.join(format::SAMPLES);
        let back = samples_csv::read(&fs::read(&path)?).map_err(|cause| FolderError::Samples {
            path: path.clone(),
            cause,
        })?;
        for (line, column) in back.unreadable.iter().take(5) {
            warnings.push(format!(
                "samples.csv, line {line}: not used, its {column} cannot be read"
            ));
        }
        Content::Rows(back.samples)
    } else {
        return Err(FolderError::Empty(folder.to_owned()));
    };
    Ok(Found {
        folder: folder.to_owned(),
        setup,
        pattern,
        content,
        warnings,
    })
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
    let bytes = fs::read(&path)?;
    let whole = bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
    let torn = &bytes[whole..];
    if torn.is_empty() {
        return Ok(None);
    }
    let mut aside = fs::OpenOptions::new()
        .create(true)
        .append(true)
        .open(folder.join(format::TORN))?;
    aside.write_all(torn)?;
    aside.write_all(b"\n")?;
    aside.sync_all()?;
    let file = fs::OpenOptions::new().write(true).open(&path)?;
    file.set_len(whole as u64)?;
    file.sync_all()?;
    Ok(Some(torn.len()))
}

/// Writes a file whole or not at all: beside it first, then in its place.
///
/// # Errors
/// When the system refuses.
pub fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = path
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let mut file = tempfile::Builder::new().prefix(".farpace-").tempfile_in(folder)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    set_usual_rights(file.as_file())?;
    file.persist(path).map_err(|error| error.error)?;
    Ok(())
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
