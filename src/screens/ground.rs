//! The map: the station, where was walked, what was delivered where, and you. North is up.
//!
//! ```text
//!   ▲ packing shed            50 m ├────────┤  N ↑
//!     ⠉⠒⠤⣀
//!         ⠉⠑⠢⢄   ● ● ● ◐ ◐
//!             ⠑⢄          ○
//!               ⠑⡄        ◉ you
//!   + ~ - what may be expected between, where that is known
//!   ● meets 95 %  ◐ close  ○ does not  · too few
//! ```

use std::collections::BTreeMap;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::dots::Dots;
use super::number::goal;
use super::paint::{columns, cut, put, put_right, put_wrapped};
use super::scene::Scene;
use super::theme::{Theme, Tone};
use super::walked::Spot;
use crate::findings::now::Window;
use crate::ground::Position;
use crate::ground::local::metres_per_degree;
use crate::stats::places;

/// Fewer pings in a square say nothing about it.
const ENOUGH: u64 = 8;
/// The map shows at least so many metres across.
const LEAST_M: f64 = 24.0;
/// Names of points are written where no more than so many are on the map.
const NAMES: usize = 40;

/// What was sent and answered in each square, by its column and line.
type Squares = BTreeMap<(u16, u16), Window>;

/// How a square of the map did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Class {
    Meets,
    Close,
    DoesNot,
    TooFew,
}

impl Class {
    fn of(window: Window, goal: f64) -> Self {
        let (Some(rate), Some(interval)) = (window.rate(), window.interval()) else {
            return Self::TooFew;
        };
        if window.pings < ENOUGH {
            Self::TooFew
        } else if rate >= goal {
            Self::Meets
        } else if interval.high >= goal {
            Self::Close
        } else {
            Self::DoesNot
        }
    }

    const fn look(self) -> (&'static str, Tone) {
        match self {
            Self::Meets => ("●", Tone::Good),
            Self::Close => ("◐", Tone::Close),
            Self::DoesNot => ("○", Tone::Bad),
            Self::TooFew => ("·", Tone::Quiet),
        }
    }
}

/// Metres east and north of an origin, for drawing: true within a few parts in a thousand over some kilometres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plane {
    pub(super) origin: Position,
    north_m: f64,
    east_m: f64,
}

impl Plane {
    /// About an origin; `None` where metres to a degree are not known.
    pub(super) fn about(origin: Position) -> Option<Self> {
        let (north_m, east_m) = metres_per_degree(origin.lat())?;
        Some(Self {
            origin,
            north_m: north_m.0,
            east_m: east_m.0,
        })
    }

    /// Metres east and north of the origin.
    pub(super) fn offset(&self, place: Position) -> (f64, f64) {
        let lon = (place.lon().0 - self.origin.lon().0 + 540.0).rem_euclid(360.0) - 180.0;
        (lon * self.east_m, (place.lat().0 - self.origin.lat().0) * self.north_m)
    }
}

/// Where metres fall among the dots.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Frame {
    centre: (f64, f64),
    pub(super) metres_a_dot: f64,
    dots: (f64, f64),
}

impl Frame {
    /// Holds all offsets, with some room around, at a round scale.
    pub(super) fn around(offsets: impl Iterator<Item = (f64, f64)>, dots: (f64, f64)) -> Option<Self> {
        let mut bounds: Option<[f64; 4]> = None;
        for (east, north) in offsets.filter(|(east, north)| east.is_finite() && north.is_finite()) {
            let [west, south, right, top] = bounds.get_or_insert([east, north, east, north]);
            *west = west.min(east);
            *south = south.min(north);
            *right = right.max(east);
            *top = top.max(north);
        }
        let [west, south, right, top] = bounds?;
        let across = (right - west).max(LEAST_M) / (dots.0 - 8.0).max(4.0);
        let along = (top - south).max(LEAST_M) / (dots.1 - 8.0).max(4.0);
        Some(Self {
            centre: (f64::midpoint(west, right), f64::midpoint(south, top)),
            metres_a_dot: round_up(across.max(along)),
            dots,
        })
    }

    pub(super) fn dot(&self, (east, north): (f64, f64)) -> (f64, f64) {
        (
            (self.dots.0 / 2.0 + (east - self.centre.0) / self.metres_a_dot).floor(),
            (self.dots.1 / 2.0 - (north - self.centre.1) / self.metres_a_dot).floor(),
        )
    }

