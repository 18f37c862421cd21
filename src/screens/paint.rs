//! Puts words and figures on the screen: cut to what fits, wrapped at words, never outside.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use unicode_width::{UnicodeWidthChar as _, UnicodeWidthStr as _};

use super::theme::{Theme, Tone};
use crate::wire::visible::in_line;

/// Units that stay on the line of their figure.
const UNITS: [&str; 9] = ["%", "s", "min", "h", "m", "km", "dB", "dBm", "messages"];

/// Columns a text takes.
pub fn columns(text: &str) -> u16 {
    text.width().min(usize::from(u16::MAX)) as u16
}

/// Cuts a text to a width; what is cut shows as `…`.
pub fn cut(text: &str, width: u16) -> String {
    if columns(text) <= width {
        return text.to_owned();
    }
    if width == 0 {
        return String::new();
    }
    let mut cut = String::new();
    let mut used = 0;
    for letter in text.chars() {
        let wide = letter.width().unwrap_or(0) as u16;
        if used + wide + 1 > width {
            break;
        }
        used += wide;
        cut.push(letter);
    }
    cut.push('…');
    cut
}

/// Cuts a text to a width, at a word where that leaves at least a third of it; what is cut shows as `…`.
pub fn cut_at_word(text: &str, width: u16) -> String {
    let cut = cut(text, width);
    if cut == text {
        return cut;
    }
    let kept = cut.trim_end_matches('…');
    // Where the cut itself falls between two words, nothing of a word is lost.
    if text[kept.len()..].starts_with(' ') {
        return cut;
    }
    match kept.rsplit_once(' ') {
        Some((words, _)) if columns(words) * 3 >= width => {
            format!("{}…", words.trim_end_matches([' ', ',', ';', ':', '–']))
        }
        _ => cut,
    }
}

/// Wraps a text at words; a word wider than a line is cut, and a unit stays with its figure.
pub fn wrap(text: &str, width: u16) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    if width == 0 {
        return lines;
    }
    let mut words: Vec<String> = Vec::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let unit = UNITS.contains(&word.trim_end_matches(['.', ',', ':', ';', ')']));
        match words.last_mut() {
            Some(figure) if unit && figure.ends_with(|letter: char| letter.is_ascii_digit()) => {
                figure.push(' ');
                figure.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    for word in &words {
        match lines.last_mut() {
            Some(line) if columns(line) + 1 + columns(word) <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(cut(word, width)),
        }
    }
    lines
}

/// Puts a text at a place of an area, counted from its upper left corner, and says how many columns it took.
pub fn put(buffer: &mut Buffer, area: Rect, (x, y): (u16, u16), text: &str, style: Style) -> u16 {
    let area = area.intersection(buffer.area);
    if x >= area.width || y >= area.height {
        return 0;
    }
    // What a terminal would obey or hide is written out, wherever the words came from.
    let fits = cut(&in_line(text), area.width - x);
    buffer.set_stringn(area.x + x, area.y + y, &fits, usize::from(area.width - x), style);
    columns(&fits)
}

/// Puts pieces of text with tones of their own in one line.
pub fn put_pieces(buffer: &mut Buffer, area: Rect, (x, y): (u16, u16), pieces: &[(&str, Tone)], theme: Theme) -> u16 {
    let mut at = x;
    for (text, tone) in pieces {
        at += put(buffer, area, (at, y), text, theme.style(*tone));
    }
    at - x
}

/// Puts a text at the right end of a line.
pub fn put_right(buffer: &mut Buffer, area: Rect, y: u16, text: &str, style: Style) {
    let width = columns(text).min(area.width);
    put(buffer, area, (area.width - width, y), text, style);
}

/// Puts a text wrapped at words, at most so many lines, and says how many it took. What does not fit ends in `…`.
pub fn put_wrapped(buffer: &mut Buffer, area: Rect, y: u16, text: &str, most: u16, style: Style) -> u16 {
    let most = most.min(area.height.saturating_sub(y));
    let lines = wrap(text, area.width);
    for (row, line) in lines.iter().take(usize::from(most)).enumerate() {
        let last = row + 1 == usize::from(most) && lines.len() > usize::from(most);
        let line = if last {
            let room = area.width.saturating_sub(1);
            format!("{}…", cut(line, room).trim_end_matches('…'))
        } else {
            line.clone()
        };
        put(buffer, area, (0, y + row as u16), &line, style);
    }
    (lines.len() as u16).min(most)
}

/// Draws a frame with a title in its upper edge, and gives back what is inside.
pub fn panel(buffer: &mut Buffer, area: Rect, title: &str, theme: Theme) -> Rect {
    let area = area.intersection(buffer.area);
    if area.width < 2 || area.height < 2 {
        return Rect {
            width: 0,
            height: 0,
            ..area
        };
    }
    let quiet = theme.style(Tone::Quiet);
    let across = "─".repeat(usize::from(area.width - 2));
    put(buffer, area, (0, 0), &format!("┌{across}┐"), quiet);
    put(buffer, area, (0, area.height - 1), &format!("└{across}┘"), quiet);
    for y in 1..area.height - 1 {
        put(buffer, area, (0, y), "│", quiet);
        put(buffer, area, (area.width - 1, y), "│", quiet);
    }
    if !title.is_empty() && area.width > 6 {
        let room = Rect {
            x: area.x + 2,
            width: area.width - 4,
            height: 1,
            ..area
        };
        put(
            buffer,
            room,
            (0, 0),
            &format!(" {} ", cut(title, room.width.saturating_sub(2))),
            theme.style(Tone::Text),
        );
    }
    Rect::new(area.x + 1, area.y + 1, area.width - 2, area.height - 2)
}

/// The area without so many columns at either side.
pub fn inset(area: Rect, columns: u16) -> Rect {
    let take = columns.min(area.width / 2);
    Rect {
        x: area.x + take,
        width: area.width - 2 * take,
        ..area
    }
}

/// The area from a line of it on.
pub fn below(area: Rect, lines: u16) -> Rect {
    let take = lines.min(area.height);
    Rect {
        y: area.y + take,
        height: area.height - take,
        ..area
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_letters_are_never_cut_in_half() {
        assert_eq!(cut("果樹園", 6), "果樹園");
        assert_eq!(cut("果樹園", 5), "果樹…");
        assert_eq!(cut("果樹園", 4), "果…");
        assert_eq!(cut("orchard", 0), "");
        assert_eq!(cut("orchard", 1), "…");
    }

    #[test]
    fn titles_are_cut_at_words_where_there_are_any() {
        let title = "Larkfield orchard, east side";
        assert_eq!(cut_at_word(title, 13), "Larkfield…");
        assert_eq!(cut_at_word(title, 23), "Larkfield orchard…");
        assert_eq!(cut_at_word(title, 28), title);
        assert_eq!(cut_at_word("a incomprehensible", 12), "a incompreh…");
        assert_eq!(cut_at_word("果樹園", 5), "果樹…");
        assert_eq!(cut_at_word("果樹園", 0), "");
    }

    #[test]
    fn words_wrap_and_long_ones_are_cut() {
        assert_eq!(wrap("a node can go here", 8), ["a node", "can go", "here"]);
        assert_eq!(wrap("incomprehensible", 6), ["incom…"]);
        assert_eq!(wrap("it meets 95 %.", 12), ["it meets", "95 %."]);
        assert!(wrap("a", 0).is_empty());
    }
}
