//! Polar plot of sweeps: the station at the top, turns clockwise, rings in dB below the strongest.
//!
//! ```text
//!            ▲ station
//!           ⢀⡠⠤●⠤⢄⡀
//!         ⡠●   ⠒    ●⢄        ● with its bar: a step and its 95 % interval
//!        ⢰ ⠈⢆        ⠌⡆       dotted: the fitted curve
//!        ●⠒   −10      ●      × many lost   ▼ nothing heard: at most this
//!        ⠘⡄           ⢠⠃      ◎ being counted
//!          ⠑●⣀     ⣀▼⠊
//!             ⠉⠒⠤×⠒⠉
//! ```
//!
//! Where several are laid over each other each has its own sign and its own dots between, and bars are left away.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::dots::Dots;
use super::number::whole;
use super::paint::{columns, put};
use super::pattern::{Bar, Mark, Pattern};
use super::theme::{Theme, Tone};
use crate::findings::turning::many_lost;

/// The plot reaches so many decibels below the strongest, or as far as its weakest step needs, by steps of five.
const REACH_DB: (f64, f64) = (10.0, 40.0);
/// How far down a step that heard nothing may stretch the plot, dB; a deeper limit stands at the centre.
const SILENT_REACH_DB: f64 = 20.0;
/// Bars may rise so far above the strongest level.
const OVERSHOOT_DB: f64 = 5.0;
/// Radius in dots from which on there is room for the fitted curve beside the bars, for the figures at the rings, and for
/// the curve's band.
const ROOM_FOR_CURVE: f64 = 22.0;
const ROOM_FOR_FIGURES: f64 = 30.0;
const ROOM_FOR_BAND: f64 = 36.0;
/// Figures at the rings stand in the first of these directions, degrees, where no sign is in their way.
const FIGURES_DEG: [f64; 5] = [15.0, 195.0, 105.0, 285.0, 60.0];
/// Turns farther apart than this are not joined: a stretch not measured stays a gap.
const JOINED_DEG: f64 = 60.0;
/// What tells plots laid over each other apart: the sign of a step, and dots of the line between.
pub const LOOKS: [(&str, Tone, (u32, u32)); 4] = [
    ("●", Tone::Here, (1, 1)),
    ("■", Tone::There, (2, 4)),
    ("◆", Tone::Strong, (1, 3)),
    ("▲", Tone::Close, (3, 5)),
];
/// The sign of a step that lost many.
pub const LOSSY: &str = "×";
/// The sign of a step that heard nothing: its level is at most this.
pub const AT_MOST: &str = "▼";
/// The sign of the step being counted.
pub const NOW: &str = "◎";

/// One sweep to be drawn.
#[derive(Clone, Debug, Default)]
pub struct Plot {
    /// What it is: board and pose.
    pub name: String,
    /// Its steps.
    pub marks: Vec<Mark>,
    /// The fitted curve at each whole degree, dBm; empty where there is none.
    pub curve: Vec<f64>,
    /// Its interval at each whole degree, dBm.
    pub band: Vec<(f64, f64)>,
    /// What is known of it, the most important first.
    pub words: Vec<String>,
    /// How it differs from earlier ones: their names, and in words.
    pub against: Vec<(String, String)>,
}

impl Plot {
    /// The plot of a sweep that is over.
    pub fn of(pattern: Pattern) -> Self {
        Self {
            name: pattern.name,
            marks: pattern.steps,
            curve: pattern.curve,
            band: pattern.band,
            words: pattern.words,
            against: pattern.against,
        }
    }

    /// The level of its strongest step, dBm.
    pub fn strongest(&self) -> Option<f64> {
        let heard = self.marks.iter().filter_map(|mark| match mark.bar {
            Some(Bar::AtMost(_)) | None => None,
            Some(bar) => Some(bar.level()),
        });
        heard.max_by(f64::total_cmp)
    }
}

/// The sign of a step, and how it looks.
pub fn sign(mark: &Mark, (usual, tone): (&'static str, Tone)) -> (&'static str, Tone) {
    if mark.pings > 0 && mark.echoes == 0 {
        (AT_MOST, Tone::Bad)
    } else if many_lost(mark.pings, mark.echoes) {
        (LOSSY, Tone::Bad)
    } else if mark.now {
        (NOW, Tone::Strong)
    } else {
        (usual, tone)
    }
}

/// Columns a plot of so many lines takes, the line above it with the station included.
pub const fn width_of(lines: u16) -> u16 {
    lines.saturating_sub(1) * 2 + 6
}

/// How far levels lie from the centre, in dots.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Scale {
    strongest: f64,
    reach: f64,
    /// Dots a decibel.
    dots: f64,
}

