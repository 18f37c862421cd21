//! What the person has opened and chosen, and what a key changes: a wish to touch the world is a value given back.

use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use tui_input::Input;

use super::assume_plan::AssumePlan;
use super::keys::{Command, Place, command};
use super::paint::cut;
use super::sweep_plan::SweepPlan;
use super::theme::Theme;
use crate::findings::assumptions::Wanted;
use crate::units::Degrees;
use crate::wire::SurveyorRecord;

/// What the person has opened and chosen.
#[derive(Clone, Debug, Default)]
pub struct Ui {
    /// Which view fills the screen.
    pub view: View,
    /// What lies over it.
    pub over: Over,
    /// The palette.
    pub theme: Theme,
    /// Whether the bell is silent.
    pub quiet: bool,
    /// A word about the last key, until the next.
    pub word: Option<String>,
    /// Turns of the sweep that is going on which the person skips, degrees.
    pub skipped: Vec<f64>,
    /// Polar plots in dBm instead of dB below the strongest.
    pub absolute: bool,
    /// How many further polar plots lie over the first.
    pub overlays: usize,
    /// The line chosen in a list.
    pub line: usize,
    /// What the map of places is to assume.
    pub assumed: Wanted,
    /// The board walked with and those that may be assumed in its place.
    pub boards: Vec<String>,
    /// The cell chosen among the boards at points, by board and point; `None`: the one at hand.
    pub chosen: Option<(usize, usize)>,
    /// What the page shows that keys depend on besides.
    pub shown: Shown,
}

/// What a page shows that keys depend on besides what is going on.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Shown {
    /// A point measured before that lies here and the board in hand: Space measures it there.
    pub offer: Option<(String, String)>,
    /// How many boards and points the grid has.
    pub grid: (usize, usize),
    /// The cell at hand.
    pub at_hand: (usize, usize),
    /// The points measured before, the nearest to this place first.
    pub names: Vec<String>,
}

/// What fills the screen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum View {
    /// Here and now, with the map and level by distance where they fit.
    #[default]
    Overview,
    /// The map.
    Map,
    /// Level by distance.
    Distance,
    /// Polar plots.
    Turns,
    /// Boards at points.
    Boards,
    /// Where a node can go.
    Places,
}

impl View {
    /// All of them in the order of the key.
    pub const ALL: [Self; 6] = [
        Self::Overview,
        Self::Map,
        Self::Distance,
        Self::Turns,
        Self::Boards,
        Self::Places,
    ];

    /// The view after this one.
    pub fn next(self) -> Self {
        let index = Self::ALL.iter().position(|view| *view == self).unwrap_or(0);
        Self::ALL[(index + 1) % Self::ALL.len()]
    }

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Overview => "overview",
            Self::Map => "map",
            Self::Distance => "level by distance",
            Self::Turns => "turns",
            Self::Boards => "boards at points",
            Self::Places => "places",
        }
    }
}

/// What lies over the view.
#[derive(Clone, Debug, Default)]
pub enum Over {
    /// Nothing.
    #[default]
    Nothing,
    /// The keys, from this line on.
    Help(u16),
    /// A question before the survey (or the replay) ends.
    Ending,
    /// A line being written.
    Writing(Writing, Input),
    /// The name of the point that begins, and which of the points measured before stands in the line.
    Naming(Input, Option<usize>),
    /// How the next sweep is to be.
    SweepChoice(SweepPlan, usize),
    /// What the map of places is to assume.
    Assuming(AssumePlan, usize),
    /// The list of where a replay can go, and the line chosen.
    Going(usize),
}

/// What a line is being written for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Writing {
    /// A note.
    Note,
    /// The name of the board in hand.
    Board,
    /// Why a run is left out.
    Why,
}

/// What is going on, as far as keys depend on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Doing {
    /// Walking.
    Walking,
    /// Standing at a point: messages so far and wanted.
    Standing(u64, u32),
    /// In a sweep, the board being moved: the turn that comes next, degrees; `None` when all are done.
    Turning(Option<f64>),
    /// In a sweep, a step being counted: the turn, messages so far and wanted.
    Counting(f64, u64, u32),
    /// Looking at a saved survey; whether the run at the time line's place is left out.
    Replaying(bool),
}

impl Doing {
    /// Whether a saved survey is looked at.
    pub const fn is_replay(self) -> bool {
        matches!(self, Self::Replaying(_))
    }
}

