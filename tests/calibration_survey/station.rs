//! How often a station noted in the wrong place is noticed, and how often one in its right place is doubted.
//!
//! Each survey draws its world, walks one route in it, and makes its map five times: with the station noted where it stands, and
//! 20, 40, 60 and 100 m off, in a direction that has nothing to do with the walk's.

use farpace::app::rehearse::setup_of;
use farpace::findings::offsets::Offsets;
use farpace::findings::places::{Cleared, Walk};
use farpace::findings::reach::reach;
use farpace::findings::side::Side;
use farpace::ground::local::{LocalPlane, Offset};
use farpace::rehearsal::draws::{Manner, drawn};
use farpace::rehearsal::place::Place;
use farpace::rehearsal::plans::{Route, walk_scenario};
use farpace::rehearsal::truth::Truth;
use farpace::rehearsal::world::World;
use farpace::stats::stop_curve::NoCurve;
use farpace::units::Metres;

use crate::number;
use crate::outing::{samples, stance};

/// Metres the station is noted off.
const OFF: [f64; 5] = [0.0, 20.0, 40.0, 60.0, 100.0];

/// What came of one form of walk.
#[derive(Clone, Copy, Debug, Default)]
struct Noticed {
    surveys: u32,
    doubted: [u32; OFF.len()],
    /// Of those doubted rightly: how many named another place, and how many of these hold the true one in their radius.
    placed: (u32, u32),
}

impl Noticed {
    fn merge(&mut self, other: &Self) {
        self.surveys += other.surveys;
        for (own, other) in self.doubted.iter_mut().zip(other.doubted) {
            *own += other;
        }
        self.placed = (self.placed.0 + other.placed.0, self.placed.1 + other.placed.1);
    }

    fn print(&self, name: &str) {
        let share = |count: u32| 100.0 * f64::from(count) / f64::from(self.surveys.max(1));
        let shares: Vec<String> = self
            .doubted
            .iter()
            .map(|count| format!("{:>6.1}", share(*count)))
            .collect();
        println!(
            "{name:<14}{:>5} {}   place named {:>4}, true one inside {:>5.1} %",
            self.surveys,
            shares.concat(),
            self.placed.0,
            100.0 * f64::from(self.placed.1) / f64::from(self.placed.0.max(1))
        );
    }
}

fn survey(seed: u64, manner: Manner, route: Route) -> Noticed {
    let drawn = drawn(seed, manner);
    let bearing = (seed * 37 % 360) as f64;
    let truth = Truth::of(World::new(drawn.params.clone(), seed));
    let half = truth.range(&drawn.board, &stance(Place::out(20.0, bearing)), bearing, 0.5);
    let half = half.map_or(20.0, |range| range.0).clamp(45.0, 400.0);
    let extent = (half * [1.25, 1.0, 1.4, 0.6][(seed / 15 % 4) as usize]).clamp(50.0, 380.0);
    let scenario = walk_scenario(&drawn, route, extent, bearing);
    let mut setup = setup_of(&scenario, seed);
    let samples = samples(&scenario, &setup, seed);
    let board = scenario.boards[0].name;
    let noted = LocalPlane::about(setup.station.position.expect("a station"));
    let (sin, cos) = ((seed * 101 % 360) as f64).to_radians().sin_cos();
    let mut noticed = Noticed {
        surveys: 1,
        ..Noticed::default()
    };
    for (off, doubted) in OFF.iter().zip(&mut noticed.doubted) {
        let wrong = Offset {
            east: Metres(off * sin),
            north: Metres(off * cos),
        };
        setup.station.position = noted.position(wrong);
        let offsets = setup.station.position.map(|station| Offsets::about(station, &samples));
        let reach = reach(&samples, offsets.as_ref(), &setup, board, &[], Side::There, || {
            Err(NoCurve::NoStop)
        });
        let doubt = Walk::of(&samples, offsets.as_ref(), &reach.board, reach.side)
            .and_then(|walk| Cleared::of(&setup, &reach, walk))
            .ok()
            .and_then(|cleared| cleared.station_doubt());
        *doubted = u32::from(doubt.is_some());
        if let Some(rather) = doubt.and_then(|doubt| doubt.rather).filter(|_| *off > 0.0) {
            let towards = rather.towards.map_or(0.0, |towards| towards.0.to_radians());
            let (east, north) = (rather.away.0 * towards.sin(), rather.away.0 * towards.cos());
            let missed = (east + off * sin).hypot(north + off * cos);
            noticed.placed.0 += 1;
            noticed.placed.1 += u32::from(missed <= rather.radius.0);
        }
    }
    noticed
}

#[test]
#[ignore = "calibration: minutes; run with --release"]
fn a_wrong_station_is_noticed() {
    let first = number("CALIBRATION_FIRST", 10_000);
    let surveys = number("CALIBRATION_SURVEYS", 400);
    let run = |part: u64| {
        let mut found = [[Noticed::default(); 2]; Route::ALL.len()];
        for index in (0..surveys).filter(|index| index % 2 == part) {
            // Every route meets every manner.
            let route = (index / 2 % Route::ALL.len() as u64) as usize;
            let rough = usize::from(index / (2 * Route::ALL.len() as u64) % 2 == 1);
            let manner = [Manner::Plain, Manner::Rough][rough];
            found[route][rough].merge(&survey(first + index, manner, Route::ALL[route]));
        }
        found
    };
    let halves = std::thread::scope(|scope| {
        let other = scope.spawn(|| run(0));
        let own = run(1);
        [own, other.join().expect("no survey panics")]
    });
    println!("{surveys} surveys from seed {first}; doubted in per cent, noted off by 0, 20, 40, 60, 100 m");
    let (mut all, mut rough_all) = (Noticed::default(), Noticed::default());
    for (index, route) in Route::ALL.iter().enumerate() {
        let mut whole = Noticed::default();
        for half in &halves {
            whole.merge(&half[index][0]);
            whole.merge(&half[index][1]);
            rough_all.merge(&half[index][1]);
        }
        whole.print(&format!("{route:?}"));
        all.merge(&whole);
    }
    rough_all.print("rough worlds");
    all.print("all");
    assert!(
        f64::from(all.doubted[0]) <= 0.02 * f64::from(all.surveys) + 1.0,
        "{all:?}"
    );
    assert!(all.doubted.is_sorted(), "farther off is noticed more often: {all:?}");
}
