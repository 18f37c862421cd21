//! Whether reasons told for losses are right where there is something to tell: a station that falls silent, bursts that hit one
//! way, both, or none.
//!
//! A silence where the level loses many messages anyway is not found: nothing tells its losses from those of the ground. What is
//! said of stretches in which such losses are more than one in twenty is counted apart.
//!
//! `cargo calibrate-survey reasons_hold`; `CALIBRATION_REASONS` (240) says how many rehearsals, `CALIBRATION_FIRST` (26000) from
//! which seed on.

use farpace::app::rehearse::setup_of;
use farpace::findings::curves::Known;
use farpace::findings::groundwork::Groundwork;
use farpace::rehearsal::bursts::BurstParams;
use farpace::rehearsal::draws::{Drawn, Manner, drawn, drawn_boards};
use farpace::rehearsal::pattern::Pattern;
use farpace::rehearsal::place::Place;
use farpace::rehearsal::plans::Route;
use farpace::rehearsal::script::{Event, RATE, Script};
use farpace::rehearsal::truth::Truth;
use farpace::rehearsal::world::World;
use farpace::wire::SurveyorRecord;

use crate::outing::{Habit, Outing, played, scenario, stance};
use crate::tally::over;
use crate::{live, losses, number};

/// Points at these shares of the distance of half delivery.
const STOPS: [f64; 6] = [0.15, 0.35, 0.6, 0.8, 0.95, 1.1];
/// Messages of a run at a point.
const MESSAGES: u32 = 150;

/// What befalls the survey, by turns of the seed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Trouble {
    /// Nothing but what every world has.
    None,
    /// Bursts where the station listens.
    AtStation,
    /// Bursts where the board listens.
    AtBoard,
    /// Both.
    Both,
}

/// A rehearsal with its troubles, and its figures but the map.
fn troubled(seed: u64, manner: Manner) -> Outing {
    let trouble = [Trouble::None, Trouble::AtStation, Trouble::AtBoard, Trouble::Both][(seed / 4 % 4) as usize];
    let mut drawn = drawn(seed, manner);
    bursts(&mut drawn, trouble, seed);
    let mut boards = drawn_boards(seed, 2);
    boards[0].patterns[0] = Pattern::round(0.0);
    let bearing = (seed * 37 % 360) as f64;
    let truth = Truth::of(World::new(drawn.params.clone(), seed));
    let half = truth.range(&boards[0], &stance(Place::out(20.0, bearing)), bearing, 0.5);
    let half = half.map_or(20.0, |range| range.0).clamp(45.0, 400.0);
    let route = Route::ALL[(seed / 3 % 5) as usize];
    let habit = if seed % 3 == 2 { Habit::Stands } else { Habit::Circles };
    let extent = (half * [1.25, 1.0, 1.4, 0.6][(seed / 15 % 4) as usize]).clamp(50.0, 380.0);
    let scenario = scenario(&drawn, boards, script(seed, route, extent, bearing, half, habit));
    let setup = setup_of(&scenario, seed);
    let (samples, fates) = played(&scenario, &setup, seed);
    let found = {
        let ground = Groundwork::of(&samples, &setup, &Known::default(), None, |board| board == "yew");
        let boards = ground.boards();
        let stood = ground.stood(&boards);
        ground.figures(boards, stood, None)
    };
    Outing {
        manner,
        habit,
        route,
        scenario,
        truth,
        drawn,
        bearing,
        half,
        setup,
        samples,
        fates,
        found,
    }
}

/// Bursts of the trouble's kind; how heavy goes by the seed.
fn bursts(drawn: &mut Drawn, trouble: Trouble, seed: u64) {
    let heavy = |other: BurstParams| BurstParams {
        busy: [0.06, 0.12, 0.2, 0.3][(seed / 16 % 4) as usize],
        mean_s: [0.2, 0.5, 0.8][(seed / 64 % 3) as usize],
        hit: 0.8,
        ..other
    };
    let params = &mut drawn.params;
    if matches!(trouble, Trouble::AtStation | Trouble::Both) {
        params.at_station = heavy(params.at_station);
    }
    if matches!(trouble, Trouble::AtBoard | Trouble::Both) {
        params.at_board = heavy(params.at_board);
    }
}

/// A walk and points with two boards; the station falls silent once on the walk and at one point in three.
fn script(seed: u64, route: Route, extent: f64, bearing: f64, half: f64, habit: Habit) -> Script {
    let mut places = route.places(extent, bearing).into_iter();
    let silent = |script: Script, after: f64, turn: u64| {
        let seconds = [2.0, 5.0, 12.0, 30.0][((seed + turn) % 4) as usize];
        let until = script.seconds() + after + seconds;
        script.happen_in(after, Event::StationSilent(until))
    };
    let begin = Script::begin(places.next().unwrap_or_default()).stand(3.0).walking();
    let begin = silent(begin, 8.0 + (seed % 7) as f64 * 9.0, 0);
    let mut script = places.fold(begin, Script::walk);
    for (stop, share) in STOPS.iter().enumerate() {
        let middle = Place::out((share * half).max(12.0), bearing);
        script = script.walking().walk(middle);
        for turn in 0..2 {
            if turn > 0 {
                script = script.swap((stop + 1) % 2);
            }
            script = script.face_station().press(SurveyorRecord::Point {
                name: Some(format!("P{}", stop + 1)),
                messages: Some(MESSAGES),
            });
            if turn > 0 {
                script = script.press(SurveyorRecord::Resume);
            }
            let number = 2 * stop as u64 + turn;
            if (number + seed).is_multiple_of(3) {
                script = silent(script, 4.0, number);
            }
            let seconds = f64::from(MESSAGES) / RATE + 0.7;
            script = match habit {
                Habit::Circles => script.shuffle(seconds),
                Habit::Stands => script.stand(seconds),
            };
        }
    }
    script.finish()
}

#[test]
#[ignore = "calibration: minutes; run with --release"]
fn reasons_hold() {
    let (first, surveys) = (number("CALIBRATION_FIRST", 26_000), number("CALIBRATION_REASONS", 240));
    let misses = std::env::var("CALIBRATION_MISSES").ok();
    let tallies = over(surveys, |index, tallies| {
        let (manner, word) = match index % 4 {
            3 => (Manner::Rough, "rough"),
            _ => (Manner::Plain, "plain"),
        };
        // A survey of each manner in each trouble.
        let outing = troubled(first + index + index / 4, manner);
        tallies.begin(first + index + index / 4, misses.as_deref());
        losses::score(&outing, word, tallies);
        live::score(&outing, word, tallies);
    });
    println!("{surveys} surveys from seed {first}");
    tallies.print();
    tallies.print_reasons_for_readme();
}
