//! What is assumed of another height, of leaves, and of a second station or relay, against worlds in which they are true.
//!
//! An orchard tells the loss at any height and in any leaf by formulas that findings do not use: direct wave and the one off the
//! ground (Fresnel, Ament), crowns by Weissberger. Heights and leaves are assumed by P.1411 and by a figure.

use farpace::app::rehearse::setup_of;
use farpace::findings::assumptions::{Assumed, Shift, Wanted};
use farpace::findings::curves::Known;
use farpace::findings::estimates::{Estimates, estimates};
use farpace::findings::places::Places;
use farpace::findings::side::Side;
use farpace::rehearsal::boards::Board;
use farpace::rehearsal::draws::{Drawn, Manner, drawn};
use farpace::rehearsal::law::{Law, Orchard};
use farpace::rehearsal::orchard::larkfield_law;
use farpace::rehearsal::place::Place;
use farpace::rehearsal::plans::{Route, walk_scenario};
use farpace::rehearsal::truth::Truth;
use farpace::rehearsal::world::{World, WorldParams};
use farpace::stats::places::{Class, Frame};
use farpace::units::{Db, Dbm, Metres};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;

use crate::number;
use crate::outing::{samples, stance};

fn orchard(random: &mut Pcg64) -> Orchard {
    let Law::Orchard(mut orchard) = larkfield_law() else {
        panic!("Larkfield is an orchard")
    };
    orchard.permittivity = random.random_range(4.0..25.0);
    orchard.conductivity = random.random_range(0.01..0.15);
    orchard.roughness = random.random_range(0.0..0.12);
    orchard.rows.anchor = random.random_range(0.0..8.0);
    orchard.rows.spacing = random.random_range(4.0..8.0);
    orchard.rows.width = random.random_range(1.5..3.0);
    orchard.rows.height = random.random_range(2.0..5.0);
    orchard.rows.density = random.random_range(0.1..0.9);
    orchard.rows.from_east = -600.0;
    orchard.rows.to_east = 600.0;
    orchard
}

/// Mean power over five metres of a path outward, dB of loss.
fn around(orchard: &Orchard, distance: f64, bearing: f64) -> f64 {
    let law = Law::Orchard(orchard.clone());
    let power = |step: i32| {
        let place = Place::out(distance + 0.25 * f64::from(step), bearing);
        10.0_f64.powf(-law.loss(place) / 10.0)
    };
    -10.0 * ((-10..=10).map(power).sum::<f64>() / 21.0).log10()
}

