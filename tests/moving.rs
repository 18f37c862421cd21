//! Moving slowly at a point makes the level surer, and stays true: rehearsed surveys against their own truth.

#![expect(clippy::unwrap_used, reason = "a survey that cannot be made is a failed test")]

use farpace::app::rehearse::setup_of;
use farpace::findings::curves::Known;
use farpace::findings::estimates::{Estimates, estimates};
use farpace::findings::stop::{StopFigures, Surer};
use farpace::rehearsal::boards;
use farpace::rehearsal::orchard::larkfield;
use farpace::rehearsal::place::Place;
use farpace::rehearsal::scenario::{MORNING, Scenario};
use farpace::rehearsal::script::Script;
use farpace::rehearsal::truth::Truth;
use farpace::rehearsal::world::{World, WorldParams};
use farpace::rehearsal::{What, perform};
use farpace::stats::level::MeanPower;
use farpace::stats::proportions::Interval;
use farpace::survey::{JournalLine, Samples, Source, Survey};
use farpace::units::UtcMs;
use farpace::wire::{SurveyorRecord, surveyor};

/// Where the points are, metres from the station.
const POINTS: [f64; 4] = [30.0, 60.0, 90.0, 130.0];
/// Metres a second at a point: five metres in the ten seconds of a hundred messages.
const SLOWLY: f64 = 0.5;

/// A level beside what is true of it.
struct Held {
    figures: StopFigures,
    interval: Interval,
    truth: f64,
}

impl Held {
    fn holds(&self) -> bool {
        self.interval.holds(self.truth)
    }
}

/// Points measured twice each in one survey, standing still and moving slowly: the levels of both.
fn survey(seed: u64) -> (Vec<Held>, Vec<Held>) {
    let bearing = (seed * 53 % 360) as f64;
    let mut script = Script::begin(Place::out(8.0, bearing)).stand(3.0).walking();
    for (index, far) in POINTS.into_iter().enumerate() {
        let middle = Place::out(far, bearing);
        let point = |name: &str| SurveyorRecord::Point {
            name: Some(format!("{name}{index}")),
            messages: Some(100),
        };
        script = script
            .walk(middle)
            .face_station()
            .press(point("still"))
            .stand(10.7)
            .walking();
        script = script
            .press(point("moved"))
            .speed(SLOWLY)
            .walk(middle.beside(5.3, bearing + 90.0));
        script = script.walking().speed(1.25);
    }
    let scenario = Scenario {
        name: "moving",
        story: "points measured standing and moving",
        site: larkfield(),
        params: WorldParams::larkfield(),
        boards: vec![boards::yew()],
        script: script.walk(Place::out(300.0, bearing)).finish(),
        begins: MORNING,
    };
    let (samples, found) = figures(&scenario, seed);
    let truth = Truth::of(World::new(scenario.params.clone(), seed));
    let board = &scenario.boards[0];
    let station = &truth.world().params.station;
    let at_station = board.tx - station.tx + station.meter_offset;
    let (mut still, mut moved) = (Vec::new(), Vec::new());
    for (row, figures) in found.points {
        let rows = samples.rows[row.rows.clone()].iter().filter(|row| row.counts());
        let powers: Vec<f64> = rows
            .map(|row| {
                let stance = scenario.script.track().at(row.at.seconds()).stance;
                10_f64.powf((truth.local_mean(board, &stance).0 + at_station) / 10.0)
            })
            .collect();
        let MeanPower::Between { interval, .. } = figures.level.as_ref().unwrap().mean_power else {
            continue;
        };
        let held = Held {
            interval,
            truth: 10.0 * (powers.iter().sum::<f64>() / powers.len() as f64).log10(),
            figures,
        };
        let list = if row.point.starts_with("still") {
            &mut still
        } else {
            &mut moved
        };
        list.push(held);
    }
    (still, moved)
}

fn figures(scenario: &Scenario, seed: u64) -> (Samples, Estimates) {
    let setup = setup_of(scenario, seed);
    let mut survey = Survey::new(setup.clone(), None);
    let mut cables = [Vec::new(), Vec::new()];
    for item in perform(scenario.clone(), seed) {
        let mut line = |source, bytes: Vec<u8>| {
            survey.apply(&JournalLine {
                at: item.at,
                wall: UtcMs(scenario.begins.0 + (item.at.0 / 1000) as i64),
                source,
                bytes,
                left_out: 0,
            });
        };
        let (cable, source, bytes) = match item.what {
            What::NodeBytes(bytes) => (0, Source::Node, bytes),
            What::GpsBytes(bytes) => (1, Source::Gps, bytes),
            What::Surveyor(record) => {
                line(Source::Surveyor, surveyor::line(&record).into_bytes());
                continue;
            }
            What::Unplug(_) | What::Replug(_) => continue,
        };
        let held: &mut Vec<u8> = &mut cables[cable];
        held.extend(bytes);
        while let Some(end) = held.iter().position(|byte| *byte == b'\n') {
            let mut whole: Vec<u8> = held.drain(..=end).collect();
            whole.truncate(whole.trim_ascii_end().len());
            line(source, whole);
        }
    }
    survey.settle();
    survey.samples();
    let samples = survey.into_samples();
    let found = estimates(&samples, &setup, &Known::default(), None, |board| board == "yew");
    (samples, found)
}

fn mean_width(levels: &[Held]) -> f64 {
    levels.iter().map(|held| held.interval.width()).sum::<f64>() / levels.len() as f64
}

#[test]
fn moving_slowly_makes_a_level_surer_and_only_standing_still_asks_for_it() {
    for seed in 1..=4 {
        let (still, moved) = survey(seed);
        assert!(still.len() >= 3 && moved.len() >= 3);
        for held in &still {
            assert!(
                matches!(held.figures.surer, Some(Surer::Move { width_db, moved_width_db }) if moved_width_db < 0.6 * width_db),
                "{:?}",
                held.figures
            );
        }
        for held in &moved {
            assert_eq!(held.figures.surer, None, "{:?}", held.figures);
            assert!(
                (4.0..7.0).contains(&held.figures.path_m.unwrap()),
                "{:?}",
                held.figures.path_m
            );
        }
        let (before, after) = (mean_width(&still), mean_width(&moved));
        assert!(after < 0.5 * before, "{before} dB wide standing, {after} dB moving");
    }
}

/// How often the intervals hold; `cargo test --release --test moving -- --ignored --nocapture`.
#[test]
#[ignore = "a calibration: minutes"]
fn levels_of_points_hold_standing_and_moving() {
    let (mut still, mut moved) = (Vec::new(), Vec::new());
    for seed in 0..100 {
        let (one, other) = survey(seed);
        still.extend(one);
        moved.extend(other);
    }
    for (name, levels) in [("standing still", &still), ("moving slowly", &moved)] {
        let held = levels.iter().filter(|held| held.holds()).count();
        println!(
            "{name:<15} {} points, {:.1} dB wide, held {:.1} in 100",
            levels.len(),
            mean_width(levels),
            100.0 * held as f64 / levels.len() as f64
        );
        assert!(held * 100 >= 90 * levels.len(), "{name}");
    }
}
