//! The menu: what there is to do, the last survey first where it was broken off or is of today.
//!
//! ```text
//!  What would you like to do?                        farpace
//!
//!  ▸ Go on with “Larkfield orchard, east side”
//!    It was not finished: 2 May 2026, 19:41, 7,604 exchanges, fern.
//!    Begin a survey
//!    Look at the gear, say where the station is, walk.
//! ```

use super::opening::Scenery;
use super::page::{Line, Page};
use super::survey_list::{Saved, State};
use crate::screens::theme::Tone;

/// What the menu offers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Item {
    /// Go on with the last survey.
    GoOn,
    /// Begin one.
    Begin,
    /// Replay one.
    Replay,
    /// Rehearse on invented gear.
    Rehearse,
    /// Look at the gear.
    Gear,
    /// Leave.
    Leave,
}

/// What is offered now, in order.
pub fn items(scenery: &Scenery) -> Vec<Item> {
    let mut items = match scenery.last() {
        Some(last) if last.state == State::Unfinished || last.is_recent => vec![Item::GoOn, Item::Begin],
        Some(_) => vec![Item::Begin, Item::GoOn],
        None => vec![Item::Begin],
    };
    items.extend([Item::Replay, Item::Rehearse, Item::Gear, Item::Leave]);
    items
}

/// The page.
pub fn page(scenery: &Scenery, chosen: usize) -> Page {
    let mut page = Page::titled("What would you like to do?");
    for (index, item) in items(scenery).into_iter().enumerate() {
        let (label, words, tone) = said(item, scenery);
        page.push(
            Line::Choice {
                label,
                value: String::new(),
                tone: Tone::Strong,
            },
            index == chosen,
        );
        page.push(Line::Under(words, tone), false);
        if let (Item::GoOn, Some(torn)) = (item, scenery.last().and_then(|last| last.torn)) {
            let words = format!(
                "! The last record of its journal was cut off. Its {torn} bytes are set aside in journal.torn when you go \
                 on; everything before it is whole."
            );
            page.push(Line::Under(words, Tone::Close), false);
        }
    }
    let saved = scenery.surveys.iter().take(10).flat_map(|saved| {
        let title = Line::Words(saved.title.clone(), Tone::Strong);
        [title, Line::Under(format!("{}.", saved.about()), Tone::Text)]
    });
    let mut saved: Vec<Line> = saved.collect();
    if saved.is_empty() {
        let words = if scenery.is_looking {
            "Looking at what is saved…".to_owned()
        } else {
            format!("None yet. They are kept in {}.", scenery.kept_in)
        };
        saved.push(Line::words(words));
    }
    page.lines
        .push(Line::OnlyBeside("Surveys on the disk".to_owned(), saved));
    let way = [
        "Walk with the board: the screen says at once whether a node can go where you stand.",
        "Stop where one may go and press Space: the count proves it, the level says how much there is to spare.",
        "Turn the board there (s): it says which way it must face.",
        "Everything received is written down at once; figures, maps and the write-up follow from that.",
    ];
    let way = way.into_iter().map(|words| Line::words(format!("· {words}"))).collect();
    page.lines.push(Line::OnlyBeside("How a survey goes".to_owned(), way));
    let word = match items(scenery).get(chosen) {
        Some(Item::GoOn) => "go on",
        Some(Item::Begin) => "begin",
        Some(Item::Replay) => "replay",
        Some(Item::Rehearse) => "rehearse",
        Some(Item::Gear) => "look",
        Some(Item::Leave) => "leave",
        None => "choose",
    };
    page.hint("Space", word);
    page.hint("↑ ↓", "choose");
    page.hint("t", "theme");
    page.hint("?", "help");
    page.hint("q", "leave");
    page
}

fn said(item: Item, scenery: &Scenery) -> (String, String, Tone) {
    let plain = |label: &str, words: String| (label.to_owned(), words, Tone::Text);
    match item {
        Item::GoOn => match scenery.last() {
            Some(last) => {
                let label = format!("Go on with “{}”", last.title);
                let begin = if last.state == State::Unfinished {
                    "It was not finished: "
                } else {
                    ""
                };
                (label, format!("{begin}{}.", last.about()), Tone::Text)
            }
            None => plain("Go on with the last survey", "There is none.".to_owned()),
        },
        Item::Begin => plain(
            "Begin a survey",
            "Look at the gear, say where the station is, and walk.".to_owned(),
        ),
        Item::Replay => {
            let words = match (&scenery.surveys[..], scenery.is_looking) {
                ([], true) => "Looking at what is saved…".to_owned(),
                ([], false) => format!("Nothing is saved yet in {}.", scenery.kept_in),
                ([one], _) => format!("One is saved: “{}”.", one.title),
                (several, _) => format!("{} are saved in {}.", several.len(), scenery.kept_in),
            };
            plain("Replay a survey", words)
        }
        Item::Rehearse => plain(
            "Rehearse",
            "The whole instrument on invented gear in an invented orchard: nothing needs to be plugged in.".to_owned(),
        ),
        Item::Gear => plain(
            "Look at the gear",
            "What is plugged in, and what each port is heard to say.".to_owned(),
        ),
        Item::Leave => plain("Leave", "Every survey is on the disk already.".to_owned()),
    }
}

/// The last survey that can be gone on with: one of real gear, with a journal.
pub fn last(surveys: &[Saved]) -> Option<&Saved> {
    surveys
        .iter()
        .find(|saved| !saved.rehearsed && matches!(saved.state, State::Finished | State::Unfinished))
}
