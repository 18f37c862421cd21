//! One rehearsed survey, from a drawn world to figures, through the very lines the gear would send.

use std::collections::HashMap;

use farpace::app::rehearse::setup_of;
use farpace::findings::curves::Known;
use farpace::findings::estimates::{Estimates, estimates};
use farpace::findings::sweeps::Sweep;
use farpace::rehearsal::boards::Board;
use farpace::rehearsal::draws::{Drawn, Manner, drawn, drawn_boards, drawn_pattern};
use farpace::rehearsal::fates::Fate;
use farpace::rehearsal::orchard::larkfield;
use farpace::rehearsal::pattern::{Pattern, Pose};
use farpace::rehearsal::place::Place;
use farpace::rehearsal::plans::Route;
use farpace::rehearsal::scenario::{MORNING, Scenario};
use farpace::rehearsal::script::{RATE, Script};
use farpace::rehearsal::truth::Truth;
use farpace::rehearsal::world::{Stance, World};
use farpace::rehearsal::{Item, Performance, What, perform};
use farpace::survey::{JournalLine, Sample, Samples, Setup, Source, Survey};
use farpace::units::UtcMs;
use farpace::wire::{GearRecord, GearSource, SurveyorRecord, gear, surveyor};

/// Messages of a run at a point.
pub const MESSAGES: u32 = 100;
/// Turns of a sweep; the first is repeated.
const TURNS: u32 = 12;
/// Points at these shares of the distance of half delivery.
pub const STOPS: [f64; 4] = [0.15, 0.35, 0.6, 0.8];

/// What the walker does at a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Habit {
    /// Goes round in a small circle, slower than a receiver's speed can tell.
    Circles,
    /// Stands as still as a post; after each swap a hand's breadth elsewhere.
    Stands,
}

/// A survey with everything that is true of it.
pub struct Outing {
    pub manner: Manner,
    pub habit: Habit,
    pub route: Route,
    pub scenario: Scenario,
    pub truth: Truth,
    pub drawn: Drawn,
    pub bearing: f64,
    /// Metres at which half is delivered, as far as points are laid out by it.
    pub half: f64,
    pub setup: Setup,
    pub samples: Samples,
    pub fates: Fates,
    pub found: Estimates,
}

/// What an outing is drawn by.
#[derive(Clone, Copy)]
struct Plan {
    /// The seed of the world and of all luck in it.
    seed: u64,
    /// The seed of the walk.
    walk: u64,
    /// Metres by which points are laid out; `None`: those at which half is delivered.
    half: Option<f64>,
}

impl Plan {
    fn of(seed: u64) -> Self {
        Self {
            seed,
            walk: seed,
            half: None,
        }
    }
}

impl Outing {
    /// Draws a world by its seed, walks it, and makes the figures; nothing is known of any board beforehand.
    pub fn of(seed: u64, manner: Manner) -> Self {
        Self::with(
            Plan::of(seed),
            &drawn(seed, manner),
            drawn_boards(seed, 4),
            manner,
            &Known::default(),
        )
    }

    /// The same boards and station in another world, with what this survey taught of them known beforehand.
    pub fn again(&self, seed: u64) -> Self {
        let mut known = Known::default();
        for board in &self.found.boards {
            if let Some((side, need)) = board.taught() {
                known.learn(&board.name, side, "first", need);
            }
        }
        let mut drawn = drawn(seed, self.manner);
        // What a board needs at the station's meter holds for this station.
        drawn.params.station = self.truth.world().params.station;
        let boards = self.scenario.boards.clone();
        Self::with(Plan::of(seed), &drawn, boards, self.manner, &known)
    }

    /// The same world walked another way, as the walk of another seed goes, after every link became so many dB stronger.
    pub fn walked_again(&self, walk: u64, stronger_db: f64) -> Self {
        let mut boards = self.scenario.boards.clone();
        for pattern in boards.iter_mut().flat_map(|board| &mut board.patterns) {
            pattern.peak += stronger_db;
        }
        let known = Known::default();
        let again = Plan {
            seed: self.drawn.seed,
            walk,
            half: Some(self.half),
        };
        Self::with(again, &self.drawn, boards, self.manner, &known)
    }

