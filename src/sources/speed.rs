//! Finds the speed of a positioning receiver by trying.

use std::time::Duration;

use serialport::SerialPort;

use super::happening::{Clock, RawLine};
use super::hearing::{Lost, Window, hear};
use super::lines::LineCutter;
use super::outlet::Stop;

/// Speeds receivers come with, the usual ones first, bits a second (common practice; 4800 is NMEA 0183's own).
pub(super) const GPS_SPEEDS: [u32; 7] = [9600, 115_200, 38_400, 4800, 57_600, 19_200, 230_400];

/// How long one speed is listened at: receivers speak once a second by default.
const WINDOW: Duration = Duration::from_millis(1300);

/// A speed at which the receiver is understood.
#[derive(Debug)]
pub(super) struct FoundSpeed {
    /// Bits a second.
    pub baud: u32,
    /// What was heard at it meanwhile.
    pub lines: Vec<RawLine>,
}

/// Tries speed after speed until a position sentence with a good checksum comes, `first` before all others; `complain` is
/// told after each round in vain.
///
/// A pseudo-terminal, and a board with USB of its own, is understood at any speed, so the first one tried is found.
pub(super) fn find_speed(
    port: &mut dyn SerialPort,
    first: u32,
    cutter: &mut LineCutter,
    clock: &dyn Clock,
    stop: &Stop,
    complain: &mut dyn FnMut(Vain) -> Result<(), Lost>,
) -> Result<FoundSpeed, Lost> {
    let others = GPS_SPEEDS.into_iter().filter(|speed| *speed != first);
    let speeds: Vec<u32> = std::iter::once(first).chain(others).collect();
    let mut window_length = WINDOW;
    let mut switched = false;
    loop {
        let mut heard_bytes = false;
        for baud in &speeds {
            if switched || *baud != first {
                // A port that refuses this speed may know the next.
                if port.set_baud_rate(*baud).is_err() {
                    continue;
                }
                cutter.discard();
                switched = true;
            }
            let mut ear = Ear::default();
            let Window { lines, bytes, .. } = hear(port, cutter, clock, stop, window_length, &mut |line| {
                ear.is_convinced_by(&line.bytes)
            })?;
            if ear.convinced {
                let lines = if switched {
                    without_leading_rubbish(lines)
                } else {
                    lines
                };
                return Ok(FoundSpeed { baud: *baud, lines });
            }
            heard_bytes |= bytes > 0;
        }
        complain(if heard_bytes { Vain::Rubbish } else { Vain::Silence })?;
        // A receiver may be set to speak every other second.
        window_length = WINDOW * 2;
    }
}

/// What a round of all speeds in vain sounded like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Vain {
    /// Not a byte.
    Silence,
    /// Bytes, but no position sentence.
    Rubbish,
}

impl Vain {
    /// A sentence for the surveyor.
    pub fn words(self, path: &str) -> String {
        match self {
            Self::Silence => {
                format!("{path} is open but silent: check that the GPS has power and that its data line is connected")
            }
            Self::Rubbish => format!(
                "what {path} says is no position at any usual speed: if it is the GPS, name its speed, for example \
                 serial:{path}@9600"
            ),
        }
    }
}

/// Judges by lines whether a receiver is understood.
#[derive(Debug, Default)]
struct Ear {
    convinced: bool,
    bare_in_a_row: u32,
}

impl Ear {
    fn is_convinced_by(&mut self, line: &[u8]) -> bool {
        match sentence(line) {
            Sentence::Checked => self.convinced = true,
            // Some receivers send no checksums: two clean sentences in a row are no accident either.
            Sentence::Bare => {
                self.bare_in_a_row += 1;
                self.convinced |= self.bare_in_a_row >= 2;
            }
            Sentence::No => self.bare_in_a_row = 0,
        }
        self.convinced
    }
}

#[derive(Debug, PartialEq, Eq)]
enum Sentence {
    /// Its checksum is there and matches.
    Checked,
    /// It has the form of a sentence and no checksum.
    Bare,
    /// Anything else.
    No,
}

/// Whether `line` is `$body*hh` with `hh` the exclusive-or of the body's bytes (NMEA 0183).
fn sentence(line: &[u8]) -> Sentence {
    let line = line.trim_ascii_end();
    let Some((b'$' | b'!', body)) = line.split_first() else {
        return Sentence::No;
    };
    if let Some((body, [b'*', tens, ones])) = body.split_last_chunk::<3>() {
        let digit = |byte: u8| char::from(byte).to_digit(16);
        let sum = body.iter().fold(0, |sum, byte| sum ^ byte);
        let given = digit(*tens).zip(digit(*ones)).map(|(tens, ones)| tens * 16 + ones);
        return if given == Some(u32::from(sum)) && !body.is_empty() {
            Sentence::Checked
        } else {
            Sentence::No
        };
    }
    let mut fields = body.split(|byte| *byte == b',');
    let word_is_good = fields
        .next()
        .is_some_and(|word| word.len() >= 5 && word.iter().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit()));
    let is_clean = body.iter().all(|byte| matches!(byte, b' '..=b'~') && *byte != b'*');
    if word_is_good && is_clean && fields.next().is_some() {
        Sentence::Bare
    } else {
        Sentence::No
    }
}

/// Leaves out what was read while the speed was still being changed.
fn without_leading_rubbish(lines: Vec<RawLine>) -> Vec<RawLine> {
    lines
        .into_iter()
        .skip_while(|line| {
            line.bytes
                .iter()
                .any(|byte| !matches!(byte, b' '..=b'~' | b'\t' | b'\r'))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_is_known_by_its_checksum() {
        // A worked example of NMEA 0183 that stands in many descriptions of it (from memory): the exclusive-or of the 41
        // bytes between the marks is 28 hex.
        assert_eq!(
            sentence(b"$GPGLL,5300.97914,N,00259.98174,E,125926,A*28"),
            Sentence::Checked
        );
        assert_eq!(sentence(b"$GPGLL,5300.97914,N,00259.98174,E,125926,A*29"), Sentence::No);
        assert_eq!(sentence(b"$GPGLL,5300.97914,N,00259.98174,E,125926,A"), Sentence::Bare);
        assert_eq!(sentence(b"$GPGLL,5300.97914,N,00259.98174,E,125926,A*2"), Sentence::No);
        for other in [
            b"".as_slice(),
            b"$",
            b"$*00",
            b"lost n=1",
            b"$abc",
            b"$GPGGA",
            b"\xff\xfe$GP",
            b"*28",
        ] {
            assert_eq!(sentence(other), Sentence::No, "{other:?}");
        }
    }

    #[test]
    fn one_bare_sentence_does_not_convince_and_two_do() {
        let mut ear = Ear::default();
        assert!(!ear.is_convinced_by(b"$GPGLL,1,N"));
        assert!(!ear.is_convinced_by(b"\x80\x01"));
        assert!(!ear.is_convinced_by(b"$GPGLL,1,N"));
        assert!(ear.is_convinced_by(b"$GPGLL,2,N"));
    }

    #[test]
    fn rubbish_before_the_first_clean_line_is_left_out() {
        let line = |bytes: &[u8]| RawLine {
            bytes: bytes.to_vec(),
            left_out: 0,
            stamp: super::super::happening::Stamp::default(),
        };
        let lines = vec![line(b"\x80x"), line(b"$GPGLL,1,N"), line(b"\x80")];
        assert_eq!(without_leading_rubbish(lines.clone()), lines[1..]);
    }
}
