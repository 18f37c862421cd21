//! The form that node, surveyor and gear lines share: a record word, `key=value` pairs, perhaps ` *hh`.

use std::borrow::Cow;

use super::{Malformed, fields::Fields, fields::Value};

/// A line before its record word is looked up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Line<'a> {
    /// The record word; empty on a line of nothing but white space.
    pub word: &'a [u8],
    /// All between the record word and the checksum.
    pub rest: &'a [u8],
    /// Word and rest together, without white space around them.
    pub body: &'a [u8],
    /// Whether the line carries a checksum, which matches.
    pub checksummed: bool,
}

impl<'a> Line<'a> {
    /// Takes line end, checksum and record word off a line.
    ///
    /// # Errors
    /// [`Malformed::Checksum`] when a checksum stands there and does not match.
    pub fn split(line: &'a [u8]) -> Result<Self, Malformed> {
        let line = line.trim_ascii_end();
        let (covered, checksummed) = match checksum_at_end(line) {
            None => (line, false),
            Some((covered, given)) => {
                let found = exclusive_or(covered);
                if found != given {
                    return Err(Malformed::Checksum { given, found });
                }
                (covered, true)
            }
        };
        let body = trim(covered);
        let end = body.iter().position(|&byte| is_blank(byte)).unwrap_or(body.len());
        let (word, rest) = body.split_at(end);
        Ok(Self {
            word,
            rest,
            body,
            checksummed,
        })
    }

    /// Reads the pairs after the record word.
    ///
    /// # Errors
    /// [`Malformed::BareToken`] and [`Malformed::OpenQuote`].
    pub fn fields(&self, record: &'static str) -> Result<Fields<'a>, Malformed> {
        let mut fields = Fields::of(record);
        let mut rest = trim(self.rest);
        while !rest.is_empty() {
            let (key, value, after) = pair(rest)?;
            fields.push(key, Value::Text(value));
            rest = trim(after);
        }
        Ok(fields)
    }
}

/// The exclusive-or of all bytes, as NMEA 0183 forms its checksum.
pub fn exclusive_or(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum ^ byte)
}

/// Two hexadecimal digits, in either case.
pub fn hex_pair(digits: [u8; 2]) -> Option<u8> {
    let high = (digits[0] as char).to_digit(16)?;
    let low = (digits[1] as char).to_digit(16)?;
    Some((high * 16 + low) as u8)
}

/// Appends the checksum that [`Line::split`] looks for.
pub fn with_checksum(line: &str) -> String {
    format!("{line} *{:02X}", exclusive_or(line.as_bytes()))
}

/// Appends ` key=value` to a line, in quotes where the value needs them.
pub fn push_pair(line: &mut String, key: &str, value: &str) {
    let plain = !value.is_empty()
        && !value
            .chars()
            .any(|c| c.is_whitespace() || c.is_control() || matches!(c, '"' | '\\'));
    if plain {
        line.push(' ');
        line.push_str(key);
        line.push('=');
        line.push_str(value);
    } else {
        push_quoted(line, key, value);
    }
}

/// Appends ` key="value"` to a line.
pub fn push_quoted(line: &mut String, key: &str, value: &str) {
    line.push(' ');
    line.push_str(key);
    line.push_str("=\"");
    for c in value.chars() {
        if matches!(c, '"' | '\\') {
            line.push('\\');
        }
        line.push(c);
    }
    line.push('"');
}

/// The part before ` *hh` and the number it gives; `None` when the line does not end so.
fn checksum_at_end(line: &[u8]) -> Option<(&[u8], u8)> {
    let (covered, tail) = line.split_last_chunk::<4>()?;
    let [b' ', b'*', high, low] = *tail else { return None };
    Some((covered, hex_pair([high, low])?))
}

/// A key, its value without quotes, and what comes after them on the line.
type PairAndRest<'a> = (&'a [u8], Cow<'a, [u8]>, &'a [u8]);

/// The first pair of `rest`.
fn pair(rest: &[u8]) -> Result<PairAndRest<'_>, Malformed> {
    let token_end = rest.iter().position(|&byte| is_blank(byte)).unwrap_or(rest.len());
    let token = &rest[..token_end];
    let equals = match token.iter().position(|&byte| byte == b'=') {
        Some(at) if at > 0 => at,
        _ => return Err(bare(token)),
    };
    let key = &token[..equals];
    if token.get(equals + 1) != Some(&b'"') {
        return Ok((key, Cow::Borrowed(&token[equals + 1..]), &rest[token_end..]));
    }
    let (value, after) = quoted(&rest[equals + 2..]).ok_or(Malformed::OpenQuote)?;
    if after.first().is_some_and(|&byte| !is_blank(byte)) {
        let end = after.iter().position(|&byte| is_blank(byte)).unwrap_or(after.len());
        return Err(bare(&after[..end]));
    }
    Ok((key, Cow::Owned(value), after))
}

