//! Here and now: can a node go here, how much is delivered, how well each side hears the other, and where this is.
//!
//! ```text
//!  ● A node can probably go here.
//!
//!  ██████  ██████
//!  ██  ██  ██  ██   %  delivered
//!  ██████  ██████      93–99 %, goal 95 %
//!      ██  ██  ██      last 20: 19
//!  ██████  ██████
//!
//!  board hears    −71 dBm  ▂▃▅▄▃×▂▃
//!  station hears  −74 dBm  ▂▃▄▄▃×▁▃
//!  to spare       +14 dB   goal 10
//!
//!  128 m out, station bears 243° true
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::number::{UNKNOWN, dbm, goal, metres, percent, percents, signed, whole};
use super::paint::{below, columns, inset, put, put_pieces, put_wrapped};
use super::scene::Scene;
use super::stop;
use super::theme::{Theme, Tone};
use super::{digits, trouble_lines};
use crate::findings::answer::Answer;
use crate::findings::now::Window;
use crate::findings::points::mean;
use crate::findings::words;
use crate::stats::margin::Margin;
use crate::stats::proportions::Interval;

/// A sparkline spans at least so many decibels, so that small fading looks small.
const LEAST_SPAN_DB: f32 = 12.0;

/// Draws it.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) {
    let area = inset(area, 1);
    if area.width < 20 || area.height < 6 {
        return;
    }
    let roomy = area.height >= 22 && area.width >= 34;
    let mut y = u16::from(area.height >= 15);
    y += headline(buffer, area, y, scene, theme);
    let words = trouble_lines::words(scene);
    let most = if roomy {
        5
    } else {
        area.height.saturating_sub(12).clamp(1, 4)
    };
    for (text, tone) in words.iter().take(if roomy { 3 } else { 1 }) {
        y += put_wrapped(buffer, below(area, y), 0, text, most, theme.style(*tone));
    }
    if let Some(stop) = &scene.stop {
        let most = match area.height {
            16.. => 6,
            14.. => 4,
            _ => 2,
        };
        y += stop::render(buffer, below(area, y), stop, scene, most, theme);
    }
    let tail = 5 + u16::from(area.height >= 15);
    let scale = if roomy && y + 8 + tail <= area.height {
        digits::Scale::Large
    } else {
        digits::Scale::Small
    };
    let left = area.height.saturating_sub(y);
    if left > scale.height() + tail {
        y += 1;
    }
    if left >= scale.height() + 4 {
        delivered(buffer, below(area, y), scene, scale, theme);
        y += scale.height();
    } else {
        y += delivered_in_a_line(buffer, area, y, scene, theme);
    }
    if area.height.saturating_sub(y) > 5 {
        y += 1;
    }
    y += levels(buffer, below(area, y), scene, theme);
    if area.height.saturating_sub(y) > 2 {
        y += 1;
    }
    put_wrapped(buffer, below(area, y), 0, &place(scene), 2, theme.style(Tone::Text));
}

/// The sentence with its mark, and how many lines it took.
fn headline(buffer: &mut Buffer, area: Rect, y: u16, scene: &Scene<'_>, theme: Theme) -> u16 {
    let tone = match scene.answer {
        Answer::Can | Answer::Probably => Tone::Good,
        Answer::CanWithLittle | Answer::LittleToSpare | Answer::Doubtful | Answer::Worse | Answer::Better => {
            Tone::Close
        }
        Answer::Cannot | Answer::Nothing => Tone::Bad,
        Answer::NothingYet | Answer::Blind | Answer::Silenced | Answer::TooFew => Tone::Strong,
    };
    let text = format!("{} {}", scene.answer.mark(), scene.answer.sentence());
    put_wrapped(buffer, below(area, y), 0, &text, 2, theme.style(tone))
}

