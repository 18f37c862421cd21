//! Text made visible: what a screen or a spreadsheet would hide, obey or break its lines at, written out.
//!
//! Two layers, each with its exact inverse. [`escape`] writes control, format and separator characters as `\u{HEX}`,
//! bytes that are no UTF-8 as `\xHH` and a backslash as `\\`, hexadecimal digits in capitals. [`guard`] puts an
//! apostrophe before a cell that a spreadsheet would take for a formula. [`cell`] is both, for a text cell of a file;
//! [`line_cell`] is both for a journalled line, of which a part may have been left out.

use std::{borrow::Cow, fmt::Write as _};

/// Whether a character is a control, format, line or paragraph separator character (Unicode general categories Cc, Cf,
/// Zl and Zp).
pub fn is_hidden(c: char) -> bool {
    let at = HIDDEN.partition_point(|&(_, last)| last < c);
    HIDDEN.get(at).is_some_and(|&(first, _)| first <= c)
}

/// Bytes as visible text.
pub fn escape(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len() + bytes.len() / 8);
    for chunk in bytes.utf8_chunks() {
        for c in chunk.valid().chars() {
            match c {
                '\\' => text.push_str("\\\\"),
                // Writing to a string does not fail, here and below.
                c if is_hidden(c) => drop(write!(text, "\\u{{{:X}}}", u32::from(c))),
                c => text.push(c),
            }
        }
        for byte in chunk.invalid() {
            let _ = write!(text, "\\x{byte:02X}");
        }
    }
    text
}

/// The bytes that [`escape`] made visible. A backslash that begins no escape stands for itself: people edit files.
pub fn unescape(text: &str) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(text.len());
    unescape_onto(&mut bytes, text);
    bytes
}

/// As [`unescape`], at the end of `bytes`.
fn unescape_onto(bytes: &mut Vec<u8>, text: &str) {
    let mut rest = text;
    while let Some(at) = rest.find('\\') {
        bytes.extend_from_slice(&rest.as_bytes()[..at]);
        rest = &rest[at..];
        let (plain, after) = escaped(rest).unwrap_or_else(|| (b"\\".to_vec(), &rest[1..]));
        bytes.extend_from_slice(&plain);
        rest = after;
    }
    bytes.extend_from_slice(rest.as_bytes());
}

/// A text as a terminal may be given it: hidden characters written out as `\u{HEX}`, so that none is obeyed; lines stay lines.
pub fn shown(text: &str) -> Cow<'_, str> {
    write_out(
        text,
        |c| is_hidden(c) && c != '\n',
        |out, c| write!(out, "\\u{{{:X}}}", u32::from(c)),
    )
}

/// The same of what must stay in one line, such as a name.
pub fn in_line(text: &str) -> Cow<'_, str> {
    write_out(text, is_hidden, |out, c| write!(out, "\\u{{{:X}}}", u32::from(c)))
}

/// JSON as a terminal may be given it: hidden characters, which stand within its strings alone, in JSON's own escapes.
pub fn shown_json(json: &str) -> Cow<'_, str> {
    write_out(
        json,
        |c| is_hidden(c) && c != '\n',
        |out, c| {
            let mut units = [0; 2];
            c.encode_utf16(&mut units)
                .iter()
                .try_for_each(|unit| write!(out, "\\u{unit:04x}"))
        },
    )
}

