//! Foreign text made harmless: what was typed or received is shown, never obeyed.
//!
//! Every text goes through [`clean`] once, and through the escaping of the form it ends in: HTML by its templates, SVG and
//! the other XML forms by [`xml`], Markdown by [`markdown`], CSV by [`crate::wire::visible::cell`].

use std::borrow::Cow;
use std::fmt::Write as _;

use crate::wire::visible::is_hidden;

/// A text with its control, format and line-separator characters, and what XML cannot hold, written out as `\u{HEX}`.
pub fn clean(text: &str) -> Cow<'_, str> {
    if !text.chars().any(is_refused) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        if is_refused(c) {
            // Writing to a string does not fail.
            let _ = write!(out, "\\u{{{:X}}}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    Cow::Owned(out)
}

/// Hidden characters, and the noncharacters U+FDD0 to U+FDEF and U+xxFFFE and U+xxFFFF, which XML 1.0 discourages or forbids.
fn is_refused(c: char) -> bool {
    let code = u32::from(c);
    is_hidden(c) || code & 0xFFFE == 0xFFFE || (0xFDD0..=0xFDEF).contains(&code)
}

/// A text as XML character data or attribute value: cleaned, with `& < > " '` escaped.
pub fn xml(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for c in clean(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// A text as Markdown that stays text, also within a table: no markup, HTML, link or mention comes of it.
pub fn markdown(text: &str) -> String {
    let text = clean(text);
    let mut out = String::with_capacity(text.len() + 8);
    for (at, c) in text.char_indices() {
        let opens = at == 0 && (matches!(c, '#' | '+' | '-' | '=' | ':') || is_list_number(&text));
        let links = (c == ':' && text[at..].starts_with("://")) || (c == '.' && ends_with_www(&text[..at]));
        if matches!(
            c,
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '|' | '~' | '$' | '@'
        ) || links
        {
            out.push('\\');
            out.push(c);
        } else if c == '&' {
            out.push_str("&amp;");
        } else if opens && c.is_ascii_digit() {
            // A number with a dot or bracket at the start would begin a list: the mark after it is escaped instead.
            let (digits, rest) = text.split_at(text.find(['.', ')']).unwrap_or(text.len()));
            return format!("{digits}\\{}", rest_of(rest));
        } else if opens {
            out.push('\\');
            out.push(c);
        } else {
            out.push(c);
        }
    }
    out
}

/// Whether a text ends in what begins an address of the web, as in `www.` but not in `allow.`.
fn ends_with_www(text: &str) -> bool {
    let mut back = text.chars().rev();
    let www = back.by_ref().take(3).filter(|c| c.eq_ignore_ascii_case(&'w')).count() == 3;
    www && !back.next().is_some_and(char::is_alphanumeric)
}

fn is_list_number(text: &str) -> bool {
    let digits = text.bytes().take_while(u8::is_ascii_digit).count();
    digits > 0 && text[digits..].starts_with(['.', ')']) && text[digits + 1..].chars().next().is_none_or(|c| c == ' ')
}

/// What follows a list number: its mark as it is, the rest escaped.
fn rest_of(text: &str) -> String {
    let mut chars = text.chars();
    let mark = chars.next();
    let rest = chars.as_str();
    let space = rest.len() - rest.trim_start().len();
    let mut out: String = mark.into_iter().collect();
    out.push_str(&rest[..space]);
    out.push_str(&markdown(&rest[space..]));
    out
}

/// At most so many characters of a text, the last of them an ellipsis where some were cut off.
pub fn shortened(text: &str, most: usize) -> String {
    let text = clean(text);
    if text.chars().count() <= most {
        return text.into_owned();
    }
    let mut short: String = text.chars().take(most.saturating_sub(1)).collect();
    short.push('…');
    short
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hidden_characters_are_written_out() {
        assert_eq!(clean("a\u{202E}b\u{1B}[31m\n"), "a\\u{202E}b\\u{1B}[31m\\u{A}");
        assert_eq!(clean("\u{FFFE}"), "\\u{FFFE}");
        assert_eq!(clean("fern, edge"), "fern, edge");
    }

    #[test]
    fn markup_stays_text() {
        assert_eq!(xml("<a b='\"'>&"), "&lt;a b=&#39;&quot;&#39;&gt;&amp;");
        assert_eq!(markdown("<img src=x> [a](b)"), "\\<img src=x\\> \\[a\\](b)");
        assert_eq!(markdown("a|b *c* _d_ `e`"), "a\\|b \\*c\\* \\_d\\_ \\`e\\`");
        assert_eq!(markdown("http://x www.x &lt;"), "http\\://x www\\.x &amp;lt;");
        assert_eq!(
            markdown("narrower than bursts allow. So. Now."),
            "narrower than bursts allow. So. Now."
        );
        assert_eq!(markdown("(WWW.x) awww.x"), "(WWW\\.x) awww.x");
    }

    #[test]
    fn a_line_of_markdown_begins_nothing() {
        assert_eq!(markdown("# a"), "\\# a");
        assert_eq!(markdown("- a"), "\\- a");
        assert_eq!(markdown("12. a*"), "12\\. a\\*");
        assert_eq!(markdown("12 m"), "12 m");
        assert_eq!(markdown("3.5 dB"), "3.5 dB");
    }

    #[test]
    fn long_names_are_cut() {
        assert_eq!(shortened("abcdef", 4), "abc…");
        assert_eq!(shortened("abcd", 4), "abcd");
    }
}
