//! Leads through a sweep: which way the mark goes now, where to stand, how to hold the board, how far it is.
//!
//! ```text
//!  S1, flat        step 4 of 9
//!  Turn the board so its mark points 135° right of the station, behind you.
//!                 ▲ station
//!             ●       ○            ● done   ○ still to do   ◎ now
//!          ●     ╲       ○
//!             ○    ╲  ◎
//!  Hold it flat at chest height, away from your body, and stand on the far side from the station.
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::dots::Dots;
use super::paint::{below, inset, put, put_pieces, put_wrapped};
use super::scene::Scene;
use super::theme::{Theme, Tone};
use super::{pattern, stop, trouble_lines, turns};
use crate::findings::heading;
use crate::findings::turning::Turning;
use crate::units::Degrees;

/// Draws it.
pub fn render(buffer: &mut Buffer, area: Rect, turning: &Turning, scene: &Scene<'_>, theme: Theme) {
    let area = inset(area, 1);
    if area.width < 20 || area.height < 6 {
        return;
    }
    let pose = turning.pose.as_deref().unwrap_or("as it is");
    let name = format!("{}, {pose}", turning.name);
    let place = format!("   step {} of {}", turning.place.0, turning.place.1);
    put_pieces(
        buffer,
        area,
        (0, 0),
        &[(&name, Tone::Strong), (&place, Tone::Text)],
        theme,
    );
    let replay = scene.doing.is_replay();
    let mut y = 1;
    if let Some((text, tone)) = trouble_lines::words(scene).first() {
        y += put_wrapped(buffer, below(area, y), 0, text, 2, theme.style(*tone));
    }
    y += put_wrapped(
        buffer,
        below(area, y),
        0,
        &order(turning, replay),
        3,
        theme.style(Tone::Strong),
    );
    let to = turning.counting.map(|(turn, _)| turn).or(turning.next);
    if area.height > 9
        && let Some(compass) = to.and_then(|turn| heading::words(scene.samples, turn))
    {
        y += put_wrapped(buffer, below(area, y), 0, &compass, 2, theme.style(Tone::Text));
    }
    if let Some((_, done)) = turning.counting {
        let bar = stop::bar(done, u64::from(turning.messages), area.width.saturating_sub(12).min(30));
        put(
            buffer,
            area,
            (0, y),
            &format!("{bar}  {done} of {}", turning.messages),
            theme.style(Tone::Text),
        );
        y += 1;
    }
    if turning.counting.is_none() && turning.next.is_none() {
        for sentence in shown(turning, scene) {
            if y + 1 >= area.height {
                break;
            }
            y += put_wrapped(buffer, below(area, y), 0, sentence, 4, theme.style(Tone::Text));
        }
        return;
    }
    let hold = if replay { String::new() } else { hold(turning) };
    let hold_lines = super::paint::wrap(&hold, area.width).len().min(4) as u16;
    let dial_height = area.height.saturating_sub(y + hold_lines + 1);
    if dial_height >= 5 {
        let height = dial_height.min(13);
        dial(
            buffer,
            Rect {
                y: area.y + y,
                height,
                ..area
            },
            turning,
            theme,
        );
        y += height;
    }
    put_wrapped(buffer, below(area, y), 0, &hold, 4, theme.style(Tone::Text));
}

/// What the sweep that has just been made shows, as far as it is reckoned.
fn shown<'a>(turning: &Turning, scene: &'a Scene<'_>) -> Vec<&'a str> {
    let name = scene
        .now
        .board
        .as_ref()
        .map(|(board, _)| pattern::name(board, &turning.name, turning.pose.as_deref()));
    let patterns = scene.around.outlook.map_or(&[][..], |outlook| &outlook.patterns);
    let known = patterns
        .iter()
        .rev()
        .find(|pattern| Some(&pattern.name) == name.as_ref());
    match known.filter(|known| known.holds(&turning.done)) {
        Some(known) => known.words.iter().map(String::as_str).collect(),
        None => vec![turns::NOT_YET],
    }
}

/// Where the sweep stands, in a line above its plot.
pub fn in_a_line(turning: &Turning, replay: bool) -> String {
    let (place, of) = turning.place;
    match (turning.counting, turning.next) {
        (Some((_, done)), _) => format!("Step {place} of {of}, hold still: {done} of {}", turning.messages),
        (None, Some(turn)) => {
            let direction = direction(turn);
            // Which way that is from here stands on the guide; the line must fit a small screen.
            let short = direction.split([',', '(']).next().unwrap_or(&direction);
            format!(
                "Step {place} of {of}: mark {}",
                short
                    .replace(" of the station", "")
                    .replace("from the station", "from it")
            )
        }
        // In replay Space does something else; and the line must fit a small screen.
        (None, None) if replay => "All turns are done.".to_owned(),
        (None, None) => "All turns done. Space ends the sweep.".to_owned(),
    }
}

/// What to do with the board now; in a replay, what was done.
fn order(turning: &Turning, replay: bool) -> String {
    match (turning.counting, turning.next) {
        (Some((turn, _)), _) if replay => format!("Held still, its mark {}.", direction(turn)),
        (None, Some(turn)) if replay => format!("Being turned, its mark next {}.", direction(turn)),
        (Some((turn, _)), _) => format!("Hold it still, its mark {}.", direction(turn)),
        (None, Some(turn)) if turning.closing => {
            format!(
                "Once more the first turn, to see whether anything moved meanwhile: its mark {}.",
                direction(turn)
            )
        }
        (None, Some(turn)) => format!("Turn the board so that its mark points {}.", direction(turn)),
        (None, None) if replay => "All turns are done.".to_owned(),
        (None, None) => "All turns are done. Space ends the sweep.".to_owned(),
    }
}

