//! One read from whatever can be read with a time limit.

use std::io::{ErrorKind, Read};
use std::time::Duration;

use super::happening::{Clock, Happening};
use super::lines::LineCutter;
use super::outlet::{Outlet, Stopped};

/// How long one read waits: so often a quiet reader looks whether it is to stop.
pub(super) const READ_WAIT: Duration = Duration::from_millis(100);

/// What one read brought.
#[derive(Debug)]
pub(super) enum ReadOutcome<'a> {
    /// These bytes.
    Bytes(&'a [u8]),
    /// Nothing in the time given.
    Quiet,
    /// The stream is at its end.
    End,
    /// The stream broke.
    Broken(std::io::Error),
}

/// Reads once into `chunk`.
pub(super) fn read_once<'a>(from: &mut dyn Read, chunk: &'a mut [u8]) -> ReadOutcome<'a> {
    match from.read(chunk) {
        Ok(0) => ReadOutcome::End,
        Ok(count) => ReadOutcome::Bytes(&chunk[..count.min(chunk.len())]),
        Err(error) if is_waiting(error.kind()) => ReadOutcome::Quiet,
        Err(error) => ReadOutcome::Broken(error),
    }
}

/// How a stream came to stand still.
#[derive(Debug)]
pub(super) struct Broke {
    /// What went wrong; `None` when the stream came to its end.
    pub error: Option<std::io::Error>,
    /// Lines handed on before.
    pub lines: u64,
}

/// Hands on lines until the stream ends or breaks; what was torn is discarded.
pub(super) fn read_lines(
    from: &mut dyn Read,
    cutter: &mut LineCutter,
    clock: &dyn Clock,
    outlet: &Outlet,
) -> Result<Broke, Stopped> {
    let mut chunk = [0; 4096];
    let mut lines = 0;
    loop {
        outlet.stop.check()?;
        let error = match read_once(from, &mut chunk) {
            ReadOutcome::Bytes(bytes) => {
                let stamp = clock.now();
                for line in cutter.feed(bytes, stamp) {
                    outlet.say(Happening::Line(line))?;
                    lines += 1;
                }
                continue;
            }
            ReadOutcome::Quiet => continue,
            ReadOutcome::End => None,
            ReadOutcome::Broken(error) => Some(error),
        };
        cutter.discard();
        return Ok(Broke { error, lines });
    }
}

fn is_waiting(kind: ErrorKind) -> bool {
    matches!(
        kind,
        ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted
    )
}
