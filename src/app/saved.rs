//! Looks at the surveys on the disk: what each is, how much it holds, how it ended.

use std::collections::BTreeSet;
use std::path::Path;

use jiff::tz::TimeZone;

use super::{clock, rehearse};
use crate::screens::start::survey_list::{Saved, State};
use crate::session::folder::{self, Content};
use crate::session::journal;
use crate::survey::{JournalLine, Samples, Source};
use crate::units::UtcMs;
use crate::wire::{SurveyorRecord, surveyor};

/// A survey whose last line is younger than this is recent: a day.
const RECENT_MS: i64 = UtcMs::DAY;

/// A journal that ends within this of its `finish` ended with it, seconds: what readers handed over while they were
/// stopped comes after it.
const TAIL_S: f64 = 10.0;

/// Looks at one survey.
pub fn look(at: &Path) -> Saved {
    let name = at
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    let mut saved = Saved {
        folder: at.to_owned(),
        title: name.clone(),
        when: name.clone(),
        is_recent: false,
        exchanges: None,
        boards: Vec::new(),
        state: State::Finished,
        torn: None,
        rehearsed: false,
        setup: None,
    };
    let found = match folder::open(at) {
        Ok(found) => found,
        Err(why) => {
            saved.state = State::Unreadable(why.to_string());
            return saved;
        }
    };
    if !found.setup.title.is_empty() {
        saved.title.clone_from(&found.setup.title);
    }
    saved.rehearsed = rehearse::is_rehearsed(&found.setup);
    let samples = found.samples();
    let (begin, end) = match &found.content {
        Content::Journal(lines) => {
            saved.state = if is_finished(lines) {
                State::Finished
            } else {
                State::Unfinished
            };
            // Only the journal knows what was cut off of it; `folder::open` puts that into words.
            if saved.state == State::Unfinished {
                saved.torn = journal::read(at)
                    .ok()
                    .and_then(|journal| journal.torn)
                    .map(|torn| torn.len());
            }
            (lines.first().map(|line| line.wall), lines.last().map(|line| line.wall))
        }
        Content::Rows(rows) => {
            saved.state = State::RowsOnly;
            (
                rows.rows.first().map(|row| row.utc),
                rows.rows.last().map(|row| row.utc),
            )
        }
    };
    if let Some(words) = begin.and_then(local_words) {
        saved.when = words;
    }
    saved.is_recent = end.is_some_and(|end| (0..RECENT_MS).contains(&(clock::wall().0 - end.0)));
    saved.exchanges = Some(samples.rows.len());
    saved.boards = boards(&samples);
    saved.setup = Some(found.setup);
    saved
}

/// The boards of the rows, each once, as they came.
fn boards(samples: &Samples) -> Vec<String> {
    let used: BTreeSet<u32> = samples.rows.iter().map(|row| row.boot).collect();
    let mut boards: Vec<String> = Vec::new();
    for boot in used {
        if let Some(name) = samples.boots.get(boot as usize)
            && !boards.contains(&name.board)
        {
            boards.push(name.board.clone());
        }
    }
    boards
}

fn is_finished(lines: &[JournalLine]) -> bool {
    let finish = lines.iter().rev().find(|line| {
        line.source == Source::Surveyor
            && matches!(
                surveyor::read(&line.bytes),
                Ok(surveyor::SurveyorLine::Record {
                    record: SurveyorRecord::Finish,
                    ..
                })
            )
    });
    finish
        .zip(lines.last())
        .is_some_and(|(finish, last)| last.at.since(finish.at) <= TAIL_S)
}

/// A moment in local words: `2 May 2026, 19:41`.
fn local_words(at: UtcMs) -> Option<String> {
    let moment = jiff::Timestamp::from_millisecond(at.0).ok()?;
    Some(
        moment
            .to_zoned_datetime(TimeZone::system())
            .strftime("%-d %B %Y, %H:%M")
            .to_string(),
    )
}
