//! Cuts a stream of bytes into lines, in bounded memory.

use super::happening::{RawLine, Stamp};

/// Bytes kept of a line of a node or a receiver.
pub const LINE_CAP: usize = 512;

/// Bytes kept of a line of a gpsd server, whose sky reports are long.
pub const GPSD_LINE_CAP: usize = 16_384;

/// Cuts a stream of bytes into lines at LF.
///
/// A CR straight before the LF belongs to the line end; any other CR, a NUL, bytes that are no UTF-8 stay in the line.
/// Of a long line the first `cap` bytes are kept and the rest is counted, so memory stays bounded whatever comes.
#[derive(Clone, Debug)]
pub struct LineCutter {
    cap: usize,
    kept: Vec<u8>,
    left_out: usize,
    /// A CR came last: whether it belongs to the line shows with the next byte.
    held_cr: bool,
}

impl LineCutter {
    /// A cutter that keeps the first `cap` bytes of a line.
    pub fn new(cap: usize) -> Self {
        Self {
            cap,
            kept: Vec::new(),
            left_out: 0,
            held_cr: false,
        }
    }

    /// Takes what one read brought, and gives the lines it completed, all stamped with that read.
    pub fn feed(&mut self, mut bytes: &[u8], stamp: Stamp) -> Vec<RawLine> {
        let mut lines = Vec::new();
        while let Some(end) = bytes.iter().position(|byte| *byte == b'\n') {
            self.hold(&bytes[..end]);
            self.held_cr = false;
            lines.push(self.take(stamp));
            bytes = &bytes[end + 1..];
        }
        self.hold(bytes);
        lines
    }

    /// Ends the stream where its end is a line's end too (a file, a datagram): gives the last line if it had no LF.
    pub fn finish(&mut self, stamp: Stamp) -> Option<RawLine> {
        self.is_within_line().then(|| {
            self.held_cr = false;
            self.take(stamp)
        })
    }

    /// Forgets an unfinished line: what a break of the source tore is not used.
    pub fn discard(&mut self) {
        self.kept.clear();
        self.left_out = 0;
        self.held_cr = false;
    }

    /// Whether an unfinished line is waiting.
    pub fn is_within_line(&self) -> bool {
        !self.kept.is_empty() || self.left_out > 0 || self.held_cr
    }

    /// The kept bytes of the unfinished line.
    pub fn unfinished(&self) -> &[u8] {
        &self.kept
    }

    fn take(&mut self, stamp: Stamp) -> RawLine {
        RawLine {
            bytes: std::mem::take(&mut self.kept),
            left_out: std::mem::take(&mut self.left_out),
            stamp,
        }
    }

    fn hold(&mut self, bytes: &[u8]) {
        let Some((last, before)) = bytes.split_last() else {
            return;
        };
        if std::mem::take(&mut self.held_cr) {
            self.keep(b"\r");
        }
        if *last == b'\r' {
            self.keep(before);
            self.held_cr = true;
        } else {
            self.keep(bytes);
        }
    }

    fn keep(&mut self, bytes: &[u8]) {
        let room = self.cap - self.kept.len();
        let fits = room.min(bytes.len());
        self.kept.extend_from_slice(&bytes[..fits]);
        self.left_out = self.left_out.saturating_add(bytes.len() - fits);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn at(elapsed_us: u64) -> Stamp {
        Stamp { elapsed_us, utc_ms: 0 }
    }

    fn texts(lines: &[RawLine]) -> Vec<&[u8]> {
        lines.iter().map(|line| line.bytes.as_slice()).collect()
    }

    #[test]
    fn line_ends_are_lf_and_crlf_and_blank_lines_count() {
        let mut cutter = LineCutter::new(LINE_CAP);
        let lines = cutter.feed(b"lost n=1\r\nlost n=2\n\n\r\nx", at(7));
        assert_eq!(texts(&lines), [b"lost n=1".as_slice(), b"lost n=2", b"", b""]);
        assert!(lines.iter().all(|line| line.stamp == at(7) && line.left_out == 0));
        assert_eq!(cutter.unfinished(), b"x");
    }

    #[test]
    fn a_line_carries_the_stamp_of_the_read_that_completed_it() {
        let mut cutter = LineCutter::new(LINE_CAP);
        assert!(cutter.feed(b"lost ", at(1)).is_empty());
        assert!(cutter.feed(b"n=1\r", at(2)).is_empty());
        let lines = cutter.feed(b"\nlost", at(3));
        assert_eq!(texts(&lines), [b"lost n=1".as_slice()]);
        assert_eq!(lines[0].stamp, at(3));
    }

    #[test]
    fn a_lone_cr_stays_inside_the_line() {
        let mut cutter = LineCutter::new(LINE_CAP);
        let lines = cutter.feed(b"a\rb\r\r\n", at(0));
        assert_eq!(texts(&lines), [b"a\rb\r".as_slice()]);
    }

    #[test]
    fn a_long_line_is_capped_and_its_rest_counted() {
        let mut cutter = LineCutter::new(4);
        let lines = cutter.feed(b"abcd\r\nabcdef\r\nabcd\rx\n", at(0));
        assert_eq!(texts(&lines), [b"abcd".as_slice(), b"abcd", b"abcd"]);
        assert_eq!(lines.iter().map(|line| line.left_out).collect::<Vec<_>>(), [0, 2, 2]);
        for _ in 0..10_000 {
            assert!(cutter.feed(&[b'z'; 1000], at(0)).is_empty());
        }
        assert!(cutter.kept.capacity() <= 64, "memory grows with the line");
        assert_eq!(cutter.feed(b"\n", at(0))[0].left_out, 9_999_996);
    }

    #[test]
    fn a_torn_line_is_discarded_and_a_finished_one_delivered() {
        let mut cutter = LineCutter::new(LINE_CAP);
        cutter.feed(b"lost n=", at(0));
        cutter.discard();
        assert_eq!(texts(&cutter.feed(b"lost n=9\n", at(0))), [b"lost n=9".as_slice()]);
        assert_eq!(cutter.finish(at(1)), None);
        cutter.feed(b"lost n=10\r", at(1));
        assert_eq!(cutter.finish(at(2)).unwrap().bytes, b"lost n=10");
        assert_eq!(cutter.finish(at(2)), None);
    }

    proptest! {
        #[test]
        fn how_the_bytes_are_split_into_reads_makes_no_difference(
            bytes in proptest::collection::vec(prop_oneof![Just(b'\n'), Just(b'\r'), any::<u8>()], 0..200),
            cuts in proptest::collection::vec(0usize..200, 0..8),
            cap in 1usize..20,
        ) {
            let mut whole = LineCutter::new(cap);
            let mut expected = whole.feed(&bytes, at(0));
            expected.extend(whole.finish(at(0)));

            let mut pieces = LineCutter::new(cap);
            let mut cuts: Vec<usize> = cuts.into_iter().map(|cut| cut.min(bytes.len())).collect();
            cuts.push(bytes.len());
            cuts.sort_unstable();
            let mut got = Vec::new();
            let mut from = 0;
            for to in cuts {
                got.extend(pieces.feed(&bytes[from..to], at(0)));
                from = to;
            }
            got.extend(pieces.finish(at(0)));
            prop_assert_eq!(&got, &expected);
            prop_assert!(got.iter().all(|line| line.bytes.len() <= cap));
            let ends = bytes.split(|byte| *byte == b'\n').count() - 1;
            prop_assert!(got.len() == ends || got.len() == ends + 1);
        }
    }
}
