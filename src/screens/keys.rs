//! One table from key to command: the keys, the bottom line, the help screen and README come from it.

use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

/// What a key asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Command {
    /// The main next thing: what it is depends on what is going on, and the bottom line says it.
    Next,
    /// Walk on.
    Walk,
    /// Begin an orientation sweep.
    Sweep,
    /// Measure a point under a name of one's own.
    Name,
    /// Say which board is in hand.
    Board,
    /// Write a note.
    Note,
    /// Show the next view.
    View,
    /// Pause, or go on.
    Pause,
    /// Measure the last step, or this point, again.
    Again,
    /// Leave this step (or, in a replay, this run) out.
    LeaveOut,
    /// Lay the next polar plot over this one, or take it away.
    Overlay,
    /// dB below the strongest, or dBm.
    Scale,
    /// Say what the map of places is to assume.
    Assume,
    /// Another palette.
    Theme,
    /// Bell on or off.
    Bell,
    /// Help.
    Help,
    /// Finish; asks first.
    Finish,
    /// Back.
    Back,
    /// Up a line.
    Up,
    /// Down a line.
    Down,
    /// To the left, or back in time.
    Left,
    /// To the right, or on in time.
    Right,
    /// To the point before, nearer to the station.
    PointBefore,
    /// To the next point, farther from the station.
    PointAfter,
    /// Slower.
    Slower,
    /// Faster.
    Faster,
    /// To the next run, point or note.
    NextMark,
    /// To the run, point or note before.
    MarkBefore,
    /// To the beginning.
    First,
    /// To the end.
    Last,
    /// To a point, run, sweep or note chosen from a list.
    GoTo,
    /// A stretch to be left out begins (or ends) here.
    Stretch,
    /// The next survey comes to the front.
    NextSurvey,
    /// Several surveys together.
    Together,
}

/// Where a key means something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// In a survey being made.
    Field,
    /// In a replay.
    Replay,
    /// Everywhere.
    Everywhere,
}

/// A key and what it does.
#[derive(Clone, Copy, Debug)]
pub struct Binding {
    /// The key.
    pub code: KeyCode,
    /// What it asks for.
    pub command: Command,
    /// Where it means something.
    pub place: Place,
    /// Its name on the screen.
    pub name: &'static str,
    /// What it does, in a word or two, for the bottom line.
    pub word: &'static str,
    /// What it does, in a sentence, for the help screen.
    pub sentence: &'static str,
}

const fn binding(
    code: KeyCode,
    command: Command,
    place: Place,
    name: &'static str,
    word: &'static str,
    sentence: &'static str,
) -> Binding {
    Binding {
        code,
        command,
        place,
        name,
        word,
        sentence,
    }
}

