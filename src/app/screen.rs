//! The field screen's loop: takes what comes, carries out what keys wish, draws when something changed.

#![expect(clippy::disallowed_methods, reason = "the screen's own clock says when to draw")]

use std::path::PathBuf;
use std::time::{Duration, Instant};

use crossbeam_channel::RecvTimeoutError;
use crossterm::event::{Event as TerminalEvent, KeyEventKind};

use super::event::Event;
use super::known;
use super::say::say;
use super::terminal::{self, Screen};
use super::walk::{self, Running};
use super::worker::Worker;
use crate::findings::boards;
use crate::findings::curves::Known;
use crate::screens::field::Field;
use crate::screens::scene::Subject;
use crate::screens::theme::Theme;
use crate::screens::ui::Wish;
use crate::sources::Role;
use crate::survey::Survey;
use crate::wire::SurveyorRecord;

/// No two pages come closer together than this.
const FRAME: Duration = Duration::from_millis(100);
/// Without anything happening, the page is drawn this often: seconds of silence run on.
const IDLE: Duration = Duration::from_millis(500);
/// Estimates are made anew after so many further rows.
const ESTIMATE_EVERY: usize = 10;
/// So many happenings are taken before the page has its turn.
const BATCH: usize = 4096;

/// A survey of more exchanges takes some time to be finished.
const LONG: usize = 100_000;

/// What is to be done after an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Then {
    GoOn,
    End,
}

/// Makes a survey on the full screen until the person (or the system) ends it, and finishes its files.
///
/// # Errors
/// When the terminal refuses, or the disk does not take the survey.
///
/// `known` is what boards taught in earlier surveys; `None` in a rehearsal, which is not learned from.
pub fn field(mut running: Running, theme: Theme, known: Option<Known>) -> anyhow::Result<PathBuf> {
    // Invented gear teaches nothing about real boards.
    let learn = known.is_some();
    let mut field = Field::new(theme);
    let name = known::name_of(running.recorder.folder());
    let mut worker = Worker::start(known.unwrap_or_default(), name, running.send.clone());
    let shown = match Screen::set_up() {
        Ok(mut screen) => {
            terminal::read_keys(running.send.clone());
            show(&mut running, &mut field, &mut screen, &mut worker)
        }
        Err(error) => Err(anyhow::Error::from(error).context("the terminal cannot be set up")),
    };
    // Whatever became of the screen, what was received is kept.
    if running.recorder.survey().samples_as_made().rows.len() > LONG {
        say("finishing the survey's files; of so long a survey that takes some seconds");
    }
    let folder = walk::end(running.recorder, running.reading, &running.come)?;
    if learn {
        known::learn_from(&folder);
    }
    shown.map(|()| folder)
}

fn show(running: &mut Running, field: &mut Field, screen: &mut Screen, worker: &mut Worker) -> anyhow::Result<()> {
    let begun = Instant::now();
    let mut drawn = begun;
    let mut changed = true;
    loop {
        field.wall_s = begun.elapsed().as_secs_f64();
        if changed && drawn.elapsed() >= FRAME || drawn.elapsed() >= IDLE {
            draw(running, field, screen)?;
            ask(running.recorder.survey(), worker);
            drawn = Instant::now();
            changed = false;
        }
        let wait = if changed { FRAME } else { IDLE }.saturating_sub(drawn.elapsed());
        match running.come.recv_timeout(wait) {
            Ok(event) => {
                changed = true;
                let more = running.come.clone();
                let batch = std::iter::once(event).chain(more.try_iter().take(BATCH));
                for event in batch {
                    if let Event::Estimated(estimates) = &event {
                        worker.has_come_back();
                        field.estimated(estimates, Subject::Survey(running.recorder.survey()));
                    } else if take(running, field, worker, event) == Then::End {
                        return Ok(());
                    }
                }
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return Ok(()),
        }
    }
}

fn draw(running: &mut Running, field: &mut Field, screen: &mut Screen) -> anyhow::Result<()> {
    running.recorder.survey_mut().samples();
    for (role, way) in [Role::Node, Role::Gps].into_iter().zip(&mut field.in_the_way) {
        *way = running.recorder.trouble(role).map(str::to_owned);
    }
    let survey = running.recorder.survey();
    // When nothing more comes, the clock stands too.
    let at = if field.over.is_some() {
        survey.now()
    } else {
        running.recorder.now()
    };
    screen.draw(|buffer, area| field.draw(buffer, area, Subject::Survey(survey), at))?;
    Ok(())
}

/// Has the slower figures made anew whenever the last ones have come back and there is something new.
fn ask(survey: &Survey, worker: &mut Worker) {
    let samples = survey.samples_as_made();
    let first = worker.rows() == 0 && !samples.rows.is_empty();
    if !worker.is_busy() && (first || samples.rows.len() >= worker.rows() + ESTIMATE_EVERY) {
        let told = boards::told(survey).into_iter().map(str::to_owned).collect();
        worker.ask(samples, Some(survey.remakes()), survey.setup(), told);
    }
}

fn take(running: &mut Running, field: &mut Field, worker: &mut Worker, event: Event) -> Then {
    match event {
        Event::Source(role, happening) => running.recorder.take(role, happening),
        Event::Rehearsed(SurveyorRecord::Finish) => {
            running.recorder.say(&SurveyorRecord::Finish);
            field.over = Some("The rehearsal is over. Look round; q finishes.".to_owned());
        }
        Event::Rehearsed(record) => running.recorder.say(&record),
        Event::RehearsalOver => field.over = Some("The rehearsal is over. Look round; q finishes.".to_owned()),
        Event::Disk(done) => field.disk = done.err(),
        Event::Stop(_) | Event::TerminalLost(_) => return Then::End,
        Event::Terminal(TerminalEvent::Key(key)) if key.kind == KeyEventKind::Press => {
            running.recorder.survey_mut().samples();
            let at = running.recorder.now();
            let wishes = field.press(key, Subject::Survey(running.recorder.survey()), at);
            for wish in wishes {
                match wish {
                    Wish::Say(record) => running.recorder.say(&record),
                    Wish::End => {
                        if running.recorder.survey().activities().finished().is_none() {
                            running.recorder.say(&SurveyorRecord::Finish);
                        }
                        return Then::End;
                    }
                    Wish::Assume => worker.assume(field.ui.assumed.clone()),
                    // The rest belongs to replays.
                    _ => {}
                }
            }
        }
        Event::Terminal(_) | Event::Estimated(_) => {}
    }
    Then::GoOn
}
