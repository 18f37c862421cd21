//! `farpace replay`: a saved survey on the full screen.

#![expect(clippy::disallowed_methods, reason = "the replay's own clock drives it")]

use std::path::Path;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, RecvTimeoutError, bounded};
use crossterm::event::{Event as TerminalEvent, KeyEventKind};

use super::event::Event;
use super::terminal::{self, Screen};
use super::worker::Worker;
use super::{known, signals, walk};
use crate::findings::boards;
use crate::screens::field::Field;
use crate::screens::playback::Playback;
use crate::screens::scene::Subject;
use crate::screens::theme::Theme;
use crate::screens::ui::Wish;
use crate::session::folder::{self, Content};
use crate::session::{format, setup_file};
use crate::survey::Setup;

/// No two pages come closer together than this.
const FRAME: Duration = Duration::from_millis(100);
/// Estimates are made anew when so many rows differ.
const ESTIMATE_EVERY: usize = 10;
/// While it holds, the page is drawn at least this often.
const IDLE: Duration = Duration::from_secs(1);

/// Plays a survey's folder, `speed` times faster than life, until the person closes it.
///
/// # Errors
/// When the folder is no survey, or there is no terminal.
pub fn replay(at: &Path, speed: f64, theme: Theme) -> anyhow::Result<()> {
    anyhow::ensure!(
        (1.0..=500.0).contains(&speed),
        "--speed {speed} is not between 1 and 500"
    );
    terminal::must_be_there("use `farpace figures` for its numbers")?;
    let found = folder::open(at)?;
    let mut playback = match found.content {
        Content::Journal(lines) => Playback::of_lines(lines, found.setup, found.pattern, speed),
        Content::Rows(rows) => Playback::of_rows(rows, found.setup, speed),
    };
    let (send, come) = bounded(walk::WAITING);
    signals::watch(send.clone())?;
    let mut worker = Worker::start(known::load()?, known::name_of(at), send.clone());
    let mut field = Field::new(theme);
    // Played fast, a bell at every step would be no help; it can be switched on.
    field.ui.quiet = true;
    field.ui.word = found.warnings.first().cloned();
    {
        let mut screen = Screen::set_up()?;
        terminal::read_keys(send);
        show(at, &mut playback, &mut field, &mut screen, &come, &mut worker)?;
    }
    for warning in found.warnings {
        eprintln!("farpace: {warning}");
    }
    Ok(())
}

fn show(
    at: &Path,
    playback: &mut Playback,
    field: &mut Field,
    screen: &mut Screen,
    come: &Receiver<Event>,
    worker: &mut Worker,
) -> anyhow::Result<()> {
    let begun = Instant::now();
    let mut passed = begun;
    let mut draw = true;
    loop {
        field.wall_s = begun.elapsed().as_secs_f64();
        playback.pass(passed.elapsed().as_secs_f64());
        passed = Instant::now();
        if draw || playback.is_playing() {
            field.timeline = Some(playback.timeline());
            let (subject, moment) = (playback.subject(), playback.at());
            screen.draw(|buffer, area| field.draw(buffer, area, subject, moment))?;
        }
        ask(playback, worker);
        let wait = if playback.is_playing() { FRAME } else { IDLE };
        draw = true;
        match come.recv_timeout(wait.saturating_sub(passed.elapsed())) {
            Ok(Event::Terminal(TerminalEvent::Key(key))) if key.kind == KeyEventKind::Press => {
                field.timeline = Some(playback.timeline());
                for wish in field.press(key, playback.subject(), playback.at()) {
                    match wish {
                        Wish::End => return Ok(()),
                        Wish::Assume => worker.assume(field.ui.assumed.clone()),
                        other => {
                            if !matches!(other, Wish::Faster(_)) {
                                worker.begin_anew();
                            }
                            carry_out(at, playback, field, other);
                        }
                    }
                }
            }
            Ok(Event::Estimated(estimates)) => {
                worker.has_come_back();
                field.estimated(&estimates, playback.subject());
            }
            Ok(Event::Stop(_) | Event::TerminalLost(_)) | Err(RecvTimeoutError::Disconnected) => return Ok(()),
            Ok(_) | Err(RecvTimeoutError::Timeout) => {}
        }
    }
}

/// Has the slower figures made of what has been played so far, whenever the last ones have come back and it differs.
fn ask(playback: &Playback, worker: &mut Worker) {
    let subject = playback.subject();
    let samples = subject.samples();
    let more = samples.rows.len().abs_diff(worker.rows()) >= ESTIMATE_EVERY;
    if worker.is_busy() || samples.rows.is_empty() || !more {
        return;
    }
    let (remakes, told) = match subject {
        Subject::Survey(survey) => (Some(survey.remakes()), boards::told(survey)),
        Subject::Rows(..) => (None, Vec::new()),
    };
    let told = told.into_iter().map(str::to_owned).collect();
    worker.ask(samples, remakes, subject.setup(), told);
}

/// Carries out what a key wished; trouble with the file is said on the screen.
fn carry_out(at: &Path, playback: &mut Playback, field: &mut Field, wish: Wish) {
    match wish {
        Wish::LeaveOut(why) => {
            let Some(stretch) = playback.run_here(why) else { return };
            let done = change_setup(at, playback, |text| setup_file::add_leave_out(text, &stretch));
            say(field, done, "The run is left out; x takes it back.");
        }
        Wish::TakeBack => {
            let Some(stretch) = playback.left_out_here().cloned() else {
                return;
            };
            let done = change_setup(at, playback, |text| setup_file::remove_leave_out(text, &stretch));
            say(field, done, "The run counts again.");
        }
        other => {
            playback.wish(&other);
            if !matches!(other, Wish::PlayOrHold | Wish::Faster(_)) {
                field.reckon_anew();
            }
        }
    }
}

fn say(field: &mut Field, done: anyhow::Result<()>, words: &str) {
    field.reckon_anew();
    field.ui.word = Some(match done {
        Ok(()) => words.to_owned(),
        Err(error) => format!("Not done: {error:#}"),
    });
}

fn change_setup(
    at: &Path,
    playback: &mut Playback,
    change: impl FnOnce(&str) -> Result<String, setup_file::SetupError>,
) -> anyhow::Result<()> {
    let path = at.join(format::SETUP);
    // Rows alone may have come without a set-up: one is begun then.
    let text = if path.exists() {
        fs_err::read_to_string(&path)?
    } else {
        setup_file::write(&Setup::default())
    };
    let changed = change(&text)?;
    let setup = setup_file::read(&changed)?.setup;
    folder::write_whole(&path, changed.as_bytes())?;
    playback.set_up(setup);
    Ok(())
}