    fn with(plan: Plan, drawn: &Drawn, mut boards: Vec<Board>, manner: Manner, known: &Known) -> Self {
        let Plan { seed, walk, half } = plan;
        let habit = if walk % 3 == 2 { Habit::Stands } else { Habit::Circles };
        let route = Route::ALL[(walk / 3 % 5) as usize];
        let bearing = (seed * 37 % 360) as f64;
        // Swept flat and on edge, carried and compared upright, where all are round.
        boards[0].patterns[0] = drawn_pattern(seed);
        boards[0].patterns[2] = drawn_pattern(seed + 2);
        boards[1].patterns[0] = Pattern {
            peak: boards[1].patterns[0].peak,
            ..drawn_pattern(seed + 1)
        };
        let truth = Truth::of(World::new(drawn.params.clone(), seed));
        let half = half.unwrap_or_else(|| {
            let range = truth.range(&boards[0], &stance(Place::out(20.0, bearing)), bearing, 0.5);
            range.map_or(20.0, |range| range.0).clamp(45.0, 400.0)
        });
        // One walker in four turns back before anything is lost.
        let extent = (half * [1.25, 1.0, 1.4, 0.6][(walk / 15 % 4) as usize]).clamp(50.0, 380.0);
        let script = script(walk, route, extent, bearing, half, habit);
        let scenario = scenario(drawn, boards, script);
        let setup = setup_of(&scenario, seed);
        let (samples, fates) = played(&scenario, &setup, seed);
        let found = estimates(&samples, &setup, known, None, |board| board == "yew");
        Self {
            manner,
            habit,
            route,
            scenario,
            truth,
            drawn: drawn.clone(),
            bearing,
            half,
            setup,
            samples,
            fates,
            found,
        }
    }

    /// The pattern that a sweep measured.
    pub fn pattern(&self, sweep: &Sweep) -> &Pattern {
        let pose = Pose::ALL
            .into_iter()
            .find(|pose| sweep.pose.as_deref() == Some(pose.word()));
        self.board(&sweep.board).pattern(pose.expect("a pose of the script"))
    }

    pub fn board(&self, name: &str) -> &Board {
        let mut boards = self.scenario.boards.iter();
        boards
            .find(|board| board.name == name)
            .expect("a board of the scenario")
    }

    /// dB by which the station's meter shows a board above what that board hears of the station at its connector.
    pub fn at_station(&self, board: &Board) -> f64 {
        let station = &self.truth.world().params.station;
        board.tx - station.tx + station.meter_offset
    }
}

/// Seconds from a ping to the line that tells of its echo, and of its loss, to within 3 ms: a row stands at its line.
const TOLD_AFTER_S: (f64, f64) = (0.005, 0.082);

/// When the ping of a row was sent, seconds.
///
/// Who walks is a third of a wave farther on when a loss is told, where the fade is another: by their rows, the fades of what
/// arrived would be those it met, and of what was lost any, which makes the mean chance too high.
pub fn pinged_at(row: &Sample) -> f64 {
    row.at.seconds()
        - if row.delivered() {
            TOLD_AFTER_S.0
        } else {
            TOLD_AFTER_S.1
        }
}

/// Held upright at a place by somebody who faces the station.
pub fn stance(place: Place) -> Stance {
    Stance {
        aerial: place,
        facing: place.bearing_to_station(),
        turn: 0.0,
        pose: Pose::Upright,
    }
}

/// A scenario of a drawn world.
pub fn scenario(drawn: &Drawn, boards: Vec<Board>, script: Script) -> Scenario {
    Scenario {
        name: "drawn-survey",
        story: "a drawn world",
        site: larkfield(),
        params: drawn.params.clone(),
        boards,
        script,
        begins: MORNING,
    }
}

fn script(seed: u64, route: Route, extent: f64, bearing: f64, half: f64, habit: Habit) -> Script {
    let mut places = route.places(extent, bearing).into_iter();
    let begin = Script::begin(places.next().unwrap_or_default())
        .hand(seed)
        .stand(3.0)
        .walking();
    let mut script = places.fold(begin, Script::walk);
    for (stop, share) in STOPS.iter().enumerate() {
        let middle = Place::out((share * half).max(12.0), bearing);
        let name = format!("P{}", stop + 1);
        script = script.walking().walk(middle);
        for (turn, board) in std::iter::once(0)
            .chain((0..3).map(|place| 1 + (place + stop) % 3))
            .chain([0])
            .enumerate()
        {
            if turn > 0 {
                script = script.swap(board);
                if habit == Habit::Stands {
                    script = script.walk(middle.beside(0.3, 77.0 * turn as f64));
                }
            }
            script = measured(script, &name, habit, turn > 0);
        }
    }
    let near = Place::out((0.25 * half).max(12.0), bearing + 20.0);
    script
        .walking()
        .walk(near)
        .sweep("S1", Pose::Flat, TURNS, 40)
        .sweep("S2", Pose::Edge, TURNS, 40)
        .swap(1)
        .press(SurveyorRecord::Resume)
        .sweep("S3", Pose::Flat, TURNS, 40)
        .finish()
}

