//! Reads saved surveys for the write-up and the exports: rows, figures, notes, and the hashes of what was read.

use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};

use super::say::say;
use super::whole::{self, Content};
use super::{given, halves, known, tables};
use crate::findings::assumptions::Wanted;
use crate::findings::curves::Known;
use crate::findings::estimates::Estimates;
use crate::findings::together::learn::{Source, figures_of};
use crate::session::format;
use crate::wire::Hello;
use crate::writeup::places::PlacesPart;
use crate::writeup::private;
use crate::writeup::subject::{Input, Note, Privacy, Subject};

/// A survey as read, before its figures.
struct Before {
    subject: Subject,
    references: Vec<String>,
}

/// Reads surveys and makes their figures. What boards need is learned from these surveys alone, each from all others too,
/// so that another computer gives the same. Places are told for the node that is `wanted`. `step` is told how many of them
/// have been read, parts counted.
///
/// # Errors
/// When a folder is no survey.
pub fn read(
    folders: &[PathBuf],
    privacy: Privacy,
    wanted: &Wanted,
    mut step: impl FnMut(f64),
) -> anyhow::Result<Vec<Subject>> {
    given::once(folders)?;
    let mut read = Vec::new();
    for (index, at) in folders.iter().enumerate() {
        read.push(open(at, privacy, |share| step(index as f64 + share))?);
    }
    let keys: Vec<String> = (0..read.len()).map(|index| index.to_string()).collect();
    let sources: Vec<Source<'_>> = read
        .iter()
        .zip(&keys)
        .map(|(before, key)| Source {
            key,
            samples: &before.subject.samples,
            setup: &before.subject.setup,
            references: &before.references,
        })
        .collect();
    let made = figures_of(&sources, &Known::default(), halves::figures, |_, _| ());
    let boards: Vec<&str> = made.iter().flat_map(Estimates::board_names).collect();
    given::known_board(wanted, &boards)?;
    for (before, made) in read.iter_mut().zip(made) {
        before.subject.estimates = made;
    }
    Ok(read
        .into_iter()
        .map(|before| {
            let mut subject = before.subject;
            subject.estimates.assume(wanted, &subject.setup);
            subject.places = match &subject.estimates.places {
                Some(Ok(places)) => Some(PlacesPart::of(places)),
                _ => None,
            };
            subject
        })
        .collect())
}

fn open(at: &Path, privacy: Privacy, step: impl FnMut(f64)) -> anyhow::Result<Before> {
    let (whole, held) = whole::read_beside_table(at, step)?;
    let mut warnings = whole.warnings;
    let mut notes = Vec::new();
    let mut hellos: Vec<(String, Hello)> = Vec::new();
    let mut references = Vec::new();
    let mut counts = None;
    let mut samples = match whole.content {
        Content::Survey(mut survey, _) => {
            survey.settle();
            warnings.extend(tables::more_than_journal(at, held, survey.samples().rows.len()));
            notes.extend(survey.activities().notes().iter().map(|(mark, text)| Note {
                at: mark.at,
                text: text.clone(),
            }));
            for boot in survey.stream().boots() {
                let board = boot.identity.board();
                if boot.reference == Some(true) {
                    references.push(board.to_owned());
                }
                if let Some(hello) = &boot.hello {
                    hellos.retain(|(name, _)| name != board);
                    hellos.push((board.to_owned(), hello.clone()));
                }
            }
            counts = Some(*survey.counts());
            survey.into_samples()
        }
        Content::Rows(samples) => samples,
    };
    for warning in &warnings {
        say(warning);
    }
    let rows = if at.join(format::JOURNAL).exists() {
        format::JOURNAL
    } else {
        format::SAMPLES
    };
    let mut inputs = Vec::new();
    for name in [format::SETUP, rows] {
        let path = at.join(name);
        if path.exists() {
            inputs.push(hash(name, &path)?);
        }
    }
    let mut setup = whole.setup;
    private::redact(&mut setup, &mut samples, &mut notes, privacy);
    Ok(Before {
        references,
        subject: Subject {
            folder: known::name_of(at),
            setup,
            samples,
            estimates: Estimates::default(),
            places: None,
            notes,
            hellos,
            counts,
            warnings,
            inputs,
        },
    })
}

fn hash(name: &str, path: &Path) -> anyhow::Result<Input> {
    let bytes = fs_err::read(path)?;
    let digest = Sha256::digest(&bytes);
    Ok(Input {
        name: name.to_owned(),
        sha256: digest
            .iter()
            .map(|byte| format!("{byte:02x}"))
            .collect::<Vec<String>>()
            .concat(),
        bytes: bytes.len() as u64,
    })
}
