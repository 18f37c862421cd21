//! How things look: three palettes, sixteen colours at most, and never colour alone.

use ratatui::style::{Color, Modifier, Style};

/// A palette.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Theme {
    /// Light letters on dark, for shade and night.
    #[default]
    Dark,
    /// Dark letters on light, for bright sun.
    Light,
    /// No colours at all: bold, reversed, and shapes.
    Plain,
}

/// What a piece of text or a figure means; the theme says how that looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Ordinary text.
    Text,
    /// Labels, frames, what may be overlooked.
    Quiet,
    /// What matters most now.
    Strong,
    /// It meets the goal.
    Good,
    /// It is close, or not sure yet.
    Close,
    /// It does not meet the goal; something is wrong.
    Bad,
    /// The station, the link as the board hears it.
    Here,
    /// The link as the station hears it.
    There,
    /// The key that does the main next thing.
    Key,
    /// What is chosen in a list or a field being written in.
    Chosen,
}

impl Theme {
    /// How a tone looks. Good is blue-green and bad is orange-red with bold, so that colour-blind eyes tell them apart;
    /// a shape or a word always goes with them.
    pub fn style(self, tone: Tone) -> Style {
        let plain = Style::new();
        match self {
            Self::Plain => match tone {
                Tone::Text | Tone::Here | Tone::Close | Tone::Good => plain,
                Tone::Quiet | Tone::There => plain.add_modifier(Modifier::DIM),
                Tone::Strong | Tone::Bad | Tone::Key => plain.add_modifier(Modifier::BOLD),
                Tone::Chosen => plain.add_modifier(Modifier::REVERSED),
            },
            Self::Dark => match tone {
                Tone::Text => plain.fg(Color::Gray),
                Tone::Quiet => plain.fg(Color::DarkGray),
                Tone::Strong | Tone::Key => plain.fg(Color::White).add_modifier(Modifier::BOLD),
                Tone::Good => plain.fg(Color::LightCyan).add_modifier(Modifier::BOLD),
                Tone::Close => plain.fg(Color::LightYellow),
                Tone::Bad => plain.fg(Color::LightRed).add_modifier(Modifier::BOLD),
                Tone::Here => plain.fg(Color::LightBlue),
                Tone::There => plain.fg(Color::LightMagenta),
                Tone::Chosen => plain.fg(Color::Black).bg(Color::LightCyan),
            },
            Self::Light => match tone {
                Tone::Text => plain.fg(Color::Black),
                Tone::Quiet => plain.fg(Color::DarkGray),
                Tone::Strong | Tone::Key => plain.fg(Color::Black).add_modifier(Modifier::BOLD),
                Tone::Good => plain.fg(Color::Blue).add_modifier(Modifier::BOLD),
                Tone::Close | Tone::There => plain.fg(Color::Magenta),
                Tone::Bad => plain.fg(Color::Red).add_modifier(Modifier::BOLD),
                Tone::Here => plain.fg(Color::Blue),
                Tone::Chosen => plain.fg(Color::White).bg(Color::Blue),
            },
        }
    }

    /// The ground of the whole screen: the light theme brings its own, so that it works in a dark terminal too.
    pub fn ground(self) -> Style {
        match self {
            Self::Dark | Self::Plain => Style::new(),
            Self::Light => Style::new().bg(Color::White).fg(Color::Black),
        }
    }
}
