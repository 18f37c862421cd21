//! Signals that tell the program to end become events like any other.

#![expect(clippy::disallowed_methods, reason = "this thread belongs to `app`")]

use std::io;
use std::thread;

use crossbeam_channel::Sender;

use super::event::Event;

/// Watches for SIGINT, SIGTERM and SIGHUP. A second one does not kill the program while it finishes its files.
///
/// # Errors
/// When the system refuses.
#[cfg(unix)]
pub fn watch(tell: Sender<Event>) -> io::Result<()> {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    let mut signals = signal_hook::iterator::Signals::new([SIGINT, SIGTERM, SIGHUP])?;
    thread::spawn(move || {
        for signal in signals.forever() {
            let name = match signal {
                SIGINT => "SIGINT",
                SIGTERM => "SIGTERM",
                _ => "SIGHUP",
            };
            if tell.send(Event::Stop(name)).is_err() {
                return;
            }
        }
    });
    Ok(())
}

/// Elsewhere the program ends by its own keys.
///
/// # Errors
/// None.
#[cfg(not(unix))]
pub fn watch(_: Sender<Event>) -> io::Result<()> {
    Ok(())
}
