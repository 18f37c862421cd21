//! What a page shows, gathered once before drawing: every panel reads it, none changes it.

use super::fresh::of_here;
use super::outlook::Outlook;
use super::timeline::Timeline;
use super::ui::Doing;
use super::walked::Walked;
use crate::findings::answer::{Answer, Counted, answer};
use crate::findings::boards;
use crate::findings::delivery::Standing;
use crate::findings::grid::{Grid, Still};
use crate::findings::loss_words::{self, Among};
use crate::findings::losses::Stretches;
use crate::findings::now::{Now, now, of_samples};
use crate::findings::points::{PointRow, Points};
use crate::findings::trouble::{Trouble, troubles};
use crate::findings::turning::{Turning, turning};
use crate::findings::words;
use crate::ground::separation;
use crate::stats::burst::BurstMemory;
use crate::stats::losses::Reason;
use crate::stats::margin::Margin;
use crate::survey::activity;
use crate::survey::sample::{Activity, Samples};
use crate::survey::{Notice, Noticed, Setup, Survey};
use crate::units::{Elapsed, Metres};

/// After so many new rows the slower figures are reckoned anew.
const RECKON_EVERY: usize = 20;
/// A position stands for so many seconds while the next is on its way.
const LATE_FIX_S: f64 = 2.5;
/// A point measured before counts as here within twice the position's sigma, but at least and at most so many metres.
const REACH_M: (f64, f64) = (4.0, 8.0);
/// A name stands for another place beyond so many sigmas of both positions.
const NAMED_SIGMAS: f64 = 3.0;
/// A notice is shown for so many seconds.
const NOTICE_S: f64 = 6.0;

/// A survey, or the rows that are left of one.
#[derive(Clone, Copy, Debug)]
pub enum Subject<'a> {
    /// All of it.
    Survey(&'a Survey),
    /// Only rows.
    Rows(&'a Samples, &'a Setup),
}

impl<'a> Subject<'a> {
    /// The rows.
    pub fn samples(self) -> &'a Samples {
        match self {
            Self::Survey(survey) => survey.samples_as_made(),
            Self::Rows(samples, _) => samples,
        }
    }

    /// The set-up.
    pub fn setup(self) -> &'a Setup {
        match self {
            Self::Survey(survey) => survey.setup(),
            Self::Rows(_, setup) => setup,
        }
    }
}

/// What takes longer to reckon, kept until enough has come to make it differ.
#[derive(Clone, Debug, Default)]
pub struct Reckoned {
    walked: Walked,
    points: Option<Points>,
    stretches: Stretches,
    losses: Option<Reason>,
    /// How many rows the figures rest on, and how many parts of the survey.
    rows: usize,
    segments: usize,
    /// How many rows what is drawn rests on, and the remakes of the rows by then.
    drawn: usize,
    remakes: u64,
    /// How many rows have been as they are since the figures were reckoned.
    settled: usize,
}

impl Reckoned {
    /// Brings up to date what every page draws, and reckons figures anew where enough has come since.
    pub fn bring_up_to_date(&mut self, subject: Subject<'_>) {
        let samples = subject.samples();
        let (segments, remakes, settled) = match subject {
            Subject::Survey(survey) => {
                let remakes = survey.remakes();
                // Fewer rows or remakes than before: it is played anew.
                let anew = samples.rows.len() < self.drawn || remakes.count() < self.remakes;
                let settled = if anew { 0 } else { remakes.settled_since(self.remakes) };
                (survey.activities().segments().len(), remakes.count(), settled)
            }
            Subject::Rows(..) => (0, 0, self.drawn),
        };
        let rows = samples.rows.len();
        let settled = settled.min(self.drawn).min(rows);
        self.walked.bring_up_to_date(subject, settled);
        (self.drawn, self.remakes) = (rows, remakes);
        self.settled = self.settled.min(settled);
        let points = self.points.get_or_insert_with(|| Points::new(subject.setup()));
        // At a point the count is looked at at any moment: it is followed message by message.
        points.bring_up_to_date(samples, subject.setup(), settled);
        let few = rows >= self.rows && rows < self.rows + RECKON_EVERY && segments == self.segments;
        if few {
            return;
        }
        self.losses = self.stretches.of_the_last(samples, self.settled);
        (self.rows, self.segments, self.settled) = (rows, segments, rows);
    }

