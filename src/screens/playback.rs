//! A saved survey played back: its lines are fed to the same reducer up to the time line's place.

use super::scene::Subject;
use super::timeline::{Mark, Timeline, What};
use super::ui::Wish;
use crate::survey::activity::Doing;
use crate::survey::node_stream::written_ms;
use crate::survey::sample::{Activity, Excluded, Sample, Samples};
use crate::survey::setup::LeaveOut;
use crate::survey::{JournalLine, Setup, Survey};
use crate::units::Elapsed;
use crate::wire::node::NodePattern;

/// The speeds that keys choose from.
const SPEEDS: [f64; 9] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0];
/// A mark this close before the place counts as being there, so that going back twice goes back two.
const AT_A_MARK_S: f64 = 2.0;

/// A saved survey being played.
#[derive(Debug)]
pub struct Playback {
    shown: Shown,
    /// A row for each exchange of the whole survey.
    whole: Samples,
    setup: Setup,
    at: Elapsed,
    end: Elapsed,
    speed: f64,
    playing: bool,
    marks: Vec<Mark>,
    /// Where a stretch to be left out was begun.
    stretch_from: Option<Elapsed>,
    /// Boards whose own hello calls them the reference.
    references: Vec<String>,
}

/// What has been shown so far.
#[derive(Debug)]
enum Shown {
    Journal {
        lines: Vec<JournalLine>,
        pattern: Option<NodePattern>,
        survey: Box<Survey>,
        fed: usize,
    },
    Rows(Samples),
}

impl Playback {
    /// Plays the lines of a journal.
    pub fn of_lines(lines: Vec<JournalLine>, setup: Setup, pattern: Option<NodePattern>, speed: f64) -> Self {
        let mut survey = Survey::new(setup.clone(), pattern.clone());
        for line in &lines {
            survey.apply(line);
        }
        survey.settle();
        survey.samples();
        let marks = marks_of(&survey);
        let end = survey.now();
        let begun = Box::new(Survey::new(setup.clone(), pattern.clone()));
        let shown = Shown::Journal {
            lines,
            pattern,
            survey: begun,
            fed: 0,
        };
        let references = survey
            .stream()
            .boots()
            .iter()
            .filter(|boot| boot.reference == Some(true))
            .map(|boot| boot.identity.board().to_owned())
            .collect();
        Self {
            references,
            ..Self::begin(shown, survey.into_samples(), setup, end, marks, speed)
        }
    }

    /// Plays rows, where nothing else is left of a survey.
    pub fn of_rows(rows: Samples, setup: Setup, speed: f64) -> Self {
        let end = rows.rows.last().map_or(Elapsed(0), |row| row.at);
        let mut marks: Vec<Mark> = Vec::new();
        let mut run = 0;
        for row in rows
            .rows
            .iter()
            .filter(|row| std::mem::replace(&mut run, row.run) != row.run)
        {
            let what = match row.activity {
                Activity::Walk => What::Run,
                Activity::Point(_) => What::Point,
                Activity::Sweep { .. } => What::Sweep,
            };
            let words = words_of(&rows, row);
            marks.push(Mark {
                at: row.at,
                what,
                words,
            });
        }
        let mut shown = rows.clone();
        shown.rows.clear();
        let mut playback = Self::begin(Shown::Rows(shown), rows, setup, end, marks, speed);
        playback.mark_left_out();
        playback
    }

    fn begin(shown: Shown, whole: Samples, setup: Setup, end: Elapsed, marks: Vec<Mark>, speed: f64) -> Self {
        let speed = if speed.is_finite() {
            speed.clamp(1.0, 500.0)
        } else {
            1.0
        };
        Self {
            shown,
            whole,
            setup,
            at: Elapsed(0),
            end,
            speed,
            playing: true,
            marks,
            stretch_from: None,
            references: Vec::new(),
        }
    }

