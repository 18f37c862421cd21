//! Which story to rehearse, in which world, how fast.
//!
//! ```text
//!  Rehearse on invented gear
//!
//!  ▸ Story    ‹ first-look ›
//!      a short walk with a point near, a point far and a quick sweep, 4 min
//!    World    ‹ 1 ›
//!    Speed    ‹ 5 × life ›
//! ```

use super::page::{Line, Page};
use crate::screens::theme::Tone;

/// A story that can be rehearsed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Story {
    /// Its name.
    pub name: String,
    /// What it shows, in a line.
    pub line: String,
    /// How long it takes at life's own speed, seconds.
    pub seconds: u32,
}

/// Speeds that may be chosen, times life.
pub const SPEEDS: [f64; 8] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0];

/// Worlds that may be chosen.
const WORLDS: u64 = 1_000_000;

/// What was chosen so far.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rehearsing {
    /// Which line is chosen: story, world, speed.
    pub row: usize,
    /// Index of the story.
    pub story: usize,
    /// Which world.
    pub seed: u64,
    /// Index of the speed.
    pub speed: usize,
}

impl Default for Rehearsing {
    /// The first story in the first world at life's own speed.
    fn default() -> Self {
        Self {
            row: 0,
            story: 0,
            seed: 1,
            speed: 0,
        }
    }
}

impl Rehearsing {
    /// How many lines there are to choose.
    pub const ROWS: usize = 3;

    /// Changes the chosen line's value.
    pub fn change(&mut self, on: bool, stories: usize) {
        let turn = |at: usize, length: usize| {
            let step = if on { 1 } else { length.saturating_sub(1) };
            (at + step) % length.max(1)
        };
        match self.row {
            0 => self.story = turn(self.story, stories),
            1 if on => self.seed = self.seed % WORLDS + 1,
            1 => self.seed = if self.seed <= 1 { WORLDS } else { self.seed - 1 },
            _ => self.speed = turn(self.speed, SPEEDS.len()),
        }
    }
}

/// The page.
pub fn page(stories: &[Story], at: &Rehearsing) -> Page {
    let mut page = Page::titled("Rehearse on invented gear");
    let speed = SPEEDS[at.speed.min(SPEEDS.len() - 1)];
    if let Some(story) = stories.get(at.story) {
        page.push(Line::choice("Story", format!("‹ {} ›", story.name)), at.row == 0);
        page.push(Line::under(format!("{}.", story.line)), false);
        page.push(
            Line::under(format!("It takes {}.", time(f64::from(story.seconds) / speed))),
            false,
        );
    }
    let all = stories.iter().enumerate().flat_map(|(index, story)| {
        let pointer = if index == at.story { "▸" } else { " " };
        let name = Line::Words(format!("{pointer} {}", story.name), Tone::Strong);
        let time = time(f64::from(story.seconds));
        [
            name,
            Line::Under(format!("{}. {time} at life's own speed.", story.line), Tone::Text),
        ]
    });
    page.lines.push(Line::OnlyBeside("Stories".to_owned(), all.collect()));
    page.push(Line::choice("World", format!("‹ {} ›", at.seed)), at.row == 1);
    page.push(
        Line::under("The same number gives the same trees, fading and losses."),
        false,
    );
    let word = if speed == 1.0 {
        "life's own".to_owned()
    } else {
        format!("{speed} × life")
    };
    page.push(Line::choice("Speed", format!("‹ {word} ›")), at.row == 2);
    page.push(Line::Gap, false);
    page.push(
        Line::words(
            "A walker goes through the orchard and presses the keys; everything else is the instrument as it is outdoors, \
             and the survey is saved like any other. You may press keys, too.",
        ),
        false,
    );
    page.hint("Space", "rehearse");
    page.hint("← →", "change");
    page.hint("↑ ↓", "choose");
    page.hint("Esc", "back");
    page
}

fn time(seconds: f64) -> String {
    if seconds < 90.0 {
        format!("{seconds:.0} s")
    } else {
        format!("{:.0} min", seconds / 60.0)
    }
}