    fn points(&self) -> &[PointRow] {
        self.points.as_ref().map_or(&[], Points::rows)
    }

    fn bursts(&self) -> BurstMemory {
        self.points
            .as_ref()
            .map_or_else(BurstMemory::default, |points| points.bursts().clone())
    }
}

/// A stop at a point that is going on.
#[derive(Clone, Debug)]
pub struct Stop<'a> {
    /// Its name.
    pub name: &'a str,
    /// Messages that count so far.
    pub done: u64,
    /// Messages wanted.
    pub wanted: u32,
    /// What they prove.
    pub standing: Option<&'a Standing>,
    /// How far the board was carried off before the point was ended, metres; `None` where it was not.
    pub left_m: Option<f64>,
}

/// What stands around the survey itself.
#[derive(Clone, Copy, Debug, Default)]
pub struct Around<'a> {
    /// Trouble with the disk, in words.
    pub disk: Option<&'a str>,
    /// What stands in the way of node and receiver.
    pub in_the_way: [Option<&'a str>; 2],
    /// Set when nothing more will come: why, in words.
    pub over: Option<&'a str>,
    /// The letter of this survey among several, and whether its keys are the ones pressed.
    pub among: Option<(char, bool)>,
    /// The time line of a replay.
    pub timeline: Option<&'a Timeline>,
    /// The slower estimates, as far as they are known.
    pub outlook: Option<&'a Outlook>,
    /// Turns of the sweep that the person skips.
    pub skipped: &'a [f64],
}

/// What a page shows.
#[derive(Clone, Debug)]
pub struct Scene<'a> {
    /// The set-up.
    pub setup: &'a Setup,
    /// A row for each exchange so far.
    pub samples: &'a Samples,
    /// The moment.
    pub at: Elapsed,
    /// What is so at it.
    pub now: Now,
    /// What is going on, as far as keys depend on it.
    pub doing: Doing,
    /// The stop at a point.
    pub stop: Option<Stop<'a>>,
    /// The sweep.
    pub turning: Option<Turning>,
    /// Whether counting is paused.
    pub paused: bool,
    /// Can a node go here?
    pub answer: Answer,
    /// What is wrong, the worst first.
    pub troubles: Vec<Trouble>,
    /// Why messages were lost, and which, where that is clear and a person can do something about it.
    pub losses: Vec<(Reason, Among)>,
    /// How much there is to spare here.
    pub margin: Option<Margin>,
    /// Every run at a point and step of a sweep.
    pub points: &'a [PointRow],
    /// Every row that has a place, as it is drawn.
    pub walked: &'a Walked,
    /// Boards at points.
    pub grid: Grid<'a>,
    /// A point measured before that lies here, where the board in hand is still to be measured.
    pub offer: Option<&'a str>,
    /// The name the next point gets that is given none.
    pub next_name: Option<String>,
    /// The last thing worth saying, while it is fresh.
    pub notice: Option<String>,
    /// What stands around.
    pub around: Around<'a>,
}

