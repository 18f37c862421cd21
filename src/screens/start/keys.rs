//! The keys of the pages before a survey: one table for reading them, for the bottom line and for help.

use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

/// What a key asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Press {
    /// The main next thing.
    Next,
    /// Open or change what is chosen.
    Open,
    /// The line before.
    Up,
    /// The line after.
    Down,
    /// The value before.
    Less,
    /// The next value.
    More,
    /// A screen full up.
    PageUp,
    /// A screen full down.
    PageDown,
    /// The line of that number, from 1.
    Number(usize),
    /// Look at the ports again.
    Again,
    /// Another palette.
    Theme,
    /// Help.
    Help,
    /// Back.
    Back,
    /// Leave the program.
    Leave,
}

/// A key, its name and what it does.
pub type Binding = (KeyCode, Press, &'static str, &'static str);

/// All of them but the digits.
pub const BINDINGS: [Binding; 14] = [
    (
        KeyCode::Char(' '),
        Press::Next,
        "Space",
        "The main next thing; the bottom line says what.",
    ),
    (
        KeyCode::Enter,
        Press::Open,
        "Enter",
        "Opens or changes the chosen line.",
    ),
    (KeyCode::Up, Press::Up, "↑", "The line before."),
    (KeyCode::Down, Press::Down, "↓", "The next line."),
    (KeyCode::Tab, Press::Down, "Tab", "The next line, too."),
    (
        KeyCode::Left,
        Press::Less,
        "←",
        "The value before, where there are few to choose from.",
    ),
    (KeyCode::Right, Press::More, "→", "The next value."),
    (KeyCode::PageUp, Press::PageUp, "PgUp", "Several lines up."),
    (KeyCode::PageDown, Press::PageDown, "PgDn", "Several lines down."),
    (
        KeyCode::Char('r'),
        Press::Again,
        "r",
        "Looks at the ports again; opening one restarts many boards.",
    ),
    (
        KeyCode::Char('t'),
        Press::Theme,
        "t",
        "Another palette: dark, light, plain.",
    ),
    (KeyCode::Char('?'), Press::Help, "?", "This page."),
    (
        KeyCode::Esc,
        Press::Back,
        "Esc",
        "Back; what is being written is left as it was.",
    ),
    (
        KeyCode::Char('q'),
        Press::Leave,
        "q",
        "Leaves farpace; asks first where something would be lost.",
    ),
];

/// What a key asks for where no line is being written.
pub fn read(key: KeyEvent) -> Option<Press> {
    if is_interrupt(key) {
        return Some(Press::Leave);
    }
    if key.modifiers.intersects(KeyModifiers::CONTROL | KeyModifiers::ALT) {
        return None;
    }
    let code = match key.code {
        KeyCode::Char(digit @ '1'..='9') => return Some(Press::Number(digit as usize - '0' as usize)),
        KeyCode::Char(letter) => KeyCode::Char(letter.to_ascii_lowercase()),
        KeyCode::BackTab => KeyCode::Up,
        other => other,
    };
    BINDINGS
        .iter()
        .find(|(bound, ..)| *bound == code)
        .map(|(_, press, ..)| *press)
}

/// Whether it is Ctrl-C or Ctrl-D, which leave even while a line is being written.
pub fn is_interrupt(key: KeyEvent) -> bool {
    key.modifiers.contains(KeyModifiers::CONTROL) && matches!(key.code, KeyCode::Char('c' | 'd'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_means_two_things() {
        for (index, one) in BINDINGS.iter().enumerate() {
            assert!(BINDINGS[index + 1..].iter().all(|other| other.0 != one.0), "{}", one.2);
        }
    }

    #[test]
    fn shift_and_digits_are_understood() {
        let key = |code| read(KeyEvent::from(code));
        assert_eq!(key(KeyCode::Char('Q')), Some(Press::Leave));
        assert_eq!(key(KeyCode::Char('3')), Some(Press::Number(3)));
        assert_eq!(key(KeyCode::Char('0')), None);
        assert_eq!(
            read(KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL)),
            Some(Press::Leave)
        );
    }
}