    /// What is to be seen.
    pub fn subject(&self) -> Subject<'_> {
        match &self.shown {
            Shown::Journal { survey, .. } => Subject::Survey(survey),
            Shown::Rows(samples) => Subject::Rows(samples, &self.setup),
        }
    }

    /// Where it stands.
    pub fn at(&self) -> Elapsed {
        self.at
    }

    /// Whether it runs.
    pub fn is_playing(&self) -> bool {
        self.playing
    }

    /// Carries out what a key wished, as far as it is the time line's matter.
    pub fn wish(&mut self, wish: &Wish) {
        match wish {
            Wish::PlayOrHold => self.play_or_hold(),
            Wish::Jump(seconds) => self.jump(*seconds),
            Wish::Mark(on) => self.to_mark(*on),
            Wish::Edge(first) => self.to_edge(*first),
            Wish::Faster(on) => self.faster(*on),
            Wish::GoTo(mark) => {
                if let Some(mark) = self.marks.get((*mark).min(self.marks.len().saturating_sub(1))) {
                    self.go_to(mark.at);
                }
            }
            Wish::Stretch => {
                self.stretch_from = if self.stretch_from.is_none() {
                    Some(self.at)
                } else {
                    None
                };
            }
            Wish::Say(_)
            | Wish::End
            | Wish::Assume
            | Wish::LeaveOut(_)
            | Wish::TakeBack
            | Wish::NextSurvey
            | Wish::Together => {}
        }
    }

    /// Lets so many seconds of a watch pass.
    pub fn pass(&mut self, seconds: f64) {
        if self.playing {
            let on = (seconds.max(0.0) * self.speed * 1e6) as u64;
            self.go_to(Elapsed(self.at.0.saturating_add(on)));
            self.playing = self.at < self.end;
        }
    }

    /// Plays, or holds; from the end it begins anew.
    pub fn play_or_hold(&mut self) {
        if !self.playing && self.at >= self.end {
            self.go_to(Elapsed(0));
        }
        self.playing = !self.playing;
    }

    /// Goes so many seconds on, or back.
    pub fn jump(&mut self, seconds: f64) {
        let to = self.at.seconds() + seconds;
        self.go_to(Elapsed::from_seconds(to));
    }

    /// Goes to the next run, point, sweep or note, or to the one before.
    pub fn to_mark(&mut self, on: bool) {
        let at = self.at;
        let times = self.marks.iter().map(|mark| mark.at);
        let to = if on {
            times.filter(|mark| *mark > at).min().unwrap_or(self.end)
        } else {
            times
                .filter(|mark| at.since(*mark) > AT_A_MARK_S)
                .max()
                .unwrap_or(Elapsed(0))
        };
        self.go_to(to);
    }

    /// Goes to the beginning, or to the end.
    pub fn to_edge(&mut self, first: bool) {
        self.go_to(if first { Elapsed(0) } else { self.end });
        self.playing &= first;
    }

    /// Plays faster, or slower.
    pub fn faster(&mut self, on: bool) {
        let next = if on {
            SPEEDS.into_iter().find(|speed| *speed > self.speed)
        } else {
            SPEEDS.into_iter().rev().find(|speed| *speed < self.speed)
        };
        self.speed = next.unwrap_or(self.speed);
    }

    /// The time line as it is to be drawn.
    pub fn timeline(&self) -> Timeline {
        let here = self
            .row_here()
            .map_or_else(String::new, |row| words_of(&self.whole, row));
        Timeline {
            at: self.at,
            end: self.end,
            speed: self.speed,
            playing: self.playing,
            marks: self.marks.clone(),
            here,
            here_in_short: self
                .row_here()
                .map_or_else(String::new, |row| short_words_of(&self.whole, row)),
            left_out: self.left_out_here().is_some(),
            stretch_from: self.stretch_from,
            out: self
                .setup
                .leave_out
                .iter()
                .map(|stretch| {
                    (
                        Elapsed::from_seconds(stretch.from_s),
                        Elapsed::from_seconds(stretch.to_s),
                    )
                })
                .collect(),
        }
    }

    /// Rows of the whole survey, as far as the set-up lets them count.
    pub fn whole(&self) -> &Samples {
        &self.whole
    }

    /// Boards whose own hello calls them the reference.
    pub fn references(&self) -> &[String] {
        &self.references
    }

    /// The set-up.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// What is to be left out: the stretch marked, else the run at the place; `None` where it holds no exchange.
    pub fn to_leave_out(&self, why: String) -> Option<LeaveOut> {
        let Some((from, to)) = self.timeline().stretch() else {
            return self.run_here(why);
        };
        let seconds = |at: Elapsed| written_ms(at) as f64 / 1000.0;
        let stretch = LeaveOut {
            from_s: seconds(from),
            to_s: seconds(to),
            why,
        };
        let holds = self.whole.rows.iter().any(|row| stretch.holds(written_ms(row.at)));
        holds.then_some(stretch)
    }

    /// The run at the place, as a stretch to be left out; `None` before the first row.
    pub fn run_here(&self, why: String) -> Option<LeaveOut> {
        let run = self.row_here()?.run;
        let mut rows = self.whole.rows.iter().filter(|row| row.run == run);
        let first = rows.next()?;
        let last = rows.next_back().unwrap_or(first);
        let seconds = |row: &Sample| written_ms(row.at) as f64 / 1000.0;
        Some(LeaveOut {
            from_s: seconds(first),
            to_s: seconds(last),
            why,
        })
    }

    /// The stretch left out in which the place lies.
    pub fn left_out_here(&self) -> Option<&LeaveOut> {
        let row = self.row_here()?;
        self.setup
            .leave_out
            .iter()
            .find(|stretch| stretch.holds(written_ms(row.at)))
    }

    /// Puts another set-up in place; every figure follows.
    pub fn set_up(&mut self, setup: Setup) {
        self.setup = setup.clone();
        self.stretch_from = None;
        self.mark_left_out();
        if let Shown::Journal { survey, .. } = &mut self.shown {
            survey.set_up(setup);
            survey.samples();
        }
    }

    /// The last row at or before the place, else the first of all. Where something begins at the place, its own first row:
    /// who goes to a point means the point, not what was before it.
    fn row_here(&self) -> Option<&Sample> {
        if let Some(what) = self.begins_here() {
            let from = self.whole.rows.partition_point(|row| row.at < self.at);
            let mut rows = self.whole.rows[from..].iter();
            let first = rows.next();
            // The key that begins a point may come at the very moment of a row that is still of the walk before.
            let own = first.zip(rows.next()).filter(|(first, next)| {
                what != What::Run && next.run != first.run && next.at.since(self.at) <= AT_A_MARK_S
            });
            return own.map(|(_, next)| next).or(first).or_else(|| self.whole.rows.last());
        }
        let index = self.whole.rows.partition_point(|row| row.at <= self.at);
        self.whole.rows.get(index.saturating_sub(1))
    }

    /// What begins at the very place.
    fn begins_here(&self) -> Option<What> {
        let begins = |mark: &&Mark| mark.at == self.at && mark.what != What::Note;
        self.marks.iter().find(begins).map(|mark| mark.what)
    }

    fn go_to(&mut self, at: Elapsed) {
        let at = at.min(self.end);
        let back = at < self.at;
        self.at = at;
        match &mut self.shown {
            Shown::Journal {
                lines,
                pattern,
                survey,
                fed,
            } => {
                if back {
                    **survey = Survey::new(self.setup.clone(), pattern.clone());
                    *fed = 0;
                }
                while let Some(line) = lines.get(*fed).filter(|line| line.at <= at) {
                    survey.apply(line);
                    *fed += 1;
                }
                if *fed == lines.len() {
                    survey.settle();
                }
                survey.samples();
            }
            Shown::Rows(shown) => {
                let until = self.whole.rows.partition_point(|row| row.at <= at);
                shown.rows.truncate(until);
                let from = shown.rows.len();
                shown.rows.extend_from_slice(&self.whole.rows[from..until]);
            }
        }
    }

    /// Has saved rows follow what the set-up leaves out.
    fn mark_left_out(&mut self) {
        let follow = |row: &mut Sample| {
            let out = self
                .setup
                .leave_out
                .iter()
                .any(|stretch| stretch.holds(written_ms(row.at)));
            match row.excluded {
                None if out => row.excluded = Some(Excluded::LeftOut),
                Some(Excluded::LeftOut) if !out => row.excluded = None,
                _ => {}
            }
        };
        self.whole.rows.iter_mut().for_each(follow);
        if let Shown::Rows(shown) = &mut self.shown {
            let count = shown.rows.len();
            shown.rows.clear();
            shown.rows.extend_from_slice(&self.whole.rows[..count]);
        }
    }
}

