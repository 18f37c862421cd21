//! Keys while the page asks something: a line to write, a name, a choice.

use crossterm::event::{KeyCode, KeyEvent};
use tui_input::Input;

use super::assume_plan::AssumePlan;
use super::sweep_plan::SweepPlan;
use super::ui::{Over, Ui, View, Wish, Writing};
use crate::wire::SurveyorRecord;

impl Ui {
    /// A key while the list of where a replay can go lies over the view; the line is kept within it when it is drawn.
    pub(super) fn go(&mut self, key: KeyEvent, line: usize) -> Vec<Wish> {
        const PAGE: usize = 10;
        let line = match key.code {
            KeyCode::Up => line.saturating_sub(1),
            KeyCode::Down => line.saturating_add(1),
            KeyCode::PageUp => line.saturating_sub(PAGE),
            KeyCode::PageDown => line.saturating_add(PAGE),
            KeyCode::Home => 0,
            KeyCode::Enter | KeyCode::Char(' ') => return vec![Wish::GoTo(line)],
            _ => return Vec::new(),
        };
        self.over = Over::Going(line);
        Vec::new()
    }

    /// The name of the point that begins: written, or chosen among those measured before.
    pub(super) fn name_point(&mut self, key: KeyEvent, mut input: Input, row: Option<usize>) -> Vec<Wish> {
        let names = &self.shown.names;
        match key.code {
            KeyCode::Esc => return Vec::new(),
            KeyCode::Enter => {
                let text = input.value().trim().to_owned();
                let name = (!text.is_empty()).then_some(text);
                return vec![Wish::Say(SurveyorRecord::Point { name, messages: None })];
            }
            KeyCode::Down | KeyCode::Up if !names.is_empty() => {
                let next = match (key.code, row) {
                    (KeyCode::Down, None) => Some(0),
                    (KeyCode::Down, Some(row)) => Some((row + 1).min(names.len() - 1)),
                    (_, Some(row)) if row > 0 => Some(row - 1),
                    _ => None,
                };
                let text = next.and_then(|row| names.get(row)).cloned().unwrap_or_default();
                self.over = Over::Naming(Input::new(text), next);
            }
            _ => {
                use tui_input::backend::crossterm::EventHandler as _;
                input.handle_event(&crossterm::event::Event::Key(key));
                self.over = Over::Naming(input, None);
            }
        }
        Vec::new()
    }

    /// A key while a line is written.
    pub(super) fn write(&mut self, key: KeyEvent, what: Writing, mut input: Input) -> Vec<Wish> {
        match key.code {
            KeyCode::Esc => Vec::new(),
            KeyCode::Enter => {
                let text = input.value().trim().to_owned();
                match what {
                    Writing::Note | Writing::Board if text.is_empty() => Vec::new(),
                    Writing::Note => vec![Wish::Say(SurveyorRecord::Mark { text })],
                    Writing::Board => vec![Wish::Say(SurveyorRecord::Board {
                        name: text,
                        reference: None,
                    })],
                    Writing::Why if text.is_empty() => {
                        self.word = Some("Nothing was left out: a reason is needed.".to_owned());
                        Vec::new()
                    }
                    Writing::Why => vec![Wish::LeaveOut(text)],
                }
            }
            _ => {
                use tui_input::backend::crossterm::EventHandler as _;
                input.handle_event(&crossterm::event::Event::Key(key));
                self.over = Over::Writing(what, input);
                Vec::new()
            }
        }
    }

    /// A key while it is chosen what places assume.
    pub(super) fn choose_assumed(&mut self, key: KeyEvent, mut plan: AssumePlan, row: usize) -> Vec<Wish> {
        let last = AssumePlan::ROWS - 1;
        match key.code {
            KeyCode::Esc => return Vec::new(),
            KeyCode::Up => self.over = Over::Assuming(plan, row.saturating_sub(1)),
            KeyCode::Down => self.over = Over::Assuming(plan, (row + 1).min(last)),
            KeyCode::Left | KeyCode::Right => {
                plan.change(row, key.code == KeyCode::Right);
                self.over = Over::Assuming(plan, row);
            }
            KeyCode::Char(' ') | KeyCode::Enter => {
                self.view = View::Places;
                self.line = 0;
                let wanted = plan.wanted();
                if wanted != self.assumed {
                    self.assumed = wanted;
                    return vec![Wish::Assume];
                }
            }
            _ => self.over = Over::Assuming(plan, row),
        }
        Vec::new()
    }

    /// A key while it is chosen how the next sweep is to be.
    pub(super) fn choose_sweep(&mut self, key: KeyEvent, mut plan: SweepPlan, row: usize) -> Vec<Wish> {
        match key.code {
            KeyCode::Esc => return Vec::new(),
            KeyCode::Up => self.over = Over::SweepChoice(plan, row.saturating_sub(1)),
            KeyCode::Down => self.over = Over::SweepChoice(plan, (row + 1).min(SweepPlan::ROWS - 1)),
            KeyCode::Left | KeyCode::Right => {
                plan.change(row, key.code == KeyCode::Right);
                self.over = Over::SweepChoice(plan, row);
            }
            KeyCode::Char(' ') | KeyCode::Enter => {
                let record = plan.record();
                self.skipped.clear();
                self.view = View::Overview;
                self.line = 0;
                return vec![Wish::Say(record)];
            }
            KeyCode::Char(letter) if row == SweepPlan::POSE_ROW => {
                plan.type_pose(letter);
                self.over = Over::SweepChoice(plan, row);
            }
            KeyCode::Backspace if row == SweepPlan::POSE_ROW => {
                plan.untype_pose();
                self.over = Over::SweepChoice(plan, row);
            }
            _ => self.over = Over::SweepChoice(plan, row),
        }
        Vec::new()
    }
}
