//! Where a node can go: the best spots with distance, bearing, what is to spare and how sure that is; where to walk next.
//!
//! ```text
//!  1 ●  128 m at 063°  97 % sure  +4 dB over the goal (+1 or more)
//!  2 ◐   95 m at 041°  88 % sure  +1 dB over the goal (−3 or more)
//!  Walk next: 60 m towards 030° (north-north-east): it would settle about 12 % of what is still open.
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::number::{metres, percent, signed};
use super::paint::{below, columns, cut, put, put_wrapped};
use super::scene::Scene;
use super::theme::{Theme, Tone};

/// Draws the list from a line on.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, from: usize, theme: Theme) {
    let spots = scene.around.outlook.map_or(&[][..], |outlook| &outlook.spots);
    if spots.is_empty() {
        measured(buffer, area, scene, from, theme);
        return;
    }
    let next = scene.around.outlook.and_then(|outlook| outlook.walk_next.as_deref());
    let room = area.height.saturating_sub(if next.is_some() { 3 } else { 0 });
    let from = from.min(spots.len().saturating_sub(usize::from(room.max(1))));
    for (y, (index, spot)) in spots.iter().enumerate().skip(from).take(usize::from(room)).enumerate() {
        let bearing = spot
            .bearing
            .map_or_else(String::new, |bearing| format!("at {:03.0}°", bearing.0.round() % 360.0));
        let (spare, low) = spot.spare_db;
        let sign = if spot.sure >= scene.setup.goal.confidence {
            "●"
        } else {
            "◐"
        };
        let words = format!(
            "{:>2} {sign} {:>6} {bearing}  {} % sure  {} dB over the goal ({} or more)",
            index + 1,
            metres(spot.distance.0),
            percent(spot.sure),
            signed(spare),
            signed(low)
        );
        let tone = if spot.sure >= scene.setup.goal.confidence {
            Tone::Good
        } else {
            Tone::Text
        };
        put(buffer, area, (0, y as u16), &words, theme.style(tone));
    }
    if let Some(next) = next {
        let foot = below(area, area.height.saturating_sub(2));
        put_wrapped(
            buffer,
            foot,
            0,
            &format!("Walk next: {next}"),
            2,
            theme.style(Tone::Strong),
        );
    }
}

/// The points measured, the surest first.
pub fn measured(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, from: usize, theme: Theme) {
    let mut points: Vec<_> = scene.points.iter().filter(|row| row.activity == "point").collect();
    points.sort_by(|one, other| {
        other
            .standing
            .delivery
            .interval
            .low
            .total_cmp(&one.standing.delivery.interval.low)
    });
    let why = scene
        .around
        .outlook
        .and_then(|outlook| outlook.why_no_places.as_deref());
    let measured = match why {
        Some(why) => format!("Measured so far, the surest first. Between them: – ({why})."),
        None => "Measured so far, the surest first.".to_owned(),
    };
    let words = if points.is_empty() {
        "No point has been measured yet: stand still where a node may go and press Space."
    } else {
        measured.as_str()
    };
    let several = points.iter().any(|row| row.board != points[0].board);
    let taken = put_wrapped(buffer, area, 0, words, 3, theme.style(Tone::Quiet));
    let list = below(area, taken);
    let from = from.min(points.len().saturating_sub(usize::from(list.height.max(1))));
    for (y, row) in points.iter().skip(from).take(usize::from(list.height)).enumerate() {
        let far = row
            .distance
            .map_or_else(|| "–".to_owned(), |distance| metres(distance.0));
        let from_station = row.bearing.map_or_else(String::new, |bearing| {
            format!("at {:03.0}°", (bearing.0 + 180.0).rem_euclid(360.0).round() % 360.0)
        });
        let interval = super::number::percents(row.standing.delivery.interval);
        let (sign, word, tone) = match row.standing.word() {
            "meets" => ("●", "surely meets", Tone::Good),
            "misses" => ("○", "surely not", Tone::Bad),
            _ => ("◐", "not sure", Tone::Close),
        };
        let name = cut(&row.point, 6);
        let mut words = format!("{sign} {name:<6} {far:>6} {from_station:<7} {interval:>9}");
        for more in [word, if several { row.board.as_str() } else { "" }] {
            if !more.is_empty() && columns(&words) + 2 + columns(more) <= list.width {
                words.push_str("  ");
                words.push_str(more);
            }
        }
        put(buffer, list, (0, y as u16), &words, theme.style(tone));
    }
}