fn marks_of(survey: &Survey) -> Vec<Mark> {
    let mut marks: Vec<Mark> = Vec::new();
    let samples = survey.samples_as_made();
    let mut run = 0;
    for row in samples
        .rows
        .iter()
        .filter(|row| std::mem::replace(&mut run, row.run) != row.run)
    {
        if row.activity == Activity::Walk {
            marks.push(Mark {
                at: row.at,
                what: What::Run,
                words: words_of(samples, row),
            });
        }
    }
    for stretch in survey.activities().stretches() {
        let (what, words) = match &stretch.doing {
            Doing::Walk => continue,
            Doing::Point { name, .. } => (What::Point, name.clone()),
            Doing::Sweep { name, .. } => (What::Sweep, name.clone()),
        };
        marks.push(Mark {
            at: stretch.since.at,
            what,
            words,
        });
    }
    for (mark, text) in survey.activities().notes() {
        marks.push(Mark {
            at: mark.at,
            what: What::Note,
            words: text.clone(),
        });
    }
    marks.sort_by_key(|mark| mark.at);
    marks
}

/// What was going on at a row, in a word or two.
fn short_words_of(samples: &Samples, row: &Sample) -> String {
    match samples.point(row) {
        Some(name) => format!("run {}: {name}", row.run),
        None => format!("run {}: walk", row.run),
    }
}

/// What was going on at a row.
fn words_of(samples: &Samples, row: &Sample) -> String {
    let board = samples.board(row);
    match (samples.point(row), row.activity) {
        (Some(name), Activity::Sweep { .. }) => format!("run {}: {board}, sweep {name}", row.run),
        (Some(name), _) => format!("run {}: {board} at {name}", row.run),
        (None, _) => format!("run {}: {board}, walking", row.run),
    }
}
