//! Boards at points: boards down, points across by distance; what is still to be measured first, the cell at hand last.
//!
//! ```text
//!  At P2 still: hazel, then yew again.
//!  delivered            P1                ◉ P2
//!  dB to spare          41 m              88 m
//!  yew                   ✓ 100 % 87–100    ✓ 99 % 94–100
//!  reference              +21…+28           +9…+17
//!  fern                  ✓ 98 % 93–100    ▸? 71 % 58–82 *
//!  −3 dB (−6 to 0)        +16…+25           −4…+27
//!  hazel                 measure           measure
//!  fern at P2, 88 m: 71 of 100 delivered.
//!  By count: …
//!  By level: …
//! ```
//!
//! A small screen has one point at a time, a line a board, and the same keys: ← → the point, ↑ ↓ the board.
//!
//! ```text
//!  P2, 88 m                point 2 of 2
//!  board    delivered %  spare   vs, dB
//!  yew      ✓ 99 94–100 +13 ±4  ref.
//! ▸fern   * ? 71 58–82  +9 ±18  −3 ±3
//!  hazel    measure             −
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::boards_words::{about_cell, to_do};
use super::number::{UNKNOWN, metres, percent, percents};
use super::paint::{below, columns, cut, put, put_right, put_wrapped};
use super::scene::Scene;
use super::size::Size;
use super::statements;
use super::theme::{Theme, Tone};
use crate::findings::grid::Run;

/// Columns for a board's name and how it compares.
const NAME: u16 = 21;
/// Columns for a point: what is delivered never stands without its interval.
const CELL: u16 = 18;
/// Lines a board takes.
const BOARD: u16 = 2;
/// Columns of a pocket's line, where the board, what is delivered and what is to spare end; then against the reference.
const POCKET: [u16; 3] = [9, 21, 29];
/// The same from so many columns on.
const ROOMY_POCKET: (u16, [u16; 3]) = (46, [11, 28, 37]);

/// Draws it; `chosen` is the cell chosen, by board and point.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, chosen: (usize, usize), size: Size, theme: Theme) {
    let grid = &scene.grid;
    if grid.points.is_empty() {
        let words = if scene.doing.is_replay() {
            "No point had been measured yet."
        } else {
            "No point has been measured yet. Stand where a node may go and press Space; then the same with each further \
             board, at the same points."
        };
        put_wrapped(buffer, area, 1, words, 6, theme.style(Tone::Text));
        return;
    }
    let chosen = (
        chosen.0.min(grid.boards.len().saturating_sub(1)),
        chosen.1.min(grid.points.len() - 1),
    );
    let mut top = 0;
    let most = if size == Size::Pocket { 3 } else { 2 };
    top += put_wrapped(buffer, area, top, &to_do(scene), most, theme.style(Tone::Strong));
    let height = |foot: &[(String, Tone)]| {
        let lines = foot.iter().map(|(text, _)| super::paint::wrap(text, area.width).len());
        lines.sum::<usize>() as u16
    };
    let least = 3 + if size == Size::Pocket { 2 } else { 2 * BOARD };
    let room = area.height.saturating_sub(top + least + 1);
    let whole = about_cell(scene, chosen, false);
    let foot = if height(&whole) <= room {
        whole
    } else {
        about_cell(scene, chosen, true)
    };
    let foot_lines = height(&foot).min(room);
    let middle = Rect {
        height: area.height.saturating_sub(top + foot_lines + 1),
        ..below(area, top)
    };
    let hidden = if size == Size::Pocket {
        one_point(buffer, middle, scene, chosen, theme)
    } else {
        table(buffer, middle, scene, chosen, theme)
    };
    let under = Rect {
        height: foot_lines,
        ..below(area, top + middle.height)
    };
    let mut y = 0;
    for (text, tone) in &foot {
        if y < foot_lines {
            y += put_wrapped(buffer, under, y, text, foot_lines - y, theme.style(*tone));
        }
    }
    legend(buffer, area, &hidden, scene.doing.is_replay(), theme);
}