impl<'a> Scene<'a> {
    /// Gathers everything. Rows and `reckoned` must have been brought up to date.
    pub fn of(subject: Subject<'a>, at: Elapsed, reckoned: &'a Reckoned, around: Around<'a>) -> Self {
        let around = Around {
            // After a jump back in time nothing of what came later is known.
            outlook: around
                .outlook
                .filter(|outlook| outlook.until.is_none_or(|until| until <= at)),
            ..around
        };
        let (samples, setup) = (subject.samples(), subject.setup());
        let mut now = match subject {
            Subject::Survey(survey) => now(survey, at, &reckoned.bursts()),
            Subject::Rows(samples, setup) => of_samples(samples, &reckoned.bursts(), setup.goal.confidence),
        };
        if now.place.is_none() {
            // A fix becomes a position a little after its rows: until then the last known one stands.
            let rows = samples.rows.iter().rev();
            let since = samples.rows.last().map_or(at, |last| last.at);
            now.place = rows
                .take_while(|row| since.since(row.at) <= LATE_FIX_S)
                .find_map(|row| row.place);
            now.sigma = now
                .place
                .and_then(|place| samples.facts(&place).sigma)
                .map(|(sigma, _)| Metres(sigma));
        }
        let mut wrong: Vec<Trouble> = around
            .disk
            .map(|why| Trouble::Disk(why.to_owned()))
            .into_iter()
            .collect();
        let stop = stop_of(subject, reckoned);
        let (mut turning_now, mut paused, mut notice) = (None, false, None);
        if let Subject::Survey(survey) = subject {
            if around.over.is_none() {
                let unused = survey.counts().node_unused;
                wrong.extend(troubles(&now, samples, setup, around.in_the_way, unused));
            }
            if around.over.is_none() && around.timeline.is_none() {
                wrong.extend(stop.as_ref().and_then(|stop| stop.left_m).map(Trouble::Strayed));
            }
            turning_now = turning(survey.activities(), samples, at, around.skipped);
            paused = survey.activities().is_paused();
            notice = survey
                .notices()
                .iter()
                .rev()
                .find(|noticed| worth_saying(noticed))
                .and_then(|noticed| (at.since(noticed.at) < NOTICE_S).then(|| noticed.notice.to_string()));
        }
        let doing = match (&around.timeline, &turning_now, &stop) {
            (Some(timeline), ..) => Doing::Replaying(timeline.left_out && timeline.stretch_from.is_none()),
            (None, Some(turning), _) => match turning.counting {
                Some((turn, done)) => Doing::Counting(turn.0, done, turning.messages),
                None => Doing::Turning(turning.next.map(|turn| turn.0)),
            },
            (None, None, Some(stop)) => Doing::Standing(stop.done, stop.wanted),
            (None, None, None) => Doing::Walking,
        };
        let fresh = of_here(around.outlook, &now);
        let margin = fresh.and_then(|outlook| outlook.margin);
        // A few losses within the goal need no explanation.
        let window = if stop.is_some() { now.run } else { now.long };
        let losing = window.rate().is_some_and(|rate| rate < setup.goal.delivery);
        let counted = stop
            .as_ref()
            .map_or(Counted::Walking, |stop| Counted::Point(stop.standing));
        // The slower figures are of the stop as it was when they were made; walking, of the last messages.
        let begun = stop.is_some() || turning_now.as_ref().is_some_and(|turning| turning.counting.is_some());
        let told = fresh
            .and_then(|outlook| outlook.losses.as_ref())
            .map_or_else(Vec::new, |losses| {
                let among = match begun {
                    true if losses.exchanges < now.run.pings => Among::First,
                    true => Among::All,
                    false => Among::Last,
                };
                loss_words::told(losses, among)
                    .map(|(reason, among)| (*reason, among))
                    .collect()
            });
        let losses = telling(told, reckoned.losses, losing);
        let in_silence = |(reason, _): &(Reason, Among)| match reason {
            Reason::StationSilent { lost, .. } => Some(*lost),
            _ => None,
        };
        let silenced = losses.iter().find_map(in_silence).unwrap_or(0);
        let grid = grid_of(subject, reckoned);
        let offer = if doing == Doing::Walking {
            offer(&grid, &now)
        } else {
            None
        };
        Self {
            answer: match around.timeline {
                Some(timeline) if timeline.left_out => Answer::LeftOut,
                _ => answer(&now, counted, margin.as_ref(), silenced, &wrong, &setup.goal),
            },
            setup,
            samples,
            at,
            now,
            doing,
            stop,
            turning: turning_now,
            paused,
            next_name: match subject {
                Subject::Survey(survey) => Some(survey.activities().next_name('P')),
                Subject::Rows(..) => None,
            },
            troubles: wrong,
            losses,
            margin,
            points: reckoned.points(),
            walked: &reckoned.walked,
            offer,
            grid,
            notice,
            around,
        }
    }
}

