//! Makes the estimates of a survey being made on a thread of their own, so that no frame waits for them.

#![expect(clippy::disallowed_methods, reason = "this thread belongs to `app`")]

use std::sync::Arc;
use std::thread::{self, JoinHandle};

use crossbeam_channel::{Receiver, Sender, unbounded};

use super::event::Event;
use crate::findings::assumptions::Wanted;
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

/// A piece of work.
#[derive(Debug)]
enum Work {
    /// Estimates of rows.
    Rows(Box<Changed>),
    /// The same estimates with other assumptions about places.
    Assume(Wanted),
}

/// The thread that makes estimates.
#[derive(Debug)]
pub struct Worker {
    work: Option<Sender<Work>>,
    thread: Option<JoinHandle<()>>,
    sent: Sent,
    /// Pieces of work that have not come back.
    pending: usize,
}

impl Worker {
    /// Starts it; what it makes is told through `tell`.
    pub fn start(known: Known, survey: String, tell: Sender<Event>) -> Self {
        let (send, come) = unbounded();
        let thread = thread::spawn(move || work(&known, &survey, &come, &tell));
        Self {
            work: Some(send),
            thread: Some(thread),
            sent: Sent::default(),
            pending: 0,
        }
    }

    /// Whether it is still at work.
    pub fn is_busy(&self) -> bool {
        self.pending > 0
    }

    /// How many rows it was last given.
    pub fn rows(&self) -> usize {
        self.sent.rows
    }

    /// A piece of work has come back.
    pub fn has_come_back(&mut self) {
        self.pending = self.pending.saturating_sub(1);
    }

    /// Forgets what the worker has: the next rows are of another survey, or of one played anew.
    pub fn begin_anew(&mut self) {
        self.sent = Sent::default();
    }

    /// Has estimates made of the rows as they are now; nothing while it is busy.
    ///
    /// `remakes` is of these rows, and says which have not changed since the last call; without, all are sent.
    pub fn ask(&mut self, samples: &Samples, remakes: Option<&Remakes>, setup: &Setup, references: Vec<String>) {
        if self.is_busy() {
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
        self.send(Work::Rows(Box::new(changed)));
    }

    /// Has the map of places made for this from now on, and now; what was walked is not fitted again.
    pub fn assume(&mut self, wanted: Wanted) {
        self.send(Work::Assume(wanted));
    }

    fn send(&mut self, work: Work) {
        if let Some(sender) = &self.work {
            self.pending += usize::from(sender.send(work).is_ok());
        }
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        self.work = None;
        // A long piece of work is not waited for: the thread ends by itself after it.
        drop(self.thread.take());
    }
}

fn work(known: &Known, survey: &str, come: &Receiver<Work>, tell: &Sender<Event>) {
    let mut samples = Samples::default();
    let mut setup = Setup::default();
    let mut wanted = Wanted::default();
    let mut last = Arc::new(Estimates::default());
    for work in come {
        let mut made = match work {
            Work::Rows(changed) => {
                samples.rows.truncate(changed.from);
                samples.rows.extend(changed.rows);
                samples.facts.truncate(changed.facts_from);
                samples.facts.extend(changed.facts);
                samples.boots = changed.boots;
                samples.points = changed.points;
                samples.poses = changed.poses;
                setup = changed.setup;
                let told = |board: &str| changed.references.iter().any(|reference| reference == board);
                estimates(&samples, &setup, known, Some(survey), told)
            }
            Work::Assume(other) => {
                wanted = other;
                Estimates::clone(&last)
            }
        };
        made.assume(&wanted, &setup);
        last = Arc::new(made);
        if tell.send(Event::Estimated(Arc::clone(&last))).is_err() {
            return;
        }
    }
}
