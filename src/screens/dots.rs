//! A raster of Braille dots, two across and four down in a cell, so that a circle looks round.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::theme::{Theme, Tone};

/// The bits of a Braille letter, by line and column of its dots.
const BITS: [[u8; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];

/// Dots over an area, with a tone a cell.
#[derive(Clone, Debug)]
pub struct Dots {
    columns: usize,
    lines: usize,
    cells: Vec<(u8, Tone)>,
}

impl Dots {
    /// No dots yet, over so many columns and lines.
    pub fn over(area: Rect) -> Self {
        let (columns, lines) = (usize::from(area.width), usize::from(area.height));
        Self {
            columns,
            lines,
            cells: vec![(0, Tone::Quiet); columns * lines],
        }
    }

    /// Dots across.
    pub fn width(&self) -> f64 {
        (self.columns * 2) as f64
    }

    /// Dots down.
    pub fn height(&self) -> f64 {
        (self.lines * 4) as f64
    }

    /// Sets a dot, counted from the upper left; outside nothing happens. The last tone of a cell stands.
    pub fn set(&mut self, x: f64, y: f64, tone: Tone) {
        if !(x >= 0.0 && y >= 0.0 && x < self.width() && y < self.height()) {
            return;
        }
        let (x, y) = (x as usize, y as usize);
        let cell = &mut self.cells[y / 4 * self.columns + x / 2];
        cell.0 |= BITS[y % 4][x % 2];
        cell.1 = tone;
    }

    /// Draws a line; of every `period` dots the first `on` are set.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), tone: Tone, (on, period): (u32, u32)) {
        let far = (to.0 - from.0).abs().max((to.1 - from.1).abs());
        if !far.is_finite() || far > 1e5 {
            return;
        }
        let steps = far.ceil().max(1.0) as u32;
        for step in 0..=steps {
            if step % period.max(1) < on {
                let part = f64::from(step) / f64::from(steps);
                self.set(from.0 + part * (to.0 - from.0), from.1 + part * (to.1 - from.1), tone);
            }
        }
    }

    /// Draws a circle; of every `period` dots the first `on` are set.
    pub fn circle(&mut self, centre: (f64, f64), radius: f64, tone: Tone, (on, period): (u32, u32)) {
        if !(radius > 0.0 && radius < 1e4) {
            return;
        }
        let steps = (radius * std::f64::consts::TAU).ceil() as u32;
        for step in (0..steps).filter(|step| step % period.max(1) < on) {
            let (sin, cos) = (f64::from(step) / f64::from(steps) * std::f64::consts::TAU).sin_cos();
            self.set(
                (centre.0 + radius * sin).round(),
                (centre.1 - radius * cos).round(),
                tone,
            );
        }
    }

    /// Puts the dots on the screen; cells without any are left as they are.
    pub fn paint(&self, buffer: &mut Buffer, area: Rect, theme: Theme) {
        for (index, (bits, tone)) in self.cells.iter().enumerate().filter(|(_, (bits, _))| *bits != 0) {
            let (x, y) = (
                area.x + (index % self.columns) as u16,
                area.y + (index / self.columns) as u16,
            );
            if let Some(cell) = buffer.cell_mut((x, y)) {
                let letter = char::from_u32(0x2800 + u32::from(*bits)).unwrap_or(' ');
                cell.set_char(letter).set_style(theme.style(*tone));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dot_lights_its_own_place_and_nothing_outside_does() {
        let area = Rect::new(0, 0, 2, 1);
        let mut dots = Dots::over(area);
        dots.set(0.0, 0.0, Tone::Text);
        dots.set(3.0, 3.0, Tone::Text);
        dots.set(4.0, 0.0, Tone::Text);
        dots.set(f64::NAN, 0.0, Tone::Text);
        dots.line((0.0, 0.0), (f64::INFINITY, 0.0), Tone::Text, (1, 1));
        let mut buffer = Buffer::empty(area);
        dots.paint(&mut buffer, area, Theme::Plain);
        assert_eq!(buffer.content[0].symbol(), "⠁");
        assert_eq!(buffer.content[1].symbol(), "⢀");
    }
}