/// What is shown as delivered: at a point or step all of it, walking the last hundred.
fn shown(scene: &Scene<'_>) -> (Window, Option<Interval>) {
    if let Some(standing) = scene.stop.as_ref().and_then(|stop| stop.standing) {
        return (scene.now.run, Some(standing.delivery.interval));
    }
    let window = if scene.stop.is_some() {
        scene.now.run
    } else {
        scene.now.long
    };
    (window, window.interval())
}

fn rate_tone(rate: Option<f64>, scene: &Scene<'_>) -> Tone {
    match rate {
        Some(rate) if rate >= scene.setup.goal.delivery => Tone::Good,
        Some(rate) if rate >= scene.setup.goal.delivery - 0.1 => Tone::Close,
        Some(_) => Tone::Bad,
        None => Tone::Quiet,
    }
}

fn delivered(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, scale: digits::Scale, theme: Theme) {
    let (window, interval) = shown(scene);
    let rate = window.rate();
    let text = rate.map_or_else(|| "--".to_owned(), percent);
    let tone = rate_tone(rate, scene);
    let taken = digits::draw(buffer, area, (0, 0), &text, scale, theme.style(tone));
    let x = taken + 1;
    let middle = scale.height() / 2;
    put(buffer, area, (x, middle - 1), "% delivered", theme.style(Tone::Text));
    let sure = interval.map_or_else(|| UNKNOWN.to_owned(), percents);
    put(buffer, area, (x, middle), &sure, theme.style(Tone::Strong));
    let wanted = goal(scene.setup.goal.delivery);
    put(
        buffer,
        area,
        (x, middle + 1),
        &format!("goal {wanted}"),
        theme.style(Tone::Text),
    );
    if scale == digits::Scale::Large {
        let last = format!("of the last {}", window.pings);
        put(buffer, area, (x, middle + 2), &last, theme.style(Tone::Quiet));
    }
}

fn delivered_in_a_line(buffer: &mut Buffer, area: Rect, y: u16, scene: &Scene<'_>, theme: Theme) -> u16 {
    let (window, interval) = shown(scene);
    let rate = window.rate();
    let figure = format!("{} % delivered", rate.map_or_else(|| UNKNOWN.to_owned(), percent));
    let sure = interval.map_or_else(String::new, |interval| format!("  {}", percents(interval)));
    put_pieces(
        buffer,
        area,
        (0, y),
        &[(&figure, rate_tone(rate, scene)), (&sure, Tone::Text)],
        theme,
    );
    1
}

/// Both levels with their sparklines, and what is to spare; says how many lines that took.
fn levels(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, theme: Theme) -> u16 {
    let width = 14;
    let rows = [
        ("board hears", &scene.now.here, Tone::Here),
        ("station hears", &scene.now.there, Tone::There),
    ];
    for (y, (label, levels, tone)) in rows.into_iter().enumerate() {
        let y = y as u16;
        put(buffer, area, (0, y), label, theme.style(Tone::Text));
        let level = dbm(mean(levels.iter().flatten().map(|level| f64::from(*level))));
        put(
            buffer,
            area,
            (width, y),
            &format!("{level:>8}"),
            theme.style(Tone::Strong),
        );
        if area.width > width + 12 {
            let room = usize::from(area.width - width - 10);
            put(
                buffer,
                area,
                (width + 10, y),
                &sparkline(levels, room),
                theme.style(tone),
            );
        }
    }
    put(buffer, area, (0, 2), "to spare", theme.style(Tone::Text));
    let wanted = format!("goal {}", whole(scene.setup.goal.margin_db));
    if let Some(margin) = scene.margin {
        let (figure, span, little) = spare_words(&margin, scene.setup.goal.margin_db);
        let tone = if little { Tone::Close } else { Tone::Good };
        put(buffer, area, (width, 2), &figure, theme.style(tone));
        let long = format!("{span}, {wanted}");
        let room = area.width.saturating_sub(width + 10);
        let words = if columns(&long) <= room { long } else { span };
        put(buffer, area, (width + 10, 2), &words, theme.style(Tone::Text));
        return 3;
    }

    let why = match (scene.fresh_outlook(), scene.around.outlook) {
        (None, Some(_)) => "being worked out",
        (outlook, _) => {
            let why = outlook.and_then(|outlook| outlook.why_no_margin.as_deref());
            why.unwrap_or("not known yet: walk on until messages get lost")
        }
    };
    put(
        buffer,
        area,
        (width, 2),
        &format!("{UNKNOWN:>5} dB"),
        theme.style(Tone::Quiet),
    );
    let room = area.width.saturating_sub(width + 10);
    if columns(why) <= room {
        put(buffer, area, (width + 10, 2), why, theme.style(Tone::Quiet));
    } else if area.height >= 6 {
        let under = Rect {
            x: area.x + 2.min(area.width),
            width: area.width.saturating_sub(2),
            ..below(area, 3)
        };
        return 3 + put_wrapped(buffer, under, 0, why, 2, theme.style(Tone::Quiet));
    } else {
        put(buffer, area, (width + 10, 2), "not known yet", theme.style(Tone::Quiet));
    }
    3
}

