//! Keeps the journal on a thread of its own, so that a slow disk holds up neither screen nor sources.

#![expect(clippy::disallowed_methods, reason = "this thread belongs to `app`")]

use std::thread::{self, JoinHandle};
use std::time::Duration;

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, unbounded};

use super::event::Event;
use crate::session::journal::JournalWriter;
use crate::survey::JournalLine;

/// How long a line may wait for the disk; a second is promised.
const SYNC_EVERY: Duration = Duration::from_millis(250);

/// The thread that writes the journal.
#[derive(Debug)]
pub struct Keeper {
    lines: Option<Sender<JournalLine>>,
    thread: Option<JoinHandle<Result<(), String>>>,
}

impl Keeper {
    /// Starts it; trouble with the disk, and its end, are told through `tell`.
    pub fn start(writer: JournalWriter, tell: Sender<Event>) -> Self {
        let (lines, come) = unbounded();
        let thread = thread::spawn(move || keep(writer, &come, &tell));
        Self {
            lines: Some(lines),
            thread: Some(thread),
        }
    }

    /// Hands it a line.
    pub fn append(&self, line: &JournalLine) {
        if let Some(lines) = &self.lines {
            // The receiver lives as long as the sender: it ends only when this is dropped.
            let _ = lines.send(line.clone());
        }
    }

    /// Waits until everything is on the disk.
    ///
    /// # Errors
    /// When the disk does not take it: in words.
    pub fn finish(mut self) -> Result<(), String> {
        self.lines = None;
        match self.thread.take().map(JoinHandle::join) {
            Some(Ok(result)) => result,
            Some(Err(_)) => Err("the journal's writer broke down".to_owned()),
            None => Ok(()),
        }
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        self.lines = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn keep(mut writer: JournalWriter, come: &Receiver<JournalLine>, tell: &Sender<Event>) -> Result<(), String> {
    let mut trouble = false;
    loop {
        let ended = match come.recv_timeout(SYNC_EVERY) {
            Ok(line) => {
                writer.append(&line);
                // Whatever comes within the interval goes to the disk in one piece.
                let until = crossbeam_channel::after(SYNC_EVERY);
                loop {
                    crossbeam_channel::select! {
                        recv(come) -> line => match line {
                            Ok(line) => writer.append(&line),
                            Err(_) => break true,
                        },
                        recv(until) -> _ => break false,
                    }
                }
            }
            Err(RecvTimeoutError::Timeout) => false,
            Err(RecvTimeoutError::Disconnected) => true,
        };
        if writer.is_behind() || ended {
            let done = writer.sync().map_err(|error| error.to_string());
            if done.is_err() != trouble {
                trouble = done.is_err();
                let _ = tell.send(Event::Disk(done.clone()));
            }
            if ended {
                return done;
            }
        }
    }
}