    /// The middle of a square of two letters' cells, metres east and north.
    fn offset(&self, (x, y): (u16, u16)) -> (f64, f64) {
        let east = (f64::from(x) * 2.0 + 2.0 - self.dots.0 / 2.0) * self.metres_a_dot;
        let north = (self.dots.1 / 2.0 - f64::from(y) * 4.0 - 2.0) * self.metres_a_dot;
        (self.centre.0 + east, self.centre.1 + north)
    }

    /// The letter's cell a place falls in.
    pub(super) fn cell(&self, offset: (f64, f64)) -> Option<(u16, u16)> {
        self.cell_of_dot(self.dot(offset))
    }

    /// The letter's cell of a dot.
    fn cell_of_dot(&self, (x, y): (f64, f64)) -> Option<(u16, u16)> {
        let inside = x >= 0.0 && y >= 0.0 && x < self.dots.0 && y < self.dots.1;
        inside.then(|| ((x / 2.0) as u16, (y / 4.0) as u16))
    }
}

/// The next number up of 1, 1.5, 2, 3, 5, 7 and their tenfold, so that the map does not breathe at every step.
fn round_up(number: f64) -> f64 {
    let power = 10_f64.powf(number.max(1e-6).log10().floor());
    let steps = [1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0];
    let step = steps.into_iter().find(|step| step * power >= number * (1.0 - 1e-9));
    step.unwrap_or(10.0) * power
}

/// A further sign on the map, at metres east and north of the station.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Where.
    pub at: (f64, f64),
    /// One letter or figure.
    pub sign: String,
    /// How it looks.
    pub tone: Tone,
}

/// Draws it.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    render_with(buffer, area, scene, &[], theme);
}

/// Draws it with further marks, which count from the station: without its position they are left away.
pub fn render_with(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, marks: &[Mark], theme: Theme) {
    if area.width < 12 || area.height < 4 {
        return;
    }
    let (walked, station) = (scene.walked, scene.setup.station.position);
    let Some(plane) = walked.plane() else {
        let words = "Nothing to draw yet: neither the station's position nor a fix is known.";
        put_wrapped(buffer, area, 1, words, 3, theme.style(Tone::Quiet));
        return;
    };
    let map = Rect {
        height: area.height - 1 - u16::from(apart(area, scene)),
        ..area
    };
    let dots = Dots::over(map);
    let station = station.map(|station| plane.offset(station));
    let marks = if station.is_some() { marks } else { &[] };
    let all = walked.bounds().corners().into_iter().flatten().chain(station);
    let all = all.chain(marks.iter().map(|mark| mark.at));
    let Some(frame) = Frame::around(all, (dots.width(), dots.height())) else {
        return;
    };
    let go_on = |track: &mut Track, spots: &[Spot]| track.go_on(spots, &frame);
    let track = walked.map.picture(frame, walked.spots(), || Track::over(map), go_on);
    let squares = &track.squares;
    expected(buffer, map, scene, &frame, theme);
    track.dots.paint(buffer, map, theme);
    for ((x, y), window) in squares {
        let (sign, tone) = Class::of(*window, scene.setup.goal.delivery).look();
        put(buffer, map, (x * 2, *y), sign, theme.style(tone));
    }
    let mut signs: Vec<Sign<'_>> = Vec::new();
    if let Some(at) = scene
        .now
        .place
        .and_then(|place| frame.cell(plane.offset(place.position)))
    {
        signs.push(Sign {
            at,
            mark: "◉",
            name: "you",
            tone: Tone::Strong,
        });
    }
    if let Some(at) = station.and_then(|station| frame.cell(station)) {
        let name = scene.setup.station.name.as_deref().unwrap_or("station");
        signs.push(Sign {
            at,
            mark: "▲",
            name,
            tone: Tone::Strong,
        });
    }
    for point in scene.points.iter().rev() {
        let new = !signs.iter().any(|sign| sign.name == point.point);
        if let (true, Some(position)) = (new && signs.len() < NAMES, point.position)
            && let Some(at) = frame.cell(plane.offset(position))
        {
            signs.push(Sign {
                at,
                mark: "◆",
                name: &point.point,
                tone: Tone::Text,
            });
        }
    }
    for mark in marks.iter().rev() {
        if let Some(at) = frame.cell(mark.at) {
            put(buffer, map, at, &mark.sign, theme.style(mark.tone));
        }
    }
    for sign in signs.iter().rev() {
        put(buffer, map, sign.at, sign.mark, theme.style(sign.tone));
    }
    names(buffer, map, &signs, squares, theme);
    legend(buffer, area, scene, frame.metres_a_dot * 2.0, theme);
}