impl<'a> Scene<'a> {
    /// The cell at hand, by board and point: the board in hand at the point one stands at, else at the last one measured.
    pub fn at_hand(&self) -> (usize, usize) {
        let last = self.points.iter().rev().find(|row| row.activity == "point");
        let here = self.stop.as_ref().and_then(|stop| self.grid.point(stop.name));
        let point = here.or_else(|| self.grid.point(&last?.point)).unwrap_or(0);
        let in_hand = self.now.board.as_ref().and_then(|(board, _)| self.grid.board(board));
        (in_hand.unwrap_or(0), point)
    }

    /// The points measured before, the nearest to this place first; without a place, the last one first.
    pub fn names(&self) -> Vec<&'a str> {
        let here = self.now.place.map(|place| place.position);
        let mut names: Vec<(f64, &str)> = Vec::new();
        for row in self.points.iter().rev().filter(|row| row.activity == "point") {
            if names.iter().all(|(_, name)| *name != row.point) {
                let away = here
                    .zip(row.position)
                    .map(|(here, there)| separation(here, there).distance.0);
                names.push((away.unwrap_or(f64::INFINITY), &row.point));
            }
        }
        names.sort_by(|one, other| one.0.total_cmp(&other.0));
        names.into_iter().map(|(_, name)| name).collect()
    }

    /// The answer in a sentence; in a replay without what to do.
    pub fn sentence(&self) -> &'static str {
        if self.doing.is_replay() {
            self.answer.afterwards()
        } else {
            self.answer.sentence()
        }
    }

    /// How far off the place lies that a point's name stands for already, metres, where that is farther than both positions'
    /// doubt; `None` where it is not.
    pub fn far_off(&self, name: &str) -> Option<f64> {
        let here = self.now.place?.position;
        let named = self
            .points
            .iter()
            .filter(|row| row.activity == "point" && row.point == name);
        let nearest = named
            .filter_map(|row| Some((separation(here, row.position?).distance.0, row.sigma)))
            .min_by(|one, other| one.0.total_cmp(&other.0));
        let (away, its) = nearest?;
        let sigma = |sigma: Option<Metres>| sigma.map_or(0.0, |sigma| sigma.0);
        let doubt = NAMED_SIGMAS * sigma(self.now.sigma).hypot(sigma(its));
        (away > doubt.max(REACH_M.1)).then_some(away)
    }
}

/// The reasons that a person must be told: those for losses while the goal is missed, and what was not read at any time.
fn telling(found: Vec<(Reason, Among)>, glance: Option<Reason>, losing: bool) -> Vec<(Reason, Among)> {
    let is_gap = |reason: &Reason| matches!(reason, Reason::GapInStream { .. });
    let (gaps, mut telling): (Vec<_>, Vec<_>) = found.into_iter().partition(|(reason, _)| is_gap(reason));
    telling.retain(|(reason, _)| losing && words::remedy(reason).is_some());
    if losing && let Some(glance) = glance {
        // The slower figures may not have seen the end of a silence yet.
        let silent = |reason: &Reason| matches!(reason, Reason::StationSilent { .. });
        if telling.is_empty() || (silent(&glance) && !telling.iter().any(|(reason, _)| silent(reason))) {
            telling = vec![(glance, Among::Last)];
        }
    }
    telling.extend(gaps);
    telling
}

