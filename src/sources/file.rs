//! A file, or standard input, read to its end.
//!
//! The end of a file is no break: a last line without LF is a line. Standard input ends when whoever wrote it ends, in
//! the middle of a line perhaps: there it is a torn one, as at any break, and not used. Reading from a pipe cannot be interrupted, so it is
//! done by a thread of its own, which the order to stop leaves behind; it ends with its read, or with the program.

use std::fs::File;
use std::io::{self, ErrorKind, Read};
use std::path::Path;
use std::sync::Arc;
use std::thread;

use crossbeam_channel::{Receiver, bounded};

use super::address::Address;
use super::happening::{Clock, Happening, Stamp};
use super::lines::{LINE_CAP, LineCutter};
use super::outlet::{Outlet, Stopped};

/// Bytes in one read, and how many reads may be ahead of the reader of lines.
const CHUNK: usize = 32 * 1024;
const CHUNKS_AHEAD: usize = 2;

/// What the reading thread hands over.
enum Piece {
    Opened,
    Bytes(Vec<u8>, Stamp),
    End(Stamp),
    Failed(io::Error),
}

/// Reads the file at `path`, as fast as the lines are taken.
pub(super) fn run_file(path: &Path, clock: &Arc<dyn Clock>, outlet: &Outlet) -> Result<(), Stopped> {
    let address = Address::File(path.to_owned()).to_string();
    let owned = path.to_owned();
    let pieces = pieces_of(clock, move || File::open(owned));
    hand_on(&pieces, &address, true, outlet, |error| match error.kind() {
        ErrorKind::NotFound => format!("{} is not there: check the name and the folder", path.display()),
        ErrorKind::PermissionDenied => {
            format!("{} may not be read by this user: check its permissions", path.display())
        }
        ErrorKind::IsADirectory => format!("{} is a folder: name a file in it", path.display()),
        _ => format!("{} cannot be read: {error}", path.display()),
    })
}

/// Reads standard input.
pub(super) fn run_stdin(clock: &Arc<dyn Clock>, outlet: &Outlet) -> Result<(), Stopped> {
    let pieces = pieces_of(clock, || Ok(io::stdin()));
    hand_on(&pieces, &Address::Stdin.to_string(), false, outlet, |error| {
        format!("standard input cannot be read: {error}")
    })
}

fn pieces_of<R: Read>(
    clock: &Arc<dyn Clock>,
    open: impl FnOnce() -> io::Result<R> + Send + 'static,
) -> Receiver<Piece> {
    let clock = Arc::clone(clock);
    let (send, pieces) = bounded(CHUNKS_AHEAD);
    let failed = send.clone();
    let started = thread::Builder::new().name("source file".to_owned()).spawn(move || {
        let mut from = match open() {
            Ok(from) => from,
            Err(error) => {
                // Nobody there to hear it is the only way to fail, and then it need not be heard.
                let _ = send.send(Piece::Failed(error));
                return;
            }
        };
        if send.send(Piece::Opened).is_err() {
            return;
        }
        let mut chunk = vec![0; CHUNK];
        loop {
            let piece = match from.read(&mut chunk) {
                Ok(0) => Piece::End(clock.now()),
                Ok(count) => Piece::Bytes(chunk[..count].to_vec(), clock.now()),
                Err(error) if error.kind() == ErrorKind::Interrupted => continue,
                Err(error) => Piece::Failed(error),
            };
            let last = !matches!(piece, Piece::Bytes(..));
            if send.send(piece).is_err() || last {
                return;
            }
        }
    });
    if let Err(error) = started {
        let _ = failed.try_send(Piece::Failed(error));
    }
    pieces
}

fn hand_on(
    pieces: &Receiver<Piece>,
    address: &str,
    end_is_whole: bool,
    outlet: &Outlet,
    words: impl Fn(&io::Error) -> String,
) -> Result<(), Stopped> {
    let mut cutter = LineCutter::new(LINE_CAP);
    while let Some(piece) = outlet.stop.wait_for(pieces)? {
        match piece {
            Piece::Opened => outlet.say(Happening::Up {
                address: address.to_owned(),
            })?,
            Piece::Bytes(bytes, stamp) => {
                for line in cutter.feed(&bytes, stamp) {
                    outlet.say(Happening::Line(line))?;
                }
            }
            Piece::End(stamp) => {
                if let Some(line) = cutter.finish(stamp).filter(|_| end_is_whole) {
                    outlet.say(Happening::Line(line))?;
                }
            }
            Piece::Failed(error) => outlet.say(Happening::Trouble { why: words(&error) })?,
        }
    }
    outlet.say(Happening::Ended)
}