fn hold(turning: &Turning) -> String {
    let how = match turning.pose.as_deref() {
        Some("flat") => "Hold it flat",
        Some("upright") => "Hold it upright",
        Some("edge") => "Hold it on its edge",
        _ => "Hold it the same way each time",
    };
    format!("{how}, at chest height, away from your body. Stand on the far side from the station, facing it.")
}

/// A turn in words, for somebody who faces the station.
fn direction(turn: Degrees) -> String {
    let turn = turn.normalised().map_or(0.0, |turn| turn.0);
    let (degrees, side) = if turn <= 180.0 {
        (turn, "right")
    } else {
        (360.0 - turn, "left")
    };
    let near = |of: f64| (degrees - of).abs() < 0.05;
    let shown = if (degrees - degrees.round()).abs() < 0.05 {
        format!("{degrees:.0}")
    } else {
        format!("{degrees:.1}")
    };
    if near(0.0) {
        "at the station".to_owned()
    } else if near(180.0) {
        "away from the station, at you".to_owned()
    } else if near(90.0) {
        format!("90° {side} of the station, straight to your {side}")
    } else if degrees < 90.0 {
        format!("{shown}° {side} of the station, ahead of you")
    } else {
        format!("{shown}° {side} of the station, towards your back")
    }
}

/// The turns about the board, the station at the top, an arrow to where the mark goes.
fn dial(buffer: &mut Buffer, area: Rect, turning: &Turning, theme: Theme) {
    let place = Rect {
        y: area.y + 1,
        height: area.height - 1,
        ..area
    };
    let mut dots = Dots::over(place);
    let centre = ((dots.width() / 2.0).floor(), (dots.height() / 2.0).floor());
    let radius = (centre.0.min(centre.1) - 2.0).max(3.0);
    let spot = |turn: f64, part: f64| {
        let (sin, cos) = turn.to_radians().sin_cos();
        (
            (centre.0 + part * radius * sin).round(),
            (centre.1 - part * radius * cos).round(),
        )
    };
    let target = turning.counting.map(|(turn, _)| turn).or(turning.next);
    if let Some(turn) = target {
        dots.line(centre, spot(turn.0, 0.8), Tone::Strong, (1, 1));
        for side in [-12.0, 12.0] {
            dots.line(spot(turn.0, 0.8), spot(turn.0 + side, 0.55), Tone::Strong, (1, 1));
        }
    }
    dots.paint(buffer, place, theme);
    let same = |one: f64, other: f64| Degrees(one).turn_to(Degrees(other)).0.abs() < 0.5;
    for index in 0..turning.steps.min(72) {
        let turn = f64::from(index) * 360.0 / f64::from(turning.steps);
        let now = target.is_some_and(|target| same(target.0, turn));
        let done = turning.done.iter().any(|step| same(step.turn.0, turn));
        let (sign, tone) = match (now, done) {
            (true, _) => ("◎", Tone::Strong),
            (false, true) => ("●", Tone::Good),
            (false, false) => ("○", Tone::Quiet),
        };
        let (x, y) = spot(turn, 1.0);
        put(
            buffer,
            place,
            ((x / 2.0) as u16, (y / 4.0) as u16),
            sign,
            theme.style(tone),
        );
    }
    put(
        buffer,
        area,
        ((centre.0 / 2.0) as u16, 0),
        "▲ station",
        theme.style(Tone::Strong),
    );
    put(
        buffer,
        place,
        ((centre.0 / 2.0) as u16, (centre.1 / 4.0) as u16),
        "■",
        theme.style(Tone::Text),
    );
    let legend = ["◎ now", "● done", "○ to do"];
    for (row, word) in legend.iter().enumerate() {
        let y = area.height.saturating_sub(3) + row as u16;
        if area.width > 30 {
            put(buffer, area, (0, y), word, theme.style(Tone::Quiet));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_are_said_for_somebody_who_faces_the_station() {
        let of = |deg: f64| direction(Degrees(deg));
        assert_eq!(of(0.0), "at the station");
        assert_eq!(of(135.0), "135° right of the station, towards your back");
        assert_eq!(of(270.0), "90° left of the station, straight to your left");
        assert_eq!(of(315.0), "45° left of the station, ahead of you");
        assert_eq!(of(180.0), "away from the station, at you");
        assert_eq!(of(22.5), "22.5° right of the station, ahead of you");
    }

    #[test]
    fn the_line_above_a_plot_fits_a_small_screen() {
        for turn in (0..72).map(|step| 5.0 * f64::from(step)) {
            let turning = Turning {
                name: "S1".to_owned(),
                pose: None,
                steps: 36,
                messages: 100,
                done: Vec::new(),
                counting: None,
                next: Some(Degrees(turn)),
                place: (36, 37),
                closing: false,
            };
            let line = in_a_line(&turning, false);
            assert!(line.chars().count() <= 38, "{line}");
            let over = Turning { next: None, ..turning };
            let line = in_a_line(&over, false);
            assert!(line.chars().count() <= 38 && line.contains("Space"), "{line}");
            assert!(!in_a_line(&over, true).contains("Space"));
            assert!(!order(&over, true).contains("Space"));
        }
    }
}
