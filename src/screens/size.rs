//! Three layouts by size, and a word for what is too small.

use ratatui::layout::Rect;

/// Which layout fits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Size {
    /// Below 36 × 16: it is said in words.
    TooSmall,
    /// A phone's terminal, upright.
    Pocket,
    /// 80 × 24.
    Standard,
    /// From 120 × 36.
    Wide,
}

impl Size {
    /// The layout for an area.
    pub fn of(area: Rect) -> Self {
        match (area.width, area.height) {
            (120.., 36..) => Self::Wide,
            (80.., 24..) => Self::Standard,
            (36.., 16..) => Self::Pocket,
            _ => Self::TooSmall,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_smaller_side_decides() {
        let of = |width, height| Size::of(Rect::new(0, 0, width, height));
        assert_eq!(of(140, 40), Size::Wide);
        assert_eq!(of(140, 30), Size::Standard);
        assert_eq!(of(80, 24), Size::Standard);
        assert_eq!(of(40, 60), Size::Pocket);
        assert_eq!(of(36, 16), Size::Pocket);
        assert_eq!(of(35, 16), Size::TooSmall);
        assert_eq!(of(1, 1), Size::TooSmall);
        assert_eq!(of(0, 0), Size::TooSmall);
    }
}
