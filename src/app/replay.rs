//! `farpace replay`: saved surveys on the full screen.

#![expect(clippy::disallowed_methods, reason = "the replay's own clock drives it")]

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use crossbeam_channel::{Receiver, Select, Sender, TryRecvError, bounded, unbounded};
use crossterm::event::{Event as TerminalEvent, KeyEvent, KeyEventKind};

use super::event::Event;
use super::run::wrong_usage;
use super::say::say;
use super::terminal::{self, Screen};
use super::together::{Taken, compare};
use super::worker::Worker;
use super::{assume, given, tables};
use super::{known, signals, walk};
use crate::findings::boards;
use crate::findings::together::whole::Together;
use crate::screens::desk::{Desk, Seat};
use crate::screens::playback::Playback;
use crate::screens::scene::Subject;
use crate::screens::theme::Theme;
use crate::screens::ui::Wish;
use crate::session::folder::{self, Content};
use crate::session::{format, setup_file};
use crate::survey::Setup;
use crate::survey::setup::LeaveOut;

/// No two pages come closer together than this.
const FRAME: Duration = Duration::from_millis(100);
/// Estimates are made anew when so many rows differ.
const ESTIMATE_EVERY: usize = 10;
/// While it holds, the page is drawn at least this often.
const IDLE: Duration = Duration::from_secs(1);
/// There are letters for so many surveys.
const MOST: usize = 26;

/// A survey being replayed.
struct Player {
    at: PathBuf,
    playback: Playback,
    worker: Worker,
    estimated: Receiver<Event>,
    /// The set-up has changed: the slower figures must follow though no row is new.
    anew: bool,
}

/// A replay of one or several surveys.
struct Replay {
    players: Vec<Player>,
    desk: Desk,
    comparing: bool,
    /// What is being compared has changed meanwhile.
    stale: bool,
    compared: (Sender<Arc<Together>>, Receiver<Arc<Together>>),
}

/// Plays surveys' folders, `speed` times faster than life, until the person closes them.
///
/// # Errors
/// When a folder is no survey, there are too many, or there is no terminal.
pub fn replay(folders: &[PathBuf], speed: f64, theme: Theme) -> anyhow::Result<()> {
    if !(1.0..=500.0).contains(&speed) {
        return Err(wrong_usage(anyhow::anyhow!(
            "--speed {}: give a number between 1 and 500",
            assume::number(speed)
        )));
    }
    if folders.len() > MOST {
        return Err(wrong_usage(anyhow::anyhow!(
            "{} folders are too many to tell apart on a screen: give {MOST} at most",
            folders.len()
        )));
    }
    given::once(folders)?;
    terminal::must_be_there("use `farpace figures` for its numbers")?;
    let known = known::load()?;
    let mut replay = Replay {
        players: Vec::new(),
        desk: Desk::new(folders.len(), theme),
        comparing: false,
        stale: false,
        compared: unbounded(),
    };
    let mut warnings = Vec::new();
    for (index, at) in folders.iter().enumerate() {
        let mut found = folder::open(at)?;
        let journalled = matches!(found.content, Content::Journal(_));
        let mut playback = match found.content {
            Content::Journal(lines) => Playback::of_lines(lines, found.setup, found.pattern, speed),
            Content::Rows(rows) => Playback::of_rows(rows, found.setup, speed),
        };
        if journalled {
            let rows = playback.whole().rows.len();
            let more = tables::exchanges(at)?.saturating_sub(rows);
            // Before all else: what is played is not all that was measured.
            found.warnings.splice(0..0, tables::more_in_a_line(more));
        }
        if folders.len() > 1 {
            // Who compares wants to see each whole; Space plays the one in front from its beginning.
            playback.to_edge(false);
        }
        if let Some(field) = replay.desk.field(index) {
            field.ui.word = found.warnings.first().cloned();
        }
        warnings.extend(found.warnings);
        let (tell, estimated) = unbounded();
        replay.players.push(Player {
            at: at.clone(),
            playback,
            worker: Worker::start(known.clone(), known::name_of(at), tell),
            estimated,
            anew: false,
        });
    }
    let (send, come) = bounded(walk::WAITING);
    signals::watch(send.clone())?;
    {
        let mut screen = Screen::set_up()?;
        terminal::read_keys(send);
        replay.run(&mut screen, &come)?;
    }
    for warning in warnings {
        say(&warning);
    }
    Ok(())
}

impl Replay {
    fn run(&mut self, screen: &mut Screen, come: &Receiver<Event>) -> anyhow::Result<()> {
        let begun = Instant::now();
        let mut passed = begun;
        let mut draw = true;
        loop {
            let seconds = passed.elapsed().as_secs_f64();
            passed = Instant::now();
            self.desk.wall_is(begun.elapsed().as_secs_f64());
            for player in &mut self.players {
                player.playback.pass(seconds);
            }
            let playing = self.players.iter().any(|player| player.playback.is_playing());
            if draw || playing {
                let (desk, seats) = (&mut self.desk, seats(&self.players));
                screen.draw(|buffer, area| desk.draw(buffer, area, &seats))?;
            }
            for player in &mut self.players {
                player.ask();
            }
            self.ask_for_comparison();
            let wait = if playing { FRAME } else { IDLE };
            self.wait(come, wait.saturating_sub(passed.elapsed()));
            draw = true;
            loop {
                match come.try_recv() {
                    Ok(Event::Terminal(TerminalEvent::Key(key))) if key.kind == KeyEventKind::Press => {
                        if self.press(key) {
                            return Ok(());
                        }
                    }
                    Ok(Event::Stop(_) | Event::TerminalLost(_)) | Err(TryRecvError::Disconnected) => return Ok(()),
                    Ok(_) => {}
                    Err(TryRecvError::Empty) => break,
                }
            }
            self.take_results();
        }
    }

