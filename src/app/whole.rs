//! Reads a saved survey whole: its lines are cut out of the journal, read, and understood, each on a thread of its own.

use std::path::Path;
use std::thread;

use crossbeam_channel::bounded;

use crate::session::folder::{self, Kept, Opened, Unreadable};
use crate::survey::says::Says;
use crate::survey::{JournalLine, Samples, Setup, Survey};

/// Lines are handed over so many at a time.
const BATCH: usize = 512;
/// So many batches may wait.
const AHEAD: usize = 32;

/// A saved survey with every line applied.
#[derive(Debug)]
pub struct Whole {
    /// Its set-up.
    pub setup: Setup,
    /// What is known of it.
    pub content: Content,
    /// What a person should know: unknown keys, torn records, rows that cannot be read.
    pub warnings: Vec<String>,
}

/// What is known of a survey.
#[derive(Debug)]
pub enum Content {
    /// Everything: it can be gone on with. Its last epoch is not settled, nor are its last rows.
    Survey(Box<Survey>),
    /// Only its rows.
    Rows(Samples),
}

/// Reads a survey; `step` is told now and then which share of the journal has been read, 0 to 1.
///
/// # Errors
/// When the folder holds none, or it cannot be read.
pub fn read(at: &Path, mut step: impl FnMut(f64)) -> anyhow::Result<Whole> {
    let Opened {
        setup,
        pattern,
        kept,
        mut warnings,
    } = folder::begin_reading(at)?;
    let (mut records, bytes) = match kept {
        Kept::Journal(records, bytes) => (records, bytes),
        Kept::Rows(samples) => {
            return Ok(Whole {
                setup,
                content: Content::Rows(samples),
                warnings,
            });
        }
    };
    let mut survey = Survey::new(setup.clone(), pattern);
    let reader = survey.reader().clone();
    let (cut, lines_come) = bounded::<(Vec<JournalLine>, u64)>(AHEAD);
    let (read, said_come) = bounded::<(Vec<(JournalLine, Says)>, u64)>(AHEAD);
    let found = thread::scope(|scope| {
        let cutting = scope.spawn(move || {
            let mut unreadable = Unreadable::default();
            loop {
                let mut batch = Vec::with_capacity(BATCH);
                let lines = records.by_ref().filter_map(|record| unreadable.pass(record));
                batch.extend(lines.take(BATCH));
                let last = batch.len() < BATCH;
                // Nobody waits for more only when one of the others broke down: then that is said.
                if cut.send((batch, records.whole_bytes())).is_err() || last {
                    return unreadable.end(&mut records);
                }
            }
        });
        let reading = scope.spawn(move || {
            for (lines, bytes) in lines_come {
                let said = lines.into_iter().map(|mut line| {
                    let says = reader.read(&line);
                    // What has been read is not asked for again, save records: it need not be handed over.
                    if says != Says::Record {
                        line.bytes = Vec::new();
                    }
                    (line, says)
                });
                if read.send((said.collect(), bytes)).is_err() {
                    return;
                }
            }
        });
        for (batch, read) in said_come {
            for (line, says) in batch {
                survey.apply_read(&line, says);
            }
            // Rows are made meanwhile: cutting and reading take longer than understanding.
            survey.samples();
            step(read as f64 / bytes.max(1) as f64);
        }
        reading.join().and_then(|()| cutting.join())
    });
    let found = found.map_err(|_| anyhow::anyhow!("the journal's reader broke down"))?;
    warnings.extend(found?);
    Ok(Whole {
        setup,
        content: Content::Survey(Box::new(survey)),
        warnings,
    })
}
