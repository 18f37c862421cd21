//! A stop at a point: how many messages of how many, what they prove already, and what the level makes likely.
//!
//! ```text
//!  P3  ████████▌·············  41 of 100
//!  By count: 76 % proven; about 600 more (60 s) to show 95 %.
//!  By level: still open. Move slowly through five metres: standing still is one fading sample.
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::fresh::Unsaid;
use super::paint::{below, columns, cut, put, put_wrapped};
use super::scene::{Scene, Stop};
use super::statements::{self, Likely};
use super::theme::{Theme, Tone};
use crate::findings::answer::Answer;
use crate::findings::trouble::Trouble;

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
    let mut y = 1;
    for (text, tone) in statements(stop, scene) {
        if y < most {
            y += put_wrapped(buffer, below(area, y), 0, &text, most - y, theme.style(tone));
        }
    }
    y
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

/// What the count proves and what the level makes likely, each on its own, with what to do about it.
fn statements(stop: &Stop<'_>, scene: &Scene<'_>) -> Vec<(String, Tone)> {
    if scene.answer == Answer::Gone {
        // What to do stands above; of the place that was left nothing is said while the board is elsewhere.
        return Vec::new();
    }
    let Some(standing) = stop.standing else {
        // Where the node is not heard, or nothing counts, that is said above, with what to do.
        let said = scene.paused || scene.answer == Answer::LeftOut || scene.troubles.iter().any(Trouble::blinds);
        return if said {
            Vec::new()
        } else if scene.doing.is_replay() {
            vec![("No message of it has come yet.".to_owned(), Tone::Text)]
        } else {
            vec![("The first messages are on their way.".to_owned(), Tone::Text)]
        };
    };
    let replay = scene.doing.is_replay();
    let count = if replay {
        statements::by_count_played(standing)
    } else {
        statements::by_count(standing, rate_of(scene))
    };
    let mut said = vec![(count, Tone::Text)];
    let outlook = scene.fresh_outlook();
    let level = scene
        .margin
        .map(|margin| Likely::of(&margin, scene.setup.goal.margin_db));
    let surer = if replay {
        statements::surer_played
    } else {
        statements::surer
    };
    let how = outlook.and_then(|outlook| Some(surer(outlook.surer?, outlook.path_m)));
    match (level, how) {
        // Where it is open, what to do about it says enough; where it is not, nobody need move.
        (Some(Likely::Open), Some(how)) => said.push((format!("By level: still open. {how}"), Tone::Strong)),
        (Some(level), _) => said.push((format!("{}.", level.words()), Tone::Text)),
        // Moving narrows a level; where there is nothing to hold it against, that makes no margin.
        (None, _) => said.push((no_level(scene), Tone::Text)),
    }
    said
}

/// Why nothing can be said by level; what to do about it stands where the margin would.
fn no_level(scene: &Scene<'_>) -> String {
    match scene.why_no_margin() {
        Unsaid::NotYet => "By level: not worked out yet.".to_owned(),
        Unsaid::InWork => "By level: being worked out.".to_owned(),
        Unsaid::For(why) => format!("By level: open, for {}.", why.what),
        Unsaid::NothingOfLevel => "By level: open, for what arrived says nothing about it.".to_owned(),
    }
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