    /// Waits until something has come, or the time is over.
    fn wait(&self, come: &Receiver<Event>, most: Duration) {
        let mut select = Select::new();
        select.recv(come);
        select.recv(&self.compared.1);
        for player in &self.players {
            select.recv(&player.estimated);
        }
        // Which of them it was is seen when all are looked at.
        let _ = select.ready_timeout(most);
    }

    fn take_results(&mut self) {
        for (index, player) in self.players.iter_mut().enumerate() {
            while let Ok(event) = player.estimated.try_recv() {
                if let Event::Estimated(estimates) = event {
                    player.worker.has_come_back();
                    if let Some(field) = self.desk.field(index) {
                        field.estimated(&estimates, player.playback.subject());
                    }
                }
            }
        }
        while let Ok(together) = self.compared.1.try_recv() {
            self.comparing = false;
            if !std::mem::take(&mut self.stale) {
                self.desk.compared(together);
            }
        }
    }

    /// Takes a key; `true` ends the replay.
    fn press(&mut self, key: KeyEvent) -> bool {
        let wishes = {
            let seats = seats(&self.players);
            self.desk.press(key, &seats)
        };
        let front = self.desk.front();
        for wish in wishes {
            if wish == Wish::End {
                return true;
            }
            self.carry_out(front, wish);
        }
        false
    }

    /// Carries out what a key wished of a survey; trouble with its file is said on the screen.
    fn carry_out(&mut self, index: usize, wish: Wish) {
        let Some(player) = self.players.get_mut(index) else {
            return;
        };
        let word = match wish {
            Wish::LeaveOut(why) => {
                let whole_run = player.playback.timeline().stretch().is_none();
                match player.playback.to_leave_out(why) {
                    None => Some("No exchange lies there: nothing was left out.".to_owned()),
                    Some(stretch) => {
                        let done = player.change_setup(|text| setup_file::add_leave_out(text, &stretch));
                        Some(said(
                            done,
                            if whole_run {
                                "The run is left out; x takes it back."
                            } else {
                                "The stretch is left out; x within it takes it back."
                            },
                        ))
                    }
                }
            }
            Wish::TakeBack => player.playback.left_out_here().cloned().map(|stretch: LeaveOut| {
                let done = player.change_setup(|text| setup_file::remove_leave_out(text, &stretch));
                said(done, "What was left out here counts again.")
            }),
            Wish::Assume => {
                if let Some(field) = self.desk.field(index) {
                    player.worker.assume(field.ui.assumed.clone());
                }
                return;
            }
            other => {
                if !matches!(other, Wish::Faster(_) | Wish::Stretch) {
                    player.worker.begin_anew();
                }
                player.playback.wish(&other);
                if !matches!(other, Wish::PlayOrHold | Wish::Faster(_) | Wish::Stretch)
                    && let Some(field) = self.desk.field(index)
                {
                    field.reckon_anew();
                }
                return;
            }
        };
        player.worker.begin_anew();
        if let Some(field) = self.desk.field(index) {
            field.reckon_anew();
            field.ui.word = word;
        }
        self.desk.forget_comparison();
        self.stale = self.comparing;
    }

    /// Has the comparison worked out where it is looked at and not known; one at a time.
    fn ask_for_comparison(&mut self) {
        if self.comparing || !self.desk.waits_for_comparison() {
            return;
        }
        self.comparing = true;
        let taken = self.players.iter().map(|player| Taken {
            name: known::name_of(&player.at),
            samples: player.playback.whole().clone(),
            setup: player.playback.setup().clone(),
            references: player.playback.references().to_vec(),
        });
        compare(taken.collect(), self.compared.0.clone());
    }
}

fn seats(players: &[Player]) -> Vec<Seat<'_>> {
    players
        .iter()
        .map(|player| Seat {
            subject: player.playback.subject(),
            at: player.playback.at(),
            timeline: player.playback.timeline(),
        })
        .collect()
}

fn said(done: anyhow::Result<()>, words: &str) -> String {
    match done {
        Ok(()) => words.to_owned(),
        Err(error) => format!("Not done: {error:#}"),
    }
}

impl Player {
    /// Has the slower figures made of what has been played so far, whenever the last ones have come back and it differs.
    fn ask(&mut self) {
        let subject = self.playback.subject();
        let samples = subject.samples();
        let differ = samples.rows.len().abs_diff(self.worker.rows());
        // Where it holds, or has come to its end, no more will come to wait for.
        let more = differ >= if self.playback.is_playing() { ESTIMATE_EVERY } else { 1 };
        if self.worker.is_busy() || samples.rows.is_empty() || !(more || self.anew) {
            return;
        }
        self.anew = false;
        let (remakes, told) = match subject {
            Subject::Survey(survey) => (Some(survey.remakes()), boards::told(survey)),
            Subject::Rows(..) => (None, Vec::new()),
        };
        let told = told.into_iter().map(str::to_owned).collect();
        self.worker.ask(samples, remakes, subject.setup(), told);
    }

    fn change_setup(
        &mut self,
        change: impl FnOnce(&str) -> Result<String, setup_file::SetupError>,
    ) -> anyhow::Result<()> {
        let path: &Path = &self.at.join(format::SETUP);
        // Rows alone may have come without a set-up: one is begun then.
        let text = if path.exists() {
            fs_err::read_to_string(path)?
        } else {
            setup_file::write(&Setup::default())
        };
        let changed = change(&text)?;
        let setup = setup_file::read(&changed)?.setup;
        folder::write_whole(path, changed.as_bytes())?;
        self.playback.set_up(setup);
        self.anew = true;
        Ok(())
    }
}