/// All of them. The order is that of the bottom line.
pub const BINDINGS: &[Binding] = &[
    binding(
        KeyCode::Char(' '),
        Command::Next,
        Place::Everywhere,
        "Space",
        "next",
        "The main next thing; the bottom line says what.",
    ),
    binding(
        KeyCode::Char('w'),
        Command::Walk,
        Place::Field,
        "w",
        "walk",
        "Walk on: ends a point or a sweep.",
    ),
    binding(
        KeyCode::Char('s'),
        Command::Sweep,
        Place::Field,
        "s",
        "sweep",
        "Turn the board through set angles here.",
    ),
    binding(
        KeyCode::Char('c'),
        Command::Name,
        Place::Field,
        "c",
        "call it",
        "Measure here under a name: write it, or choose a point measured before.",
    ),
    binding(
        KeyCode::Char('b'),
        Command::Board,
        Place::Field,
        "b",
        "board",
        "Say which board is in hand, if it does not say so itself.",
    ),
    binding(
        KeyCode::Char('n'),
        Command::Note,
        Place::Field,
        "n",
        "note",
        "Write a note, kept with place and time.",
    ),
    binding(
        KeyCode::Char('v'),
        Command::View,
        Place::Everywhere,
        "v",
        "view",
        "The next view: overview, map, distance, turns, boards, places.",
    ),
    binding(
        KeyCode::Char('p'),
        Command::Pause,
        Place::Field,
        "p",
        "pause",
        "Pause: exchanges are kept but do not count. Again to go on.",
    ),
    binding(
        KeyCode::Char('r'),
        Command::Again,
        Place::Field,
        "r",
        "again",
        "Measure the last step, or this point, again.",
    ),
    binding(
        KeyCode::Char('x'),
        Command::LeaveOut,
        Place::Everywhere,
        "x",
        "leave out",
        "Sweep: skip this step. Replay: leave this run (or the stretch marked) out, with a reason; again to take it back.",
    ),
    binding(
        KeyCode::Char('o'),
        Command::Overlay,
        Place::Everywhere,
        "o",
        "overlay",
        "Lay another board's polar plot over this one.",
    ),
    binding(
        KeyCode::Char('d'),
        Command::Scale,
        Place::Everywhere,
        "d",
        "dB/dBm",
        "Polar plot in dB below the strongest, or in dBm.",
    ),
    binding(
        KeyCode::Char('a'),
        Command::Assume,
        Place::Everywhere,
        "a",
        "assume",
        "Places for another board, another mounting height, or leaves to come.",
    ),
    binding(
        KeyCode::Char('t'),
        Command::Theme,
        Place::Everywhere,
        "t",
        "theme",
        "Another palette: dark, light, plain.",
    ),
    binding(
        KeyCode::Char('m'),
        Command::Bell,
        Place::Everywhere,
        "m",
        "bell",
        "The bell on or off.",
    ),
    binding(
        KeyCode::Left,
        Command::Left,
        Place::Replay,
        "←",
        "back",
        "Ten seconds back.",
    ),
    binding(
        KeyCode::Right,
        Command::Right,
        Place::Replay,
        "→",
        "on",
        "Ten seconds on.",
    ),
    binding(
        KeyCode::Left,
        Command::PointBefore,
        Place::Field,
        "←",
        "point before",
        "Boards at points: the point before.",
    ),
    binding(
        KeyCode::Right,
        Command::PointAfter,
        Place::Field,
        "→",
        "next point",
        "Boards at points: the next point.",
    ),
    binding(
        KeyCode::PageUp,
        Command::PointBefore,
        Place::Replay,
        "PgUp",
        "point before",
        "Boards at points: the point before.",
    ),
    binding(
        KeyCode::PageDown,
        Command::PointAfter,
        Place::Replay,
        "PgDn",
        "next point",
        "Boards at points: the next point.",
    ),
    binding(
        KeyCode::Up,
        Command::Up,
        Place::Everywhere,
        "↑",
        "up",
        "Up a line; the choice before.",
    ),
    binding(
        KeyCode::Down,
        Command::Down,
        Place::Everywhere,
        "↓",
        "down",
        "Down a line; the next choice.",
    ),
    binding(
        KeyCode::Char('-'),
        Command::Slower,
        Place::Replay,
        "-",
        "slower",
        "Slower, down to life's own speed.",
    ),
    binding(
        KeyCode::Char('+'),
        Command::Faster,
        Place::Replay,
        "+",
        "faster",
        "Faster, up to 500 times.",
    ),
    binding(
        KeyCode::Char('.'),
        Command::NextMark,
        Place::Replay,
        ".",
        "next run",
        "To the next run, point, sweep or note.",
    ),
    binding(
        KeyCode::Char(','),
        Command::MarkBefore,
        Place::Replay,
        ",",
        "run before",
        "To the run, point, sweep or note before.",
    ),
    binding(
        KeyCode::Home,
        Command::First,
        Place::Replay,
        "Home",
        "begin",
        "To the beginning.",
    ),
    binding(KeyCode::End, Command::Last, Place::Replay, "End", "end", "To the end."),
    binding(
        KeyCode::Char('g'),
        Command::GoTo,
        Place::Replay,
        "g",
        "go to",
        "Go to a point, run, sweep or note, chosen from a list.",
    ),
    binding(
        KeyCode::Char('s'),
        Command::Stretch,
        Place::Replay,
        "s",
        "stretch",
        "A stretch begins here; go to its end and press x to leave it out. Again to forget it.",
    ),
    binding(
        KeyCode::Tab,
        Command::NextSurvey,
        Place::Replay,
        "Tab",
        "next survey",
        "Of several surveys the next comes to the front: keys of time act on that one.",
    ),
    binding(
        KeyCode::Char('c'),
        Command::Together,
        Place::Replay,
        "c",
        "compare",
        "Several surveys together, each whole: map, places, points, distance, turns (v), other pairs (Tab).",
    ),
    binding(
        KeyCode::Char('?'),
        Command::Help,
        Place::Everywhere,
        "?",
        "help",
        "This page.",
    ),
    binding(
        KeyCode::Esc,
        Command::Back,
        Place::Everywhere,
        "Esc",
        "back",
        "Back; closes what is open.",
    ),
    binding(
        KeyCode::Char('q'),
        Command::Finish,
        Place::Everywhere,
        "q",
        "finish",
        "Finish; asks first.",
    ),
];

/// What a key asks for, in a survey being made or in a replay.
pub fn command(key: KeyEvent, place: Place) -> Option<Command> {
    if key.modifiers.intersects(KeyModifiers::CONTROL | KeyModifiers::ALT) {
        let finish = key.modifiers == KeyModifiers::CONTROL && matches!(key.code, KeyCode::Char('c' | 'd'));
        return finish.then_some(Command::Finish);
    }
    let code = match key.code {
        KeyCode::Char(letter) => KeyCode::Char(letter.to_ascii_lowercase()),
        KeyCode::Enter => KeyCode::Char(' '),
        other => other,
    };
    let code = if code == KeyCode::Char('=') {
        KeyCode::Char('+')
    } else {
        code
    };
    let fits = |binding: &&Binding| {
        binding.code == code
            && (binding.place == place || binding.place == Place::Everywhere || place == Place::Everywhere)
    };
    BINDINGS.iter().find(fits).map(|binding| binding.command)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_means_two_things_in_one_place() {
        for (index, one) in BINDINGS.iter().enumerate() {
            for other in &BINDINGS[index + 1..] {
                let meet =
                    one.place == other.place || one.place == Place::Everywhere || other.place == Place::Everywhere;
                assert!(one.code != other.code || !meet, "{} stands for two things", one.name);
            }
        }
    }

    #[test]
    fn cold_fingers_on_shift_or_enter_still_work() {
        let shifted = KeyEvent::new(KeyCode::Char('S'), KeyModifiers::SHIFT);
        assert_eq!(command(shifted, Place::Field), Some(Command::Sweep));
        assert_eq!(
            command(KeyEvent::from(KeyCode::Enter), Place::Field),
            Some(Command::Next)
        );
        let interrupt = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
        assert_eq!(command(interrupt, Place::Field), Some(Command::Finish));
    }
}
