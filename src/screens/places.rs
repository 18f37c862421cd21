//! Where a node can go: what is assumed, the best spots with distance, bearing, what is to spare and how sure that is, where a
//! second station might stand, where to walk next.
//!
//! ```text
//!  Assumed: fern for yew, mounted 2.5 m up, leaves 6 dB.
//!  1 ✓  128 m 063° true  97 % sure  +4 dB over the goal (≥ +1)
//!  2 ?   95 m 041° true  88 % sure  +1 dB over the goal (≥ −3)
//!  A second station: a shortlist to test by walking; its own links were never measured.
//!  A    84 m at 040° true NE: might newly serve 34 % of this ground (21 to 48 %)
//!  Walk next: 60 m towards 030° (north-north-east): it would settle about 12 % of what is still open.
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::ground::{self, Mark};
use super::number::{metres, percent, signed};
use super::outlook::Outlook;
use super::paint::{below, columns, cut, put, put_wrapped, wrap};
use super::scene::Scene;
use super::statements;
use super::theme::{Theme, Tone};
use crate::findings::words;
use crate::stats::verdict::Verdict;
use crate::units::Degrees;

/// From this width on the map stands beside the list.
const WITH_MAP: u16 = 106;
/// Columns the list then has.
const LIST: u16 = 66;
/// How a walk should be made, for the map to know the walker's shade from the distance.
const HOW_TO_WALK: &str = "Carry the node in front of you. Walk out and come back the same way: so your body's shade is told from the distance.";

/// Draws the list from a line on, beside the map where there is room.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, from: usize, theme: Theme) {
    let Some(outlook) = scene.around.outlook.filter(|outlook| !outlook.expected.is_empty()) else {
        let taken = put_wrapped(buffer, area, 0, HOW_TO_WALK, 4, theme.style(Tone::Text));
        measured(buffer, below(area, taken + 1), scene, from, theme);
        return;
    };
    if area.width < WITH_MAP {
        list(buffer, area, scene, outlook, from, theme);
        return;
    }
    list(buffer, Rect { width: LIST, ..area }, scene, outlook, from, theme);
    let map = Rect {
        x: area.x + LIST + 2,
        width: area.width - LIST - 2,
        ..area
    };
    ground::render_with(buffer, map, scene, &marks(outlook), theme);
}

/// The letters of the shortlists: capitals for stations, small ones for relays.
fn letter(list: usize, index: usize) -> String {
    let first = if list == 0 { b'A' } else { b'a' };
    char::from(first + (index as u8).min(25)).to_string()
}

fn marks(outlook: &Outlook) -> Vec<Mark> {
    let spots = outlook.spots.iter().take(9).enumerate().map(|(index, spot)| Mark {
        at: spot.offset,
        sign: (index + 1).to_string(),
        tone: Tone::Strong,
    });
    let second = outlook.second.iter().enumerate().flat_map(|(list, second)| {
        second.places.iter().enumerate().map(move |(index, place)| Mark {
            at: place.1,
            sign: letter(list, index),
            tone: Tone::Key,
        })
    });
    spots.chain(second).collect()
}

fn list(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, outlook: &Outlook, from: usize, theme: Theme) {
    // A doubted station and what is assumed stand over everything and never scroll away.
    let said = &outlook.read_with;
    let mut area = area;
    let most = (area.height / 3).max(2);
    if let Some(words) = said.station_doubted {
        let taken = put_wrapped(buffer, area, 0, words, most, theme.style(Tone::Bad));
        area = below(area, taken);
    }
    for words in said.limit_taken.iter().chain(&said.assumed).chain(&said.not_assumed) {
        let taken = put_wrapped(buffer, area, 0, words, most, theme.style(Tone::Close));
        area = below(area, taken);
    }
    let next = outlook.walk_next.as_deref();
    let foot = if next.is_some() && area.height > 6 { 3 } else { 0 };
    let mut lines: Vec<(String, Tone)> = Vec::new();
    spots(&mut lines, scene, outlook, area.width);
    if let (Some(_), Some(what_to_do)) = (said.station_doubted, said.notes.first()) {
        lines.push((String::new(), Tone::Text));
        hanging(&mut lines, "! ", what_to_do, area.width);
    }
    for (list, second) in outlook.second.iter().enumerate() {
        lines.push((String::new(), Tone::Text));
        lines.extend(
            wrap(&second.head, area.width)
                .into_iter()
                .map(|line| (line, Tone::Quiet)),
        );
        for (index, (words, _)) in second.places.iter().enumerate() {
            hanging(&mut lines, &format!("{} ", letter(list, index)), words, area.width);
        }
    }
    lines.push((String::new(), Tone::Text));
    for note in said.notes.iter().skip(usize::from(said.station_doubted.is_some())) {
        hanging(&mut lines, "· ", note, area.width);
    }
    hanging(&mut lines, "· ", HOW_TO_WALK, area.width);
    let all = usize::from(area.height.saturating_sub(foot));
    // The last line says how much more there is.
    let room = if lines.len() > all { all.saturating_sub(1) } else { all };
    let from = from.min(lines.len().saturating_sub(room.max(1)));
    for (y, (line, tone)) in lines.iter().skip(from).take(room).enumerate() {
        put(buffer, area, (0, y as u16), line, theme.style(*tone));
    }
    if room < all {
        let below_here = lines.len().saturating_sub(from + room);
        let more = match (from, below_here) {
            (0, more) => format!("↓ {more} more"),
            (before, 0) => format!("↑ {before} above"),
            (before, more) => format!("↑ {before} above  ↓ {more} more"),
        };
        put(buffer, area, (0, room as u16), &more, theme.style(Tone::Quiet));
    }
    if let (Some(next), 3) = (next, foot) {
        let words = format!("Walk next: {next}");
        let foot = below(area, area.height.saturating_sub(foot));
        put_wrapped(buffer, foot, 0, &words, 3, theme.style(Tone::Strong));
    }
}

