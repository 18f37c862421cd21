//! Level by distance: a dot an exchange, the share lost along the foot, the fitted line and the level needed when known.
//!
//! ```text
//!   −40 ⡀⢀
//!       ⠈⠑⢄⡠⣀
//!   −70 ╌╌╌╌╌╌⠑⢄⡀⠠⢀╌╌╌ needs −88 dBm ±3
//!            ⠈⠑⠢⠤⣀⣀
//!  −100 ────────────────────
//!  lost   ▁  ▂▅█
//!       0         100        200 m
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::dots::Dots;
use super::number::whole;
use super::outlook::Spread;
use super::paint::{columns, put, put_right, put_wrapped, wrap};
use super::scene::Scene;
use super::theme::{Theme, Tone};
use super::walked::Spot;
use crate::findings::side::Side;

/// Columns left of the figure.
const LABELS: u16 = 6;

/// What the place of a dot depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Axes {
    /// The far end, metres.
    far: f64,
    /// The lower and the upper end, dBm.
    levels: (f64, f64),
    /// Whether levels are those that the station hears.
    by_station: bool,
    plot: Rect,
}

/// Exchanges, as they are drawn: a dot each, and over each column how many were sent and lost.
#[derive(Clone, Debug)]
pub(super) struct Plot {
    dots: Dots,
    columns: Vec<(u32, u32)>,
}

impl Plot {
    fn over(plot: Rect) -> Self {
        Self {
            dots: Dots::over(plot),
            columns: vec![(0, 0); usize::from(plot.width)],
        }
    }

    fn go_on(&mut self, spots: &[Spot], axes: &Axes) {
        let (height, width) = (self.dots.height(), self.dots.width());
        let (low, high) = axes.levels;
        for spot in spots.iter().filter(|spot| spot.counts) {
            let Some(distance) = spot.distance else { continue };
            let share = f64::from(distance) / axes.far;
            if let Some(column) = self.columns.get_mut((share * f64::from(axes.plot.width)) as usize) {
                column.0 += 1;
                column.1 += u32::from(!spot.delivered);
            }
            let level = if axes.by_station { spot.there } else { spot.here };
            if let Some(level) = level.map(f64::from) {
                let down = (high - level) / (high - low) * (height - 1.0);
                self.dots
                    .set((share * (width - 1.0)).floor(), down.round(), Tone::There);
            }
        }
    }
}

/// Draws it.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    if area.width < 20 || area.height < 6 {
        return;
    }
    let bounds = scene.walked.bounds();
    let far = bounds.distance.map_or(0.0, |(_, far)| f64::from(far));
    if far <= 0.0 {
        let words = if scene.setup.station.position.is_none() && scene.doing.is_replay() {
            "The station's position is not set, so there is no distance. Put it into survey.toml and rebuild."
        } else if scene.setup.station.position.is_none() {
            "The station's position is not set, so there is no distance. Put it into survey.toml, or begin with --station."
        } else {
            "No exchange with a position yet."
        };
        put_wrapped(buffer, area, 1, words, 4, theme.style(Tone::Quiet));
        return;
    }
    let far = round_up(far);
    let by_station = by_station(scene);
    let levels = if by_station { bounds.there } else { bounds.here };
    let levels = levels.map(|(low, high)| [f64::from(low), f64::from(high)]);
    let outlook = scene.around.outlook;
    let needed = outlook.and_then(|outlook| outlook.needed);
    let levels = levels.into_iter().flatten().chain(needed.map(|needed| needed.value));
    let (low, high) = levels.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), level| {
        (low.min(level), high.max(level))
    });
    let (low, high) = if low.is_finite() { (low, high) } else { (-100.0, -40.0) };
    let low = (low / 10.0).floor() * 10.0;
    let high = ((high / 10.0).ceil() * 10.0).max(low + 20.0);

    let plot = Rect::new(area.x + LABELS, area.y, area.width - LABELS, area.height - 2);
    let axes = Axes {
        far,
        levels: (low, high),
        by_station,
        plot,
    };
    let go_on = |drawn: &mut Plot, spots: &[Spot]| drawn.go_on(spots, &axes);
    let drawn = scene
        .walked
        .plot
        .picture(axes, scene.walked.spots(), || Plot::over(plot), go_on);
    let mut dots = drawn.dots;
    let (height, width) = (dots.height(), dots.width());
    let y_of = |level: f64| (high - level) / (high - low) * (height - 1.0);
    // The line has a layer of its own: where it runs the scatter gives way. Its band lies among the dots.
    let mut line = Dots::over(plot);
    let law = scene.around.outlook.map_or(&[][..], |outlook| &outlook.law);
    for pair in law.windows(2) {
        let spot = |index: usize, of: fn(&Spread) -> f64| {
            let (distance, spread) = &pair[index];
            (distance / far * (width - 1.0), y_of(of(spread)))
        };
        for edge in [(|spread| spread.low) as fn(&Spread) -> f64, |spread| spread.high] {
            dots.line(spot(0, edge), spot(1, edge), Tone::Strong, (1, 4));
        }
        line.line(
            spot(0, |spread| spread.value),
            spot(1, |spread| spread.value),
            Tone::Strong,
            (1, 1),
        );
    }
    dots.paint(buffer, plot, theme);
    line.paint(buffer, plot, theme);
    // Round levels at the left, the level needed across.
    levels_beside(buffer, area, plot, (low, high), theme);
    if let Some(needed) = needed.filter(|needed| (low..=high).contains(&needed.value)) {
        let y = (y_of(needed.value) / 4.0) as u16;
        for x in 0..plot.width {
            if buffer
                .cell((plot.x + x, plot.y + y))
                .is_some_and(|cell| cell.symbol() == " ")
            {
                put(buffer, plot, (x, y), "╌", theme.style(Tone::Close));
            }
        }
        put_right(
            buffer,
            plot,
            y,
            &format!(
                " needs {} dBm ±{:.0}{} ",
                whole(needed.value),
                ((needed.high - needed.low) / 2.0).ceil(),
                outlook.map_or("", |outlook| outlook.needed_by)
            ),
            theme.style(Tone::Close),
        );
    }
    losses(buffer, area, &drawn.columns, theme);
    distances_along(buffer, area, plot, far, theme);
    let mut said = range_lines(scene, plot);
    if outlook.is_some_and(|outlook| outlook.read_with.station_doubted.is_some()) && plot.height > 4 {
        said.push(("the station's place is doubted".to_owned(), Tone::Bad));
    }
    for (y, (line, tone)) in said.iter().enumerate() {
        put_right(buffer, plot, y as u16, &format!(" {line} "), theme.style(*tone));
    }
}

