//! Polar plot of a sweep: the station at the top, turns clockwise, rings in dB below the strongest.
//!
//! ```text
//!            ▲ station
//!         ⢀⡠⠤●⠤⢄⡀
//!       ⡠●        ●⢄        rings 10 dB apart
//!      ⢰   ⢀⠤⠒⠤⡀   ⡆        ● flat   strongest −62 dBm
//!      ●   ⡇ + ⢸   ●        ■ upright
//!      ⠘⡄  ⠈⠒⠒⠁   ⢠⠃        × many lost
//!        ●⣀      ⣀●
//!          ⠉⠒⠤●⠤⠒⠉
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::dots::Dots;
use super::number::whole;
use super::outlook::Pattern;
use super::paint::{columns, cut, put, put_wrapped};
use super::theme::{Theme, Tone};
use crate::findings::points::PointRow;
use crate::findings::turning::Step;

/// The plot reaches so many decibels below the strongest, or as far as the weakest step needs, by rings of ten.
const LEAST_REACH_DB: f64 = 20.0;
/// A step that lost more than this share is marked.
const MANY_LOST: f64 = 0.25;
/// What tells the plots laid over each other apart: the sign of a step, and dots of the line between.
const LOOKS: [(&str, Tone, (u32, u32)); 4] = [
    ("●", Tone::Here, (1, 1)),
    ("■", Tone::There, (2, 4)),
    ("◆", Tone::Strong, (1, 3)),
    ("▲", Tone::Close, (3, 5)),
];

/// One sweep to be drawn.
#[derive(Clone, Debug)]
pub struct Plot {
    /// What it is: board and pose.
    pub name: String,
    /// Its steps.
    pub steps: Vec<Step>,
    /// What is known of it, in words.
    pub words: Option<String>,
    /// The interval of the fitted curve at each whole degree, dBm; drawn where one plot stands alone.
    pub band: Vec<(f64, f64)>,
}

/// The level of a step: as the station heard the board, else the other way.
fn level(step: &Step) -> Option<f64> {
    step.there_dbm.or(step.here_dbm)
}

