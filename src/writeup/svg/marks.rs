//! Marks whose class shows by shape as well as by colour, and the legend that tells them apart.

use super::canvas::{Anchor, Canvas, Path};
use crate::stats::verdict::Verdict;

/// How well something was delivered, against a goal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Fewer than five messages.
    Few,
    /// Half or less.
    Low,
    /// Below the goal, more than half.
    Between,
    /// At the goal or above.
    Goal,
}

impl Class {
    /// All, the best first.
    pub const ALL: [Self; 4] = [Self::Goal, Self::Between, Self::Low, Self::Few];

    /// The class of counts.
    pub fn of(delivered: u64, sent: u64, goal: f64) -> Self {
        let rate = delivered as f64 / sent.max(1) as f64;
        match rate {
            _ if sent < 5 => Self::Few,
            rate if rate >= goal => Self::Goal,
            rate if rate > 0.5 => Self::Between,
            _ => Self::Low,
        }
    }

    /// Its style.
    pub const fn style(self) -> &'static str {
        match self {
            Self::Goal => "f-mg",
            Self::Between => "f-mh",
            Self::Low => "f-ml",
            Self::Few => "f-mf",
        }
    }

    /// Adds its mark to a path: a disc, a diamond, a square, a small disc.
    pub fn mark(self, path: &mut Path, place: (f64, f64), size: f64) {
        match self {
            Self::Goal => path.dot(place, size),
            Self::Between => {
                let reach = size * 1.3;
                path.shape(place, &[(0.0, -reach), (reach, 0.0), (0.0, reach), (-reach, 0.0)]);
            }
            Self::Low => path.shape(place, &[(-size, -size), (size, -size), (size, size), (-size, size)]),
            Self::Few => path.dot(place, size * 0.45),
        }
    }

    /// Draws one mark.
    pub fn draw(self, canvas: &mut Canvas, place: (f64, f64), size: f64) {
        let mut path = Path::default();
        self.mark(&mut path, place, size);
        canvas.path(self.style(), &path);
    }
}

/// Draws what a count proves: a tick, a cross, or a question mark; the marks of shares prove nothing.
pub fn verdict(canvas: &mut Canvas, (x, y): (f64, f64), size: f64, proven: Verdict) {
    let mut path = Path::default();
    match proven {
        Verdict::Meets => {
            let low = (x - size * 0.2, y + size * 0.8);
            path.stroke((x - size, y), low);
            path.stroke(low, (x + size, y - size * 0.9));
            canvas.path("f-s0", &path);
        }
        Verdict::Fails => {
            path.stroke((x - size * 0.8, y - size * 0.8), (x + size * 0.8, y + size * 0.8));
            path.stroke((x - size * 0.8, y + size * 0.8), (x + size * 0.8, y - size * 0.8));
            canvas.path("f-lo", &path);
        }
        Verdict::KeepMeasuring => canvas.text("f-tb", (x, y + 5.5), Anchor::Middle, "?"),
    }
}

/// A sample in a legend.
#[derive(Clone, Copy, Debug)]
pub enum Sample<'a> {
    /// A mark.
    Mark(Class),
    /// The mark of what a count proves.
    Verdict(Verdict),
    /// A line of a style.
    Line(&'a str),
    /// A patch of a style.
    Patch(&'a str),
    /// A dot of a style.
    Dot(&'a str),
    /// A diamond of a style.
    Diamond(&'a str),
    /// A cross of a style.
    Cross(&'a str),
    /// A speck of a style: a dot of the smallest.
    Speck(&'a str),
}

/// Draws a legend in rows from `place` downward, `width` wide, and says how high it became.
pub fn legend(canvas: &mut Canvas, place: (f64, f64), width: f64, entries: &[(Sample<'_>, String)]) -> f64 {
    let (mut x, mut y) = place;
    for (sample, words) in entries {
        // DejaVu Sans at 13 px takes about 7.6 px a character.
        let need = 34.0 + 7.6 * words.chars().count().min(60) as f64;
        if x > place.0 && x + need > place.0 + width {
            x = place.0;
            y += 21.0;
        }
        let middle = (x + 10.0, y);
        match sample {
            Sample::Mark(class) => class.draw(canvas, middle, 5.0),
            Sample::Verdict(proven) => verdict(canvas, middle, 5.5, *proven),
            Sample::Line(style) => canvas.line(style, (x - 2.0, y), (x + 22.0, y)),
            Sample::Patch(style) => canvas.rect(style, (x, y - 6.0), (20.0, 12.0)),
            Sample::Dot(style) => canvas.circle(style, middle, 4.5),
            Sample::Diamond(style) => {
                let mut path = Path::default();
                path.shape(middle, &[(0.0, -6.5), (6.5, 0.0), (0.0, 6.5), (-6.5, 0.0)]);
                canvas.path(style, &path);
            }
            Sample::Cross(style) => {
                let mut path = Path::default();
                path.stroke((x + 6.0, y - 4.0), (x + 14.0, y + 4.0));
                path.stroke((x + 6.0, y + 4.0), (x + 14.0, y - 4.0));
                canvas.path(style, &path);
            }
            Sample::Speck(style) => canvas.rect(style, (x + 8.0, y - 2.0), (4.0, 4.0)),
        }
        canvas.text("f-ts", (x + 27.0, y + 4.5), Anchor::Start, words);
        x += need + 12.0;
    }
    y - place.1 + 21.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn classes_follow_counts() {
        assert_eq!(Class::of(4, 4, 0.95), Class::Few);
        assert_eq!(Class::of(19, 20, 0.95), Class::Goal);
        assert_eq!(Class::of(11, 20, 0.95), Class::Between);
        assert_eq!(Class::of(10, 20, 0.95), Class::Low);
        assert_eq!(Class::of(0, 0, 0.95), Class::Few);
    }
}