#[test]
fn another_height_and_leaves_lie_within_their_doubts() {
    const PATHS: u64 = 1500;
    let scenario = walk_scenario(&drawn(1, Manner::Plain), Route::Straight, 100.0, 0.0);
    let setup = setup_of(&scenario, 1);
    let board = scenario.boards[0].name;
    let assumed = |wanted: &Wanted| {
        let found = Assumed::of(wanted, &setup, &Estimates::default(), board, Side::There);
        found.assumptions.first().expect("it can be assumed").shift
    };
    let mut random = Pcg64::seed_from_u64(20_000);
    // Bare ground and orchard: paths, held by 1.96 standard deviations.
    let mut height = [(0_u32, 0_u32); 2];
    let mut leaves = (0_u32, 0_u32);
    for _ in 0..PATHS {
        let carried = orchard(&mut random);
        let distance = 15.0 * 40.0_f64.powf(random.random::<f64>());
        let bearing = random.random_range(0.0..360.0);
        let up = [1.5, 2.0, 3.0, 4.0][random.random_range(0..4_usize)];
        let wanted = Wanted {
            mounted: Some(Metres(up)),
            ..Wanted::default()
        };
        let Shift::ByDistance(lift) = assumed(&wanted) else {
            panic!("a height changes more far out")
        };
        let change = lift.at(distance);
        for (trees, tally) in [0.0, carried.rows.density].iter().zip(&mut height) {
            let mut low = carried.clone();
            low.rows.density = *trees;
            let mut high = low.clone();
            high.board_height = up;
            let gain = around(&low, distance, bearing) - around(&high, distance, bearing);
            *tally = (
                tally.0 + 1,
                tally.1 + u32::from((gain - change.gain).abs() <= 1.96 * change.sd),
            );
        }
    }
    for _ in 0..100 {
        let leafy = Law::Orchard(orchard(&mut random));
        let bare = random.random_range(0.2..0.5);
        let place = |random: &mut Pcg64| Place::out(random.random_range(20.0..250.0), random.random_range(0.0..360.0));
        let more: Vec<f64> = (0..150)
            .map(|_| (1.0 - bare) * leafy.foliage_loss(place(&mut random)))
            .collect();
        let wanted = Wanted {
            leaves: Some(Db(more.iter().sum::<f64>() / more.len() as f64)),
            ..Wanted::default()
        };
        let Shift::Everywhere(change) = assumed(&wanted) else {
            panic!("leaves take the same everywhere")
        };
        for loss in more {
            leaves = (
                leaves.0 + 1,
                leaves.1 + u32::from((loss + change.gain).abs() <= 1.96 * change.sd),
            );
        }
    }
    let share = |tally: (u32, u32)| f64::from(tally.1) / f64::from(tally.0);
    println!(
        "held by 1.96 standard deviations: height over bare ground {:.3}, in an orchard {:.3}; leaves {:.3}",
        share(height[0]),
        share(height[1]),
        share(leaves)
    );
    assert!(height.iter().all(|tally| share(*tally) >= 0.93), "{height:?}");
    assert!(share(leaves) >= 0.93, "{leaves:?}");
}

/// Said and come true: how many, the sum said, how many came true.
#[derive(Clone, Copy, Debug, Default)]
struct Kept([(u64, f64, u64); 10]);

impl Kept {
    fn add(&mut self, said: f64, came: bool) {
        let bin = &mut self.0[((said * 10.0) as usize).min(9)];
        *bin = (bin.0 + 1, bin.1 + said, bin.2 + u64::from(came));
    }

    fn merge(&mut self, other: &Self) {
        for (own, other) in self.0.iter_mut().zip(&other.0) {
            *own = (own.0 + other.0, own.1 + other.1, own.2 + other.2);
        }
    }

    fn print(&self, name: &str) {
        println!("{name}: said and came true, per cent, of how many");
        for (count, said, came) in self.0.iter().filter(|bin| bin.0 > 0) {
            let share = |sum: f64| 100.0 * sum / *count as f64;
            println!("  {:>5.1} {:>5.1}  {count}", share(*said), share(*came as f64));
        }
    }
}

#[derive(Clone, Debug, Default)]
struct Ground {
    walked: Kept,
    mounted: Kept,
    leaves: Kept,
    relays: Kept,
    /// Shares newly served: listed, inside their interval, sum promised, sum true.
    second: (u32, u32, f64, f64),
    /// The best of each list against an arbitrary place: how many lists, how often it truly serves more.
    better: (u32, u32),
}

impl Ground {
    fn merge(&mut self, other: &Self) {
        self.walked.merge(&other.walked);
        self.mounted.merge(&other.mounted);
        self.leaves.merge(&other.leaves);
        self.relays.merge(&other.relays);
        let (own, other_second) = (&mut self.second, other.second);
        *own = (
            own.0 + other_second.0,
            own.1 + other_second.1,
            own.2 + other_second.2,
            own.3 + other_second.3,
        );
        self.better = (self.better.0 + other.better.0, self.better.1 + other.better.1);
    }
}

