//! The surveys on the disk, to replay one.
//!
//! ```text
//!  Replay which survey?
//!
//!  ▸ Larkfield orchard, east side
//!    2 May 2026, 19:41, 7,604 exchanges, fern, hazel
//! ```

use std::path::PathBuf;

use super::opening::Scenery;
use super::page::{Line, Page};
use crate::findings::words;
use crate::screens::number::count as count_words;
use crate::screens::theme::Tone;
use crate::survey::Setup;

/// A survey on the disk.
#[derive(Clone, Debug, PartialEq)]
pub struct Saved {
    /// Its folder.
    pub folder: PathBuf,
    /// What it is called.
    pub title: String,
    /// When it began, in local words.
    pub when: String,
    /// Whether its last line is less than a day old.
    pub is_recent: bool,
    /// Exchanges it holds; `None` where that could not be read.
    pub exchanges: Option<usize>,
    /// Boards it heard.
    pub boards: Vec<String>,
    /// How it stands.
    pub state: State,
    /// Bytes of a last record that was cut off.
    pub torn: Option<usize>,
    /// That its table of rows holds more than its journal, and what to do.
    pub more_in_table: Option<String>,
    /// Whether the gear was invented.
    pub rehearsed: bool,
    /// Its set-up, to take over into the next.
    pub setup: Option<Setup>,
}

/// How a survey stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum State {
    /// It was finished.
    Finished,
    /// Its journal does not end with a finish: the program, the computer or the battery ended first.
    Unfinished,
    /// Only its rows are left: it can be replayed, not gone on with.
    RowsOnly,
    /// It cannot be read: why.
    Unreadable(String),
}

impl Saved {
    /// When, how much, which boards.
    pub fn about(&self) -> String {
        let exchanges = match self.exchanges {
            Some(1) => "1 exchange".to_owned(),
            Some(count) => format!("{} exchanges", count_words(count as u64)),
            None => "exchanges not counted".to_owned(),
        };
        let mut parts = vec![self.when.clone(), exchanges];
        parts.extend(self.boards.iter().take(6).cloned());
        if self.boards.len() > 6 {
            parts.push(format!("and {} more boards", self.boards.len() - 6));
        }
        parts.join(", ")
    }
}

/// What is known of a survey without opening it.
fn details(saved: &Saved) -> Vec<Line> {
    let mut lines = vec![Line::words(format!("{}.", saved.about()))];
    if let Some(setup) = &saved.setup {
        lines.extend(setup.note.clone().map(Line::words));
        let station = &setup.station;
        if let Some(name) = &station.name {
            lines.push(Line::words(format!("Station: {name}.")));
        }
        if station.position.is_none() {
            lines.push(Line::words("The station's position is not set: no distances."));
        }
        let goal = &setup.goal;
        lines.push(Line::words(format!(
            "Goal: {} delivered, {} sure, {:.0} dB to spare; {} messages at a point.",
            words::percent(goal.delivery),
            words::percent(goal.confidence),
            goal.margin_db,
            goal.messages
        )));
    }
    lines.push(Line::Words(format!("{}", saved.folder.display()), Tone::Quiet));
    lines
}

/// The page.
pub fn page(scenery: &Scenery, chosen: usize) -> Page {
    let mut page = Page::titled("Replay which survey?");
    for (index, saved) in scenery.surveys.iter().enumerate() {
        page.push(Line::choice(saved.title.clone(), ""), index == chosen);
        page.push(Line::under(saved.about()), false);
        let further = match &saved.state {
            State::Finished => None,
            State::Unfinished => Some("! not finished: it can be gone on with from the menu".to_owned()),
            State::RowsOnly => Some("only samples.csv is left: it replays by its rows".to_owned()),
            State::Unreadable(why) => Some(format!("✗ cannot be read: {why}")),
        };
        let further = further.filter(|_| !(saved.rehearsed && saved.state == State::Unfinished));
        if saved.rehearsed {
            page.push(Line::Under("rehearsed on invented gear".to_owned(), Tone::Quiet), false);
        }
        if let Some(more) = &saved.more_in_table {
            page.push(Line::Under(format!("! {more}"), Tone::Close), false);
        }
        if let Some(further) = further {
            page.push(Line::Under(further, Tone::Close), false);
        }
    }
    if let Some(saved) = scenery.surveys.get(chosen) {
        page.lines.push(Line::OnlyBeside(saved.title.clone(), details(saved)));
    }
    if scenery.is_looking {
        page.push(
            Line::words(format!("Looking at what is saved in {}…", scenery.kept_in)),
            false,
        );
    } else if scenery.surveys.is_empty() {
        page.push(
            Line::words(format!("No survey is saved in {} yet.", scenery.kept_in)),
            false,
        );
        page.push(
            Line::words("Begin one, or rehearse: a rehearsal is saved there too."),
            false,
        );
    }
    if scenery.surveys.is_empty() {
        page.hint("Esc", "back");
        return page;
    }
    page.hint("Space", "replay it");
    page.hint("↑ ↓", "choose");
    page.hint("Esc", "back");
    page
}