/// A wish to touch the world.
#[derive(Clone, Debug, PartialEq)]
pub enum Wish {
    /// Journal what the surveyor did.
    Say(SurveyorRecord),
    /// Have the map of places made anew for what is assumed now.
    Assume,
    /// End the survey, or the replay.
    End,
    /// In a replay: play or hold.
    PlayOrHold,
    /// In a replay: so many seconds on.
    Jump(f64),
    /// In a replay: to the next mark (or the one before).
    Mark(bool),
    /// In a replay: to the beginning (or the end).
    Edge(bool),
    /// In a replay: faster (or slower).
    Faster(bool),
    /// In a replay: to the mark with this number.
    GoTo(usize),
    /// In a replay: a stretch begins at the time line's place, or the one begun is forgotten.
    Stretch,
    /// In a replay: the next survey comes to the front.
    NextSurvey,
    /// In a replay: several surveys together.
    Together,
    /// In a replay: leave the run at the time line's place (or the stretch marked) out, for this reason.
    LeaveOut(String),
    /// In a replay: take the leaving out of the run at the time line's place back.
    TakeBack,
}

impl Ui {
    /// Takes what the page shows. A cell that was chosen gives way to the one at hand when that is another.
    pub fn see(&mut self, shown: Shown) {
        if (shown.at_hand, shown.grid) != (self.shown.at_hand, self.shown.grid) {
            self.chosen = None;
        }
        self.shown = shown;
    }

    /// A key was pressed. `paused`: counting is paused.
    pub fn press(&mut self, key: KeyEvent, doing: Doing, paused: bool) -> Vec<Wish> {
        self.word = None;
        if key.modifiers.contains(KeyModifiers::CONTROL) && key.code == KeyCode::Char('c') {
            self.over = Over::Ending;
            return Vec::new();
        }
        match std::mem::take(&mut self.over) {
            Over::Writing(what, input) => return self.write(key, what, input),
            Over::Naming(input, row) => return self.name_point(key, input, row),
            Over::SweepChoice(plan, row) => return self.choose_sweep(key, plan, row),
            Over::Assuming(plan, row) => return self.choose_assumed(key, plan, row),
            Over::Going(line) => return self.go(key, line),
            Over::Ending => {
                return match key.code {
                    KeyCode::Char('y' | 'Y' | 'q' | 'Q') | KeyCode::Enter => vec![Wish::End],
                    _ => Vec::new(),
                };
            }
            Over::Help(line) => {
                match command(key, Place::Everywhere) {
                    Some(Command::Down) => self.over = Over::Help(line.saturating_add(1)),
                    Some(Command::Up) => self.over = Over::Help(line.saturating_sub(1)),
                    Some(Command::Finish) => self.over = Over::Ending,
                    _ => {}
                }
                return Vec::new();
            }
            Over::Nothing => {}
        }
        let place = match doing {
            Doing::Replaying(_) => Place::Replay,
            _ => Place::Field,
        };
        if let Some(command) = command(key, place) {
            self.act(command, doing, paused)
        } else {
            self.word = Some("That key does nothing here. ? shows the keys.".to_owned());
            Vec::new()
        }
    }

