//! Reads a saved survey whole: its lines are cut out of the journal, read, and understood, each on threads of their own.

use std::path::Path;
use std::{io, mem, thread};

use crossbeam_channel::{Receiver, Sender, bounded};

use super::tables;
use crate::session::folder::{self, Kept, Opened, Unreadable};
use crate::session::records::Piece;
use crate::survey::says::{LineReader, Says};
use crate::survey::{JournalLine, Samples, Setup, Source, Survey};
use crate::units::{Elapsed, UtcMs};
use crate::wire::{SurveyorRecord, surveyor};

/// So many threads read: it takes longer than cutting before it, and about as long again as understanding behind it.
const READERS: usize = 2;
/// So many pieces may wait for each.
const AHEAD: usize = 8;

/// A line and what it says, or the number in the journal of a record that cannot be read and why.
type Read = Result<(JournalLine, Says), (usize, &'static str)>;

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

/// Reads a survey as [`read`] does, and counts meanwhile how many exchanges its `samples.csv` holds.
///
/// # Errors
/// When the folder holds none, or it or its table cannot be read.
pub fn read_beside_table(at: &Path, step: impl FnMut(f64)) -> anyhow::Result<(Whole, usize)> {
    thread::scope(|scope| {
        let counting = scope.spawn(|| tables::exchanges(at));
        let whole = read(at, step)?;
        let held = counting.join();
        Ok((
            whole,
            held.map_err(|_| anyhow::anyhow!("the table's reader broke down"))??,
        ))
    })
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
    let (mut pieces, bytes) = match kept {
        Kept::Journal(pieces, bytes) => (pieces, bytes),
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
    let mut unreadable = Unreadable::default();
    let mut ends = Ends::default();
    // Pieces go to whoever reads next, what they say comes back in their order.
    let (cut, pieces_come) = bounded::<(Piece, Sender<Vec<Read>>)>(AHEAD);
    let (in_order, read_come) = bounded::<(Receiver<Vec<Read>>, u64)>(AHEAD);
    // What was used goes back to be used again: memory that one thread takes and another frees costs more than all else.
    let (used, used_come) = bounded::<Vec<u8>>(2 * AHEAD);
    let (heard, heard_come) = bounded::<Vec<Read>>(2 * AHEAD);
    let found = thread::scope(|scope| {
        let cutting = scope.spawn(move || {
            while let Some(piece) = pieces.cut(used_come.try_recv().unwrap_or_default())? {
                let (say, said) = bounded(1);
                // Nobody waits for more only when one of the others broke down: then that is said.
                if cut.send((piece, say)).is_err() || in_order.send((said, pieces.whole_bytes())).is_err() {
                    break;
                }
            }
            Ok::<_, io::Error>(pieces.torn())
        });
        let reading = [(); READERS].map(|()| {
            let (reader, pieces_come) = (reader.clone(), pieces_come.clone());
            let (used, heard_come) = (used.clone(), heard_come.clone());
            scope.spawn(move || {
                for (piece, say) in pieces_come {
                    let mut said = heard_come.try_recv().unwrap_or_default();
                    read_piece(&piece, &reader, &mut said);
                    // Nobody waits for it once all pieces are cut.
                    let _ = used.try_send(piece.into_bytes());
                    if say.send(said).is_err() {
                        return;
                    }
                }
            })
        });
        drop(pieces_come);
        for (said, whole) in read_come {
            let Ok(mut said) = said.recv() else { break };
            for read in said.drain(..) {
                match read {
                    Ok((line, says)) => {
                        ends.take(&line);
                        survey.apply_read(&line, says);
                    }
                    Err(why) => unreadable.count(why),
                }
            }
            let _ = heard.try_send(said);
            // Rows are made meanwhile: what follows of a journal changes few of them.
            survey.samples();
            step(whole as f64 / bytes.max(1) as f64);
        }
        for reading in reading {
            reading.join()?;
        }
        cutting.join()
    });
    let torn = found.map_err(|_| anyhow::anyhow!("the journal's reader broke down"))??;
    ends.torn = torn;
    warnings.extend(unreadable.end(torn));
    Ok(Whole {
        setup,
        content: Content::Survey(Box::new(survey), ends),
        warnings,
    })
}

/// Reads the records of a piece; what they say is put behind what is in `said`.
fn read_piece(piece: &Piece, reader: &LineReader, said: &mut Vec<Read>) {
    let mut records = piece.records();
    while let Some(record) = records.next() {
        said.push(record.map(|mut line| {
            let says = reader.read(&line);
            // What has been read is not asked for again, save records: it need not be handed over.
            if says != Says::Record {
                records.take_back(mem::take(&mut line.bytes));
            }
            (line, says)
        }));
    }
}
