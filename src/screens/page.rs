//! The whole page: which panels, and where, for each size and view.
//!
//! ```text
//! title                                            one line
//! here and now      │ map, distance, polar plot    pocket: one at a time, v shows the next
//! time line                                        in a replay
//! Space does this    other keys                    one line
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::paint::{below, inset, panel, put};
use super::scene::Scene;
use super::size::Size;
use super::theme::{Theme, Tone};
use super::ui::{Over, Ui, View};
use super::{boards, bottom, distance, ground, guide, help, here, over, places, timeline, title, trouble_lines, turns};

/// No list that is shown ends: any line may be chosen.
const ANY_LINE: usize = usize::MAX;

/// Draws a page, and says which line is the furthest one can go to.
pub fn render(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, ui: &Ui) -> usize {
    let area = area.intersection(buffer.area);
    buffer.set_style(area, ui.theme.ground());
    if Size::of(area) == Size::TooSmall {
        help::too_small(buffer, area, scene.sentence(), ui.theme);
        return ANY_LINE;
    }
    let without_foot = Rect {
        height: area.height - 1,
        ..area
    };
    let furthest = views(buffer, without_foot, scene, ui, Size::of(area));
    foot_and_over(buffer, area, scene, ui);
    furthest
}

/// Draws a page without its bottom line and what lies over it, as one of several side by side.
pub fn column(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, ui: &Ui) -> usize {
    let area = area.intersection(buffer.area);
    buffer.set_style(area, ui.theme.ground());
    match Size::of(area) {
        Size::TooSmall => {
            help::too_small(buffer, area, scene.sentence(), ui.theme);
            ANY_LINE
        }
        size => views(buffer, area, scene, ui, size),
    }
}

/// Draws the bottom line, and what lies over the view.
pub fn foot_and_over(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, ui: &Ui) {
    let theme = ui.theme;
    let area = area.intersection(buffer.area);
    if Size::of(area) == Size::TooSmall {
        return;
    }
    let foot = Rect {
        y: area.bottom() - 1,
        height: 1,
        ..area
    };
    match &ui.word {
        Some(word) if matches!(ui.over, Over::Nothing) => {
            put(buffer, inset(foot, 1), (0, 0), word, theme.style(Tone::Strong));
        }
        _ => bottom::render(buffer, foot, ui, scene.doing, scene.around.among.is_some(), theme),
    }
    let line = if scene.around.timeline.is_some() {
        timeline::HEIGHT
    } else {
        0
    };
    let middle = Rect {
        y: area.y + 1,
        height: area.height.saturating_sub(2 + line),
        ..area
    };
    over::render(buffer, middle, &ui.over, scene, theme);
}

/// Title, panels and time line.
fn views(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, ui: &Ui, size: Size) -> usize {
    title::render(buffer, area, scene, ui.theme);
    let mut middle = below(area, 1);
    if let Some(line) = scene.around.timeline {
        let height = timeline::HEIGHT.min(middle.height);
        let place = Rect {
            y: middle.bottom() - height,
            height,
            ..middle
        };
        timeline::render(buffer, inset(place, 1), line, ui.theme);
        middle.height -= height;
    }
    if let Over::Help(_) = ui.over {
        return ANY_LINE;
    }
    if ui.view == View::Overview {
        match size {
            Size::Pocket | Size::TooSmall if middle.width >= TALL.0 && middle.height >= TALL.1 => {
                tall(buffer, middle, scene, ui)
            }
            Size::Pocket | Size::TooSmall => {
                main_panel(buffer, middle, scene, size, ui.theme);
                ANY_LINE
            }
            Size::Standard => standard(buffer, middle, scene, ui),
            Size::Wide => wide(buffer, middle, scene, ui),
        }
    } else {
        single(buffer, middle, scene, ui, size)
    }
}

/// Narrow and at least this high, the map stands below.
const TALL: (u16, u16) = (48, 34);

/// One above the other: for a narrow and high screen, or one of two surveys side by side.
fn tall(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, ui: &Ui) -> usize {
    let upper = Rect {
        height: (area.height * 6 / 10).max(22),
        ..area
    };
    main_panel(buffer, upper, scene, Size::Standard, ui.theme);
    let lower = below(area, upper.height);
    if scene.turning.is_some() {
        return polar_panel(buffer, lower, scene, ui);
    }
    let inside = panel(buffer, lower, "Ground", ui.theme);
    ground::render(buffer, inside, scene, ui.theme);
    ANY_LINE
}

