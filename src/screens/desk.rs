//! One or several surveys being replayed: side by side where that fits, else the one in front, or all together.
//!
//! Each survey has a time line of its own, several begin at their ends; keys of time act on the one in front, marked by ▸. What is chosen to be seen
//! (view, palette, polar scale) is chosen for all.
//!
//! ```text
//!  ▸A before                         │   B after
//! ┌─ Here and now ─────────────────┐ │ ┌─ Here and now ─────────────────┐
//! │                                │ │ │                                │
//! └────────────────────────────────┘ │ └────────────────────────────────┘
//!  ▶ ×20  00:12:41    run 14: P3     │  ‖ ×1   00:00:00   run 1: walk
//!  Space play or hold    Tab next survey    c compare    ? help    q close
//! ```

use std::sync::Arc;

use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::field::Field;
use super::keys::{Command, Place, command};
use super::paint::{columns, inset, put};
use super::scene::Subject;
use super::size::Size;
use super::theme::{Theme, Tone};
use super::timeline::Timeline;
use super::together::page::{self, Look};
use super::ui::{Over, Wish};
use crate::findings::together::member::letter;
use crate::findings::together::whole::Together;
use crate::units::Elapsed;

/// A survey stands beside others in at least so many columns.
const COLUMN: u16 = 60;

/// What is to be seen of one survey.
#[derive(Clone, Debug)]
pub struct Seat<'a> {
    /// The survey.
    pub subject: Subject<'a>,
    /// The moment.
    pub at: Elapsed,
    /// Its time line.
    pub timeline: Timeline,
}

/// The screen of a replay.
#[derive(Clone, Debug, Default)]
pub struct Desk {
    fields: Vec<Field>,
    front: usize,
    look: Option<Look>,
    together: Option<Arc<Together>>,
}

impl Desk {
    /// A screen for so many surveys.
    pub fn new(surveys: usize, theme: Theme) -> Self {
        let fields = (0..surveys.max(1)).map(|_| {
            let mut field = Field::new(theme);
            // Played fast, a bell at every step would be no help; it can be switched on.
            field.ui.quiet = true;
            field
        });
        Self {
            fields: fields.collect(),
            ..Self::default()
        }
    }

    /// Which survey is in front.
    pub fn front(&self) -> usize {
        self.front
    }

    /// The screen of one survey.
    pub fn field(&mut self, index: usize) -> Option<&mut Field> {
        self.fields.get_mut(index)
    }

    /// Tells every screen how many seconds have passed since the replay began.
    pub fn wall_is(&mut self, seconds: f64) {
        for field in &mut self.fields {
            field.wall_s = seconds;
        }
    }

    /// Says something about the last key, on the survey in front.
    pub fn say(&mut self, words: String) {
        if let Some(field) = self.fields.get_mut(self.front) {
            field.ui.word = Some(words);
        }
    }

    /// Whether a comparison is looked at that has not been worked out yet.
    pub fn waits_for_comparison(&self) -> bool {
        self.look.is_some() && self.together.is_none()
    }

    /// Takes a comparison.
    pub fn compared(&mut self, together: Arc<Together>) {
        self.together = Some(together);
    }

    /// Forgets the comparison, after something was left out or taken back.
    pub fn forget_comparison(&mut self) {
        self.together = None;
    }

    /// Takes a key, and gives back what it wishes of the survey in front.
    pub fn press(&mut self, key: KeyEvent, seats: &[Seat<'_>]) -> Vec<Wish> {
        let open = self
            .fields
            .get(self.front)
            .is_some_and(|field| !matches!(field.ui.over, Over::Nothing));
        if !open && self.look.is_some() && self.press_together(key) {
            return Vec::new();
        }
        let (Some(field), Some(seat)) = (self.fields.get_mut(self.front), seats.get(self.front)) else {
            return Vec::new();
        };
        field.timeline = Some(seat.timeline.clone());
        let mut wishes = field.press(key, seat.subject, seat.at);
        self.share_choices();
        wishes.retain(|wish| match wish {
            Wish::NextSurvey | Wish::Together if self.fields.len() == 1 => {
                self.say("Only one survey is open: give replay several folders to see them together.".to_owned());
                false
            }
            Wish::NextSurvey => {
                self.front = (self.front + 1) % self.fields.len();
                false
            }
            Wish::Together => {
                self.look = Some(Look::default());
                false
            }
            _ => true,
        });
        wishes
    }

    /// A key while surveys are looked at together; `false` where it means what it means everywhere.
    fn press_together(&mut self, key: KeyEvent) -> bool {
        let pairs = self.together.as_ref().map_or(1, |found| found.pairs.len().max(1));
        let Some(look) = &mut self.look else { return false };
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            return false;
        }
        let page = usize::from(key.code == KeyCode::PageDown || key.code == KeyCode::PageUp) * 9;
        match (command(key, Place::Replay), key.code) {
            (Some(Command::Together | Command::Back), _) => self.look = None,
            (Some(Command::View), _) => (look.view, look.line) = (look.view.next(), 0),
            (Some(Command::NextSurvey), _) => (look.pair, look.line) = ((look.pair + 1) % pairs, 0),
            (Some(Command::Up), _) | (_, KeyCode::PageUp) => look.line = look.line.saturating_sub(1 + page),
            (Some(Command::Down), _) | (_, KeyCode::PageDown) => look.line = look.line.saturating_add(1 + page),
            (Some(Command::Scale), _) => look.absolute = !look.absolute,
            (Some(Command::Theme | Command::Help | Command::Finish), _) => return false,
            _ => self.say("Together, keys of time do nothing: c goes back to the time lines.".to_owned()),
        }
        true
    }

