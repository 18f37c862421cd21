//! Looks at the surveys on the disk: what each is, how much it holds, how it ended.

use std::collections::BTreeSet;
use std::path::Path;

use jiff::tz::TimeZone;

use super::whole::{self, Content};
use super::{clock, rehearse, tables};
use crate::screens::start::survey_list::{Saved, State};
use crate::survey::Samples;
use crate::units::UtcMs;

/// A survey whose last line is younger than this is recent: a day.
const RECENT_MS: i64 = UtcMs::DAY;

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
        more_in_table: None,
        rehearsed: false,
        setup: None,
    };
    let read = match whole::read(at, |_| ()) {
        Ok(read) => read,
        Err(why) => {
            saved.state = State::Unreadable(why.to_string());
            return saved;
        }
    };
    if !read.setup.title.is_empty() {
        saved.title.clone_from(&read.setup.title);
    }
    saved.rehearsed = rehearse::is_rehearsed(&read.setup);
    let (samples, began, ended) = match read.content {
        Content::Survey(mut survey, ends) => {
            survey.settle();
            let rows = survey.samples().rows.len();
            let held = tables::exchanges(at).unwrap_or(0);
            saved.more_in_table = tables::more_in_a_line(held.saturating_sub(rows));
            if !ends.finished() {
                saved.state = State::Unfinished;
                saved.torn = ends.torn;
            }
            (survey.into_samples(), ends.began, ends.ended)
        }
        Content::Rows(samples) => {
            saved.state = State::RowsOnly;
            let (first, last) = (samples.rows.first(), samples.rows.last());
            let (first, last) = (first.map(|row| row.utc), last.map(|row| row.utc));
            (samples, first, last)
        }
    };
    if let Some(words) = began.and_then(local_words) {
        saved.when = words;
    }
    saved.is_recent = ended.is_some_and(|ended| (0..RECENT_MS).contains(&(clock::wall().0 - ended.0)));
    saved.exchanges = Some(samples.rows.len());
    saved.boards = boards(&samples);
    saved.setup = Some(read.setup);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::words::so_many;
    use crate::session::format;

    #[test]
    fn a_table_that_holds_more_than_its_journal_is_told() {
        let session = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-sessions/first-look");
        let to = tempfile::tempdir().unwrap();
        for file in [format::SETUP, format::SAMPLES] {
            std::fs::copy(session.join(file), to.path().join(file)).unwrap();
        }
        let journal = std::fs::read(session.join(format::JOURNAL)).unwrap();
        std::fs::write(to.path().join(format::JOURNAL), &journal).unwrap();
        let whole = look(to.path());
        assert_eq!(whole.more_in_table, None);
        std::fs::write(to.path().join(format::JOURNAL), &journal[..journal.len() / 2]).unwrap();
        let cut = look(to.path());
        let more = whole.exchanges.unwrap() - cut.exchanges.unwrap();
        assert!(more > 100);
        assert_eq!(
            cut.more_in_table.unwrap(),
            format!(
                "{} in samples.csv: move journal.csv away to see them",
                so_many(more as u64, "more exchange", "more exchanges")
            )
        );
    }
}