/// What there is to spare: the figure, its interval, and whether it is less than wanted.
fn spare_words(margin: &Margin, wanted_db: f64) -> (String, String, bool) {
    let bound = |sign: &str, db: f64| format!("{:>5} dB", format!("{sign}{}", signed(db)));
    match margin {
        Margin::Between { estimate_db, interval } => {
            let span = format!("{} to {}", signed(interval.low), signed(interval.high));
            (bound("", *estimate_db), span, *estimate_db < wanted_db)
        }
        Margin::AtLeast { low_db } => (bound("≥", words::down(*low_db, 0)), "or more".to_owned(), false),
        Margin::AtMost { high_db } => (
            bound("≤", words::up(*high_db, 0)),
            "or less".to_owned(),
            *high_db < wanted_db,
        ),
    }
}

/// The levels of the last exchanges, oldest first; a lost one is a cross. One scale for all of them.
fn sparkline(levels: &[Option<f32>], room: usize) -> String {
    const STEPS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];
    let known = || levels.iter().flatten().copied();
    let low = known().fold(f32::INFINITY, f32::min);
    let high = known().fold(f32::NEG_INFINITY, f32::max);
    let span = (high - low).max(LEAST_SPAN_DB);
    let middle = f32::midpoint(high, low);
    let step = |level: f32| {
        let part = (level - middle) / span + 0.5;
        STEPS[((part * 7.0).round().max(0.0) as usize).min(7)]
    };
    let shown = &levels[levels.len().saturating_sub(room)..];
    shown.iter().map(|level| level.map_or('×', step)).collect()
}

/// Where this is, in a sentence.
pub fn place(scene: &Scene<'_>) -> String {
    let Some(place) = scene.now.place else {
        return "Where this is, is not known.".to_owned();
    };
    let outlook = scene.around.outlook;
    let doubted = outlook.is_some_and(|outlook| outlook.read_with.station_doubted.is_some());
    match (place.distance, place.bearing) {
        (Some(distance), Some(bearing)) if doubted => {
            format!(
                "Doubted: {} out, station at {:03.0}°",
                metres(distance.0),
                bearing.0.round() % 360.0
            )
        }
        (Some(distance), Some(bearing)) => {
            format!(
                "{} out, station bears {:03.0}° true",
                metres(distance.0),
                bearing.0.round() % 360.0
            )
        }
        (Some(distance), None) => format!("{} out: at the station", metres(distance.0)),
        (None, _) => "The station's position is not set, so there is no distance.".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn losses_are_crosses_and_small_fading_looks_small() {
        assert_eq!(sparkline(&[Some(-70.0), None, Some(-69.0)], 8), "▄×▅");
        assert_eq!(sparkline(&[Some(-90.0), Some(-60.0)], 8), "▁█");
        assert_eq!(sparkline(&[None, None], 1), "×");
        assert_eq!(sparkline(&[], 8), "");
    }
}
