//! Works out what surveys look like together, on a thread of its own, so that no frame waits for it.

#![expect(clippy::disallowed_methods, reason = "this thread belongs to `app`")]

use std::sync::Arc;
use std::thread;

use crossbeam_channel::Sender;

use super::halves;
use crate::findings::curves::Known;
use crate::findings::together::learn::{Source, figures_of};
use crate::findings::together::member::Member;
use crate::findings::together::whole::{Together, together};
use crate::survey::{Samples, Setup};

/// A survey as the thread takes it along.
#[derive(Clone, Debug)]
pub struct Taken {
    /// What it is called.
    pub name: String,
    /// Its rows.
    pub samples: Samples,
    /// Its set-up.
    pub setup: Setup,
    /// Boards whose own hello calls them the reference.
    pub references: Vec<String>,
}

/// Compares surveys by what they say themselves, as `farpace figures` does, and tells the outcome.
pub fn compare(surveys: Vec<Taken>, tell: Sender<Arc<Together>>) {
    thread::spawn(move || {
        let keys: Vec<String> = (0..surveys.len()).map(|index| index.to_string()).collect();
        let sources: Vec<Source<'_>> = surveys
            .iter()
            .zip(&keys)
            .map(|(survey, key)| Source {
                key,
                samples: &survey.samples,
                setup: &survey.setup,
                references: &survey.references,
            })
            .collect();
        let found = figures_of(&sources, &Known::default(), halves::figures, |_, _| {});
        let members: Vec<Member<'_>> = surveys
            .iter()
            .zip(&found)
            .map(|(survey, estimates)| Member {
                name: &survey.name,
                samples: &survey.samples,
                setup: &survey.setup,
                estimates,
            })
            .collect();
        // The screen may be gone by then.
        let _ = tell.send(Arc::new(together(&members)));
    });
}
