//! The last line: what Space will do, then the other keys that mean something now, as many as fit.
//!
//! ```text
//!  Space measure this point    s sweep    n note    v view    ? help    q finish
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::keys::{BINDINGS, Binding, Command};
use super::paint::{columns, inset, put};
use super::theme::{Theme, Tone};
use super::ui::{Doing, Over, Ui, View, Writing};

/// Below so many columns only few words fit.
const NARROW: u16 = 50;

/// Draws it in one line.
/// `several`: whether it is one of several surveys being replayed.
pub fn render(buffer: &mut Buffer, area: Rect, ui: &Ui, doing: Doing, several: bool, theme: Theme) {
    let area = inset(area, 1);
    let mut hints = hints(ui, doing, several);
    if several && area.width < NARROW && matches!(ui.over, Over::Nothing) {
        // The key to the other survey must be seen on the smallest screen.
        for (key, word) in &mut hints {
            match *key {
                "Space" => "play".clone_into(word),
                "Tab" => "next".clone_into(word),
                _ => {}
            }
        }
        hints.truncate(2);
        hints.extend([("?", "help".to_owned()), ("q", "close".to_owned())]);
    }
    let width = |hints: &[(&str, String)], gap: u16| {
        hints
            .iter()
            .map(|(key, word)| columns(key) + 1 + columns(word) + gap)
            .sum::<u16>()
            .saturating_sub(gap)
    };
    // The first, help and the end stay; of the rest those that fit.
    let mut shown = hints;
    while width(&shown, 2) > area.width && shown.len() > 3 {
        shown.remove(shown.len() - 3);
    }
    while width(&shown, 2) > area.width && shown.len() > 1 {
        shown.pop();
    }
    let gap = [4, 3]
        .into_iter()
        .find(|gap| width(&shown, *gap) <= area.width)
        .unwrap_or(2);
    let mut x = 0;
    for (index, (key, word)) in shown.iter().enumerate() {
        let tone = if index == 0 { Tone::Strong } else { Tone::Text };
        x += put(buffer, area, (x, 0), key, theme.style(Tone::Key));
        x += 1 + put(buffer, area, (x + 1, 0), word, theme.style(tone)) + gap;
    }
}

fn hints(ui: &Ui, doing: Doing, several: bool) -> Vec<(&'static str, String)> {
    let fixed = |pairs: &[(&'static str, &str)]| pairs.iter().map(|(key, word)| (*key, (*word).to_owned())).collect();
    match &ui.over {
        Over::Help(_) => return fixed(&[("Esc", "back"), ("↑ ↓", "more")]),
        Over::Ending => return fixed(&[("y", "yes"), ("any other key", "no")]),
        Over::Writing(Writing::Note, _) => return fixed(&[("Enter", "keep the note"), ("Esc", "back")]),
        Over::Naming(..) => return fixed(&[("Enter", "measure it"), ("↑ ↓", "choose"), ("Esc", "back")]),
        Over::Writing(..) => return fixed(&[("Enter", "done"), ("Esc", "back")]),
        Over::Going(_) => return fixed(&[("Enter", "go there"), ("↑ ↓", "choose"), ("Esc", "back")]),
        Over::SweepChoice(..) => return fixed(&[("Space", "begin the sweep"), ("↑ ↓ ← →", "choose"), ("Esc", "back")]),
        Over::Assuming(..) => return fixed(&[("Space", "take it"), ("↑ ↓ ← →", "choose"), ("Esc", "back")]),
        Over::Nothing => {}
    }
    let named = |command: Command| BINDINGS.iter().find(|binding: &&Binding| binding.command == command);
    let mut hints = vec![("Space", ui.next_words(doing))];
    if ui.view == View::Boards {
        let keys = if matches!(doing, Doing::Replaying(_)) {
            "↑ ↓"
        } else {
            "↑ ↓ ← →"
        };
        hints.push((keys, "choose".to_owned()));
    }
    let others: &[Command] = match doing {
        Doing::Walking => &[
            Command::Sweep,
            Command::View,
            Command::Note,
            Command::Name,
            Command::Pause,
            Command::Board,
        ],
        Doing::Standing(..) => &[
            Command::Again,
            Command::View,
            Command::Note,
            Command::Sweep,
            Command::Pause,
        ],
        Doing::Turning(_) | Doing::Counting(..) => &[
            Command::Again,
            Command::LeaveOut,
            Command::Walk,
            Command::View,
            Command::Note,
        ],
        Doing::Replaying(_) => &[
            Command::NextMark,
            Command::View,
            Command::LeaveOut,
            Command::GoTo,
            Command::Faster,
            Command::Left,
            Command::Right,
            Command::Stretch,
            Command::Slower,
            Command::MarkBefore,
        ],
    };
    // Of several surveys, another comes first. On the places, what they assume is the first thing to change, and the list is
    // moved through; the plots of turns come after the four main keys.
    let among: &[Command] = if several {
        &[Command::NextSurvey, Command::Together]
    } else {
        &[]
    };
    let (first, plots): (&[Command], &[Command]) = match ui.view {
        View::Places => (&[Command::Assume, Command::View, Command::Down], &[]),
        View::Turns => (&[], &[Command::Overlay, Command::Scale]),
        _ => (&[], &[]),
    };
    let (main, less) = others.split_at(others.len().min(4));
    let new = |command: &&Command| !first.contains(command);
    let ordered = among
        .iter()
        .chain(first)
        .chain(main.iter().filter(new))
        .chain(plots)
        .chain(less.iter().filter(new))
        .chain(&[Command::Help, Command::Finish]);
    for binding in ordered.filter_map(|command| named(*command)) {
        let word = match (binding.command, doing) {
            (Command::LeaveOut, Doing::Replaying(true)) => "take back",
            (Command::Finish, Doing::Replaying(_)) => "close",
            (Command::Again, Doing::Standing(..)) => "anew",
            _ => binding.word,
        };
        hints.push((binding.name, word.to_owned()));
    }
    hints
}