    /// What the person chose to see of the survey in front holds for all.
    fn share_choices(&mut self) {
        let Some(front) = self.fields.get(self.front) else {
            return;
        };
        let (theme, view, quiet) = (front.ui.theme, front.ui.view, front.ui.quiet);
        let (absolute, overlays) = (front.ui.absolute, front.ui.overlays);
        for field in &mut self.fields {
            field.ui.theme = theme;
            field.ui.view = view;
            field.ui.quiet = quiet;
            field.ui.absolute = absolute;
            field.ui.overlays = overlays;
        }
    }

    /// Draws the page, and says whether the bell rings.
    pub fn draw(&mut self, buffer: &mut Buffer, area: Rect, seats: &[Seat<'_>]) -> bool {
        let area = area.intersection(buffer.area);
        let several = self.fields.len() > 1;
        let front = self.front;
        for (index, (field, seat)) in self.fields.iter_mut().zip(seats).enumerate() {
            field.timeline = Some(seat.timeline.clone());
            field.among = several.then(|| (letter(index), index == front));
        }
        let Some(seat) = seats.get(self.front) else {
            return false;
        };
        if let Some(look) = self.look {
            return self.draw_together(buffer, area, look, seat);
        }
        let beside = usize::from(area.width / COLUMN).min(self.fields.len());
        let helps = matches!(self.fields[self.front].ui.over, Over::Help(_));
        if beside < 2 || Size::of(area) == Size::TooSmall || helps {
            return self.fields[self.front].draw(buffer, area, seat.subject, seat.at);
        }
        // The order stays; the survey in front is always among those seen.
        let first = self.front.saturating_sub(beside - 1).min(self.fields.len() - beside);
        let theme = self.fields[self.front].ui.theme;
        buffer.set_style(area, theme.ground());
        let mut rings = false;
        let wide = area.width / beside as u16;
        for place in 0..beside {
            let index = first + place;
            let x = area.x + wide * place as u16;
            let last = place + 1 == beside;
            let column = Rect {
                x,
                width: if last { area.right() - x } else { wide - 1 },
                height: area.height - 1,
                ..area
            };
            if let (Some(field), Some(seat)) = (self.fields.get_mut(index), seats.get(index)) {
                rings |= field.draw_column(buffer, column, seat.subject, seat.at);
            }
            if !last {
                for y in 0..column.height {
                    put(
                        buffer,
                        area,
                        (column.right() - area.x, y),
                        "│",
                        theme.style(Tone::Quiet),
                    );
                }
            }
        }
        self.fields[self.front].draw_over(buffer, area, seat.subject, seat.at);
        rings
    }

    fn draw_together(&mut self, buffer: &mut Buffer, area: Rect, look: Look, seat: &Seat<'_>) -> bool {
        let field = &mut self.fields[self.front];
        let theme = field.ui.theme;
        if matches!(field.ui.over, Over::Nothing) {
            let more = page::render(buffer, area, self.together.as_deref(), look, theme);
            if Size::of(area) != Size::TooSmall {
                let found = self.together.as_deref();
                foot(buffer, area, field.ui.word.take(), (found, more), theme);
            }
            false
        } else {
            field.draw(buffer, area, seat.subject, seat.at)
        }
    }
}

/// The bottom line of surveys together; `more`: whether there is more than the page holds.
fn foot(buffer: &mut Buffer, area: Rect, word: Option<String>, (found, more): (Option<&Together>, bool), theme: Theme) {
    let line = inset(
        Rect {
            y: area.bottom() - 1,
            height: 1,
            ..area
        },
        1,
    );
    if let Some(word) = word {
        put(buffer, line, (0, 0), &word, theme.style(Tone::Strong));
        return;
    }
    let pairs = found.map_or(0, |found| found.pairs.len());
    let mut hints = vec![("v", "view"), ("c", "back"), ("?", "help"), ("q", "close")];
    if more {
        hints.push(("↑ ↓", "more"));
    }
    if pairs > 1 {
        hints.insert(1, ("Tab", "other pair"));
    }
    let mut x = 0;
    for (key, word) in hints {
        let key = key.trim_end();
        if x + columns(key) + 1 + columns(word) > line.width {
            break;
        }
        x += put(buffer, line, (x, 0), key, theme.style(Tone::Key));
        x += 1 + put(buffer, line, (x + 1, 0), word, theme.style(Tone::Text)) + 3;
    }
}