/// A quoted value from behind its opening quote, and what follows the closing one; `None` without a closing quote.
///
/// Only `\"` and `\\` are escapes: a backslash before anything else stands for itself.
fn quoted(text: &[u8]) -> Option<(Vec<u8>, &[u8])> {
    let mut value = Vec::new();
    let mut at = 0;
    loop {
        match (text.get(at)?, text.get(at + 1)) {
            (b'"', _) => return Some((value, &text[at + 1..])),
            (b'\\', Some(&next @ (b'"' | b'\\'))) => {
                value.push(next);
                at += 2;
            }
            (&byte, _) => {
                value.push(byte);
                at += 1;
            }
        }
    }
}

fn bare(token: &[u8]) -> Malformed {
    Malformed::BareToken(super::fields::text_of(token))
}

const fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t')
}

fn trim(mut bytes: &[u8]) -> &[u8] {
    while let [first, after @ ..] = bytes
        && is_blank(*first)
    {
        bytes = after;
    }
    while let [before @ .., last] = bytes
        && is_blank(*last)
    {
        bytes = before;
    }
    bytes
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn text(line: &str, key: &'static str) -> Result<Option<String>, Malformed> {
        Line::split(line.as_bytes())?.fields("note")?.text(key)
    }

    #[test]
    fn quotes_hold_blanks_quotes_and_backslashes() {
        assert_eq!(
            text(r#"note text="a \"b\" \\ c\d"	x=1"#, "text"),
            Ok(Some(r#"a "b" \\ c\\d"#.into())),
            "what is read is visible text: a backslash stands as two"
        );
        assert_eq!(text("note text=a\"b\\\"", "text"), Ok(Some("a\"b\\\\\"".into())));
        assert_eq!(text("note text=\"\"", "text"), Ok(None));
        assert_eq!(text("note text=", "text"), Ok(None));
        assert_eq!(text("note text=a=b", "text"), Ok(Some("a=b".into())));
    }

    #[test]
    fn what_is_no_pair_is_named() {
        assert_eq!(text("note loose", "text"), Err(Malformed::BareToken("loose".into())));
        assert_eq!(text("note =5", "text"), Err(Malformed::BareToken("=5".into())));
        assert_eq!(
            text("note text=\"a\"b c", "text"),
            Err(Malformed::BareToken("b".into()))
        );
        assert_eq!(text("note text=\"a", "text"), Err(Malformed::OpenQuote));
        assert_eq!(text("note text=\"a\\\"", "text"), Err(Malformed::OpenQuote));
    }

    #[test]
    fn a_checksum_covers_all_before_its_space() {
        let line = with_checksum("lost n=1042");
        let split = Line::split(line.as_bytes()).unwrap();
        assert!(split.checksummed);
        assert_eq!((split.word, split.rest), (&b"lost"[..], &b" n=1042"[..]));
        let low = line.to_lowercase() + "\r\n";
        assert!(Line::split(low.as_bytes()).unwrap().checksummed);
        assert_eq!(
            Line::split(b"lost n=1042 *00"),
            Err(Malformed::Checksum {
                given: 0,
                found: exclusive_or(b"lost n=1042")
            })
        );
        // One digit, no hexadecimal digit, no space before: no checksum, so a bare token or part of the value.
        assert!(Line::split(b"lost n=1 *4").unwrap().fields("lost").is_err());
        assert!(Line::split(b"lost n=1 *4g").unwrap().fields("lost").is_err());
        assert!(!Line::split(b"lost n=1*40").unwrap().checksummed);
    }

    #[test]
    fn white_space_alone_has_no_word() {
        for line in [&b""[..], b" \t ", b"\r\n", b" *00"] {
            assert_eq!(Line::split(line).unwrap().word, b"", "{line:?}");
        }
    }

    proptest! {
        #[test]
        fn written_values_read_back(value in any::<String>()) {
            let mut line = "note".to_owned();
            push_pair(&mut line, "text", &value);
            let expected = Some(crate::wire::visible::escape(value.as_bytes())).filter(|value| !value.is_empty());
            prop_assert_eq!(text(&line, "text"), Ok(expected.clone()));
            prop_assert_eq!(text(&with_checksum(&line), "text"), Ok(expected));
        }

        #[test]
        fn any_bytes_are_read_or_refused(line in any::<Vec<u8>>()) {
            if let Ok(split) = Line::split(&line) {
                let _ = split.fields("note");
            }
        }
    }
}
