//! A comparison in lines: place by place, point by point, and what to keep in mind.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::findings::together::pair::{Better, Pair};
use crate::findings::together::say;
use crate::findings::together::whole::Together;
use crate::findings::words::metres;
use crate::screens::paint::{put, put_right, wrap};
use crate::screens::theme::{Theme, Tone};

/// A paragraph of a list; the first word of it may stand out.
#[derive(Clone, Debug)]
pub struct Line {
    words: String,
    tone: Tone,
}

fn line(words: impl Into<String>, tone: Tone) -> Line {
    Line {
        words: words.into(),
        tone,
    }
}

/// Draws lines, wrapped, from one on; more below is said. Says whether there are more than fit.
pub fn render(buffer: &mut Buffer, area: Rect, lines: &[Line], from: usize, theme: Theme) -> bool {
    let wrapped: Vec<(String, Tone)> = lines
        .iter()
        .flat_map(|line| {
            wrap(&line.words, area.width)
                .into_iter()
                .map(|words| (words, line.tone))
        })
        .collect();
    let height = usize::from(area.height);
    let most = wrapped.len().saturating_sub(height);
    let from = from.min(most);
    for (row, (words, tone)) in wrapped.iter().skip(from).take(height).enumerate() {
        put(buffer, area, (0, row as u16), words, theme.style(*tone));
    }
    if from < most && area.height > 1 {
        put_right(buffer, area, area.height - 1, " ↓ more", theme.style(Tone::Strong));
    }
    most > 0
}

/// Place by place, the surest difference first.
pub fn places(pair: &Pair) -> Vec<Line> {
    let (a, b) = say::letters(pair);
    let mut lines = vec![line(say::answer(pair), Tone::Strong)];
    lines.extend(
        pair.mind
            .first()
            .map(|what| line(format!("Mind: {}", say::mind(what, pair)), Tone::Close)),
    );
    if !pair.places.is_empty() {
        let words = format!("Place by place, {}, the surest difference first:", say::origin(pair));
        lines.push(line(words, Tone::Quiet));
    }
    for place in &pair.places {
        let [first, second] = say::counts(&place.found);
        let (which, tone) = match place.better {
            Better::First | Better::Second => (say::better(place, pair), Tone::Strong),
            Better::NotTold => ("=".to_owned(), Tone::Text),
        };
        let words = format!(
            "{which} at {}: {a} {first}, {b} {second}; level {}",
            say::at(place.at),
            say::decibels(place.found.level)
        );
        lines.push(line(words, tone));
    }
    lines
}

/// Point by point, the nearest first.
pub fn points(pair: &Pair) -> Vec<Line> {
    let (a, b) = say::letters(pair);
    let mut lines = Vec::new();
    if pair.stops.is_empty() {
        lines.push(line("No point of one is a point of the other.", Tone::Strong));
    }
    for stop in &pair.stops {
        let apart = stop
            .apart_m
            .map_or_else(String::new, |apart| format!(", {} apart", metres(apart)));
        lines.push(line(format!("{}{apart}", say::stop_name(stop)), Tone::Strong));
        let [first, second] = say::counts(&stop.found);
        lines.push(line(
            format!(
                "  {a} {first}, {b} {second}: {} points of 100",
                say::points(stop.found.delivery)
            ),
            Tone::Text,
        ));
        lines.push(line(format!("  level {}", say::decibels(stop.found.level)), Tone::Text));
    }
    for namesake in &pair.namesakes {
        lines.push(line(
            format!(
                "{} is not one place: the two lie {} apart.",
                namesake.name,
                metres(namesake.apart_m)
            ),
            Tone::Quiet,
        ));
    }
    lines
}

/// What to keep in mind, and which surveys these are.
pub fn mind(found: &Together, pair: &Pair) -> Vec<Line> {
    let mut lines: Vec<Line> = say::surveys(found)
        .into_iter()
        .map(|words| line(words, Tone::Strong))
        .collect();
    lines.extend(
        pair.mind
            .iter()
            .map(|what| line(format!("- {}", say::mind(what, pair)), Tone::Text)),
    );
    lines.push(line(format!("- {}", say::method(pair)), Tone::Quiet));
    lines
}
