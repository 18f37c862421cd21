//! Makes the estimates of a survey being made on a thread of their own, so that no frame waits for them.

#![expect(clippy::disallowed_methods, reason = "this thread belongs to `app`")]

use std::sync::Arc;
use std::thread::{self, JoinHandle};

use crossbeam_channel::{Receiver, Sender, unbounded};

use super::event::Event;
use crate::findings::curves::Known;
use crate::findings::estimates::{Estimates, estimates};
use crate::survey::remakes::Remakes;
use crate::survey::sample::{BootName, Sample, Samples};
use crate::survey::setup::Setup;

/// What has changed since the worker was last told.
#[derive(Debug)]
struct Changed {
    /// Rows from this one on are new.
    from: usize,
    rows: Vec<Sample>,
    boots: Vec<BootName>,
    points: Vec<String>,
    poses: Vec<String>,
    /// Facts from this one on are new.
    facts_from: usize,
    facts: Vec<crate::survey::fixes::Facts>,
    setup: Setup,
    references: Vec<String>,
}

/// What the worker has.
#[derive(Clone, Copy, Debug, Default)]
struct Sent {
    rows: usize,
    facts: usize,
    /// How often rows had been made anew when it was sent.
    remakes: u64,
}

/// The thread that makes estimates.
#[derive(Debug)]
pub struct Worker {
    changes: Option<Sender<Changed>>,
    thread: Option<JoinHandle<()>>,
    sent: Sent,
    busy: bool,
}

impl Worker {
    /// Starts it; what it makes is told through `tell`.
    pub fn start(known: Known, survey: String, tell: Sender<Event>) -> Self {
        let (changes, come) = unbounded();
        let thread = thread::spawn(move || work(&known, &survey, &come, &tell));
        Self {
            changes: Some(changes),
            thread: Some(thread),
            sent: Sent::default(),
            busy: false,
        }
    }

    /// Whether it is still at the last piece of work.
    pub fn is_busy(&self) -> bool {
        self.busy
    }

    /// How many rows it was last given.
    pub fn rows(&self) -> usize {
        self.sent.rows
    }

    /// The last piece of work has come back.
    pub fn has_come_back(&mut self) {
        self.busy = false;
    }

    /// Forgets what the worker has: the next rows are of another survey, or of one played anew.
    pub fn begin_anew(&mut self) {
        self.sent = Sent::default();
    }

    /// Has estimates made of the rows as they are now; nothing while it is busy.
    ///
    /// `remakes` is of these rows, and says which have not changed since the last call; without, all are sent.
    pub fn ask(&mut self, samples: &Samples, remakes: Option<&Remakes>, setup: &Setup, references: Vec<String>) {
        if self.busy {
            return;
        }
        let settled = remakes.map_or(0, |remakes| remakes.settled_since(self.sent.remakes));
        let from = self.sent.rows.min(settled).min(samples.rows.len());
        // Facts are numbered anew from the first row that changed.
        let facts_from = samples.rows[..from]
            .iter()
            .rev()
            .find_map(|row| row.place)
            .map_or(0, |place| place.facts as usize + 1);
        let facts_from = facts_from.min(self.sent.facts);
        let changed = Changed {
            from,
            rows: samples.rows[from..].to_vec(),
            boots: samples.boots.clone(),
            points: samples.points.clone(),
            poses: samples.poses.clone(),
            facts_from,
            facts: samples.facts[facts_from..].to_vec(),
            setup: setup.clone(),
            references,
        };
        self.sent = Sent {
            rows: samples.rows.len(),
            facts: samples.facts.len(),
            remakes: remakes.map_or(0, Remakes::count),
        };
        if let Some(changes) = &self.changes {
            self.busy = changes.send(changed).is_ok();
        }
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        self.changes = None;
        // A long piece of work is not waited for: the thread ends by itself after it.
        drop(self.thread.take());
    }
}

fn work(known: &Known, survey: &str, come: &Receiver<Changed>, tell: &Sender<Event>) {
    let mut samples = Samples::default();
    for changed in come {
        samples.rows.truncate(changed.from);
        samples.rows.extend(changed.rows);
        samples.facts.truncate(changed.facts_from);
        samples.facts.extend(changed.facts);
        samples.boots = changed.boots;
        samples.points = changed.points;
        samples.poses = changed.poses;
        let told = |board: &str| changed.references.iter().any(|reference| reference == board);
        let made: Estimates = estimates(&samples, &changed.setup, known, Some(survey), told);
        if tell.send(Event::Estimated(Arc::new(made))).is_err() {
            return;
        }
    }
}