/// Whether a node at a place meets the goal of a map.
fn meets(truth: &Truth, board: &Board, places: &Places, place: Place) -> bool {
    let stance = stance(place);
    let mean = truth.local_mean(board, &stance);
    let k_db = truth.world().k_db(stance.aerial);
    let delivery =
        (1.0 - truth.interference(stance.aerial)) * truth.delivery_for(board, Dbm(mean.0 - places.margin_db), k_db);
    delivery >= places.delivery
}

fn score(truth: &Truth, board: &Board, places: &Places, kept: &mut Kept) {
    for place in places.places.iter().filter(|place| place.class != Class::Unwalked) {
        if let Some(estimate) = &place.estimate {
            kept.add(
                estimate.chance,
                meets(truth, board, places, Place::new(place.x, place.y)),
            );
        }
    }
}

fn survey(seed: u64) -> Ground {
    let mut random = Pcg64::seed_from_u64(seed);
    let winter = orchard(&mut random);
    let Drawn {
        mut params, mut board, ..
    } = drawn(seed, Manner::Rough);
    params.law = Law::Orchard(winter.clone());
    board.sensitivity.half += 6.0;
    params.station.sensitivity.half += 6.0;
    let drawn = Drawn {
        seed,
        params: params.clone(),
        board: board.clone(),
    };
    let scenario = walk_scenario(
        &drawn,
        Route::Loops,
        random.random_range(90.0..260.0),
        (seed * 37 % 360) as f64,
    );
    let setup = setup_of(&scenario, seed);
    let rows = samples(&scenario, &setup, seed);
    let mut found = estimates(&rows, &setup, &Known::default(), None, |_| false);
    let mut ground = Ground::default();
    let Some(Ok(plain)) = found.places.clone() else {
        return ground;
    };
    let world = |change: &dyn Fn(&mut Orchard)| {
        let mut orchard = winter.clone();
        change(&mut orchard);
        Truth::of(World::new(
            WorldParams {
                law: Law::Orchard(orchard),
                ..params.clone()
            },
            seed,
        ))
    };
    let as_walked = world(&|_| ());
    score(&as_walked, &board, &plain, &mut ground.walked);
    let mut under = |wanted: Wanted, truth: &Truth, kept: &mut Kept| {
        found.assume(&wanted, &setup);
        if let Some(Ok(places)) = &found.places {
            score(truth, &board, places, kept);
        }
    };
    let up = [2.0, 3.0, 4.0][(seed % 3) as usize];
    let wanted = Wanted {
        mounted: Some(Metres(up)),
        ..Wanted::default()
    };
    under(
        wanted,
        &world(&|orchard| orchard.board_height = up),
        &mut ground.mounted,
    );
    // The surveyor's figure is right on average over the ground of the map.
    let (bare, leafy) = (Law::Orchard(winter.clone()), {
        let mut leafy = winter.clone();
        leafy.rows.density = (2.5 * winter.rows.density).min(1.0);
        leafy
    });
    let dense = leafy.rows.density;
    let leafy = Law::Orchard(leafy);
    let more = |place: &farpace::stats::places::Place| {
        let place = Place::new(place.x, place.y);
        leafy.foliage_loss(place) - bare.foliage_loss(place)
    };
    let mean = plain.places.iter().map(more).sum::<f64>() / plain.places.len().max(1) as f64;
    let wanted = Wanted {
        leaves: Some(Db(mean)),
        ..Wanted::default()
    };
    under(
        wanted,
        &world(&|orchard| orchard.rows.density = dense),
        &mut ground.leaves,
    );
    second(seed, &plain, &as_walked, &params, &board, &mut ground);
    ground
}

