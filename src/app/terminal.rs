//! The terminal: set up for the full screen, put back however the program ends, read on a thread of its own.

#![expect(clippy::disallowed_methods, reason = "the thread that reads keys belongs to `app`")]

use std::io::{self, IsTerminal as _, Stdout, Write as _};
use std::sync::{Mutex, PoisonError};
use std::thread;

use crossbeam_channel::Sender;
use crossterm::terminal::{EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode};
use crossterm::{cursor, event, execute};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::event::Event;
use crate::cli::ThemeWord;
use crate::screens::theme::Theme;

/// The palette: as asked for, else plain where `NO_COLOR` is set and not empty, else dark.
pub fn theme(asked: Option<ThemeWord>) -> Theme {
    match asked {
        Some(ThemeWord::Dark) => Theme::Dark,
        Some(ThemeWord::Light) => Theme::Light,
        Some(ThemeWord::Plain) => Theme::Plain,
        None if std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty()) => Theme::Plain,
        None => Theme::Dark,
    }
}

/// Says why there is no full screen, before a survey is begun for one.
///
/// # Errors
/// When standard input or output is no terminal: in words that say what to do instead.
pub fn must_be_there(instead: &str) -> anyhow::Result<()> {
    anyhow::ensure!(
        io::stdout().is_terminal() && io::stdin().is_terminal(),
        "the full screen needs a terminal, and standard input or output is none: {instead}"
    );
    Ok(())
}

/// The full screen; dropping it puts the terminal back.
#[derive(Debug)]
pub struct Screen {
    terminal: Terminal<CrosstermBackend<Stdout>>,
}

impl Screen {
    /// Sets the terminal up. A panic puts it back before its message is printed.
    ///
    /// # Errors
    /// When the terminal refuses.
    pub fn set_up() -> io::Result<Self> {
        // Whether there is colour is the theme's matter: `NO_COLOR` was read already.
        crossterm::style::force_color_output(true);
        let usual = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            let _ = put_back();
            usual(panic);
        }));
        enable_raw_mode()?;
        let begun = execute!(io::stdout(), EnterAlternateScreen, cursor::Hide)
            .and_then(|()| Terminal::new(CrosstermBackend::new(io::stdout())));
        match begun {
            Ok(terminal) => Ok(Self { terminal }),
            Err(error) => {
                let _ = put_back();
                Err(error)
            }
        }
    }

    /// Draws a page, and rings the bell where the page says so.
    ///
    /// # Errors
    /// When the terminal is gone.
    pub fn draw(&mut self, page: impl FnOnce(&mut Buffer, Rect) -> bool) -> io::Result<()> {
        let mut rings = false;
        self.terminal.draw(|frame| {
            let area = frame.area();
            rings = page(frame.buffer_mut(), area);
        })?;
        if rings {
            let mut out = io::stdout();
            out.write_all(b"\x07")?;
            out.flush()?;
        }
        Ok(())
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        // Nothing more can be done where the terminal is gone.
        let _ = put_back();
    }
}

fn put_back() -> io::Result<()> {
    let raw = disable_raw_mode();
    execute!(io::stdout(), LeaveAlternateScreen, cursor::Show)?;
    raw
}

/// Reads keys and changes of size, and tells them from here on to `tell`, until the terminal is gone.
///
/// One thread reads for the whole program: a second one would take turns with the first, and every other key would go to
/// a page that is closed.
pub fn read_keys(tell: Sender<Event>) {
    static LISTENER: Mutex<Option<Sender<Event>>> = Mutex::new(None);
    let listener = || LISTENER.lock().unwrap_or_else(PoisonError::into_inner);
    let is_read = listener().replace(tell).is_some();
    if is_read {
        return;
    }
    thread::spawn(move || {
        loop {
            let (event, is_over) = match event::read() {
                Ok(event) => (Event::Terminal(event), false),
                Err(error) => (Event::TerminalLost(error.to_string()), true),
            };
            // Between two pages nobody listens, and a key means nothing.
            let to = listener().clone();
            let _ = to.map(|to| to.send(event));
            if is_over {
                *listener() = None;
                return;
            }
        }
    });
}