/// A run at a point, by somebody of a habit; after a swap the survey is paused.
pub fn measured(script: Script, point: &str, habit: Habit, paused: bool) -> Script {
    let mut script = script.face_station().press(SurveyorRecord::Point {
        name: Some(point.to_owned()),
        messages: Some(MESSAGES),
    });
    if paused {
        script = script.press(SurveyorRecord::Resume);
    }
    let seconds = f64::from(MESSAGES) / RATE + 0.7;
    match habit {
        Habit::Circles => script.shuffle(seconds),
        Habit::Stands => script.stand(seconds),
    }
}

/// The rows of a scenario played by its seed.
pub fn samples(scenario: &Scenario, setup: &Setup, seed: u64) -> Samples {
    played(scenario, setup, seed).0
}

/// The same with what truly became of each ping.
pub fn played(scenario: &Scenario, setup: &Setup, seed: u64) -> (Samples, Fates) {
    let mut survey = Survey::new(setup.clone(), None);
    let mut cables = [Vec::new(), Vec::new()];
    let mut performance = perform(scenario.clone(), seed).remembering();
    for item in performance.by_ref() {
        lines(&item, scenario.begins, &mut cables, |line| survey.apply(line));
    }
    survey.settle();
    survey.samples();
    (survey.into_samples(), Fates::of(&performance))
}

/// What truly became of each ping, by board, boot and number.
#[derive(Default)]
pub struct Fates(HashMap<(String, u64, u64), Fate>);

impl Fates {
    fn of(performance: &Performance) -> Self {
        let boards = &performance.scenario().boards;
        let named = |fate: &Fate| ((boards[fate.board].name.to_owned(), fate.boot, fate.n), *fate);
        Self(performance.fates().iter().map(named).collect())
    }

    /// What became of the ping of a row.
    pub fn of_row(&self, samples: &Samples, row: &Sample) -> Option<&Fate> {
        let boot = &samples.boots[row.boot as usize];
        self.0.get(&(boot.board.clone(), boot.boot, row.n))
    }
}

/// Cuts what arrives into the lines of a journal.
pub fn lines(item: &Item, begins: UtcMs, cables: &mut [Vec<u8>; 2], mut take: impl FnMut(&JournalLine)) {
    let mut line = |source, bytes: Vec<u8>| {
        take(&JournalLine {
            at: item.at,
            wall: UtcMs(begins.0 + (item.at.0 / 1000) as i64),
            source,
            bytes,
            left_out: 0,
        });
    };
    let mut cut = |cable: usize, source, bytes: &[u8]| {
        cables[cable].extend_from_slice(bytes);
        while let Some(end) = cables[cable].iter().position(|byte| *byte == b'\n') {
            let mut whole: Vec<u8> = cables[cable].drain(..=end).collect();
            whole.truncate(whole.trim_ascii_end().len());
            line(source, whole);
        }
    };
    match &item.what {
        What::NodeBytes(bytes) => cut(0, Source::Node, bytes),
        What::GpsBytes(bytes) => cut(1, Source::Gps, bytes),
        What::Surveyor(record) => line(Source::Surveyor, surveyor::line(record).into_bytes()),
        What::Unplug(source) => {
            cables[usize::from(*source == GearSource::Gps)].clear();
            let record = GearRecord::Down {
                source: *source,
                why: Some("unplugged".to_owned()),
            };
            line_of_gear(item, begins, &record, take);
        }
        What::Replug(source) => {
            let record = GearRecord::Up {
                source: *source,
                address: None,
            };
            line_of_gear(item, begins, &record, take);
        }
    }
}

fn line_of_gear(item: &Item, begins: UtcMs, record: &GearRecord, mut take: impl FnMut(&JournalLine)) {
    take(&JournalLine {
        at: item.at,
        wall: UtcMs(begins.0 + (item.at.0 / 1000) as i64),
        source: Source::Gear,
        bytes: gear::line(record).into_bytes(),
        left_out: 0,
    });
}