fn grid_of<'a>(subject: Subject<'a>, reckoned: &'a Reckoned) -> Grid<'a> {
    let (samples, setup) = (subject.samples(), subject.setup());
    let (stretches, told) = match subject {
        Subject::Survey(survey) => (survey.activities().stretches(), boards::told(survey)),
        Subject::Rows(..) => (&[][..], Vec::new()),
    };
    let wanted = |row: &PointRow| {
        let at = samples.rows.get(row.rows.start).map_or(Elapsed(0), |first| first.at);
        let began = stretches.partition_point(|stretch| stretch.since.at <= at);
        match began.checked_sub(1).map(|index| &stretches[index].doing) {
            Some(activity::Doing::Point { messages, .. }) => u64::from(*messages),
            _ => u64::from(setup.goal.messages),
        }
    };
    let in_hand = samples.rows.last().map(|row| samples.board(row));
    let known = setup.boards.iter().map(|board| board.name.as_str()).chain(in_hand);
    let reference = |boards: &[&'a str]| boards::reference(setup, |name| told.contains(&name), boards);
    Grid::of(reckoned.points(), known, reference, wanted)
}

/// The nearest point within reach at which the board in hand is the next to be measured.
fn offer<'a>(grid: &Grid<'a>, now: &Now) -> Option<&'a str> {
    let (board, _) = now.board.as_ref()?;
    let here = now.place?.position;
    let reach = (2.0 * now.sigma.map_or(0.0, |sigma| sigma.0)).clamp(REACH_M.0, REACH_M.1);
    let mut near: Vec<(f64, usize)> = Vec::new();
    for point in 0..grid.points.len() {
        let places = (0..grid.boards.len()).filter_map(|of| grid.cell(of, point)?.row.position);
        let away = places.map(|place| separation(here, place).distance.0);
        near.extend(away.min_by(f64::total_cmp).map(|away| (away, point)));
    }
    let (_, point) = near
        .into_iter()
        .filter(|(away, _)| *away <= reach)
        .min_by(|one, other| one.0.total_cmp(&other.0))?;
    let first = grid.still(point, Some(board)).first().copied()?;
    let (Still::Measure(name) | Still::Finish(name, _) | Still::Again(name)) = first;
    (name == board).then_some(grid.points[point].name)
}

fn stop_of<'a>(subject: Subject<'a>, reckoned: &'a Reckoned) -> Option<Stop<'a>> {
    let samples = subject.samples();
    let last = samples.rows.last();
    let row_of = |run: u32| {
        let last = reckoned.points().last();
        last.filter(|row| row.run == run && row.activity == "point")
    };
    let (name, wanted, row) = match subject {
        Subject::Survey(survey) => match &survey.activities().now().doing {
            activity::Doing::Point { name, messages } => {
                let here = last.filter(|row| row.at >= survey.activities().now().since.at);
                (name.as_str(), *messages, here.and_then(|row| row_of(row.run)))
            }
            _ => return None,
        },
        Subject::Rows(samples, setup) => {
            let row = last.filter(|row| matches!(row.activity, Activity::Point(_)))?;
            (samples.point(row)?, setup.goal.messages, row_of(row.run))
        }
    };
    Some(Stop {
        name,
        done: row.map_or(0, |row| row.messages),
        wanted,
        standing: row.map(|row| &row.standing),
        left_m: row.and_then(|row| Some(row.left.as_ref()?.away_m)),
    })
}

/// Gear going up or down is said as trouble while it lasts; malformed lines only count.
fn worth_saying(noticed: &Noticed) -> bool {
    matches!(
        noticed.notice,
        Notice::Refused(_)
            | Notice::UnknownRecord(_)
            | Notice::UnknownWord(_)
            | Notice::BootBegan { .. }
            | Notice::NodeNote(_)
            | Notice::FixSetAside
    )
}
