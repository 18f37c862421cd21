//! Listens at an open port for a while, before it is known what it says.

use std::io::Read;
use std::time::Duration;

use crossbeam_channel::after;

use super::happening::{Clock, RawLine};
use super::lines::LineCutter;
use super::outlet::{Stop, Stopped};
use super::reading::{ReadOutcome, read_once};

/// Lines after which there is enough to judge by: a bound on memory, far above what a slow line brings in a window.
const PLENTY: usize = 2000;

/// What was heard in one window of time.
#[derive(Debug, Default)]
pub(super) struct Window {
    /// Whole lines.
    pub lines: Vec<RawLine>,
    /// Bytes, those of an unfinished line included.
    pub bytes: usize,
    /// Of those, the ones that text is made of: printable ASCII, tabs and line ends.
    pub text_bytes: usize,
}

impl Window {
    /// Whether this reads like text, so that the speed of the line is right: nine bytes in ten.
    pub fn is_text(&self) -> bool {
        self.bytes > 0 && self.text_bytes * 10 >= self.bytes * 9
    }
}

/// Why listening came to nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Lost {
    /// It is to stop.
    Stopped,
    /// The port broke: unplugged.
    Broken,
}

impl From<Stopped> for Lost {
    fn from(_: Stopped) -> Self {
        Self::Stopped
    }
}

/// Listens for `length`, or until `enough` says so of a line. A line that is just coming in and reads like text so far is
/// waited for once more as long.
pub(super) fn hear(
    from: &mut dyn Read,
    cutter: &mut LineCutter,
    clock: &dyn Clock,
    stop: &Stop,
    length: Duration,
    enough: &mut dyn FnMut(&RawLine) -> bool,
) -> Result<Window, Lost> {
    let mut window = Window::default();
    let mut chunk = [0; 4096];
    let mut over = after(length);
    let mut extended = false;
    loop {
        stop.check()?;
        match read_once(from, &mut chunk) {
            ReadOutcome::Bytes(bytes) => {
                let stamp = clock.now();
                window.bytes += bytes.len();
                window.text_bytes += bytes.iter().filter(|byte| is_text(**byte)).count();
                let before = window.lines.len();
                window.lines.extend(cutter.feed(bytes, stamp));
                let mut is_enough = window.lines.len() >= PLENTY;
                for line in &window.lines[before..] {
                    is_enough |= enough(line);
                }
                if is_enough {
                    return Ok(window);
                }
            }
            ReadOutcome::Quiet => {}
            ReadOutcome::End | ReadOutcome::Broken(_) => {
                cutter.discard();
                return Err(Lost::Broken);
            }
        }
        if over.try_recv().is_ok() {
            let coming_in = !cutter.unfinished().is_empty() && cutter.unfinished().iter().copied().all(is_text);
            if extended || !coming_in {
                return Ok(window);
            }
            extended = true;
            over = after(length);
        }
    }
}

fn is_text(byte: u8) -> bool {
    matches!(byte, b' '..=b'~' | b'\t' | b'\r' | b'\n')
}