/// Draws one or several; `absolute` names rings in dBm.
pub fn render(buffer: &mut Buffer, area: Rect, plots: &[Plot], absolute: bool, theme: Theme) {
    if area.width < 16 || area.height < 7 {
        return;
    }
    // The legend stands beside the plot where there is room, else below it.
    let plots = &plots[..plots.len().min(LOOKS.len())];
    let beside = area.width >= area.height * 2 + 16;
    let below = if beside {
        0
    } else {
        (plots.len() as u16 + 2).min(area.height / 3)
    };
    let tall = area.height - below;
    let round = Rect {
        width: area.width.min((tall - 1) * 2 + 6),
        height: tall,
        ..area
    };
    let place = Rect {
        x: if beside {
            area.x
        } else {
            area.x + (area.width - round.width) / 2
        },
        ..round
    };
    let inner = Rect {
        y: place.y + 1,
        height: place.height - 1,
        ..place
    };
    let mut dots = Dots::over(inner);
    let centre = ((dots.width() / 2.0).floor(), (dots.height() / 2.0).floor());
    let radius = (centre.0.min(centre.1) - 2.0).max(3.0);
    let all = || plots.iter().flat_map(|plot| &plot.steps).filter_map(level);
    let strongest = all().fold(f64::NEG_INFINITY, f64::max);
    let weakest = all().fold(f64::INFINITY, f64::min);
    let reach = if strongest.is_finite() {
        (((strongest - weakest) / 10.0).ceil() * 10.0 + if (strongest - weakest) % 10.0 > 7.0 { 10.0 } else { 0.0 })
            .max(LEAST_REACH_DB)
    } else {
        LEAST_REACH_DB
    };
    let mut ring = 0.0;
    while ring < reach {
        let pattern = if ring == 0.0 { (1, 1) } else { (1, 3) };
        dots.circle(centre, radius * (1.0 - ring / reach), Tone::Quiet, pattern);
        ring += 10.0;
    }
    let spot = |turn: f64, level: f64| {
        let far = radius * (1.0 - ((strongest - level) / reach).clamp(0.0, 1.0));
        let (sin, cos) = turn.to_radians().sin_cos();
        ((centre.0 + far * sin).round(), (centre.1 - far * cos).round())
    };
    if let [only] = plots {
        for (degree, (low, high)) in only.band.iter().enumerate() {
            for level in [*low, *high] {
                let (x, y) = spot(degree as f64, level);
                dots.set(x, y, Tone::Quiet);
            }
        }
    }
    for (plot, (_, tone, pattern)) in plots.iter().zip(LOOKS) {
        let mut known: Vec<(f64, f64)> = plot
            .steps
            .iter()
            .filter_map(|step| Some((step.turn.0, level(step)?)))
            .collect();
        known.sort_by(|one, other| one.0.total_cmp(&other.0));
        // Neighbours are joined; a turn not measured stays a gap.
        for index in 0..known.len() {
            let (from, to) = (known[index], known[(index + 1) % known.len()]);
            let apart = (to.0 - from.0).rem_euclid(360.0);
            if apart > 0.5 && apart <= 60.0 {
                dots.line(spot(from.0, from.1), spot(to.0, to.1), tone, pattern);
            }
        }
    }
    dots.paint(buffer, inner, theme);
    for (plot, (sign, tone, _)) in plots.iter().zip(LOOKS).rev() {
        for step in &plot.steps {
            let lost = step.pings - step.echoes.min(step.pings);
            let many = step.pings > 0 && lost as f64 > MANY_LOST * step.pings as f64;
            let at = level(step).map(|level| spot(step.turn.0, level));
            // A turn at which nothing came through stands at the centre's side, marked as lost.
            let at = at.or_else(|| (step.pings > 0).then(|| spot(step.turn.0, strongest - reach * 0.9)));
            if let Some((x, y)) = at {
                let (sign, tone) = if many { ("×", Tone::Bad) } else { (sign, tone) };
                put(
                    buffer,
                    inner,
                    ((x / 2.0) as u16, (y / 4.0) as u16),
                    sign,
                    theme.style(tone),
                );
            }
        }
    }
    let middle = (centre.0 / 2.0) as u16;
    put(
        buffer,
        inner,
        (middle, (centre.1 / 4.0) as u16),
        "+",
        theme.style(Tone::Quiet),
    );
    put(buffer, place, (middle, 0), "▲ station", theme.style(Tone::Strong));
    if strongest.is_finite() {
        let ring = |below: f64| {
            if absolute {
                whole(strongest - below)
            } else {
                whole(-below)
            }
        };
        for below in [10.0, 20.0, 30.0, 40.0].into_iter().filter(|below| *below < reach) {
            let y = (centre.1 - radius * (1.0 - below / reach)) / 4.0;
            put(
                buffer,
                inner,
                (middle + 1, y as u16),
                &ring(below),
                theme.style(Tone::Quiet),
            );
        }
    }
    let legend = if beside {
        let x = round.width + 2;
        Rect {
            x: area.x + x,
            width: area.width - x,
            ..area
        }
    } else {
        Rect {
            y: area.y + tall,
            height: below,
            ..area
        }
    };
    let mut y = u16::from(beside);
    for (plot, (sign, tone, _)) in plots.iter().zip(LOOKS) {
        put(buffer, legend, (0, y), sign, theme.style(tone));
        let best = plot.steps.iter().filter_map(level).fold(f64::NEG_INFINITY, f64::max);
        let best = if best.is_finite() {
            format!("  strongest {} dBm", whole(best))
        } else {
            "  nothing measured yet".to_owned()
        };
        let name = cut(&plot.name, legend.width.saturating_sub(3 + columns(&best)).max(8));
        put(
            buffer,
            legend,
            (2, y),
            &format!("{name}{best}"),
            theme.style(Tone::Text),
        );
        y += 1;
        if beside && let Some(words) = &plot.words {
            let room = Rect {
                x: legend.x + 2.min(legend.width),
                width: legend.width.saturating_sub(2),
                ..legend
            };
            y += put_wrapped(buffer, room, y, words, 3, theme.style(Tone::Text));
        }
    }
    let unit = if absolute { "dBm" } else { "dB below the strongest" };
    let last = format!("{unit}, × many lost");
    put_wrapped(buffer, legend, y, &last, 2, theme.style(Tone::Quiet));
}

/// The sweeps of a survey, each a plot, the latest first.
pub fn plots(points: &[PointRow], patterns: &[Pattern]) -> Vec<Plot> {
    let mut plots: Vec<Plot> = Vec::new();
    for row in points.iter().filter(|row| row.activity == "sweep") {
        let Some(turn) = row.turn else { continue };
        let pose = row.pose.as_deref().unwrap_or("no pose");
        let name = format!("{} {}, {pose}", row.board, row.point);
        let step = Step {
            turn,
            pings: row.messages,
            echoes: row.delivered,
            here_dbm: row.here_dbm,
            there_dbm: row.there_dbm,
        };
        if let Some(plot) = plots.iter_mut().find(|plot| plot.name == name) {
            plot.steps.push(step);
        } else {
            let known = patterns.iter().find(|pattern| pattern.name == name);
            plots.push(Plot {
                steps: vec![step],
                words: known.map(|pattern| pattern.words.clone()),
                band: known.map_or_else(Vec::new, |pattern| pattern.band.clone()),
                name,
            });
        }
    }
    plots.reverse();
    plots
}
