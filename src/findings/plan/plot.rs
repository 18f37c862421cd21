//! Level over distance as a picture made of text: two by four dots to a character.

use super::forecast::Plan;
use crate::findings::words::minus;

/// Height in characters.
const LINES: usize = 10;

/// Characters before the picture: a level of six and an axis.
const MARGIN: usize = 7;

/// The picture, one line of text a string, at most `width` characters wide (40 at least). Distance runs along a logarithmic
/// scale; the expected level of the weaker way is a full line, its bounds are dotted, the level a place needs is dashed.
///
/// Empty when the curve has fewer than two points. Levels more than 50 dB below what a place needs lie on the lower edge.
pub fn lines(plan: &Plan, width: usize) -> Vec<String> {
    let columns = width.max(40) - MARGIN;
    let points: Vec<Point> = plan
        .curve
        .iter()
        .map(|point| Point {
            x: point.distance_m.0.ln(),
            levels: [point.level_dbm.0, point.level_low_dbm.0, point.level_high_dbm.0],
        })
        .collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return Vec::new();
    };
    if last.x <= first.x {
        return Vec::new();
    }
    let needed = plan.level90_dbm.0 + plan.needed.margin_db.0;
    let shown = points.iter().flat_map(|point| point.levels).chain([needed]);
    let (low, high) = shown.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), level| {
        (low.min(level), high.max(level))
    });
    let scale = Scale {
        low: (low.max(needed - 50.0) / 10.0).floor() * 10.0,
        high: (high / 10.0).ceil() * 10.0,
        dots: LINES * 4,
    };
    let mut canvas = Canvas::new(columns);
    let across = columns * 2;
    for dot in 0..across {
        let x = first.x + (last.x - first.x) * dot as f64 / (across - 1) as f64;
        let [expected, least, most] = levels_at(&points, x);
        canvas.set(dot, scale.row(expected));
        if dot % 3 == 0 {
            canvas.set(dot, scale.row(least));
            canvas.set(dot, scale.row(most));
        }
        if dot % 8 < 4 {
            canvas.set(dot, scale.row(needed));
        }
    }
    let mut text: Vec<String> = canvas
        .lines()
        .enumerate()
        .map(|(line, dots)| {
            let label = match line {
                0 => format!("{:>5}", minus(scale.high, 0)),
                line if line == LINES - 1 => format!("{:>5}", minus(scale.low, 0)),
                line if line == scale.row(needed) / 4 => format!("{:>5}", minus(needed, 0)),
                _ => " ".repeat(5),
            };
            format!("{label} │{dots}").trim_end().to_owned()
        })
        .collect();
    text.push(format!("{} └{}", " ".repeat(5), "─".repeat(columns)));
    text.push(axis(first.x.exp(), last.x.exp(), columns));
    text
}

struct Point {
    x: f64,
    levels: [f64; 3],
}

struct Scale {
    low: f64,
    high: f64,
    dots: usize,
}

impl Scale {
    /// The dot row of a level, from the top.
    fn row(&self, level: f64) -> usize {
        let share = (self.high - level) / (self.high - self.low).max(1.0);
        ((share * (self.dots - 1) as f64).round().max(0.0) as usize).min(self.dots - 1)
    }
}

fn levels_at(points: &[Point], x: f64) -> [f64; 3] {
    let after = points.partition_point(|point| point.x < x).clamp(1, points.len() - 1);
    let (a, b) = (&points[after - 1], &points[after]);
    let share = ((x - a.x) / (b.x - a.x)).clamp(0.0, 1.0);
    std::array::from_fn(|curve| a.levels[curve] + share * (b.levels[curve] - a.levels[curve]))
}

/// Round distances under the axis, each ending under its place; a label that would run into the last is left out.
fn axis(first: f64, last: f64, columns: usize) -> String {
    let mut line = " ".repeat(MARGIN);
    for distance in [
        5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10_000.0, 20_000.0,
    ] {
        // Through logarithm and back, the ends may have lost their last digit.
        if distance < first * (1.0 - 1e-9) || distance > last * (1.0 + 1e-9) {
            continue;
        }
        let share = (f64::ln(distance) - first.ln()) / (last.ln() - first.ln());
        let at = MARGIN + (share * (columns - 1) as f64).round() as usize;
        let label = format!("{distance}");
        let start = (at + 1).saturating_sub(label.len());
        if start > line.len() || line.trim().is_empty() {
            line = format!("{line:<start$}{label}");
        }
    }
    line.push_str(" m");
    line
}

struct Canvas {
    columns: usize,
    cells: Vec<u8>,
}

impl Canvas {
    fn new(columns: usize) -> Self {
        Self {
            columns,
            cells: vec![0; columns * LINES],
        }
    }

    fn set(&mut self, x: usize, y: usize) {
        /// Bits of a Braille cell, by column and row of its dots (Unicode block U+2800).
        const BITS: [[u8; 4]; 2] = [[0x01, 0x02, 0x04, 0x40], [0x08, 0x10, 0x20, 0x80]];
        if let Some(cell) = self.cells.get_mut(y / 4 * self.columns + x / 2) {
            *cell |= BITS[x % 2][y % 4];
        }
    }

    fn lines(&self) -> impl Iterator<Item = String> {
        self.cells.chunks(self.columns).map(|line| {
            line.iter()
                .map(|&bits| match bits {
                    0 => ' ',
                    bits => char::from_u32(0x2800 + u32::from(bits)).unwrap_or(' '),
                })
                .collect()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::{PlanInputs, plan};
    use super::*;

    #[test]
    fn the_picture_keeps_to_its_width_and_falls_to_the_right() {
        let plan = plan(&PlanInputs::default()).unwrap();
        for width in [0, 40, 80, 200] {
            let picture = lines(&plan, width);
            assert_eq!(picture.len(), LINES + 2);
            let widest = picture.iter().map(|line| line.chars().count()).max().unwrap();
            assert!(widest <= width.max(40) + 2, "{widest} at {width}");
        }
        let picture = lines(&plan, 80);
        let first_dot = |line: &str| line.chars().position(|c| ('\u{2801}'..='\u{28ff}').contains(&c));
        assert!(first_dot(&picture[0]).unwrap() < 12);
        assert!(first_dot(&picture[LINES - 1]).unwrap() > 40);
    }
}
