//! The ground of two surveys in one frame: which was better where both measured, and where only one did.
//!
//! ```text
//!                              50 m ├────────┤  N ↑
//!     ▲ station
//!       =  =  B  B  b  b
//!          =  A  ·
//!             a  a
//!  A B surely better there  = not told apart  a b one only  · few
//! ```

use std::collections::BTreeMap;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::findings::together::pair::{Better, Pair};
use crate::findings::together::say;
use crate::screens::ground::{Frame, scale};
use crate::screens::paint::{columns, cut, put, put_wrapped};
use crate::screens::theme::{Theme, Tone};

/// What a letter's cell of the map shows; what comes first is drawn where several fall into one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Sign {
    Better(char),
    Alike,
    Thin,
    Alone(char),
}

impl Sign {
    fn look(self) -> (String, Tone) {
        match self {
            Self::Better(letter) => (letter.to_string(), Tone::Strong),
            Self::Alike => ("=".to_owned(), Tone::Text),
            Self::Thin => ("·".to_owned(), Tone::Quiet),
            Self::Alone(letter) => (letter.to_ascii_lowercase().to_string(), Tone::Quiet),
        }
    }
}

/// Draws it.
pub fn render(buffer: &mut Buffer, area: Rect, pair: &Pair, theme: Theme) {
    if area.width < 12 || area.height < 4 {
        return;
    }
    let map = Rect {
        height: area.height - 1,
        ..area
    };
    let signs = signs(pair);
    let stations = pair.stations.iter().copied().flatten();
    let all = signs.iter().map(|(at, _)| *at).chain(stations);
    let dots = (f64::from(map.width) * 2.0, f64::from(map.height) * 4.0);
    let Some(frame) = Frame::around(all, dots) else {
        let words = "Nothing to draw: no position is known in either.";
        put_wrapped(buffer, area, 1, words, 3, theme.style(Tone::Quiet));
        return;
    };
    let mut cells: BTreeMap<(u16, u16), Sign> = BTreeMap::new();
    for (at, sign) in &signs {
        if let Some(cell) = frame.cell(*at) {
            let known = cells.entry(cell).or_insert(*sign);
            *known = (*known).min(*sign);
        }
    }
    for (cell, sign) in &cells {
        let (letter, tone) = sign.look();
        put(buffer, map, *cell, &letter, theme.style(tone));
    }
    let (a, b) = say::letters(pair);
    for (index, at) in pair.stations.iter().enumerate() {
        let Some(cell) = at.and_then(|at| frame.cell(at)) else {
            continue;
        };
        // One station is drawn once.
        if index == 1 && pair.stations[0].and_then(|at| frame.cell(at)) == Some(cell) {
            continue;
        }
        let one = pair.stations[0].zip(pair.stations[1]).is_some_and(|(one, other)| {
            let apart = (one.0 - other.0).hypot(one.1 - other.1);
            apart < frame.metres_a_dot * 4.0
        });
        let name = match (one, index) {
            (true, _) => "station".to_owned(),
            (false, 0) => format!("station {a}"),
            (false, _) => format!("station {b}"),
        };
        put(buffer, map, cell, "▲", theme.style(Tone::Strong));
        let wide = columns(&name);
        // Below the sign where that is free, so that it does not hide what was measured.
        let place = [(cell.0, cell.1 + 1), (cell.0 + 2, cell.1)].into_iter().find(|(x, y)| {
            let free = (*x..*x + wide).all(|x| !cells.contains_key(&(x, *y)));
            free && *y < map.height && x + wide <= map.width
        });
        if let Some(place) = place {
            put(buffer, map, place, &cut(&name, wide), theme.style(Tone::Text));
        }
    }
    scale(buffer, area, frame.metres_a_dot * 2.0, theme);
    legend(buffer, area, (a, b), theme);
}

fn signs(pair: &Pair) -> Vec<((f64, f64), Sign)> {
    let (a, b) = say::letters(pair);
    let mut signs: Vec<((f64, f64), Sign)> = Vec::new();
    for place in &pair.places {
        let sign = match place.better {
            Better::First => Sign::Better(a),
            Better::Second => Sign::Better(b),
            Better::NotTold => Sign::Alike,
        };
        signs.push((place.at, sign));
    }
    signs.extend(pair.thin.iter().map(|at| (*at, Sign::Thin)));
    for (places, letter) in pair.alone.iter().zip([a, b]) {
        signs.extend(places.iter().map(|at| (*at, Sign::Alone(letter))));
    }
    signs
}

fn legend(buffer: &mut Buffer, area: Rect, (a, b): (char, char), theme: Theme) {
    let (low_a, low_b) = (a.to_ascii_lowercase(), b.to_ascii_lowercase());
    let long = format!("{a} {b} surely better there  = not told apart  {low_a} {low_b} only one was there  · too few");
    let middle = format!("{a} {b} better  = not told apart  {low_a} {low_b} only one  · few");
    let short = format!("{a} {b} better  = open  {low_a} {low_b} one  · few");
    let words = [long, middle]
        .into_iter()
        .find(|words| columns(words) <= area.width)
        .unwrap_or(short);
    put(buffer, area, (0, area.height - 1), &words, theme.style(Tone::Text));
}