impl Scale {
    fn of(plots: &[Plot], radius: f64) -> Self {
        let bars = || plots.iter().flat_map(|plot| &plot.marks).filter_map(|mark| mark.bar);
        let alone = plots.len() == 1;
        let curves = plots
            .iter()
            .filter(|_| alone)
            .flat_map(|plot| plot.curve.iter().copied());
        let levels: Vec<f64> = bars().map(Bar::level).chain(curves).collect();
        let heard = bars().filter(|bar| !matches!(bar, Bar::AtMost(_))).map(Bar::level);
        let heard = heard.fold(f64::NEG_INFINITY, f64::max);
        let any = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let strongest = if heard.is_finite() { heard } else { any };
        if !strongest.is_finite() {
            return Self {
                strongest,
                reach: 20.0,
                dots: radius / 20.0,
            };
        }
        let silent = |bar: &Bar| matches!(bar, Bar::AtMost(_));
        let heard = bars()
            .filter(|bar| !silent(bar))
            .map(Bar::level)
            .chain(levels.iter().copied().skip(bars().count()));
        let limits = bars()
            .filter(silent)
            .map(|bar| bar.level().max(strongest - SILENT_REACH_DB));
        let weakest = heard.chain(limits).fold(f64::INFINITY, f64::min);
        let (mut lowest, mut highest) = (weakest, any);
        for bar in bars().filter(|_| alone) {
            if let Bar::Between { low, high, .. } = bar {
                lowest = lowest.min(low.max(weakest - 5.0));
                highest = highest.max(high);
            }
        }
        let reach = (((strongest - lowest + 1.0) / 5.0).ceil() * 5.0).clamp(REACH_DB.0, REACH_DB.1);
        Self {
            strongest,
            reach,
            dots: radius / (reach + (highest - strongest).clamp(0.0, OVERSHOOT_DB)),
        }
    }

    fn far(&self, level: f64) -> f64 {
        let below = (self.strongest - level).clamp(-OVERSHOOT_DB, self.reach);
        (self.reach - below) * self.dots
    }

    /// From one ring to the next, dB.
    fn ring(&self) -> f64 {
        if self.reach <= 15.0 { 5.0 } else { 10.0 }
    }

    /// The rings inside the outermost, dB below the strongest.
    fn rings(&self) -> impl Iterator<Item = f64> {
        let (step, reach) = (self.ring(), self.reach);
        (1..)
            .map(move |ring| f64::from(ring) * step)
            .take_while(move |below| *below < reach)
    }
}

/// From one ring to the next, dB.
pub fn ring_db(plots: &[Plot]) -> f64 {
    Scale::of(plots, 1.0).ring()
}