/// Sets up every place of the shortlists in truth: the ground as seen from there, with shadows of its own.
fn second(seed: u64, places: &Places, truth: &Truth, params: &WorldParams, board: &Board, ground: &mut Ground) {
    let edge = |pick: fn(&farpace::stats::places::Place) -> f64, choose: fn(f64, f64) -> f64, from: f64| {
        places.places.iter().map(pick).fold(from, choose)
    };
    let frame = Frame {
        west: edge(|place| place.x, f64::min, f64::INFINITY),
        south: edge(|place| place.y, f64::min, f64::INFINITY),
        east: edge(|place| place.x, f64::max, f64::NEG_INFINITY),
        north: edge(|place| place.y, f64::max, f64::NEG_INFINITY),
    };
    let all = frame.grid(15.0);
    let unserved: Vec<(f64, f64)> = all
        .iter()
        .copied()
        .filter(|place| !meets(truth, board, places, Place::new(place.0, place.1)))
        .collect();
    let serves = |at: (f64, f64), number: u64| {
        let mut params = params.clone();
        if let Law::Orchard(orchard) = &mut params.law {
            orchard.rows.anchor -= at.1;
            orchard.rows.from_east -= at.0;
            orchard.rows.to_east -= at.0;
        }
        params.patches.clear();
        let there = Truth::of(World::new(params, seed + 100_003 * (number + 1)));
        let newly = unserved
            .iter()
            .filter(|place| meets(&there, board, places, Place::new(place.0 - at.0, place.1 - at.1)))
            .count();
        newly as f64 / all.len().max(1) as f64
    };
    if let Ok(relays) = &places.second.relays {
        for relay in relays {
            let place = Place::new(relay.offset.0, relay.offset.1);
            ground
                .relays
                .add(relay.promise.served, meets(truth, board, places, place));
        }
    }
    let Ok(stations) = &places.second.stations else {
        return;
    };
    let mut first = None;
    for (index, station) in stations.iter().enumerate() {
        let newly = serves(station.offset, index as u64);
        first = first.or(Some(newly));
        let tally = &mut ground.second;
        let held = (station.promise.low..=station.promise.high).contains(&newly);
        *tally = (
            tally.0 + 1,
            tally.1 + u32::from(held),
            tally.2 + station.promise.score,
            tally.3 + newly,
        );
    }
    if let Some(first) = first {
        let arbitrary = all[(seed as usize * 7919) % all.len()];
        ground.better = (1, u32::from(first >= serves(arbitrary, 99)));
    }
}

#[test]
#[ignore = "calibration: minutes; run with --release"]
fn assumed_maps_and_shortlists_come_true() {
    let first = number("CALIBRATION_FIRST", 20_000);
    let surveys = number("CALIBRATION_SURVEYS", 120);
    let run = |part: u64| {
        let mut ground = Ground::default();
        for seed in (first..first + surveys).filter(|seed| seed % 2 == part) {
            ground.merge(&survey(seed));
        }
        ground
    };
    let found = std::thread::scope(|scope| {
        let other = scope.spawn(|| run(0));
        let mut own = run(1);
        own.merge(&other.join().expect("no survey panics"));
        own
    });
    println!("{surveys} surveys of orchards from seed {first}");
    found.walked.print("as walked");
    found.mounted.print("mounted higher");
    found.leaves.print("in leaf");
    found.relays.print("relays of the shortlist, themselves in reach");
    let (listed, inside, promised, newly) = found.second;
    println!(
        "second stations: {listed} listed, newly served promised {:.1} % came {:.1} %, inside the interval {:.1} %; the first \
         serves no less than an arbitrary place in {} of {}",
        100.0 * promised / f64::from(listed.max(1)),
        100.0 * newly / f64::from(listed.max(1)),
        100.0 * f64::from(inside) / f64::from(listed.max(1)),
        found.better.1,
        found.better.0
    );
    // What is assumed makes nothing surer than the map as walked was right to be.
    let surer = |kept: &Kept| (kept.0[9].1 - kept.0[9].2 as f64) / kept.0[9].0.max(1) as f64;
    for kept in [&found.mounted, &found.leaves] {
        assert!(
            surer(kept) <= surer(&found.walked).max(0.0) + 0.03,
            "{:?} against {:?} as walked",
            kept.0[9],
            found.walked.0[9]
        );
    }
}
