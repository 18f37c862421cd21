//! What is so at this moment: the last exchanges, the run they belong to, where they were, and how the gear does.

use super::delivery;
use super::stint::Stint;
use crate::stats::burst::{BurstMemory, Outcomes};
use crate::stats::proportions::{Interval, wilson};
use crate::survey::activity::{Doing, Part};
use crate::survey::numbering::Pace;
use crate::survey::reducer::{LineState, Survey};
use crate::survey::sample::{Activity, Place, Sample, Samples};
use crate::units::{Elapsed, Metres};

/// How many exchanges the short window holds.
pub const SHORT: usize = 20;
/// How many exchanges the long window holds.
pub const LONG: usize = 100;
/// A receiver is silent after so many seconds without a line.
const GPS_SILENT_S: f64 = 3.0;

/// What is so at this moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Now {
    /// The board and its boot, once one has pinged.
    pub board: Option<(String, u64)>,
    /// The last 20 exchanges that count.
    pub short: Window,
    /// The last 100 exchanges that count.
    pub long: Window,
    /// Where the delivery rate of the short window lies, bursts allowed for.
    pub short_sure: Option<Interval>,
    /// Where that of the long window lies.
    pub long_sure: Option<Interval>,
    /// The run, or step of a sweep, that is going on.
    pub run: Window,
    /// Which it is; `None` before its first ping.
    pub stint: Option<Stint>,
    /// Which exchanges of the short window were delivered, oldest first.
    pub arrived: Vec<bool>,
    /// Levels of the short window as the board heard the station, oldest first; `None` where lost or not told.
    pub here: Vec<Option<f32>>,
    /// Levels of the short window as the station heard the board.
    pub there: Vec<Option<f32>>,
    /// Where the last exchange was.
    pub place: Option<Place>,
    /// One sigma of that position per axis.
    pub sigma: Option<Metres>,
    /// How the node does.
    pub node: Line,
    /// How the receiver does.
    pub gps: Line,
    /// Whether the receiver has a fix.
    pub fixed: bool,
    /// Pings that should have been settled by now and are not.
    pub pending: u64,
    /// All exchanges so far.
    pub exchanges: usize,
}

/// How many pings of a stretch were answered.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Window {
    /// Pings that count.
    pub pings: u64,
    /// Of them answered.
    pub echoes: u64,
}

impl Window {
    /// The delivery rate, 0 to 1; `None` of no pings.
    pub fn rate(self) -> Option<f64> {
        (self.pings > 0).then(|| self.echoes as f64 / self.pings as f64)
    }

    /// Wilson's 95 % interval, pings taken as independent; `None` of no pings. What allows for bursts stands in [`Now`] and in
    /// [`super::delivery`].
    pub fn interval(self) -> Option<Interval> {
        wilson(self.echoes, self.pings, 0.95)
    }

    fn of<'a>(rows: impl Iterator<Item = &'a Sample>) -> Self {
        rows.fold(Self::default(), |sum, row| Self {
            pings: sum.pings + 1,
            echoes: sum.echoes + u64::from(row.delivered()),
        })
    }
}

/// How a source does.
#[derive(Clone, Debug, PartialEq)]
pub enum Line {
    /// Nothing has come yet, for so many seconds.
    Waiting(f64),
    /// Lines come.
    Talking,
    /// It is connected and has said nothing for so many seconds.
    Silent(f64),
    /// It cannot be read, for so many seconds, and why.
    Down(f64, Option<String>),
}