/// How far the board reaches and what that leaves aside, in as many lines as a third of the plot has; nothing where even the
/// first does not fit.
fn range_lines(scene: &Scene<'_>, plot: Rect) -> Vec<(String, Tone)> {
    let Some(outlook) = scene.around.outlook else {
        return Vec::new();
    };
    let (Some(far), Some(aside)) = (&outlook.range, &outlook.range_aside) else {
        return Vec::new();
    };
    let room = plot.width.saturating_sub(2);
    let whole: Vec<String> = [far, aside].into_iter().flat_map(|words| wrap(words, room)).collect();
    let short = wrap(&format!("{far}, interference aside"), room);
    [whole, short]
        .into_iter()
        .find(|lines| lines.len() <= usize::from(plot.height / 3))
        .unwrap_or_default()
        .into_iter()
        .map(|line| (line, Tone::Text))
        .collect()
}

/// The share lost over each column, along the foot: nothing where all came through or nothing was sent.
fn losses(buffer: &mut Buffer, area: Rect, columns: &[(u32, u32)], theme: Theme) {
    const STEPS: [&str; 8] = ["▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"];
    let y = area.height - 2;
    put(buffer, area, (0, y), "lost", theme.style(Tone::Text));
    for (x, (sent, lost)) in columns.iter().enumerate().filter(|(_, (_, lost))| *lost > 0) {
        let step = (f64::from(*lost) / f64::from(*sent) * 8.0).ceil().clamp(1.0, 8.0) as usize - 1;
        put(
            buffer,
            area,
            (LABELS + x as u16, y),
            STEPS[step],
            theme.style(Tone::Bad),
        );
    }
}

/// Whether levels are drawn as the station hears them: where the estimates rest on them, or it tells any.
fn by_station(scene: &Scene<'_>) -> bool {
    let side = scene.around.outlook.and_then(|outlook| outlook.side);
    side.map_or_else(|| scene.walked.bounds().there.is_some(), |side| side == Side::There)
}

/// What the panel is called, with the end of the link whose levels it shows.
pub fn title(scene: &Scene<'_>, width: u16) -> String {
    let which = if by_station(scene) {
        "station hears"
    } else {
        "board hears"
    };
    let long = format!("Level by distance, {which}, dBm");
    if columns(&long) + 6 <= width {
        long
    } else {
        "Level by distance, dBm".to_owned()
    }
}

/// Writes round levels left of a plot.
pub fn levels_beside(buffer: &mut Buffer, area: Rect, plot: Rect, (low, high): (f64, f64), theme: Theme) {
    let step = [5.0, 10.0, 20.0, 50.0]
        .into_iter()
        .find(|step| (high - low) / step * 2.0 <= f64::from(plot.height))
        .unwrap_or(50.0);
    let rows = f64::from(plot.height) * 4.0 - 1.0;
    let mut level = (high / step).floor() * step;
    while level >= low {
        let y = ((high - level) / (high - low) * rows / 4.0) as u16;
        let room = Rect {
            width: plot.x.saturating_sub(area.x + 1),
            ..area
        };
        put_right(buffer, room, y, &whole(level), theme.style(Tone::Quiet));
        level -= step;
    }
}

/// Writes distances in the last line below a plot.
pub fn distances_along(buffer: &mut Buffer, area: Rect, plot: Rect, far: f64, theme: Theme) {
    let (y, quiet) = (area.height - 1, theme.style(Tone::Quiet));
    let left = plot.x - area.x;
    put(buffer, area, (left, y), "0", quiet);
    let middle = format!("{:.0}", far / 2.0);
    let x = (left + plot.width / 2).saturating_sub(columns(&middle) / 2);
    put(buffer, area, (x, y), &middle, quiet);
    put_right(buffer, area, y, &format!("{far:.0} m"), quiet);
}

/// The end of the axis for a farthest distance: the next round number beyond it.
pub fn round_up(distance: f64) -> f64 {
    let power = 10_f64.powf(distance.max(1.0).log10().floor());
    let steps = [1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];
    let step = steps.into_iter().find(|step| step * power >= distance * 1.02);
    step.unwrap_or(15.0) * power
}
