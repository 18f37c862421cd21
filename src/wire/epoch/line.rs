//! A position line, read by itself: what it means depends on those around it, what it says does not.

use crate::wire::gpsd::{self, Report};
use crate::wire::nmea::Sentence;
use crate::wire::nmea::framing::{Framed, sentences};
use crate::wire::nmea::sentence;

/// What a position line says.
#[derive(Clone, Debug, PartialEq)]
pub enum PositionLine {
    /// Nothing.
    Blank,
    /// A report of a gpsd server; `None` where it is malformed.
    Report(Option<Report>),
    /// One sentence or several, or pieces of them: nearly always one.
    Sentences(Piece, Vec<Piece>),
    /// No sentence.
    Garbled,
}

/// A sentence, or a piece of one.
#[derive(Clone, Debug, PartialEq)]
pub enum Piece {
    /// Its checksum matches; `None` where a field that counts is malformed.
    Good(Option<Sentence>),
    /// It has no checksum.
    NoChecksum {
        /// What it says; `None` where a field that counts is malformed.
        sentence: Option<Sentence>,
        /// Whether it has all fields that count, and was not cut short among them.
        whole: bool,
    },
    /// Its checksum does not match.
    BadChecksum,
    /// It is no whole sentence.
    Garbled,
}

impl PositionLine {
    /// Reads a line, with or without its line end.
    pub fn read(line: &[u8]) -> Self {
        let line = line.trim_ascii();
        if line.is_empty() {
            return Self::Blank;
        }
        if line.starts_with(b"{") {
            return Self::Report(gpsd::read(line).ok());
        }
        let mut pieces = sentences(line).map(|framed| match framed {
            Framed::Good(body) => Piece::Good(sentence::read(body).ok()),
            Framed::NoChecksum(body) => Piece::NoChecksum {
                sentence: sentence::read(body).ok(),
                whole: sentence::is_whole(body),
            },
            Framed::BadChecksum => Piece::BadChecksum,
            Framed::Garbled => Piece::Garbled,
        });
        let first = pieces.next();
        first.map_or(Self::Garbled, |first| Self::Sentences(first, pieces.collect()))
    }
}
