//! Ground seen from above: north up, a frame that holds everything, a scale bar, the station as a triangle.

use super::axis::scale_bar;
use super::canvas::{Anchor, Canvas, Path};

/// From metres east and north to places on a drawing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plan {
    west: f64,
    north: f64,
    /// Pixels to a metre.
    pub scale: f64,
    left: f64,
    top: f64,
    /// How high the plan is, pixels.
    pub height: f64,
}

impl Plan {
    /// A plan `width` pixels wide, between `least` and `most` pixels high, that holds all places with a margin around.
    pub fn holding(
        places: impl Iterator<Item = (f64, f64)>,
        width: f64,
        heights: (f64, f64),
        corner: (f64, f64),
    ) -> Option<Self> {
        let mut bounds: Option<[f64; 4]> = None;
        for (east, north) in places.filter(|(east, north)| east.is_finite() && north.is_finite()) {
            let b = bounds.get_or_insert([east, east, north, north]);
            *b = [b[0].min(east), b[1].max(east), b[2].min(north), b[3].max(north)];
        }
        let [west, east, south, north] = bounds?;
        let (across, along) = ((east - west).max(20.0), (north - south).max(20.0));
        let room = 26.0;
        let scale = ((width - 2.0 * room) / across).min((heights.1 - 2.0 * room) / along);
        let height = (along * scale + 2.0 * room).clamp(heights.0, heights.1);
        Some(Self {
            west: f64::midpoint(west, east) - width / 2.0 / scale,
            north: f64::midpoint(south, north) + height / 2.0 / scale,
            scale,
            left: corner.0,
            top: corner.1,
            height,
        })
    }

    /// Where a place stands.
    pub fn at(&self, east: f64, north: f64) -> (f64, f64) {
        (
            self.left + (east - self.west) * self.scale,
            self.top + (self.north - north) * self.scale,
        )
    }

    /// Draws the station, its name beside it.
    pub fn station(&self, canvas: &mut Canvas, name: &str) {
        let at = self.at(0.0, 0.0);
        let mut mark = Path::default();
        mark.shape(at, &[(0.0, -10.0), (9.0, 7.0), (-9.0, 7.0)]);
        canvas.path("f-st", &mark);
        // DejaVu Sans at 13 px takes about 7.6 px a character: a name near an edge is moved inward.
        let half = 3.9 * name.chars().count() as f64;
        let x =
            at.0.max(self.left + half)
                .min((canvas.width - half).max(self.left + half));
        label(canvas, (x, at.1 + 21.0), Anchor::Middle, name);
    }

    /// Draws scale bar and north arrow below the plan.
    pub fn furniture(&self, canvas: &mut Canvas, width: f64) {
        let y = self.top + self.height + 24.0;
        scale_bar(canvas, (self.left + 8.0, y), self.scale, width * 0.3);
        let x = self.left + width - 62.0;
        canvas.line("f-ax", (x, y + 8.0), (x, y - 12.0));
        let mut head = Path::default();
        head.shape((x, y - 12.0), &[(0.0, -6.0), (5.0, 5.0), (-5.0, 5.0)]);
        canvas.path("f-st", &head);
        canvas.text("f-ts", (x + 9.0, y + 2.0), Anchor::Start, "north");
    }
}

/// Words with a halo, readable over anything.
pub fn label(canvas: &mut Canvas, place: (f64, f64), anchor: Anchor, words: &str) {
    canvas.text("f-ha", place, anchor, words);
    canvas.text("f-ts", place, anchor, words);
}