/// What was walked, as it is drawn: its line, and what was sent and answered in each square.
#[derive(Clone, Debug)]
pub(super) struct Track {
    dots: Dots,
    squares: Squares,
    /// The last row, and its dot.
    before: Option<(u32, (f64, f64))>,
}

impl Track {
    fn over(map: Rect) -> Self {
        Self {
            dots: Dots::over(map),
            squares: Squares::new(),
            before: None,
        }
    }

    /// Goes on with further spots; a gap in the positions stays a gap.
    fn go_on(&mut self, spots: &[Spot], frame: &Frame) {
        // Whoever walks stays in a square for a while: it is entered once it is left.
        let mut here: Option<((u16, u16), Window)> = None;
        for spot in spots {
            let dot = frame.dot(spot.place());
            if let Some((_, from)) = self.before.filter(|(row, _)| row + 1 == spot.row) {
                if from == dot {
                    self.dots.set(dot.0, dot.1, Tone::Quiet);
                } else {
                    self.dots.line(from, dot, Tone::Quiet, (1, 1));
                }
            }
            self.before = Some((spot.row, dot));
            if let (true, Some((x, y))) = (spot.counts, frame.cell_of_dot(dot)) {
                let square = (x / 2, y);
                if here.is_none_or(|(at, _)| at != square) {
                    self.enter(here.take());
                }
                let (_, window) = here.get_or_insert((square, Window::default()));
                window.pings += 1;
                window.echoes += u64::from(spot.delivered);
            }
        }
        self.enter(here);
    }

    fn enter(&mut self, walked: Option<((u16, u16), Window)>) {
        if let Some((square, window)) = walked {
            let all = self.squares.entry(square).or_default();
            all.pings += window.pings;
            all.echoes += window.echoes;
        }
    }
}

/// What a node may expect where nobody walked, by small signs; ground nothing is known of stays empty.
fn expected(buffer: &mut Buffer, map: Rect, scene: &Scene<'_>, frame: &Frame, theme: Theme) {
    // It lies about the station: without the station's position there is none.
    let Some(expected) = scene
        .around
        .outlook
        .map(|outlook| &outlook.expected)
        .filter(|expected| !expected.is_empty())
    else {
        return;
    };
    for y in 0..map.height {
        for x in (0..map.width).step_by(2) {
            let (sign, tone) = match expected.at(frame.offset((x, y))) {
                Some(places::Class::Good) => ("+", Tone::Good),
                Some(places::Class::Marginal) => ("~", Tone::Close),
                Some(places::Class::Poor) => ("-", Tone::Bad),
                Some(places::Class::Unwalked) | None => continue,
            };
            put(buffer, map, (x, y), sign, theme.style(tone));
        }
    }
}

/// A sign on the map, with its name.
struct Sign<'a> {
    at: (u16, u16),
    mark: &'a str,
    name: &'a str,
    tone: Tone,
}

