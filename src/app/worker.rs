//! Makes the estimates of a survey being made on a thread of their own, so that no frame waits for them.

#![expect(clippy::disallowed_methods, reason = "this thread belongs to `app`")]

use std::sync::Arc;
use std::thread::{self, JoinHandle};

use crossbeam_channel::{Receiver, Sender, unbounded};

use super::event::Event;
use crate::findings::curves::Known;
use crate::findings::estimates::{Estimates, estimates};
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

/// The thread that makes estimates.
#[derive(Debug)]
pub struct Worker {
    changes: Option<Sender<Changed>>,
    thread: Option<JoinHandle<()>>,
    /// How many rows and facts the worker has.
    sent: (usize, usize),
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
            sent: (0, 0),
            busy: false,
        }
    }

    /// Whether it is still at the last piece of work.
    pub fn is_busy(&self) -> bool {
        self.busy
    }

    /// How many rows it was last given.
    pub fn rows(&self) -> usize {
        self.sent.0
    }

    /// The last piece of work has come back.
    pub fn has_come_back(&mut self) {
        self.busy = false;
    }

    /// Has estimates made of the rows as they are now; nothing while it is busy.
    ///
    /// `settled` is how many rows from the beginning have not changed since the last call.
    pub fn ask(&mut self, samples: &Samples, settled: usize, setup: &Setup, references: Vec<String>) {
        if self.busy {
            return;
        }
        let from = self.sent.0.min(settled).min(samples.rows.len());
        // Facts are numbered anew from the first row that changed.
        let facts_from = samples.rows[..from]
            .iter()
            .rev()
            .find_map(|row| row.place)
            .map_or(0, |place| place.facts as usize + 1);
        let facts_from = facts_from.min(self.sent.1);
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
        self.sent = (samples.rows.len(), samples.facts.len());
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