/// The last line: what the signs mean, and what is out of sight.
fn legend(buffer: &mut Buffer, area: Rect, hidden: &str, replay: bool, theme: Theme) {
    let y = area.height.saturating_sub(1);
    let room = area.width.saturating_sub(columns(hidden) + 2);
    let legends = [
        "✓ surely meets the goal  ? not sure  ✗ surely does not  * more to measure    bursts of losses up to about 0.8 s allowed for",
        "✓ surely meets the goal  ? not sure  ✗ surely does not  * more to measure",
        "✓ surely meets  ? not sure  ✗ surely not  * measure on",
        "✓ surely meets  ? unsure  ✗ not  * more",
        "✓ surely ? unsure ✗ not * more",
        "✓ surely ✗ not * more",
    ];
    // In a replay nobody can measure on.
    let as_told = |legend: &str| {
        let more = ["* more to measure", "* measure on", "* more"];
        match more.into_iter().find(|more| legend.contains(more)) {
            Some(more) if replay => legend.replace(more, "* open"),
            _ => legend.to_owned(),
        }
    };
    if let Some(legend) = legends.into_iter().map(as_told).find(|legend| columns(legend) <= room) {
        put(buffer, area, (0, y), &legend, theme.style(Tone::Quiet));
    }
    put_right(buffer, area, y, hidden, theme.style(Tone::Text));
}

/// The part of a list that is shown: from which one on, so that the one chosen is in sight.
fn window(of: usize, fits: usize, chosen: usize) -> usize {
    if of <= fits {
        return 0;
    }
    chosen.saturating_sub(fits / 2).min(of - fits)
}

/// Which boards are shown, so that the one chosen is in sight; with room for two, the reference (the first) always is.
fn shown_boards(of: usize, fits: usize, chosen: usize, pinned: bool) -> impl Iterator<Item = usize> {
    let pins = usize::from(pinned && fits > 1 && of > fits);
    let first = pins + window(of - pins, fits - pins, chosen.saturating_sub(pins));
    (0..pins).chain((first..of).take(fits - pins))
}

/// What a cell says of its count: the sign of the verdict, the rate with its interval; with its unit where the head has none.
fn count_of(cell: &Run<'_>, unit: &str) -> (String, Tone) {
    let (sign, tone) = statements::sign(cell.row.standing.verdict);
    let delivery = &cell.row.standing.delivery;
    let rate = delivery.rate.map_or_else(|| UNKNOWN.to_owned(), percent);
    let interval = percents(delivery.interval);
    let interval = interval.trim_end_matches(" %");
    let gap = if unit.is_empty() && columns(&rate) > 2 { "" } else { " " };
    (format!("{sign}{gap}{rate}{unit} {interval}"), tone)
}