/// Writes the names beside their signs, the first ones first; a name that finds no room free of others is left away.
fn names(buffer: &mut Buffer, map: Rect, signs: &[Sign<'_>], squares: &Squares, theme: Theme) {
    let mut taken: Vec<(u16, u16, u16)> = signs.iter().map(|sign| (sign.at.0, sign.at.0 + 1, sign.at.1)).collect();
    for sign in signs {
        let name = cut(sign.name, 18);
        let wide = columns(&name);
        let (x, y) = sign.at;
        let sides = [
            Some((x + 2, y)),
            x.checked_sub(wide + 1).map(|x| (x, y)),
            y.checked_sub(1).map(|y| (x + 1, y)),
            Some((x + 1, y + 1)),
            y.checked_sub(1).and_then(|y| Some((x.checked_sub(wide)?, y))),
            x.checked_sub(wide).map(|x| (x, y + 1)),
        ];
        let free = |(x, y): &(u16, u16)| {
            // The upper right corner belongs to the scale.
            let inside = x + wide <= map.width && *y < map.height && (*y > 0 || x + wide + 20 < map.width);
            let overlaps = |(from, to, line): &(u16, u16, u16)| line == y && *from < x + wide && *x < *to;
            inside && !taken.iter().any(overlaps)
        };
        // Rather beside what was walked than over it.
        let clear = |(x, y): &(u16, u16)| (x / 2..=(x + wide) / 2).all(|column| !squares.contains_key(&(column, *y)));
        let places = || sides.iter().copied().flatten().filter(free);
        if let Some((x, y)) = places().find(clear).or_else(|| places().next()) {
            // A blank on either side keeps the name apart from what is drawn around it.
            for side in [x.checked_sub(1), Some(x + wide)].into_iter().flatten() {
                if !squares.contains_key(&(side / 2, y))
                    && !taken.iter().any(|(from, _, line)| *line == y && *from == side)
                {
                    put(buffer, map, (side, y), " ", theme.style(Tone::Text));
                }
            }
            put(buffer, map, (x, y), &name, theme.style(Tone::Text));
            taken.push((x, x + wide + 1, y));
        }
    }
}

fn legend(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, metres_a_column: f64, theme: Theme) {
    scale(buffer, area, metres_a_column, theme);
    let outlook = scene.around.outlook;
    if outlook.is_some_and(|outlook| outlook.read_with.station_doubted.is_some()) {
        let words = cut("station doubted: see places (v)", area.width);
        put(buffer, area, (0, 1), &words, theme.style(Tone::Bad));
    }
    let y = area.height - 1;
    let words = walked_words(area, scene);
    let mut x = 0;
    for (class, word) in CLASSES.into_iter().zip(&words) {
        let (sign, tone) = class.look();
        put(buffer, area, (x, y), sign, theme.style(tone));
        x += 2 + put(buffer, area, (x + 2, y), word, theme.style(Tone::Text)) + 2;
    }
    if !is_expected(scene) {
        return;
    }
    let line = u16::from(apart(area, scene));
    let taken = if line == 0 { x + 1 } else { 0 };
    let fits = BETWEEN.into_iter().find(|words| taken + columns(words) <= area.width);
    if let Some(between) = fits {
        put_right(buffer, area, y - line, between, theme.style(Tone::Text));
    }
}

/// The classes of squares walked through, as the legend has them.
const CLASSES: [Class; 4] = [Class::Meets, Class::Close, Class::DoesNot, Class::TooFew];
/// What the signs between them mean.
const BETWEEN: [&str; 2] = ["between: + likely  ~ maybe  - hardly", "+ likely ~ maybe - hardly"];
/// From so many lines on the legend may have two.
const ROOM_FOR_TWO: u16 = 7;

fn is_expected(scene: &Scene<'_>) -> bool {
    scene.around.outlook.is_some_and(|outlook| !outlook.expected.is_empty())
}

/// What is said of squares walked through, long or short.
fn walked_words(area: Rect, scene: &Scene<'_>) -> [String; 4] {
    let meets = format!("meets {}", goal(scene.setup.goal.delivery));
    let long = [meets.as_str(), "close", "does not", "too few"].map(str::to_owned);
    if legend_width(&long) <= area.width {
        long
    } else {
        ["meets", "close", "not", "few"].map(str::to_owned)
    }
}

fn legend_width(words: &[String; 4]) -> u16 {
    words.iter().map(|word| columns(word) + 4).sum::<u16>() - 2
}

/// Whether what the signs between mean needs a line of its own.
fn apart(area: Rect, scene: &Scene<'_>) -> bool {
    let beside = legend_width(&walked_words(area, scene)) + 3 + columns(BETWEEN[1]);
    is_expected(scene) && beside > area.width && area.height >= ROOM_FOR_TWO
}

/// Scale bar and north, in the upper right corner.
pub(super) fn scale(buffer: &mut Buffer, area: Rect, metres_a_column: f64, theme: Theme) {
    let room = f64::from(area.width / 4).max(5.0) * metres_a_column;
    let power = 10_f64.powf(room.log10().floor());
    let length = [5.0, 2.0, 1.0]
        .into_iter()
        .map(|step| step * power)
        .find(|length| *length <= room)
        .unwrap_or(power);
    let across = (length / metres_a_column).round().max(2.0) as usize;
    let unit = if length >= 1000.0 {
        format!("{:.0} km", length / 1000.0)
    } else {
        format!("{length:.0} m")
    };
    let bar = format!("{unit} ├{}┤  N ↑", "─".repeat(across.saturating_sub(2)));
    put_right(buffer, area, 0, &bar, theme.style(Tone::Text));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_are_round() {
        assert_eq!(round_up(0.9), 1.0);
        assert_eq!(round_up(1.2), 1.5);
        assert_eq!(round_up(35.0), 50.0);
        assert_eq!(round_up(1.0), 1.0);
    }

    #[test]
    fn a_square_needs_some_pings_before_it_is_judged() {
        let window = |pings, echoes| Window { pings, echoes };
        assert_eq!(Class::of(window(7, 7), 0.95), Class::TooFew);
        assert_eq!(Class::of(window(40, 40), 0.95), Class::Meets);
        assert_eq!(Class::of(window(40, 37), 0.95), Class::Close);
        assert_eq!(Class::of(window(40, 20), 0.95), Class::DoesNot);
    }
}