/// Draws one or several; `absolute` names rings in dBm.
pub fn render(buffer: &mut Buffer, area: Rect, plots: &[Plot], absolute: bool, theme: Theme) {
    if area.width < 16 || area.height < 5 {
        return;
    }
    let plots = &plots[..plots.len().min(LOOKS.len())];
    let inner = Rect {
        y: area.y + 1,
        height: area.height - 1,
        ..area
    };
    let mut dots = Dots::over(inner);
    let centre = ((dots.width() / 2.0).floor(), (dots.height() / 2.0).floor());
    let radius = (centre.0.min(centre.1) - 2.0).max(3.0);
    let scale = Scale::of(plots, radius);
    let place = |turn: f64, far: f64| {
        let (sin, cos) = turn.to_radians().sin_cos();
        (centre.0 + far * sin, centre.1 - far * cos)
    };
    let spot = |turn: f64, level: f64| {
        let (x, y) = place(turn, scale.far(level));
        (x.round(), y.round())
    };
    for ring in scale.rings() {
        dots.circle(centre, (scale.reach - ring) * scale.dots, Tone::Quiet, (1, 4));
    }
    dots.circle(centre, scale.reach * scale.dots, Tone::Quiet, (1, 2));
    if let [only] = plots {
        if radius >= ROOM_FOR_BAND {
            let edges = |edge: fn(&(f64, f64)) -> f64| only.band.iter().map(edge).collect::<Vec<_>>();
            for edge in [edges(|band| band.0), edges(|band| band.1)] {
                dotted(&mut dots, &edge, spot, Tone::Quiet, 4.0);
            }
        }
        if only.curve.is_empty() {
            joined(&mut dots, &only.marks, spot, Tone::Quiet, (1, 3));
        } else if radius >= ROOM_FOR_CURVE {
            dotted(&mut dots, &only.curve, spot, LOOKS[0].1, 2.0);
        }
        for mark in &only.marks {
            bar(&mut dots, mark, scale, place, sign(mark, (LOOKS[0].0, LOOKS[0].1)).1);
        }
    } else {
        for (plot, (_, tone, pattern)) in plots.iter().zip(LOOKS) {
            joined(&mut dots, &plot.marks, spot, tone, pattern);
        }
    }
    dots.paint(buffer, inner, theme);
    let middle = (centre.0 / 2.0) as u16;
    let quiet = theme.style(Tone::Quiet);
    put(buffer, inner, (middle, (centre.1 / 4.0) as u16), "+", quiet);
    put(buffer, area, (middle, 0), "▲ station", theme.style(Tone::Strong));
    for (plot, (usual, tone, _)) in plots.iter().zip(LOOKS).rev() {
        for mark in plot.marks.iter().filter(|mark| mark.pings > 0) {
            let (sign, tone) = sign(mark, (usual, tone));
            // Nothing heard and nothing reckoned yet: towards the centre, where weak turns lie.
            let (x, y) = match mark.bar {
                Some(bar) => spot(mark.turn, bar.level()),
                None => place(mark.turn, 0.15 * radius),
            };
            put(
                buffer,
                inner,
                ((x / 2.0) as u16, (y / 4.0) as u16),
                sign,
                theme.style(tone),
            );
        }
    }
    if scale.strongest.is_finite() && (absolute || radius >= ROOM_FOR_FIGURES) {
        for below in scale.rings() {
            let figure = whole(if absolute { scale.strongest - below } else { -below });
            let far = (scale.reach - below) * scale.dots;
            let at = FIGURES_DEG
                .map(|turn| place(turn, far))
                .map(|(x, y)| ((x / 2.0) as u16, (y / 4.0) as u16));
            if let Some(free) = at.into_iter().find(|at| is_free(buffer, inner, *at, columns(&figure))) {
                put(buffer, inner, free, &figure, quiet);
            }
        }
    }
}

/// Whether nothing but blanks and dots stands where so many columns would be written.
fn is_free(buffer: &Buffer, area: Rect, (x, y): (u16, u16), columns: u16) -> bool {
    x + columns <= area.width
        && (x..x + columns).all(|x| {
            let letter = buffer
                .cell((area.x + x, area.y + y))
                .and_then(|cell| cell.symbol().chars().next());
            letter.is_some_and(|letter| letter == ' ' || ('\u{2800}'..='\u{28FF}').contains(&letter))
        })
}

/// A closed curve given at each whole degree, as dots so far apart.
fn dotted(dots: &mut Dots, levels: &[f64], spot: impl Fn(f64, f64) -> (f64, f64), tone: Tone, apart: f64) {
    let mut last: Option<(f64, f64)> = None;
    for (degree, level) in levels.iter().enumerate() {
        let (x, y) = spot(degree as f64, *level);
        if last.is_none_or(|(before_x, before_y)| (x - before_x).hypot(y - before_y) >= apart) {
            dots.set(x, y, tone);
            last = Some((x, y));
        }
    }
}

/// Neighbouring steps joined.
fn joined(dots: &mut Dots, marks: &[Mark], spot: impl Fn(f64, f64) -> (f64, f64), tone: Tone, pattern: (u32, u32)) {
    let mut known: Vec<(f64, f64)> = marks
        .iter()
        .filter_map(|mark| Some((mark.turn, mark.bar?.level())))
        .collect();
    known.sort_by(|one, other| one.0.total_cmp(&other.0));
    for index in 0..known.len() {
        let (from, to) = (known[index], known[(index + 1) % known.len()]);
        let apart = (to.0 - from.0).rem_euclid(360.0);
        if apart > 0.5 && apart <= JOINED_DEG {
            dots.line(spot(from.0, from.1), spot(to.0, to.1), tone, pattern);
        }
    }
}