/// A mark where more is to be measured.
fn more(scene: &Scene<'_>, (board, point): (usize, usize)) -> &'static str {
    if scene.grid.is_unfinished(board, point) {
        "*"
    } else {
        ""
    }
}

/// What an empty cell says: what to do, or in a replay that nothing is known.
fn empty(scene: &Scene<'_>) -> (String, Tone) {
    if scene.doing.is_replay() {
        (UNKNOWN.to_owned(), Tone::Quiet)
    } else {
        ("measure".to_owned(), Tone::Close)
    }
}

fn spare_of(scene: &Scene<'_>, cell: &Run<'_>) -> String {
    let outlook = scene.around.outlook;
    let figures = outlook.and_then(|outlook| outlook.runs.get(&cell.row.run));
    statements::short(figures.and_then(|figures| figures.margin.as_ref()))
}

/// How a board compares with the reference, in full or short.
fn compared(scene: &Scene<'_>, board: &str, short: bool) -> String {
    if scene.grid.reference == Some(board) {
        return if short { "ref." } else { "reference" }.to_owned();
    }
    let outlook = scene.around.outlook;
    let known = outlook.and_then(|outlook| outlook.against_reference.get(board));
    let words = known.map(|known| if short { &known.short } else { &known.words });
    words.cloned().unwrap_or_else(|| UNKNOWN.to_owned())
}

/// The grid; says what of it is out of sight.
fn table(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, chosen: (usize, usize), theme: Theme) -> String {
    let grid = &scene.grid;
    let fits = usize::from(area.width.saturating_sub(NAME) / CELL).max(1);
    let first_point = window(grid.points.len(), fits, chosen.1);
    put(buffer, area, (0, 0), "delivered", theme.style(Tone::Quiet));
    put(buffer, area, (0, 1), "dB to spare", theme.style(Tone::Quiet));
    let shown = || grid.points.iter().enumerate().skip(first_point).take(fits);
    let column = |point: usize| NAME + (point - first_point) as u16 * CELL;
    for (index, point) in shown() {
        let x = column(index);
        let stands = scene.stop.as_ref().is_some_and(|stop| stop.name == point.name);
        let mark = if stands { "◉" } else { " " };
        let room = CELL - 3;
        put(buffer, area, (x, 0), mark, theme.style(Tone::Strong));
        put(
            buffer,
            area,
            (x + 2, 0),
            &cut(point.name, room),
            theme.style(Tone::Strong),
        );
        let far = point
            .distance
            .map_or_else(|| UNKNOWN.to_owned(), |distance| metres(distance.0));
        put(buffer, area, (x + 2, 1), &far, theme.style(Tone::Quiet));
    }
    let height = area.height.saturating_sub(2);
    // With lines to spare, boards stand apart.
    let step = if height >= grid.boards.len() as u16 * (BOARD + 1) {
        BOARD + 1
    } else {
        BOARD
    };
    let room = usize::from(height / step).max(1);
    for (line, row) in shown_boards(grid.boards.len(), room, chosen.0, grid.reference.is_some()).enumerate() {
        let (y, board) = (2 + line as u16 * step, grid.boards[row]);
        put(buffer, area, (0, y), &cut(board, NAME - 2), theme.style(Tone::Strong));
        let beside = cut(&compared(scene, board, false), NAME - 1);
        put(buffer, area, (0, y + 1), &beside, theme.style(Tone::Quiet));
        for (index, _) in shown() {
            let x = column(index);
            let here = (row, index) == chosen;
            let (text, tone) = match grid.cell(row, index) {
                None => empty(scene),
                Some(cell) => {
                    let spare = spare_of(scene, cell);
                    put(buffer, area, (x + 3, y + 1), &spare, theme.style(Tone::Text));
                    let (count, tone) = count_of(cell, " %");
                    (
                        format!("{count} {}", more(scene, (row, index))).trim_end().to_owned(),
                        tone,
                    )
                }
            };
            let tone = if here { Tone::Chosen } else { tone };
            let pointer = if here { "▸" } else { " " };
            put(buffer, area, (x, y), pointer, theme.style(Tone::Strong));
            put(buffer, area, (x + 1, y), &text, theme.style(tone));
        }
    }
    out_of_sight(grid.points.len(), fits, grid.boards.len(), room)
}

fn out_of_sight(points: usize, points_fit: usize, boards: usize, boards_fit: usize) -> String {
    let hidden = |of: usize, fit: usize, one: &str, many: &str| {
        let more = of.saturating_sub(fit);
        (more > 0).then(|| format!("{more} more {}", if more == 1 { one } else { many }))
    };
    [
        hidden(points, points_fit, "point", "points"),
        hidden(boards, boards_fit, "board", "boards"),
    ]
    .into_iter()
    .flatten()
    .collect::<Vec<_>>()
    .join(", ")
}

/// One point on a narrow screen, a line a board; says what is out of sight.
fn one_point(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, chosen: (usize, usize), theme: Theme) -> String {
    let grid = &scene.grid;
    let point = &grid.points[chosen.1];
    let far = point
        .distance
        .map_or_else(String::new, |distance| format!(", {}", metres(distance.0)));
    let stands = scene.stop.as_ref().is_some_and(|stop| stop.name == point.name);
    let mark = if stands { "◉ " } else { "" };
    let place = format!("point {} of {}", chosen.1 + 1, grid.points.len());
    let room = area.width.saturating_sub(columns(&place) + 1);
    let title = format!(
        "{mark}{}{far}",
        cut(point.name, room.saturating_sub(columns(&far) + columns(mark)))
    );
    put(buffer, area, (0, 0), &title, theme.style(Tone::Strong));
    put_right(buffer, area, 0, &place, theme.style(Tone::Text));
    let (roomy, ends) = match ROOMY_POCKET {
        (from, ends) if area.width >= from => (true, ends),
        _ => (false, POCKET),
    };
    let [name_end, count_end, spare_end] = ends;
    let against = area.width.saturating_sub(spare_end);
    let heads = if roomy {
        ["board", "delivered", "dB spare"]
    } else {
        ["board", "delivered %", "spare"]
    };
    for (x, word) in [1, name_end, count_end].into_iter().zip(heads) {
        put(buffer, area, (x, 1), word, theme.style(Tone::Quiet));
    }
    if let Some(reference) = grid.reference {
        let words = [
            format!("dB vs {reference}"),
            "dB vs ref.".to_owned(),
            "vs, dB".to_owned(),
            "vs".to_owned(),
        ];
        let words = words.into_iter().skip(if roomy { 0 } else { 2 });
        let word = words.into_iter().find(|word| columns(word) <= against);
        put(
            buffer,
            area,
            (spare_end, 1),
            &word.unwrap_or_default(),
            theme.style(Tone::Quiet),
        );
    }
    let room = usize::from(area.height.saturating_sub(2)).max(1);
    for (line, row) in shown_boards(grid.boards.len(), room, chosen.0, grid.reference.is_some()).enumerate() {
        let (y, board) = (2 + line as u16, grid.boards[row]);
        let here = row == chosen.0;
        let pointer = if here { "▸" } else { " " };
        put(buffer, area, (0, y), pointer, theme.style(Tone::Strong));
        put(
            buffer,
            area,
            (1, y),
            &cut(board, name_end - 2),
            theme.style(Tone::Strong),
        );
        let (text, tone) = match grid.cell(row, chosen.1) {
            None => empty(scene),
            Some(cell) => {
                let more = more(scene, (row, chosen.1));
                put(buffer, area, (name_end - 1, y), more, theme.style(Tone::Close));
                let spare = spare_of(scene, cell);
                put(buffer, area, (count_end, y), &spare, theme.style(Tone::Text));
                count_of(cell, if roomy { " %" } else { "" })
            }
        };
        let tone = if here { Tone::Chosen } else { tone };
        put(buffer, area, (name_end, y), &text, theme.style(tone));
        let full = compared(scene, board, false);
        let compared = if columns(&full) <= against {
            full
        } else {
            compared(scene, board, true)
        };
        if columns(&compared) <= against {
            put(buffer, area, (spare_end, y), &compared, theme.style(Tone::Text));
        }
    }
    let hidden = grid.boards.len().saturating_sub(room);
    if hidden > 0 && !roomy {
        return format!("+{hidden} boards");
    }
    out_of_sight(0, 0, grid.boards.len(), room)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_chosen_is_in_sight() {
        for of in 0..12 {
            for fits in 1..6 {
                for chosen in 0..of {
                    let first = window(of, fits, chosen);
                    assert!((first..first + fits).contains(&chosen), "{chosen} of {of}, {fits} fit");
                    assert!(first == 0 || first + fits <= of, "no empty columns");
                }
            }
        }
    }

    #[test]
    fn the_reference_stays_in_sight() {
        let shown = |fits, chosen| shown_boards(6, fits, chosen, true).collect::<Vec<_>>();
        assert_eq!(shown(3, 5), [0, 4, 5]);
        assert_eq!(shown(3, 0), [0, 1, 2]);
        assert_eq!(shown(1, 4), [4]);
        assert_eq!(shown(9, 4), [0, 1, 2, 3, 4, 5]);
    }

    #[test]
    fn what_does_not_fit_is_counted() {
        assert_eq!(out_of_sight(5, 3, 4, 4), "2 more points");
        assert_eq!(out_of_sight(4, 3, 9, 4), "1 more point, 5 more boards");
        assert_eq!(out_of_sight(1, 3, 1, 4), "");
    }
}
