//! Reads a saved survey whole: its lines are cut out of the journal, read, and understood, each on a thread of its own.

use std::path::Path;
use std::{io, mem, thread};

use crossbeam_channel::bounded;

use crate::session::folder::{self, Kept, Opened, Unreadable};
use crate::survey::says::Says;
use crate::survey::{JournalLine, Samples, Setup, Source, Survey};
use crate::units::{Elapsed, UtcMs};
use crate::wire::{SurveyorRecord, surveyor};

/// Lines are handed over so many at a time.
const BATCH: usize = 4096;
/// So many batches may wait.
const AHEAD: usize = 4;

/// A journal that ends within this of its `finish` ended with it, seconds: what readers handed over while they were
/// stopped comes after it.
const TAIL_S: f64 = 10.0;

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
    Survey(Box<Survey>, Ends),
    /// Only its rows.
    Rows(Samples),
}

/// How a journal begins and ends.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Ends {
    /// When its first line came.
    pub began: Option<UtcMs>,
    /// When its last line came.
    pub ended: Option<UtcMs>,
    /// Bytes of a last record that was cut off.
    pub torn: Option<usize>,
    last: Option<Elapsed>,
    finish: Option<Elapsed>,
}

impl Ends {
    /// Whether it ends with the surveyor's `finish`: else the program, the computer or the battery ended first.
    pub fn finished(&self) -> bool {
        self.finish
            .zip(self.last)
            .is_some_and(|(finish, last)| last.since(finish) <= TAIL_S)
    }

    fn take(&mut self, line: &JournalLine) {
        self.began.get_or_insert(line.wall);
        self.ended = Some(line.wall);
        self.last = Some(line.at);
        let finishes = line.source == Source::Surveyor
            && matches!(
                surveyor::read(&line.bytes),
                Ok(surveyor::SurveyorLine::Record {
                    record: SurveyorRecord::Finish,
                    ..
                })
            );
        if finishes {
            self.finish = Some(line.at);
        }
    }
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
    // What was used goes back to be used again: memory that one thread takes and another frees costs more than all else.
    let (used, used_come) = bounded::<Vec<Vec<u8>>>(2 * AHEAD);
    let (heard, heard_come) = bounded::<Vec<(JournalLine, Says)>>(2 * AHEAD);
    let found = thread::scope(|scope| {
        let cutting = scope.spawn(move || {
            let mut unreadable = Unreadable::default();
            let mut ends = Ends::default();
            loop {
                used_come.try_iter().for_each(|used| records.take_back(used));
                let mut batch = Vec::with_capacity(BATCH);
                let lines = records.by_ref().filter_map(|record| unreadable.pass(record));
                batch.extend(lines.take(BATCH).inspect(|line| ends.take(line)));
                let last = batch.len() < BATCH;
                // Nobody waits for more only when one of the others broke down: then that is said.
                if cut.send((batch, records.whole_bytes())).is_err() || last {
                    ends.torn = records.torn().map(|torn| torn.len());
                    return Ok::<_, io::Error>((unreadable.end(&mut records)?, ends));
                }
            }
        });
        let reading = scope.spawn(move || {
            for (lines, bytes) in lines_come {
                let mut spent = Vec::with_capacity(lines.len());
                let mut said = heard_come.try_recv().unwrap_or_default();
                said.extend(lines.into_iter().map(|mut line| {
                    let says = reader.read(&line);
                    // What has been read is not asked for again, save records: it need not be handed over.
                    if says != Says::Record {
                        spent.push(mem::take(&mut line.bytes));
                    }
                    (line, says)
                }));
                // Nobody waits for it once all lines are cut.
                let _ = used.try_send(spent);
                if read.send((said, bytes)).is_err() {
                    return;
                }
            }
        });
        for (mut batch, read) in said_come {
            for (line, says) in batch.drain(..) {
                survey.apply_read(&line, says);
            }
            let _ = heard.try_send(batch);
            // Rows are made meanwhile: cutting and reading take longer than understanding.
            survey.samples();
            step(read as f64 / bytes.max(1) as f64);
        }
        reading.join().and_then(|()| cutting.join())
    });
    let found = found.map_err(|_| anyhow::anyhow!("the journal's reader broke down"))?;
    let (unreadable, ends) = found?;
    warnings.extend(unreadable);
    Ok(Whole {
        setup,
        content: Content::Survey(Box::new(survey), ends),
        warnings,
    })
}
