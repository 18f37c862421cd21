//! How far a sweep has come: the turns done, the one being counted, and which comes next.

use crate::survey::activity::{Activities, Doing, Part};
use crate::survey::sample::{Activity, Samples};
use crate::units::{Degrees, Elapsed};

/// A sweep that is going on.
#[derive(Clone, Debug, PartialEq)]
pub struct Turning {
    /// Its name.
    pub name: String,
    /// How the board is held.
    pub pose: Option<String>,
    /// Turns wanted, without the repeated first.
    pub steps: u32,
    /// Messages wanted a turn.
    pub messages: u32,
    /// The steps so far that count, in order, the one being counted included.
    pub done: Vec<Step>,
    /// The turn being counted: messages so far.
    pub counting: Option<(Degrees, u64)>,
    /// The turn that comes next; `None` when all are done.
    pub next: Option<Degrees>,
    /// Which turn comes next (or is being counted), from 1, of how many, the repeated first included.
    pub place: (u32, u32),
    /// Whether that is the first turn again.
    pub closing: bool,
}

/// A step of a sweep.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// The turn.
    pub turn: Degrees,
    /// Pings that count.
    pub pings: u64,
    /// Of them answered.
    pub echoes: u64,
    /// Mean level as the board heard the station.
    pub here_dbm: Option<f64>,
    /// Mean level as the station heard the board.
    pub there_dbm: Option<f64>,
}

/// A step that lost more than this share is marked as lossy wherever it is drawn.
pub const MANY_LOST: f64 = 0.25;

/// Whether a step lost so many that its level alone says too little.
pub fn many_lost(pings: u64, echoes: u64) -> bool {
    pings > 0 && pings.saturating_sub(echoes) as f64 > MANY_LOST * pings as f64
}

/// Looks at the sweep that is going on; `None` when there is none. `left_out` are turns the surveyor skips.
pub fn turning(activities: &Activities, samples: &Samples, at: Elapsed, left_out: &[f64]) -> Option<Turning> {
    let stretch = activities.stretches().len() - 1;
    let Doing::Sweep {
        name,
        pose,
        steps,
        messages,
    } = &activities.now().doing
    else {
        return None;
    };
    let segments = activities.segments().iter().enumerate();
    let current = activities.segments().len() - 1;
    let (open, done): (Vec<(usize, f64, Elapsed)>, Vec<Step>) = segments
        .filter(|(_, segment)| segment.stretch == stretch && !segment.again)
        .filter_map(|(index, segment)| match segment.part {
            Part::Step { deg, until, .. } => Some((index, deg, until)),
            Part::Counting | Part::Turning => None,
        })
        .map(|open| (open, step_of(samples, open.0 as u32, open.1)))
        // A turn at which nobody read the node was not measured: it comes again.
        .filter(|((index, _, until), step)| step.pings > 0 || (*index == current && at <= *until))
        .unzip();
    let counting = open.last().zip(done.last()).and_then(|((index, deg, until), step)| {
        let open = *index == current && step.pings < u64::from(*messages) && at <= *until;
        open.then_some((Degrees(*deg), step.pings))
    });
    let steps = (*steps).clamp(1, 3600);
    let turn_of = |index: u32| f64::from(index % steps) * 360.0 / f64::from(steps);
    let same = |one: f64, other: f64| Degrees(one).turn_to(Degrees(other)).0.abs() < 0.5;
    let measured = |deg: f64| open.iter().filter(|(_, of, _)| same(*of, deg)).count();
    let is_open = |index: &u32| {
        let needed = if *index == steps { 2 } else { 1 };
        measured(turn_of(*index)) < needed
            && !(*index < steps && left_out.iter().any(|deg| same(*deg, turn_of(*index))))
    };
    let next = (0..=steps).find(is_open);
    let place = match counting {
        Some((deg, _)) => (0..steps).find(|index| same(turn_of(*index), deg.0) && measured(deg.0) <= 1),
        None => next,
    };
    let index = place.unwrap_or(steps);
    Some(Turning {
        name: name.clone(),
        pose: pose.clone(),
        steps,
        messages: *messages,
        closing: index == steps && (counting.is_some() || next.is_some()),
        done,
        counting,
        next: next.map(|index| Degrees(turn_of(index))),
        place: (index + 1, steps + 1),
    })
}

fn step_of(samples: &Samples, segment: u32, deg: f64) -> Step {
    let rows = samples
        .rows
        .iter()
        .rev()
        .skip_while(|row| !matches!(row.activity, Activity::Sweep { .. }));
    let rows = rows.take_while(|row| match row.activity {
        Activity::Sweep { step, .. } => step == 0 || step >= segment,
        Activity::Walk | Activity::Point(_) => false,
    });
    let counted: Vec<_> = rows
        .filter(|row| row.counts() && matches!(row.activity, Activity::Sweep { step, .. } if step == segment))
        .collect();
    Step {
        turn: Degrees(deg),
        pings: counted.len() as u64,
        echoes: counted.iter().filter(|row| row.delivered()).count() as u64,
        here_dbm: super::points::mean(counted.iter().filter_map(|row| row.here().map(f64::from))),
        there_dbm: super::points::mean(counted.iter().filter_map(|row| row.there().map(f64::from))),
    }
}