/// Looks at a survey at the moment `at`. Its rows must have been brought up to date; `bursts` is what its stops show of them.
pub fn now(survey: &Survey, at: Elapsed, bursts: &BurstMemory) -> Now {
    let samples = survey.samples_as_made();
    let pace = survey.boot().map(|boot| &boot.pace);
    let node = line(
        &survey.sources().node.state,
        survey.sources().node.last,
        at,
        pace.map_or(2.0, Pace::break_after),
    );
    let gps = line(&survey.sources().gps.state, survey.sources().gps.last, at, GPS_SILENT_S);
    let last_ping = samples.rows.last().map(|row| row.at);
    let pending = match (pace, last_ping) {
        (Some(pace), Some(last)) => {
            let unsettled = at.since(last) - (3.0 * pace.interval()).max(1.0);
            // What the board did while it could not be read is not known.
            let read = !matches!(node, Line::Down(..)) && !survey.stream().is_broken_off();
            if unsettled > 0.0 && read {
                (at.since(last) * pace.rate()).floor() as u64
            } else {
                0
            }
        }
        _ => 0,
    };
    let mut now = of_tail(samples, bursts, survey.setup().goal.confidence);
    now.node = node;
    now.gps = gps;
    now.fixed = survey.fixes().is_fixed();
    now.pending = pending;
    // Rows are in order of time and of runs: where a part begins is found without looking at all of it.
    let doing = survey.activities();
    let from = match (doing.part().part, &doing.now().doing) {
        (Part::Step { .. } | Part::Turning, _) | (_, Doing::Point { .. }) => {
            // Another board taken in hand at the same point begins a run, and a count, of its own.
            let since = doing.part().since.at;
            let from = samples.rows.partition_point(|row| row.at < since);
            from.max(begin_of_run(samples))
        }
        _ => begin_of_run(samples),
    };
    let (pings, echoes) = survey.tally_since(from);
    now.run = Window { pings, echoes };
    let begun = match doing.part().part {
        Part::Step { .. } => doing.part().since.at,
        Part::Turning | Part::Counting => doing.now().since.at,
    };
    let is_open = |row: &Sample| {
        let same = match doing.now().doing {
            Doing::Walk => row.activity == Activity::Walk,
            Doing::Point { .. } => matches!(row.activity, Activity::Point(_)),
            Doing::Sweep { .. } => matches!(row.activity, Activity::Sweep { .. }),
        };
        same && row.at >= begun
    };
    now.stint = samples.rows.last().filter(|last| is_open(last)).map(Stint::of);
    now
}

/// Looks at the last of some rows alone, as when they are all there is.
pub fn of_samples(samples: &Samples, bursts: &BurstMemory, confidence: f64) -> Now {
    let run = samples.rows[begin_of_run(samples)..].iter();
    Now {
        run: Window::of(run.filter(|row| row.counts())),
        ..of_tail(samples, bursts, confidence)
    }
}

/// The index of the first row of the last run; runs only ever count up.
fn begin_of_run(samples: &Samples) -> usize {
    let run = samples.rows.last().map_or(0, |last| last.run);
    samples.rows.partition_point(|row| row.run < run)
}

/// What the last hundred or so rows say, the run's own count left at none.
fn of_tail(samples: &Samples, bursts: &BurstMemory, confidence: f64) -> Now {
    let last = samples.rows.last();
    let boot = last.map(|last| last.boot);
    let mut window: Vec<&Sample> = samples
        .rows
        .iter()
        .rev()
        .take_while(|row| Some(row.boot) == boot)
        .filter(|row| row.counts())
        .take(LONG)
        .collect();
    let in_order = |window: &[&Sample]| window.iter().rev().map(|row| row.delivered()).collect::<Outcomes>();
    let sure = |window: &[&Sample]| delivery::interval(&in_order(window), bursts, confidence);
    let (long, long_sure) = (Window::of(window.iter().copied()), sure(&window));
    window.truncate(SHORT);
    let (short, short_sure) = (Window::of(window.iter().copied()), sure(&window));
    window.reverse();
    let place = last.and_then(|last| last.place);
    Now {
        board: last.map(|last| {
            let boot = &samples.boots[last.boot as usize];
            (boot.board.clone(), boot.boot)
        }),
        short,
        long,
        short_sure,
        long_sure,
        run: Window::default(),
        stint: last.map(Stint::of),
        arrived: window.iter().map(|row| row.delivered()).collect(),
        here: window.iter().map(|row| row.here()).collect(),
        there: window.iter().map(|row| row.there()).collect(),
        place,
        sigma: place
            .and_then(|place| samples.facts(&place).sigma)
            .map(|(sigma, _)| Metres(sigma)),
        node: Line::Talking,
        gps: Line::Talking,
        fixed: place.is_some(),
        pending: 0,
        exchanges: samples.rows.len(),
    }
}

fn line(state: &LineState, last: Option<Elapsed>, at: Elapsed, silent_after: f64) -> Line {
    if let LineState::Down(since, why) = state {
        return Line::Down(at.since(*since), why.clone());
    }
    match last {
        None => Line::Waiting(at.seconds()),
        Some(last) if at.since(last) > silent_after => Line::Silent(at.since(last)),
        Some(_) => Line::Talking,
    }
}
