//! A pseudo-terminal that stands in for gear: what is written into it is read from a serial port.

use std::io::{self, ErrorKind, Write};
use std::path::PathBuf;
use std::time::Duration;

use crossbeam_channel::{after, select};
use serialport::{SerialPort, TTYPort};

/// How long one write waits for a slow reader before the writer is asked whether to go on.
const WRITE_WAIT: Duration = Duration::from_millis(50);

/// How often in a row, and how far apart, an empty terminal is looked at before all is taken for read.
const EMPTY_LOOKS: u32 = 3;
const LOOK_PAUSE: Duration = Duration::from_millis(10);

/// Invented gear on a pseudo-terminal; dropped, it is unplugged.
///
/// Its own hold on the far end keeps lines waiting until a reader opens it, as a board's USB buffer does.
#[derive(Debug)]
pub struct PtyPair {
    near: TTYPort,
    far: TTYPort,
    path: String,
    link: Option<PathBuf>,
}

/// What became of bytes that were written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Written {
    /// All are on their way.
    All,
    /// The reader is slow, or there is none: only so many bytes found room.
    Partly(usize),
}

impl PtyPair {
    /// Makes a pseudo-terminal.
    ///
    /// # Errors
    /// Where the system has no further pseudo-terminal to give.
    pub fn new() -> io::Result<Self> {
        let (mut near, far) = TTYPort::pair()?;
        near.set_timeout(WRITE_WAIT)?;
        let path = far
            .name()
            .ok_or_else(|| io::Error::new(ErrorKind::NotFound, "the pseudo-terminal has no name"))?;
        Ok(Self {
            near,
            far,
            path,
            link: None,
        })
    }

    /// Makes a pseudo-terminal that is found under the name `link`, a symbolic link put in place in one step.
    ///
    /// Gear that is plugged in again under the same `link` is found again there, whatever number the system gives it. The
    /// link goes when the gear is unplugged.
    ///
    /// # Errors
    /// Where the system has no further pseudo-terminal to give, or the link's folder cannot be written to.
    pub fn with_link(link: impl Into<PathBuf>) -> io::Result<Self> {
        let link = link.into();
        let mut pair = Self::new()?;
        let mut beside = link.clone().into_os_string();
        beside.push(".new");
        std::os::unix::fs::symlink(&pair.path, &beside)?;
        std::fs::rename(&beside, &link)?;
        pair.link = Some(link);
        Ok(pair)
    }

    /// Where a reader opens it: the link if there is one, else the device.
    pub fn path(&self) -> String {
        match &self.link {
            Some(link) => link.to_string_lossy().into_owned(),
            None => self.path.clone(),
        }
    }

    /// Writes as much of `bytes` as finds room, waiting at most a twentieth of a second for more.
    ///
    /// # Errors
    /// Where the pseudo-terminal itself fails; a reader that is slow or gone is no error.
    pub fn write(&mut self, bytes: &[u8]) -> io::Result<Written> {
        let mut done = 0;
        while done < bytes.len() {
            // A terminal takes bytes in pieces; a large one would wait without a limit for the reader.
            let piece = &bytes[done..bytes.len().min(done + 256)];
            match self.near.write(piece) {
                Ok(count) => done += count,
                Err(error) if error.kind() == ErrorKind::TimedOut => return Ok(Written::Partly(done)),
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(Written::All)
    }

    /// How many bytes wait to be read: more than a moment's worth means that the reader is slow.
    ///
    /// What was written the instant before may not be counted yet.
    ///
    /// # Errors
    /// Where the pseudo-terminal itself fails.
    pub fn waiting(&self) -> io::Result<usize> {
        Ok(self.far.bytes_to_read()? as usize)
    }

    /// Waits until the reader has taken everything, at most for `limit`; says whether it has.
    ///
    /// # Errors
    /// Where the pseudo-terminal itself fails.
    pub fn wait_until_read(&self, limit: Duration) -> io::Result<bool> {
        let over = after(limit);
        let mut empty_looks = 0;
        loop {
            // One empty look may come before the system has carried over what was written last.
            empty_looks = if self.waiting()? == 0 { empty_looks + 1 } else { 0 };
            if empty_looks >= EMPTY_LOOKS {
                return Ok(true);
            }
            select! {
                recv(over) -> _ => return Ok(false),
                recv(after(LOOK_PAUSE)) -> _ => {}
            }
        }
    }

    /// Unplugs the gear: its link goes first, then the reader sees the hang-up; what waits unread is lost, as with a cable.
    pub fn unplug(self) {
        drop(self);
    }
}

impl Drop for PtyPair {
    fn drop(&mut self) {
        if let Some(link) = &self.link {
            // Another may have been put in its place already.
            if std::fs::read_link(link).is_ok_and(|target| target.as_os_str() == self.path.as_str()) {
                let _ = std::fs::remove_file(link);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Read;

    use super::*;

    #[test]
    fn a_slow_reader_is_noticed_and_nothing_taken_is_lost() {
        let mut pair = PtyPair::new().unwrap();
        let line = [b'x'; 1024];
        let mut taken = 0;
        let full = loop {
            match pair.write(&line).unwrap() {
                Written::All => taken += line.len(),
                Written::Partly(count) => break taken + count,
            }
            assert!(taken < 10_000_000, "a pseudo-terminal nobody reads never fills");
        };
        assert!(pair.waiting().unwrap() > 0);
        assert!(!pair.wait_until_read(Duration::from_millis(50)).unwrap());
        let mut reader = super::super::refusal::open_port(&pair.path(), 115_200).unwrap();
        let mut read = 0;
        let mut chunk = [0; 4096];
        while read < full {
            read += reader.read(&mut chunk).unwrap();
        }
        assert_eq!(read, full);
        assert!(pair.wait_until_read(Duration::from_secs(60)).unwrap());
    }

    #[test]
    fn bytes_pass_unchanged() {
        let mut pair = PtyPair::new().unwrap();
        let mut reader = super::super::refusal::open_port(&pair.path(), 115_200).unwrap();
        let every_byte: Vec<u8> = (0..=255).collect();
        assert_eq!(pair.write(&every_byte).unwrap(), Written::All);
        let mut got = Vec::new();
        let mut chunk = [0; 4096];
        while got.len() < 256 {
            let count = reader.read(&mut chunk).unwrap();
            got.extend_from_slice(&chunk[..count]);
        }
        assert_eq!(got, every_byte);
    }

    #[test]
    fn the_link_goes_with_the_gear_and_a_newer_one_stays() {
        let folder = tempfile::tempdir().unwrap();
        let link = folder.path().join("gps0");
        let first = PtyPair::with_link(&link).unwrap();
        assert_eq!(std::fs::read_link(&link).unwrap().to_str(), Some(first.path.as_str()));
        let second = PtyPair::with_link(&link).unwrap();
        first.unplug();
        assert_eq!(std::fs::read_link(&link).unwrap().to_str(), Some(second.path.as_str()));
        second.unplug();
        assert!(std::fs::symlink_metadata(&link).is_err());
    }
}
