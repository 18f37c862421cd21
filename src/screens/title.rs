//! The first line: what survey this is, how long it runs, and how the gear does.
//!
//! ```text
//!  Larkfield orchard, east side            ● 00:12:41   7,604 exchanges   fern boot 7   fix ±2.1 m
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::number::{clock, count};
use super::paint::{columns, cut, cut_at_word, inset, put};
use super::scene::Scene;
use super::theme::{Theme, Tone};
use crate::findings::now::Line;

/// Draws it in one line.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let area = inset(
        Rect {
            height: area.height.min(1),
            ..area
        },
        1,
    );
    let mut parts: Vec<(String, Tone)> = Vec::new();
    let (sign, tone) = if scene.around.timeline.is_some() {
        ("▷", Tone::Text)
    } else if scene.paused {
        ("‖ paused", Tone::Bad)
    } else if scene.around.over.is_some() {
        ("■", Tone::Text)
    } else {
        ("●", Tone::Good)
    };
    parts.push((format!("{sign} {}", clock(scene.at)), tone));
    if scene.now.exchanges > 0 {
        let word = if scene.now.exchanges == 1 {
            "exchange"
        } else {
            "exchanges"
        };
        parts.push((format!("{} {word}", count(scene.now.exchanges as u64)), Tone::Text));
    }
    if let Some((board, boot)) = &scene.now.board {
        parts.push((format!("{} boot {boot}", cut(board, 16)), Tone::Text));
    }
    parts.push(position(scene));
    // Words give way from the left: the clock and the fix are what must be seen.
    let width = |parts: &[(String, Tone)]| parts.iter().map(|(text, _)| columns(text) + 3).sum::<u16>();
    let title_least = columns(&scene.setup.title).min(12);
    for give_way in [1, 1] {
        if width(&parts) + title_least > area.width && parts.len() > 2 {
            parts.remove(give_way);
        }
    }
    let right = width(&parts).saturating_sub(3).min(area.width);
    let title_room = (area.width - right).saturating_sub(2);
    let title = if scene.setup.title.is_empty() {
        "farpace"
    } else {
        &scene.setup.title
    };
    let among = scene.around.among;
    let tagged = among.map(|(letter, front)| format!("{}{letter} {title}", if front { "▸" } else { " " }));
    let title = tagged.as_deref().unwrap_or(title);
    put(
        buffer,
        Rect {
            width: title_room,
            ..area
        },
        (0, 0),
        &cut_at_word(title, title_room),
        theme.style(Tone::Strong),
    );
    let mut x = area.width - right;
    for (text, tone) in &parts {
        put(buffer, area, (x, 0), text, theme.style(*tone));
        x += columns(text) + 3;
    }
}

fn position(scene: &Scene<'_>) -> (String, Tone) {
    let hears_gps = scene.setup.sources.gps.is_some() || !matches!(scene.now.gps, Line::Waiting(_));
    match &scene.now.gps {
        _ if scene.around.timeline.is_some() || scene.around.over.is_some() => match scene.now.sigma {
            Some(sigma) => (format!("fix ±{:.1} m", sigma.0), Tone::Text),
            None if scene.now.place.is_some() => ("fix".to_owned(), Tone::Text),
            None => ("no fix".to_owned(), Tone::Text),
        },
        Line::Waiting(_) if hears_gps => ("GPS –".to_owned(), Tone::Close),
        Line::Waiting(_) => ("no GPS".to_owned(), Tone::Quiet),
        Line::Silent(_) => ("GPS silent".to_owned(), Tone::Bad),
        Line::Down(..) => ("GPS away".to_owned(), Tone::Bad),
        Line::Talking if !scene.now.fixed => ("no fix".to_owned(), Tone::Bad),
        Line::Talking => match scene.now.sigma {
            Some(sigma) => (format!("fix ±{:.1} m", sigma.0), Tone::Text),
            None => ("fix".to_owned(), Tone::Text),
        },
    }
}
