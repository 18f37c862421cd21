//! Level by distance of two surveys laid over each other: rings as letters, laws as lines, the share lost along the foot.
//!
//! ```text
//!  −40 A
//!       B A
//!  −70     B A A
//!           B  B A
//! lost A         ▂ ▅
//! lost B       ▁ ▅ █
//!      0        100       200 m
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::findings::together::pair::Pair;
use crate::findings::together::say;
use crate::findings::together::strand::Strand;
use crate::screens::distance::{distances_along, levels_beside, round_up};
use crate::screens::dots::Dots;
use crate::screens::paint::{below, put, put_wrapped};
use crate::screens::theme::{Theme, Tone};

/// Columns left of the figure.
const LABELS: u16 = 7;
/// How the lines of the two differ: tone, and dots of the line.
const LOOKS: [(Tone, (u32, u32)); 2] = [(Tone::Strong, (1, 1)), (Tone::There, (2, 5))];

/// Draws it.
pub fn render(buffer: &mut Buffer, area: Rect, pair: &Pair, theme: Theme) {
    if area.width < 20 || area.height < 9 {
        return;
    }
    let (a, b) = say::letters(pair);
    let strands: Vec<(char, usize, &Strand)> = [a, b]
        .into_iter()
        .zip(&pair.strands)
        .enumerate()
        .filter_map(|(index, (letter, strand))| Some((letter, index, strand.as_ref()?)))
        .collect();
    let rings = || strands.iter().flat_map(|(.., strand)| &strand.rings);
    let far = rings().map(|ring| ring.to_m).fold(0.0, f64::max);
    if far <= 0.0 {
        let words = "No exchange at a known distance in either: the stations' positions are not known.";
        put_wrapped(buffer, area, 1, words, 4, theme.style(Tone::Quiet));
        return;
    }
    let far = round_up(far / 1.02);
    let head = if pair.side.is_ok() {
        let first = strands.first().map_or("", |(.., strand)| strand.side.words());
        format!("Each from its own station; {first}; letters are rings, lines the fitted laws.")
    } else {
        "Levels are not compared: each is read by a meter of its own.".to_owned()
    };
    let taken = put_wrapped(buffer, area, 0, &head, 2, theme.style(Tone::Quiet));
    let area = below(area, taken);
    let foot = strands.len() as u16 + 1;
    let plot = Rect::new(
        area.x + LABELS,
        area.y,
        area.width.saturating_sub(LABELS),
        area.height.saturating_sub(foot),
    );
    let levels = || rings().filter_map(|ring| ring.mean_dbm);
    let low = levels().fold(f64::INFINITY, f64::min);
    let high = levels().fold(f64::NEG_INFINITY, f64::max);
    let (low, high) = if low.is_finite() { (low, high) } else { (-100.0, -40.0) };
    let low = (low / 10.0).floor() * 10.0;
    let high = ((high / 10.0).ceil() * 10.0).max(low + 20.0);
    let mut dots = Dots::over(plot);
    let (height, width) = (dots.height(), dots.width());
    let x_of = |metres: f64| metres / far * (width - 1.0);
    let y_of = |level: f64| (high - level) / (high - low) * (height - 1.0);
    for (_, index, strand) in &strands {
        let (tone, pattern) = LOOKS[*index];
        for pair in strand.law.windows(2) {
            let spot = |index: usize| (x_of(pair[index].0), y_of(pair[index].1[0]));
            dots.line(spot(0), spot(1), tone, pattern);
        }
    }
    dots.paint(buffer, plot, theme);
    for (letter, _, strand) in &strands {
        for ring in &strand.rings {
            let Some(level) = ring.mean_dbm else { continue };
            let cell = ((x_of(ring.mean_m) / 2.0) as u16, (y_of(level) / 4.0) as u16);
            // Where both fall into one place, that is said.
            let taken = buffer
                .cell((plot.x + cell.0, plot.y + cell.1))
                .is_some_and(|cell| cell.symbol().chars().any(|c| c.is_ascii_uppercase() && c != *letter));
            let sign = if taken { "=".to_owned() } else { letter.to_string() };
            put(buffer, plot, cell, &sign, theme.style(Tone::Text));
        }
    }
    levels_beside(buffer, area, plot, (low, high), theme);
    for (row, (letter, _, strand)) in strands.iter().enumerate() {
        lost(
            buffer,
            area,
            plot,
            (*letter, strand),
            (far, plot.height + row as u16),
            theme,
        );
    }
    distances_along(buffer, area, plot, far, theme);
}

/// The share lost in each ring, as bars of one line.
fn lost(
    buffer: &mut Buffer,
    area: Rect,
    plot: Rect,
    (letter, strand): (char, &Strand),
    (far, y): (f64, u16),
    theme: Theme,
) {
    const STEPS: [&str; 8] = ["▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"];
    put(buffer, area, (0, y), &format!("lost {letter}"), theme.style(Tone::Text));
    for ring in strand.rings.iter().filter(|ring| ring.delivered < ring.sent) {
        let share = 1.0 - ring.delivered as f64 / ring.sent.max(1) as f64;
        let step = (share * 8.0).ceil().clamp(1.0, 8.0) as usize - 1;
        let column = |metres: f64| (metres / far * f64::from(plot.width)) as u16;
        for x in column(ring.from_m)..=column(ring.to_m).min(plot.width.saturating_sub(1)) {
            put(buffer, area, (LABELS + x, y), STEPS[step], theme.style(Tone::Bad));
        }
    }
}