/// The sweep's guide while there is one, else here and now.
fn main_panel(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, size: Size, theme: Theme) {
    let name = if scene.turning.is_some() {
        "Sweep"
    } else {
        "Here and now"
    };
    let inside = if size == Size::Pocket {
        area
    } else {
        panel(buffer, area, name, theme)
    };
    match &scene.turning {
        Some(turning) => guide::render(buffer, inside, turning, scene, theme),
        None => here::render(buffer, inside, scene, theme),
    }
}

fn standard(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, ui: &Ui) -> usize {
    let left = area.width / 2 - 1;
    main_panel(buffer, Rect { width: left, ..area }, scene, Size::Standard, ui.theme);
    let right = Rect {
        x: area.x + left,
        width: area.width - left,
        ..area
    };
    if scene.turning.is_some() {
        return polar_panel(buffer, right, scene, ui);
    }
    let map = Rect {
        height: right.height * 6 / 10,
        ..right
    };
    let inside = panel(buffer, map, "Ground", ui.theme);
    ground::render(buffer, inside, scene, ui.theme);
    let place = below(right, map.height);
    let inside = panel(buffer, place, &distance::title(scene, place.width), ui.theme);
    distance::render(buffer, inside, scene, ui.theme);
    ANY_LINE
}

fn wide(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, ui: &Ui) -> usize {
    let left = (area.width * 2 / 5).clamp(48, 64);
    let column = Rect { width: left, ..area };
    let upper = Rect {
        height: (area.height * 7 / 10).max(25),
        ..column
    };
    main_panel(buffer, upper, scene, Size::Wide, ui.theme);
    let inside = panel(buffer, below(column, upper.height), "Points", ui.theme);
    places::measured(buffer, inset(inside, 1), scene, 0, ui.theme);
    let right = Rect {
        x: area.x + left,
        width: area.width - left,
        ..area
    };
    let upper = Rect {
        height: right.height * 6 / 10,
        ..right
    };
    let furthest = if scene.turning.is_some() {
        polar_panel(buffer, upper, scene, ui)
    } else {
        let inside = panel(buffer, upper, "Ground", ui.theme);
        ground::render(buffer, inside, scene, ui.theme);
        ANY_LINE
    };
    let place = below(right, upper.height);
    let inside = panel(buffer, place, &distance::title(scene, place.width), ui.theme);
    distance::render(buffer, inside, scene, ui.theme);
    furthest
}

fn polar_panel(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, ui: &Ui) -> usize {
    let inside = panel(buffer, area, "Turns", ui.theme);
    // When all turns are done, the guide says what they show.
    let done = scene
        .turning
        .as_ref()
        .is_some_and(|turning| turning.counting.is_none() && turning.next.is_none());
    turns::render(buffer, inside, scene, ui, !done)
}

/// One view over the whole page, with what must be known above it.
fn single(buffer: &mut Buffer, area: Rect, scene: &Scene<'_>, ui: &Ui, size: Size) -> usize {
    let theme = ui.theme;
    let name = ui.view.name();
    let mut letters = name.chars();
    let mut title: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .chain(letters)
        .collect();
    if ui.view == View::Distance {
        title = distance::title(scene, area.width);
    }
    // The plot needs every line of a small screen.
    let framed = !(size == Size::Pocket && ui.view == View::Turns);
    let inside = if framed {
        panel(buffer, area, &title, theme)
    } else {
        area
    };
    let summary = Rect {
        height: inside.height.min(1),
        ..inset(inside, 1)
    };
    let turning = scene.turning.as_ref().filter(|_| ui.view == View::Turns);
    let sentence = match turning {
        Some(turning) => guide::in_a_line(turning, scene.doing.is_replay()),
        None => format!("{} {}", scene.answer.mark(), scene.sentence()),
    };
    let used = put(buffer, summary, (0, 0), &sentence, theme.style(Tone::Strong));
    let place = here::place(scene);
    if size != Size::Pocket && turning.is_none() {
        put(buffer, summary, (used + 3, 0), &place, theme.style(Tone::Text));
    }
    let mut rest = below(inside, 1);
    let most = 3;
    rest = below(rest, trouble_lines::render(buffer, rest, scene, most, theme));
    match ui.view {
        View::Overview => {}
        View::Map => ground::render(buffer, rest, scene, theme),
        View::Distance => distance::render(buffer, rest, scene, theme),
        View::Turns => return turns::render(buffer, rest, scene, ui, true),
        View::Boards => boards::render(
            buffer,
            inset(rest, 1),
            scene,
            ui.chosen.unwrap_or_else(|| scene.at_hand()),
            size,
            theme,
        ),
        View::Places => places::render(buffer, inset(rest, 1), scene, ui.line, theme),
    }
    ANY_LINE
}
