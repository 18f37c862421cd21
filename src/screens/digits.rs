//! Big digits, to be read at arm's length: each a picture of 3 × 5 squares, drawn small or large.
//!
//! ```text
//! small     █▀█ █▀█      large  ██████  ██████
//!           ▀▀█ █▀█             ██  ██  ██  ██
//!           ▀▀▀ ▀▀▀             ██████  ██████
//!                                   ██  ██  ██
//!                               ██████  ██████
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use super::paint::put;

/// How big.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// Three lines high, three columns a digit.
    Small,
    /// Five lines high, six columns a digit.
    Large,
}

impl Scale {
    /// Lines a digit takes.
    pub const fn height(self) -> u16 {
        match self {
            Self::Small => 3,
            Self::Large => 5,
        }
    }

    /// Columns a digit takes, with the gap after it.
    pub const fn advance(self) -> u16 {
        match self {
            Self::Small => 4,
            Self::Large => 8,
        }
    }
}

/// Rows from the top, three bits each, the left square the highest.
const fn picture(letter: char) -> [u8; 5] {
    match letter {
        '0' => [0b111, 0b101, 0b101, 0b101, 0b111],
        '1' => [0b010, 0b110, 0b010, 0b010, 0b111],
        '2' => [0b111, 0b001, 0b111, 0b100, 0b111],
        '3' => [0b111, 0b001, 0b111, 0b001, 0b111],
        '4' => [0b101, 0b101, 0b111, 0b001, 0b001],
        '5' => [0b111, 0b100, 0b111, 0b001, 0b111],
        '6' => [0b111, 0b100, 0b111, 0b101, 0b111],
        '7' => [0b111, 0b001, 0b001, 0b001, 0b001],
        '8' => [0b111, 0b101, 0b111, 0b101, 0b111],
        '9' => [0b111, 0b101, 0b111, 0b001, 0b111],
        _ => [0, 0, 0b111, 0, 0],
    }
}

/// Draws digits at a place of an area, and says how many columns they took. Any other letter becomes a dash.
pub fn draw(buffer: &mut Buffer, area: Rect, (x, y): (u16, u16), text: &str, scale: Scale, style: Style) -> u16 {
    let mut at = x;
    for letter in text.chars() {
        let rows = picture(letter);
        for line in 0..scale.height() {
            let drawn: String = (0..3)
                .rev()
                .map(|bit| {
                    let on = |row: u16| rows.get(usize::from(row)).is_some_and(|row| row >> bit & 1 == 1);
                    match scale {
                        Scale::Large => {
                            if on(line) {
                                "██"
                            } else {
                                "  "
                            }
                        }
                        Scale::Small => match (on(2 * line), on(2 * line + 1)) {
                            (true, true) => "█",
                            (true, false) => "▀",
                            (false, true) => "▄",
                            (false, false) => " ",
                        },
                    }
                })
                .collect();
            put(buffer, area, (at, y + line), &drawn, style);
        }
        at += scale.advance();
    }
    at - x
}
