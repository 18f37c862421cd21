//! Axes, grids and scale bars: from quantities to places on a drawing, with round numbers beside them.

use super::canvas::{Anchor, Canvas};
use crate::findings::words;

/// An axis from one value at one place to another at another; logarithmic where told so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    from: (f64, f64),
    to: (f64, f64),
    log: bool,
}

/// The part of a drawing that its axes frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Left edge.
    pub left: f64,
    /// Upper edge.
    pub top: f64,
    /// Right edge.
    pub right: f64,
    /// Lower edge.
    pub bottom: f64,
}

impl Axis {
    /// A linear axis: value and place of either end. Ends that coincide are moved apart.
    pub fn linear(from: (f64, f64), to: (f64, f64)) -> Self {
        let to = if to.0 == from.0 { (from.0 + 1.0, to.1) } else { to };
        Self { from, to, log: false }
    }

    /// A logarithmic axis over positive values.
    pub fn logarithmic(from: (f64, f64), to: (f64, f64)) -> Self {
        let low = from.0.max(1e-3);
        let high = if to.0 > low { to.0 } else { low * 2.0 };
        Self {
            from: (low, from.1),
            to: (high, to.1),
            log: true,
        }
    }

    /// Where a value stands; beyond the ends as well.
    pub fn at(&self, value: f64) -> f64 {
        let scale = |value: f64| if self.log { value.max(1e-9).ln() } else { value };
        let share = (scale(value) - scale(self.from.0)) / (scale(self.to.0) - scale(self.from.0));
        self.from.1 + share * (self.to.1 - self.from.1)
    }

    /// Round values along it, about so many.
    pub fn ticks(&self, about: usize) -> Vec<f64> {
        let (low, high) = (self.from.0.min(self.to.0), self.from.0.max(self.to.0));
        if self.log {
            return log_ticks(low, high);
        }
        let step = round_step(high - low, about);
        let first = (low / step - 1e-9).ceil() as i64;
        let last = (high / step + 1e-9).floor() as i64;
        (first..=last.min(first + 100))
            .map(|index| index as f64 * step)
            .collect()
    }
}

/// 1, 2 or 5 times a power of ten, so that a span holds about so many.
pub fn round_step(span: f64, about: usize) -> f64 {
    let rough = span / about.max(1) as f64;
    if !(rough > 0.0 && rough.is_finite()) {
        return 1.0;
    }
    let power = 10_f64.powf(rough.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * power)
        .find(|step| *step >= rough * 0.999)
        .unwrap_or(10.0 * power)
}

fn log_ticks(low: f64, high: f64) -> Vec<f64> {
    let pick = |factors: &[f64]| -> Vec<f64> {
        (low.log10().floor() as i32..=high.log10().ceil() as i32)
            .flat_map(|power| factors.iter().map(move |factor| factor * 10_f64.powi(power)))
            .filter(|value| (low * 0.999..=high * 1.001).contains(value))
            .collect()
    };
    let few = pick(&[1.0, 2.0, 5.0]);
    if few.len() >= 3 {
        return few;
    }
    let more = pick(&[1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0]);
    if more.len() >= 2 { more } else { vec![low, high] }
}

/// Draws grid, numbers and titles of both axes.
pub fn axes(canvas: &mut Canvas, frame: &Frame, x: (&Axis, &str), y: (&Axis, &str), y_number: impl Fn(f64) -> String) {
    for value in y.0.ticks(6) {
        let at = y.0.at(value);
        canvas.line("f-gr", (frame.left, at), (frame.right, at));
        canvas.text("f-ts", (frame.left - 6.0, at + 4.5), Anchor::End, &y_number(value));
    }
    for value in x.0.ticks(6) {
        let at = x.0.at(value);
        canvas.line("f-gr", (at, frame.top), (at, frame.bottom));
        canvas.line("f-ax", (at, frame.bottom), (at, frame.bottom + 5.0));
        canvas.text(
            "f-ts",
            (at, frame.bottom + 20.0),
            Anchor::Middle,
            &words::minus(value, usize::from(value.fract() != 0.0)),
        );
    }
    canvas.line("f-ax", (frame.left, frame.bottom), (frame.right, frame.bottom));
    canvas.line("f-ax", (frame.left, frame.top), (frame.left, frame.bottom));
    canvas.text(
        "f-ts",
        (f64::midpoint(frame.left, frame.right), frame.bottom + 40.0),
        Anchor::Middle,
        x.1,
    );
    canvas.text_upward("f-ts", (16.0, f64::midpoint(frame.top, frame.bottom)), y.1);
}

/// Draws a scale bar of a round length, at most so many pixels long, its left end at `place`.
pub fn scale_bar(canvas: &mut Canvas, place: (f64, f64), pixels_a_metre: f64, most: f64) {
    let step = round_step(most / pixels_a_metre, 1);
    let length = [step, step / 2.0, step / 2.5, step / 5.0]
        .into_iter()
        .find(|length| length * pixels_a_metre <= most)
        .unwrap_or(step / 10.0);
    let (x, y) = place;
    let end = x + length * pixels_a_metre;
    canvas.line("f-ax", (x, y), (end, y));
    canvas.line("f-ax", (x, y - 5.0), (x, y + 5.0));
    canvas.line("f-ax", (end, y - 5.0), (end, y + 5.0));
    let label = if length >= 1000.0 {
        format!(
            "{} km",
            words::minus(length / 1000.0, usize::from(length % 1000.0 != 0.0))
        )
    } else {
        format!("{} m", words::minus(length, usize::from(length < 1.0)))
    };
    canvas.text("f-ts", (f64::midpoint(x, end), y - 8.0), Anchor::Middle, &label);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round() {
        assert_eq!(
            Axis::linear((-95.0, 300.0), (-40.0, 0.0)).ticks(6),
            [-90.0, -80.0, -70.0, -60.0, -50.0, -40.0]
        );
        assert_eq!(
            Axis::logarithmic((10.0, 0.0), (300.0, 1.0)).ticks(6),
            [10.0, 20.0, 50.0, 100.0, 200.0]
        );
        assert_eq!(round_step(0.0, 5), 1.0);
    }

    #[test]
    fn values_stand_where_they_belong() {
        let axis = Axis::logarithmic((10.0, 0.0), (1000.0, 200.0));
        assert!((axis.at(100.0) - 100.0).abs() < 1e-9);
        let axis = Axis::linear((0.0, 200.0), (1.0, 0.0));
        assert!((axis.at(0.25) - 150.0).abs() < 1e-9);
    }
}