fn write_out(
    text: &str,
    hides: impl Fn(char) -> bool,
    write: impl Fn(&mut String, char) -> std::fmt::Result,
) -> Cow<'_, str> {
    if !text.chars().any(&hides) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if hides(c) {
            // Writing to a string does not fail.
            let _ = write(&mut out, c);
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// A text, with one apostrophe before it when it begins with one of `= + - @ '`.
pub fn guard(text: &str) -> Cow<'_, str> {
    if text.starts_with(GUARDED) {
        Cow::Owned(format!("'{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// The text that [`guard`] guarded. An apostrophe that guards nothing stays.
pub fn unguard(text: &str) -> &str {
    text.strip_prefix('\'')
        .filter(|bare| bare.starts_with(GUARDED))
        .unwrap_or(text)
}

/// Bytes as a text cell.
pub fn cell(bytes: &[u8]) -> String {
    guard(&escape(bytes)).into_owned()
}

/// The bytes of a text cell.
pub fn from_cell(text: &str) -> Vec<u8> {
    unescape(unguard(text))
}

/// The first bytes of a line as a cell, and ` \+N` where `left_out` bytes after them are not kept.
///
/// Nothing that was received can look so: its own backslash would be two.
pub fn line_cell(kept: &[u8], left_out: u64) -> String {
    let mut text = cell(kept);
    if left_out > 0 {
        let _ = write!(text, " \\+{left_out}");
    }
    text
}

/// Puts the bytes of a cell that [`line_cell`] wrote at the end of `bytes`, and gives how many more there were.
pub fn from_line_cell(text: &str, bytes: &mut Vec<u8>) -> u64 {
    // Nearly every line holds no backslash: it stands as it came.
    if !text.contains('\\') {
        bytes.extend_from_slice(unguard(text).as_bytes());
        return 0;
    }
    let left_out = text.rsplit_once(" \\+").and_then(|(kept, count)| {
        let digits = count.bytes().all(|byte| byte.is_ascii_digit());
        Some((kept, count.parse().ok().filter(|&count: &u64| digits && count > 0)?))
    });
    let (kept, count) = left_out.unwrap_or((text, 0));
    unescape_onto(bytes, unguard(kept));
    count
}

/// What a spreadsheet takes for a formula, and the apostrophe that guards from it.
const GUARDED: [char; 5] = ['=', '+', '-', '@', '\''];

/// The character or byte of the escape that `text` begins with, and what comes after it.
fn escaped(text: &str) -> Option<(Vec<u8>, &str)> {
    let body = text.strip_prefix('\\')?;
    if let Some(after) = body.strip_prefix('\\') {
        return Some((b"\\".to_vec(), after));
    }
    if let Some(digits) = body.strip_prefix('x') {
        return Some((vec![hex(digits.get(..2)?)? as u8], &digits[2..]));
    }
    let (digits, after) = body.strip_prefix("u{")?.split_once('}')?;
    let c = char::from_u32(hex(digits)?)?;
    Some((c.encode_utf8(&mut [0; 4]).as_bytes().to_vec(), after))
}

fn hex(digits: &str) -> Option<u32> {
    if digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        u32::from_str_radix(digits, 16).ok()
    } else {
        None
    }
}

/// Ranges of the hidden characters, both ends included, in order: Unicode 16.0, `DerivedGeneralCategory.txt`.
const HIDDEN: [(char, char); 23] = [
    ('\u{0}', '\u{1F}'),
    ('\u{7F}', '\u{9F}'),
    ('\u{AD}', '\u{AD}'),
    ('\u{600}', '\u{605}'),
    ('\u{61C}', '\u{61C}'),
    ('\u{6DD}', '\u{6DD}'),
    ('\u{70F}', '\u{70F}'),
    ('\u{890}', '\u{891}'),
    ('\u{8E2}', '\u{8E2}'),
    ('\u{180E}', '\u{180E}'),
    ('\u{200B}', '\u{200F}'),
    ('\u{2028}', '\u{202E}'),
    ('\u{2060}', '\u{2064}'),
    ('\u{2066}', '\u{206F}'),
    ('\u{FEFF}', '\u{FEFF}'),
    ('\u{FFF9}', '\u{FFFB}'),
    ('\u{110BD}', '\u{110BD}'),
    ('\u{110CD}', '\u{110CD}'),
    ('\u{13430}', '\u{1343F}'),
    ('\u{1BCA0}', '\u{1BCA3}'),
    ('\u{1D173}', '\u{1D17A}'),
    ('\u{E0001}', '\u{E0001}'),
    ('\u{E0020}', '\u{E007F}'),
];

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn read_line_cell(text: &str) -> (Vec<u8>, u64) {
        let mut bytes = Vec::new();
        let left_out = from_line_cell(text, &mut bytes);
        (bytes, left_out)
    }

    #[test]
    fn the_ranges_are_those_of_unicode() {
        // The regex crate carries its own tables of Unicode 16.0.
        let published = regex::Regex::new(r"^[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]$").unwrap();
        for c in '\0'..=char::MAX {
            assert_eq!(
                is_hidden(c),
                published.is_match(c.encode_utf8(&mut [0; 4])),
                "U+{:04X}",
                u32::from(c)
            );
        }
    }

    #[test]
    fn escapes_look_as_the_format_says() {
        assert_eq!(escape(b"plain \xc3\xa9"), "plain é");
        assert_eq!(
            escape("a\tb\u{1b}[31m\u{202e}\u{2028}".as_bytes()),
            r"a\u{9}b\u{1B}[31m\u{202E}\u{2028}"
        );
        assert_eq!(escape(b"\xff\xe2\x82 \\"), r"\xFF\xE2\x82 \\");
        assert_eq!(escape("\u{e0020}".as_bytes()), r"\u{E0020}");
        assert_eq!(unescape(r"a\u{9}b\u{1b}\xff\\u{9}"), b"a\tb\x1b\xff\\u{9}");
    }

    #[test]
    fn a_terminal_is_given_nothing_to_obey() {
        assert_eq!(shown("a\u{1b}[31m\nb"), "a\\u{1B}[31m\nb");
        assert_eq!(in_line("a\nb\u{9b}2J"), "a\\u{A}b\\u{9B}2J");
        assert_eq!(in_line("fern \\ 2"), "fern \\ 2");
        let json = serde_json::to_string(&["a\u{9b}2J\u{202e}\u{7f}\u{e0020}"]).unwrap();
        let given = shown_json(&json);
        assert!(!given.chars().any(is_hidden), "{given}");
        assert_eq!(
            serde_json::from_str::<Vec<String>>(&given).unwrap(),
            serde_json::from_str::<Vec<String>>(&json).unwrap()
        );
    }

    #[test]
    fn what_is_no_escape_stands_for_itself() {
        for text in [
            r"\",
            r"\q",
            r"\x",
            r"\xF",
            r"\xé",
            r"\xG0",
            r"\u{",
            r"\u{}",
            r"\u{D800}",
            r"\u{110000}",
            r"\u{+9}",
            r"\u9",
        ] {
            assert_eq!(unescape(text), text.as_bytes(), "{text}");
        }
    }

    #[test]
    fn a_formula_gets_one_apostrophe_and_loses_it() {
        for (text, guarded) in [
            ("=1+1", "'=1+1"),
            ("+1", "'+1"),
            ("-71", "'-71"),
            ("@a", "'@a"),
            ("'", "''"),
            ("", ""),
            ("a=1", "a=1"),
        ] {
            assert_eq!(guard(text), guarded);
            assert_eq!(unguard(guarded), text);
        }
        // An edited cell keeps what guards nothing.
        assert_eq!(unguard("'tis"), "'tis");
        // The guard looks at the escaped text: a tab before the sign makes it harmless.
        assert_eq!(cell(b"\t=1"), r"\u{9}=1");
    }

    #[test]
    fn what_was_left_out_is_told_apart_from_what_was_received() {
        assert_eq!(line_cell(b"echo n=1", 40), r"echo n=1 \+40");
        assert_eq!(read_line_cell(r"echo n=1 \+40"), (b"echo n=1".to_vec(), 40));
        let received = br"echo n=1 \+40";
        assert_eq!(line_cell(received, 0), r"echo n=1 \\+40");
        assert_eq!(read_line_cell(&line_cell(received, 0)), (received.to_vec(), 0));
        assert_eq!(read_line_cell(&line_cell(received, 7)), (received.to_vec(), 7));
        assert_eq!(read_line_cell(&line_cell(b"", 7)), (Vec::new(), 7));
        assert_eq!(read_line_cell(r"a \+"), (br"a \+".to_vec(), 0));
        assert_eq!(read_line_cell(r"a \++5"), (br"a \++5".to_vec(), 0));
    }

    proptest! {
        #[test]
        fn any_bytes_come_back(bytes in any::<Vec<u8>>(), left_out: u64) {
            let text = cell(&bytes);
            prop_assert!(!text.chars().any(is_hidden));
            prop_assert!(!text.starts_with(['=', '+', '-', '@']));
            prop_assert_eq!(from_cell(&text), bytes.clone());
            prop_assert_eq!(unescape(&escape(&bytes)), bytes.clone());
            prop_assert_eq!(read_line_cell(&line_cell(&bytes, left_out)), (bytes, left_out));
        }

        #[test]
        fn any_awkward_bytes_come_back(text in r"[='+@\\xu{}0-9A-F \t\u{200B}-\u{200F}-]{0,30}", left_out in 0_u64..3) {
            let bytes = text.clone().into_bytes();
            prop_assert_eq!(read_line_cell(&line_cell(&bytes, left_out)), (bytes, left_out));
            let guarded = guard(&text);
            prop_assert_eq!(unguard(&guarded), &text);
        }

        #[test]
        fn any_text_is_read(text in any::<String>()) {
            let _ = read_line_cell(&text);
        }
    }
}
