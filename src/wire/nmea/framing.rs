//! Sentences found in a line as it came: whatever stands before, between and after them is passed over.

use crate::wire::pairs::{exclusive_or, hex_pair};

/// One sentence of a line, before its fields are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Framed<'a> {
    /// What stands between `$` and `*`, its checksum matching.
    Good(&'a str),
    /// A sentence whose checksum does not match.
    BadChecksum,
    /// What stands after `$` on a line that holds nothing but one sentence without a checksum.
    ///
    /// Whether a receiver may be believed without checksums is for the reader of its epochs to say.
    NoChecksum(&'a str),
    /// A `$` or `!` that begins no whole sentence.
    Garbled,
}

/// Finds the sentences of a line, in order: `$` or `!`, an address, fields of printable ASCII, `*`, two hex digits of
/// either case. A `$` or `!` inside a sentence begins another, so that a sentence cut short does not take the next one
/// with it.
pub fn sentences(line: &[u8]) -> impl Iterator<Item = Framed<'_>> {
    let line = line.trim_ascii_end();
    let starts = line
        .iter()
        .enumerate()
        .filter(|&(_, &byte)| is_start(byte))
        .map(|(at, _)| at);
    starts.map(move |start| {
        let tail = &line[start + 1..];
        let end = tail
            .iter()
            .position(|&byte| is_start(byte) || !is_text(byte))
            .unwrap_or(tail.len());
        // Printable ASCII is UTF-8, and an empty text begins no sentence.
        let text = std::str::from_utf8(&tail[..end]).unwrap_or_default();
        let whole = end == tail.len();
        match checksum(text) {
            _ if !has_address(text) => Framed::Garbled,
            Some((body, given)) if exclusive_or(body.as_bytes()) == given => Framed::Good(body),
            Some(_) => Framed::BadChecksum,
            None if whole && start == 0 && !text.contains('*') => Framed::NoChecksum(text),
            None => Framed::Garbled,
        }
    })
}

/// The body before the first `*hh`, and the number that gives.
fn checksum(text: &str) -> Option<(&str, u8)> {
    text.match_indices('*').find_map(|(at, _)| {
        let digits = text.as_bytes().get(at + 1..at + 3)?;
        Some((&text[..at], hex_pair([digits[0], digits[1]])?))
    })
}

/// Whether an address of two to ten capitals and digits, then a comma, comes first.
fn has_address(text: &str) -> bool {
    let Some((address, _)) = text.split_once(',') else {
        return false;
    };
    (2..=10).contains(&address.len())
        && address.starts_with(|c: char| c.is_ascii_uppercase())
        && address.chars().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit())
}

const fn is_start(byte: u8) -> bool {
    matches!(byte, b'$' | b'!')
}

const fn is_text(byte: u8) -> bool {
    matches!(byte, b' '..=b'~')
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn found(line: &[u8]) -> Vec<Framed<'_>> {
        sentences(line).collect()
    }

    #[test]
    fn a_sentence_is_found_among_junk() {
        let zda = Framed::Good("GPZDA,082710.00,16,09,2002,00,00");
        assert_eq!(found(b"$GPZDA,082710.00,16,09,2002,00,00*64\r\n"), [zda]);
        assert_eq!(found(b"\x00\xff#$GPZDA,082710.00,16,09,2002,00,00*64"), [zda]);
        assert_eq!(
            found(b"$GPZDA,0827$GPZDA,082710.00,16,09,2002,00,00*64junk"),
            [Framed::Garbled, zda]
        );
        let both = b"$GPZDA,082710.00,16,09,2002,00,00*64$GPZDA,082710.00,16,09,2002,00,00*64";
        assert_eq!(found(both), [zda, zda]);
        assert_eq!(
            found(b"$GPVTG,77.52,T,,M,0.004,N,0.008,K,A*06"),
            found(b"$GPVTG,77.52,T,,M,0.004,N,0.008,K,A*06 ")
        );
        assert_eq!(found(b"$GPGSV,1,1,00*79"), [Framed::Good("GPGSV,1,1,00")]);
    }

    #[test]
    fn a_checksum_of_either_case_must_match() {
        assert_eq!(
            found(b"$GPGLL,4916.45,N,12311.12,W,225444,A,*1d"),
            [Framed::Good("GPGLL,4916.45,N,12311.12,W,225444,A,")]
        );
        assert_eq!(
            found(b"$GPGLL,4916.45,N,12311.12,W,225444,A,*1E"),
            [Framed::BadChecksum]
        );
        assert_eq!(found(b"$GPGLL,4916.45,N,12311.12,W,225444,A,*1"), [Framed::Garbled]);
        assert_eq!(
            found(b"$GPGLL,4916.45,N,12311.12,W,225444,A,"),
            [Framed::NoChecksum("GPGLL,4916.45,N,12311.12,W,225444,A,")]
        );
        assert_eq!(found(b"x$GPGLL,4916.45,N,12311.12,W,225444,A,"), [Framed::Garbled]);
    }

    #[test]
    fn what_begins_no_sentence_is_garbled_or_nothing() {
        assert_eq!(found(b""), []);
        assert_eq!(found(b"GPGLL,4916.45,N*00"), []);
        assert_eq!(found(b"$"), [Framed::Garbled]);
        assert_eq!(found(b"$gpgll,1*00"), [Framed::Garbled]);
        assert_eq!(found(b"$GPRMC,000346.03,A,4808\x00\x00  "), [Framed::Garbled]);
    }

    proptest! {
        #[test]
        fn any_bytes_are_framed(line in any::<Vec<u8>>()) {
            let starts = line.iter().filter(|&&byte| is_start(byte)).count();
            prop_assert_eq!(found(&line).len(), starts);
        }
    }
}