/// The interval of a step along its direction, closed by a stroke across at each end; dots alone down to the centre where
/// nothing was heard.
fn bar(dots: &mut Dots, mark: &Mark, scale: Scale, place: impl Fn(f64, f64) -> (f64, f64), tone: Tone) {
    let rounded = |(x, y): (f64, f64)| (x.round(), y.round());
    match mark.bar {
        Some(Bar::Between { low, high, .. }) => {
            let ends = [low, high].map(|level| scale.far(level));
            dots.line(
                rounded(place(mark.turn, ends[0])),
                rounded(place(mark.turn, ends[1])),
                tone,
                (1, 1),
            );
            let (sin, cos) = mark.turn.to_radians().sin_cos();
            for far in ends.into_iter().filter(|far| *far > 1.0) {
                let (x, y) = place(mark.turn, far);
                for side in [-1.0, 0.0, 1.0] {
                    let (x, y) = rounded((x + side * cos, y + side * sin));
                    dots.set(x, y, tone);
                }
            }
        }
        Some(Bar::AtMost(high)) => dots.line(
            rounded(place(mark.turn, 0.0)),
            rounded(place(mark.turn, scale.far(high))),
            tone,
            (1, 2),
        ),
        Some(Bar::Bare(_)) | None => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mark(turn: f64, value: f64, reach: f64) -> Mark {
        Mark {
            turn,
            pings: 40,
            echoes: 40,
            bar: Some(Bar::Between {
                value,
                low: value - reach,
                high: value + reach,
            }),
            now: false,
        }
    }

    fn drawn(width: u16, height: u16, marks: Vec<Mark>) -> Buffer {
        let area = Rect::new(0, 0, width, height);
        let mut buffer = Buffer::empty(area);
        let plot = Plot {
            marks,
            ..Plot::default()
        };
        render(&mut buffer, area, &[plot], false, Theme::Plain);
        buffer
    }

    /// Where signs stand, columns and lines.
    fn places(buffer: &Buffer, sign: &str) -> Vec<(u16, u16)> {
        let area = buffer.area;
        (0..area.height)
            .flat_map(|y| (0..area.width).map(move |x| (x, y)))
            .filter(|at| buffer[*at].symbol() == sign)
            .collect()
    }

    #[test]
    fn a_round_board_is_drawn_round_at_36_columns() {
        let marks = (0..4).map(|step| mark(90.0 * f64::from(step), -60.0, 0.1)).collect();
        let buffer = drawn(36, 9, marks);
        let at = places(&buffer, "●");
        assert_eq!(at.len(), 4, "{at:?}");
        let extent = |of: fn(&(u16, u16)) -> u16| at.iter().map(of).max().unwrap() - at.iter().map(of).min().unwrap();
        // A cell is twice as tall as wide.
        let (across, down) = (extent(|at| at.0), extent(|at| at.1));
        assert!(across.abs_diff(2 * down) <= 2, "{across} across, {down} down");
    }

    #[test]
    fn wider_intervals_take_more_dots() {
        let dots = |reach: f64| {
            let buffer = drawn(
                40,
                12,
                (0..8).map(|step| mark(45.0 * f64::from(step), -60.0, reach)).collect(),
            );
            let braille = |cell: &ratatui::buffer::Cell| {
                let letter = cell.symbol().chars().next().unwrap_or(' ') as u32;
                if (0x2800..0x2900).contains(&letter) {
                    (letter - 0x2800).count_ones()
                } else {
                    0
                }
            };
            buffer.content.iter().map(braille).sum::<u32>()
        };
        assert!(dots(4.0) > dots(1.0) + 16, "{} against {}", dots(4.0), dots(1.0));
    }

    #[test]
    fn lossy_and_silent_steps_have_signs_of_their_own() {
        let mut marks: Vec<Mark> = (0..8).map(|step| mark(45.0 * f64::from(step), -60.0, 1.0)).collect();
        marks[2].echoes = 20;
        marks[4].echoes = 0;
        marks[4].bar = Some(Bar::AtMost(-70.0));
        marks[7].now = true;
        let buffer = drawn(40, 14, marks);
        for (sign, count) in [(LOSSY, 1), (AT_MOST, 1), (NOW, 1), ("●", 5)] {
            assert_eq!(places(&buffer, sign).len(), count, "{sign}");
        }
    }

    #[test]
    fn a_weak_sweep_or_none_does_not_upset_the_scale() {
        let silent = Mark {
            turn: 0.0,
            pings: 40,
            echoes: 0,
            bar: None,
            now: false,
        };
        let buffer = drawn(40, 14, vec![silent]);
        assert_eq!(places(&buffer, AT_MOST).len(), 1);
        drawn(40, 14, vec![]);
        let only = Plot {
            marks: vec![Mark {
                bar: Some(Bar::AtMost(-96.0)),
                ..silent
            }],
            ..Plot::default()
        };
        assert_eq!(only.strongest(), None);
        assert_eq!(Scale::of(&[only], 20.0).strongest, -96.0);
    }
}
