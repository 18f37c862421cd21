//! A stop at a point: how many messages of how many, and what they prove already.
//!
//! ```text
//!  P3  ████████▌·············  41 of 100
//!  Not sure yet: about 60 more messages would tell. Stand still.
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::number::{goal, span};
use super::paint::{below, columns, cut, put, put_wrapped};
use super::scene::{Scene, Stop};
use super::theme::{Theme, Tone};
use crate::findings::delivery::Standing;
use crate::stats::verdict::{Forecast, Verdict};

/// A verdict further off than this many messages is not worth waiting for.
const FAR_OFF: u64 = 3000;

/// Draws it in at most `most` lines, and says how many it took.
pub fn render(buffer: &mut Buffer, area: Rect, stop: &Stop<'_>, scene: &Scene<'_>, most: u16, theme: Theme) -> u16 {
    let name = cut(stop.name, (area.width / 3).max(4));
    let count = if stop.done > u64::from(stop.wanted) {
        format!("{}, {} wanted", stop.done, stop.wanted)
    } else {
        format!("{} of {}", stop.done, stop.wanted)
    };
    put(buffer, area, (0, 0), &name, theme.style(Tone::Strong));
    let used = columns(&name) + columns(&count) + 4;
    if area.width > used + 4 {
        let bar = bar(stop.done, u64::from(stop.wanted), (area.width - used).min(30));
        put(buffer, area, (columns(&name) + 2, 0), &bar, theme.style(Tone::Text));
        put(
            buffer,
            area,
            (columns(&name) + 4 + columns(&bar), 0),
            &count,
            theme.style(Tone::Strong),
        );
    } else {
        put(buffer, area, (columns(&name) + 2, 0), &count, theme.style(Tone::Strong));
    }
    let rate = rate_of(scene);
    let sentence = sentence(stop, scene.setup.goal.delivery, rate);
    1 + put_wrapped(
        buffer,
        below(area, 1),
        0,
        &sentence,
        most.saturating_sub(1),
        theme.style(Tone::Text),
    )
}

/// A bar of so many columns; what is still missing is dotted.
pub fn bar(done: u64, wanted: u64, width: u16) -> String {
    let halves = (done.min(wanted) * u64::from(width) * 2 / wanted.max(1)) as usize;
    let mut bar = "█".repeat(halves / 2);
    if halves % 2 == 1 {
        bar.push('▌');
    }
    let missing = usize::from(width).saturating_sub(halves.div_ceil(2));
    bar.push_str(&"·".repeat(missing));
    bar
}

/// Pings a second, as the last rows show it; `None` of too few.
fn rate_of(scene: &Scene<'_>) -> Option<f64> {
    let rows = &scene.samples.rows;
    let last = rows.last()?;
    let first = rows.get(rows.len().checked_sub(20)?)?;
    let seconds = last.at.since(first.at);
    (seconds > 0.0).then(|| 19.0 / seconds)
}

/// What the messages so far prove, and what to do.
pub fn sentence(stop: &Stop<'_>, goal_rate: f64, pings_a_second: Option<f64>) -> String {
    let enough = stop.done >= u64::from(stop.wanted);
    let wanted = goal(goal_rate);
    let Some(standing) = stop.standing else {
        return "Stand still: the first messages are on their way.".to_owned();
    };
    let next = if enough {
        "Space walks on, or stand on for a tighter figure."
    } else {
        "Space ends it, or stand on for a tighter figure."
    };
    match standing.verdict {
        Verdict::Meets => format!("Sure already: it meets {wanted}. {next}"),
        Verdict::Fails => format!("Sure already: it does not meet {wanted}. {next}"),
        Verdict::KeepMeasuring if enough => format!(
            "Done, but not sure against {wanted}: {} Space walks on.",
            more(standing, pings_a_second)
        ),
        Verdict::KeepMeasuring => format!(
            "Not sure yet against {wanted}: {} Stand still.",
            more(standing, pings_a_second)
        ),
    }
}

fn more(standing: &Standing, pings_a_second: Option<f64>) -> String {
    match standing.judgement.forecast {
        Forecast::About { more, .. } if more > FAR_OFF => "it is too close to the goal to tell soon.".to_owned(),
        Forecast::About { more, verdict } => {
            let time = pings_a_second.map_or_else(String::new, |rate| format!(" ({})", span(more as f64 / rate)));
            let word = if verdict == Verdict::Fails { "no" } else { "yes" };
            format!("about {} more{time} for a sure {word}.", two_figures(more))
        }
        Forecast::OutOfSight => "it is too close to the goal to tell.".to_owned(),
        Forecast::Decided => "the last messages spoke against the first.".to_owned(),
        Forecast::Unknown => "nothing was sent yet.".to_owned(),
    }
}

/// A forecast is no more exact than its first two figures.
fn two_figures(number: u64) -> u64 {
    let mut unit = 1;
    while number / unit >= 100 {
        unit *= 10;
    }
    number.div_ceil(unit) * unit
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_is_as_wide_as_asked() {
        assert_eq!(bar(0, 100, 4), "····");
        assert_eq!(bar(41, 100, 4), "█▌··");
        assert_eq!(bar(140, 100, 4), "████");
        assert_eq!(bar(1, 0, 2), "··", "nothing was wanted: there is no share to show");
    }
}