/// Words whose further lines stand under the first letter after the sign.
fn hanging(lines: &mut Vec<(String, Tone)>, sign: &str, words: &str, width: u16) {
    let indent = columns(sign);
    for (index, line) in wrap(words, width.saturating_sub(indent)).into_iter().enumerate() {
        let before = if index == 0 {
            sign.to_owned()
        } else {
            " ".repeat(usize::from(indent))
        };
        lines.push((format!("{before}{line}"), Tone::Text));
    }
}

fn spots(lines: &mut Vec<(String, Tone)>, scene: &Scene<'_>, outlook: &Outlook, width: u16) {
    let narrow = width < 66;
    if outlook.spots.is_empty() {
        lines.extend(wrap(outlook.no_spot, width).into_iter().map(|line| (line, Tone::Text)));
        return;
    }
    // What the board's need is taken for stands over the list; every number of it holds only if so.
    let taken = outlook.read_with.limit_taken.is_some();
    let head = match (narrow, taken) {
        (true, false) => "place, chance, level over goal, dB",
        (true, true) => "if so: place, chance, dB over goal",
        (false, false) => "The best spots: from the station, chance, level over the goal",
        (false, true) => "If so, the best: from the station, chance, level over the goal",
    };
    lines.push((head.to_owned(), Tone::Quiet));
    for (index, spot) in outlook.spots.iter().enumerate() {
        let bearing = spot.bearing.map_or_else(String::new, words::true_bearing);
        let low = spot.spare_low_db.map(|low| signed(words::down(low, 0)));
        let (spare, low) = (spot.spare_db, low.unwrap_or_else(|| "–".to_owned()));
        let sure = spot.chance >= scene.setup.goal.confidence;
        // A chance proves nothing: the signs are those of the map.
        let sign = if sure { "+" } else { "~" };
        let place = format!(
            "{:>2} {sign} {:>6} {bearing}  {:>2} %",
            index + 1,
            metres(spot.distance.0),
            percent(spot.chance)
        );
        let words = if narrow {
            format!("{place}  ≥ {low:>3}")
        } else {
            format!("{place} sure  {:>3} dB over the goal (≥ {low})", signed(spare))
        };
        lines.push((words, if sure { Tone::Good } else { Tone::Text }));
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
    let words = if points.is_empty() && scene.doing.is_replay() {
        "No point had been measured yet."
    } else if points.is_empty() {
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
        let from_station = row
            .bearing
            .map_or_else(String::new, |bearing| words::true_bearing(Degrees(bearing.0 + 180.0)));
        let interval = super::number::percents(row.standing.delivery.interval);
        let (sign, tone) = statements::sign(row.standing.verdict);
        let word = match row.standing.verdict {
            Verdict::Meets => "surely meets",
            Verdict::Fails => "surely not",
            Verdict::KeepMeasuring => "not sure",
        };
        let name = cut(&row.point, 6);
        let mut words = format!("{sign} {name:<6} {far:>6} {from_station:<9} {interval:>10}");
        for more in [if several { row.board.as_str() } else { "" }, word] {
            if !more.is_empty() && columns(&words) + 2 + columns(more) <= list.width {
                words.push_str("  ");
                words.push_str(more);
            }
        }
        put(buffer, list, (0, y as u16), &words, theme.style(tone));
    }
}