    fn act(&mut self, command: Command, doing: Doing, paused: bool) -> Vec<Wish> {
        let say = |record| vec![Wish::Say(record)];
        match command {
            Command::Next => return self.next(doing),
            Command::Walk if doing == Doing::Walking => self.word = Some("You are walking already.".to_owned()),
            Command::Walk => return say(SurveyorRecord::Walk),
            Command::Sweep => self.over = Over::SweepChoice(SweepPlan::default(), 0),
            Command::Board => self.over = Over::Writing(Writing::Board, Input::default()),
            Command::Note => self.over = Over::Writing(Writing::Note, Input::default()),
            Command::View => {
                self.view = self.view.next();
                self.line = 0;
                self.chosen = None;
            }
            Command::Pause => {
                return say(if paused {
                    SurveyorRecord::Resume
                } else {
                    SurveyorRecord::Pause
                });
            }
            Command::Again => {
                if matches!(doing, Doing::Walking) {
                    self.word = Some("There is no point or step to measure again.".to_owned());
                    return Vec::new();
                }
                return say(SurveyorRecord::Again);
            }
            Command::LeaveOut => match doing {
                Doing::Replaying(true) => return vec![Wish::TakeBack],
                Doing::Replaying(false) => self.over = Over::Writing(Writing::Why, Input::default()),
                Doing::Turning(Some(next)) => self.skipped.push(next),
                Doing::Counting(turn, ..) => {
                    // The step being counted is given up: its rows no longer count, and the next turn comes.
                    self.skipped.push(turn);
                    return say(SurveyorRecord::Again);
                }
                _ => self.word = Some("There is no step to leave out: that is for sweeps.".to_owned()),
            },
            Command::Overlay => self.overlays = (self.overlays + 1) % 4,
            Command::Scale => self.absolute = !self.absolute,
            Command::Assume => self.over = Over::Assuming(AssumePlan::of(&self.assumed, &self.boards), 0),
            Command::Theme => {
                self.theme = match self.theme {
                    Theme::Dark => Theme::Light,
                    Theme::Light => Theme::Plain,
                    Theme::Plain => Theme::Dark,
                };
            }
            Command::Bell => {
                self.quiet = !self.quiet;
                self.word = Some(
                    if self.quiet {
                        "The bell is off."
                    } else {
                        "The bell is on."
                    }
                    .to_owned(),
                );
            }
            Command::Help => self.over = Over::Help(0),
            Command::Finish => self.over = Over::Ending,
            Command::Back => self.view = View::Overview,
            Command::Up | Command::Down | Command::PointBefore | Command::PointAfter if self.view == View::Boards => {
                self.chosen = Some(self.cell_beside(command));
            }
            Command::PointBefore | Command::PointAfter => {
                self.word = Some("That goes from point to point in the view of boards at points.".to_owned());
            }
            Command::Up => self.line = self.line.saturating_sub(1),
            Command::Down => self.line = self.line.saturating_add(1),
            Command::Name if matches!(doing, Doing::Replaying(_)) => {}
            Command::Name => self.over = Over::Naming(Input::default(), None),
            Command::Left => return vec![Wish::Jump(-10.0)],
            Command::Right => return vec![Wish::Jump(10.0)],
            Command::Slower => return vec![Wish::Faster(false)],
            Command::Faster => return vec![Wish::Faster(true)],
            Command::NextMark => return vec![Wish::Mark(true)],
            Command::MarkBefore => return vec![Wish::Mark(false)],
            Command::First => return vec![Wish::Edge(true)],
            Command::Last => return vec![Wish::Edge(false)],
            Command::GoTo => self.over = Over::Going(usize::MAX),
            Command::Stretch => return vec![Wish::Stretch],
            Command::NextSurvey => return vec![Wish::NextSurvey],
            Command::Together => return vec![Wish::Together],
        }
        Vec::new()
    }

    /// What Space does.
    fn next(&mut self, doing: Doing) -> Vec<Wish> {
        match doing {
            Doing::Walking => vec![Wish::Say(SurveyorRecord::Point {
                name: self.shown.offer.as_ref().map(|(point, _)| point.clone()),
                messages: None,
            })],
            Doing::Standing(..) | Doing::Turning(None) => vec![Wish::Say(SurveyorRecord::Walk)],
            Doing::Replaying(_) => vec![Wish::PlayOrHold],
            Doing::Counting(_, done, wanted) => {
                self.word = Some(format!(
                    "Hold still: {done} of {wanted}. The bell rings when the step is done."
                ));
                Vec::new()
            }
            Doing::Turning(Some(deg)) => vec![Wish::Say(SurveyorRecord::Turn { deg: Degrees(deg) })],
        }
    }

    /// What Space will do, in words for the bottom line.
    pub fn next_words(&self, doing: Doing) -> String {
        let words = match doing {
            Doing::Walking => match &self.shown.offer {
                Some((point, board)) => return format!("measure {} at {}", cut(board, 10), cut(point, 10)),
                None => "measure here",
            },
            Doing::Standing(done, wanted) if done < u64::from(wanted) => "end this point",
            Doing::Standing(..) => "walk on",
            Doing::Replaying(_) => "play or hold",
            Doing::Counting(..) => "hold still",
            Doing::Turning(Some(_)) => "it is steady",
            Doing::Turning(None) => "end the sweep",
        };
        words.to_owned()
    }

    /// The cell beside the one chosen, as far as there is one: down through a point's boards and on to the next point.
    fn cell_beside(&self, command: Command) -> (usize, usize) {
        let (boards, points) = self.shown.grid;
        let (board, point) = self.chosen.unwrap_or(self.shown.at_hand);
        let (last_board, last_point) = (boards.saturating_sub(1), points.saturating_sub(1));
        let (board, point) = (board.min(last_board), point.min(last_point));
        match command {
            Command::Up if board > 0 => (board - 1, point),
            Command::Up if point > 0 => (last_board, point - 1),
            Command::Down if board < last_board => (board + 1, point),
            Command::Down if point < last_point => (0, point + 1),
            Command::PointBefore => (board, point.saturating_sub(1)),
            Command::PointAfter => (board, (point + 1).min(last_point)),
            _ => (board, point),
        }
    }
}
