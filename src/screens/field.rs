//! The field screen as a whole: keys in, pages out. It knows neither clock nor terminal, so tests drive it as the shell does.

use crossterm::event::KeyEvent;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::bell::Bell;
use super::outlook::Outlook;
use super::scene::{Around, Reckoned, Scene, Subject};
use super::theme::Theme;
use super::timeline::Timeline;
use super::ui::{Over, Shown, Ui, Wish};
use super::{help, page};
use crate::findings::estimates::Estimates;
use crate::units::Elapsed;

/// A word about the last key is shown for so many seconds of the wall clock.
const WORD_S: f64 = 6.0;

/// What a screen keeps between two pages.
#[derive(Clone, Debug, Default)]
pub struct Field {
    /// What the person opened and chose.
    pub ui: Ui,
    /// Trouble with the disk, in words.
    pub disk: Option<String>,
    /// What stands in the way of node and receiver.
    pub in_the_way: [Option<String>; 2],
    /// Set when nothing more will come: why, in words.
    pub over: Option<String>,
    /// The letter of this survey among several, and whether its keys are the ones pressed.
    pub among: Option<(char, bool)>,
    /// The time line of a replay.
    pub timeline: Option<Timeline>,
    /// The slower estimates.
    pub outlook: Option<Outlook>,
    /// Seconds by the wall clock, from any beginning: a word is read in life's own time, however fast the survey runs.
    pub wall_s: f64,
    reckoned: Reckoned,
    bell: Bell,
    /// When the word about the last key was said, by the wall clock.
    word_s: f64,
}

impl Field {
    /// A screen nothing has been opened on.
    pub fn new(theme: Theme) -> Self {
        Self {
            ui: Ui { theme, ..Ui::default() },
            ..Self::default()
        }
    }

    /// Takes a key, and gives back what it wishes from the world. The subject's rows must be up to date.
    pub fn press(&mut self, key: KeyEvent, subject: Subject<'_>, at: Elapsed) -> Vec<Wish> {
        let scene = Scene::of(subject, at, &self.reckoned, around(self));
        let (doing, paused) = (scene.doing, scene.paused);
        let shown = shown(&scene);
        self.ui.see(shown);
        let wishes = self.ui.press(key, doing, paused);
        self.word_s = self.wall_s;
        self.keep_in_list();
        self.reckoned.bring_up_to_date(subject);
        wishes
    }

    /// Draws the page, and says whether the bell rings. The subject's rows must be up to date.
    pub fn draw(&mut self, buffer: &mut Buffer, area: Rect, subject: Subject<'_>, at: Elapsed) -> bool {
        self.paint(area, subject, at, |scene, ui| page::render(buffer, area, scene, ui))
    }

    /// Draws the page without its bottom line and what lies over it, as one of several side by side.
    pub fn draw_column(&mut self, buffer: &mut Buffer, area: Rect, subject: Subject<'_>, at: Elapsed) -> bool {
        self.paint(area, subject, at, |scene, ui| page::column(buffer, area, scene, ui))
    }

    /// Draws the bottom line, and what lies over the view, across a whole page.
    pub fn draw_over(&mut self, buffer: &mut Buffer, area: Rect, subject: Subject<'_>, at: Elapsed) {
        let scene = Scene::of(subject, at, &self.reckoned, around(self));
        page::foot_and_over(buffer, area, &scene, &self.ui);
    }

    /// `page` draws, and says which line is the furthest one can go to.
    fn paint(
        &mut self,
        area: Rect,
        subject: Subject<'_>,
        at: Elapsed,
        page: impl FnOnce(&Scene<'_>, &Ui) -> usize,
    ) -> bool {
        self.reckoned.bring_up_to_date(subject);
        // A word gives way again to the line that says what Space does.
        if self.wall_s - self.word_s > WORD_S {
            self.ui.word = None;
        }
        if let Over::Help(from) = &mut self.ui.over {
            let middle = Rect {
                height: area.height.saturating_sub(2),
                ..area
            };
            *from = (*from).min(help::furthest(middle, self.timeline.is_some()));
        }
        let mut bell = std::mem::take(&mut self.bell);
        let scene = Scene::of(subject, at, &self.reckoned, around(self));
        let mut ui = self.ui.clone();
        ui.see(shown(&scene));
        let furthest = page(&scene, &ui);
        let rings = bell.look(&scene);
        self.ui = ui;
        self.bell = bell;
        self.ui.line = self.ui.line.min(furthest);
        rings && !self.ui.quiet
    }

    /// Keeps the line chosen of the list of where to go within it; a list just opened begins at the time line's place.
    fn keep_in_list(&mut self) {
        if let (Over::Going(line), Some(timeline)) = (&mut self.ui.over, &self.timeline) {
            let passed = timeline.marks.iter().filter(|mark| mark.at <= timeline.at).count();
            if *line == usize::MAX {
                *line = passed.saturating_sub(1);
            }
            *line = (*line).min(timeline.marks.len().saturating_sub(1));
        }
    }

    /// Takes new estimates, for the board in hand.
    pub fn estimated(&mut self, estimates: &Estimates, subject: Subject<'_>) {
        let samples = subject.samples();
        let board = samples.rows.last().map(|row| samples.board(row));
        let outlook = Outlook::of(estimates, board, &subject.setup().goal);
        self.ui.boards.clone_from(&outlook.boards);
        self.outlook = Some(outlook);
    }

    /// Has every figure reckoned anew at the next page, as after a change of the set-up or a jump in time.
    pub fn reckon_anew(&mut self) {
        self.reckoned = Reckoned::default();
        self.bell = Bell::default();
    }
}

/// What the page shows that keys depend on.
fn shown(scene: &Scene<'_>) -> Shown {
    let board = scene.now.board.as_ref().map(|(board, _)| board.clone());
    Shown {
        offer: scene.offer.map(str::to_owned).zip(board),
        grid: (scene.grid.boards.len(), scene.grid.points.len()),
        at_hand: scene.at_hand(),
        names: scene.names().into_iter().map(str::to_owned).collect(),
    }
}

fn around(field: &Field) -> Around<'_> {
    Around {
        disk: field.disk.as_deref(),
        in_the_way: [field.in_the_way[0].as_deref(), field.in_the_way[1].as_deref()],
        over: field.over.as_deref(),
        among: field.among,
        timeline: field.timeline.as_ref(),
        outlook: field.outlook.as_ref(),
        skipped: &field.ui.skipped,
    }
}
