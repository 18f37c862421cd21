//! Surveys of the same ground looked at together: what is told of surveys whose truth is known.
//!
//! `cargo test --test together -- --ignored --nocapture` prints how often the averages hold.

#![expect(clippy::unwrap_used, reason = "a test's helper fails by panicking, as the test does")]

use farpace::findings::curves::Known;
use farpace::findings::estimates::{Estimates, estimates};
use farpace::findings::side::Side;
use farpace::findings::together::member::Member;
use farpace::findings::together::mind::Mind;
use farpace::findings::together::pair::{Better, NoLevels, Pair};
use farpace::findings::together::whole::{Together, together};
use farpace::findings::together::{json, say, text};
use farpace::ground::local::{LocalPlane, Offset};
use farpace::ground::{Position, separation};
use farpace::stats::difference::{Average, NoAverage};
use farpace::survey::exchange::Heard;
use farpace::survey::sample::{Activity, BootName, Place, Sample, Samples};
use farpace::survey::setup::Setup;
use farpace::units::{Degrees, Elapsed, Metres, UtcMs};

/// Numbers from a linear congruential generator (Knuth's MMIX constants).
struct Luck(u64);

impl Luck {
    fn share(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// A standard normal number (Box and Muller 1958).
    fn normal(&mut self) -> f64 {
        (-2.0 * self.share().ln()).sqrt() * (std::f64::consts::TAU * self.share()).cos()
    }

    /// A Rayleigh fade, dB about its mean power.
    fn fade_db(&mut self) -> f64 {
        10.0 * (-self.share().ln()).max(1e-9).log10()
    }
}

/// A survey made up: where it went, and what is true of it.
#[derive(Clone)]
struct Trip {
    board: &'static str,
    day: i64,
    /// dB by which it is stronger than the ground's own level.
    gain_db: f64,
    /// Metres of the walk, and a stop every so many.
    metres: f64,
    stop_every: Option<f64>,
    /// Metres by which all of it lies north.
    north: f64,
    /// Whether the station tells what it heard.
    there: bool,
    seed: u64,
    station: (f64, f64),
}

impl Default for Trip {
    fn default() -> Self {
        Self {
            board: "fern",
            day: 0,
            gain_db: 0.0,
            metres: 240.0,
            stop_every: Some(80.0),
            north: 0.0,
            there: true,
            seed: 1,
            station: (0.0, 0.0),
        }
    }
}

fn origin() -> Position {
    Position::new(Degrees(52.1), Degrees(-2.9)).unwrap()
}

fn at(east: f64, north: f64) -> Position {
    let offset = Offset {
        east: Metres(east),
        north: Metres(north),
    };
    LocalPlane::about(origin()).position(offset).unwrap()
}

/// The ground's own shadowing, dB: the same on every day, alike within some 20 m.
fn shadow(east: f64, world: u64) -> f64 {
    let phase = world as f64 * 1.7;
    4.0 * ((east / 23.0 + phase).sin() + (east / 57.0 + 2.0 * phase).sin()) / 1.4
}

impl Trip {
    fn make(&self, world: u64) -> (Samples, Setup) {
        let mut luck = Luck(self.seed.wrapping_mul(977) + world);
        let mut setup = Setup {
            title: format!("trip {}", self.seed),
            ..Setup::default()
        };
        setup.station.position = Some(at(self.station.0, self.station.1));
        let mut samples = Samples {
            boots: vec![BootName {
                board: self.board.to_owned(),
                boot: 1,
            }],
            facts: vec![farpace::survey::fixes::Facts {
                alt_m: None,
                sigma: Some((1.5, farpace::wire::SigmaFrom::Gst)),
                quality: Some(1),
                sats: None,
                hdop: None,
                speed_mps: Some(1.3),
                course_deg: Some(90.0),
            }],
            ..Samples::default()
        };
        let (mut east, mut run, mut left) = (5.0, 1, 0);
        let mut next = self.stop_every.unwrap_or(f64::INFINITY);
        let mut drift = (0.0, 0.0);
        for n in 1_u64.. {
            let activity = if left > 0 {
                left -= 1;
                Activity::Point(samples.points.len() as u32 - 1)
            } else if east >= next {
                run += 1;
                left = 100;
                next += self.stop_every.unwrap();
                samples.points.push(format!("P{}", samples.points.len() + 1));
                Activity::Point(samples.points.len() as u32 - 1)
            } else {
                run += u32::from(matches!(
                    samples.rows.last().map(|row| row.activity),
                    Some(Activity::Point(_))
                ));
                east += 0.13;
                Activity::Walk
            };
            if east > self.metres {
                break;
            }
            drift.0 = 0.995 * drift.0 + 0.1 * luck.normal();
            drift.1 = 0.995 * drift.1 + 0.1 * luck.normal();
            let position = at(east + drift.0, self.north + drift.1);
            let far = east.hypot(self.north).max(1.0);
            let level = -40.0 - 25.0 * far.log10() + 10.0 + shadow(east, world) + self.gain_db + luck.fade_db();
            let heard = level > -92.0 + luck.normal();
            let way = separation(position, setup.station.position.unwrap());
            samples.rows.push(Sample {
                utc: UtcMs(1_778_922_600_000 + self.day * 86_400_000 + n as i64 * 100),
                at: Elapsed(n * 100_000),
                boot: 0,
                run,
                n,
                echo: heard.then(|| Heard {
                    here: Some(level.round() as f32),
                    there: self.there.then(|| (level - 2.0).round() as f32),
                    ..Heard::default()
                }),
                channel: Some(6),
                place: Some(Place {
                    position,
                    facts: 0,
                    distance: Some(way.distance),
                    bearing: way.bearing,
                }),
                activity,
                excluded: None,
            });
        }
        (samples, setup)
    }
}

struct Made {
    samples: Samples,
    setup: Setup,
    estimates: Estimates,
}

fn made(trip: &Trip, world: u64) -> Made {
    let (samples, setup) = trip.make(world);
    let estimates = estimates(&samples, &setup, &Known::default(), None, |_| false);
    Made {
        samples,
        setup,
        estimates,
    }
}

fn compared(trips: &[&Trip], world: u64) -> Together {
    let all: Vec<Made> = trips.iter().map(|trip| made(trip, world)).collect();
    let members: Vec<Member<'_>> = all
        .iter()
        .map(|made| Member {
            name: "trip",
            samples: &made.samples,
            setup: &made.setup,
            estimates: &made.estimates,
        })
        .collect();
    together(&members)
}

fn pair_of(first: &Trip, second: &Trip) -> Pair {
    compared(&[first, second], 3).pairs.remove(0)
}

fn another() -> Trip {
    Trip {
        day: 21,
        seed: 2,
        ..Trip::default()
    }
}

#[test]
fn a_weaker_day_is_told_by_its_decibels() {
    let weaker = Trip {
        gain_db: -6.0,
        ..another()
    };
    // Limits of 95 %: of twenty worlds, all but a few.
    let levels: Vec<Average> = (1..=20)
        .map(|world| compared(&[&Trip::default(), &weaker], world).pairs.remove(0))
        .map(|pair| pair.level.unwrap().unwrap())
        .collect();
    let held = levels.iter().filter(|level| level.interval.holds(-6.0)).count();
    assert!(held >= 17, "{levels:?}");
    let pair = pair_of(&Trip::default(), &weaker);
    let level = pair.level.unwrap().unwrap();
    assert!(level.interval.width() < 4.0, "{level:?}");
    assert!(pair.places.len() >= 18, "{} places", pair.places.len());
    assert_eq!(pair.count(Better::Second), 0);
    assert!(pair.count(Better::First) >= 3, "{}", say::answer(&pair));
    // The other way round is the same with its sign turned.
    let turned = pair_of(&weaker, &Trip::default()).level.unwrap().unwrap();
    assert!((turned.value + level.value).abs() < 0.5, "{turned:?} {level:?}");
}

#[test]
fn a_survey_against_itself_differs_nowhere() {
    let trip = Trip::default();
    let pair = pair_of(&trip, &trip);
    let level = pair.level.unwrap().unwrap();
    assert!(level.value.abs() < 1e-9 && level.interval.holds(0.0), "{level:?}");
    assert_eq!(pair.count(Better::NotTold), pair.places.len());
    assert!(pair.alone.iter().all(Vec::is_empty));
    assert!(
        pair.stops
            .iter()
            .all(|stop| stop.apart_m == Some(0.0) && stop.found.delivery.value == Some(0.0))
    );
    assert_eq!(pair.mind[0], Mind::HoursApart(0));
}

#[test]
fn points_are_matched_by_where_they_are() {
    let pair = pair_of(&Trip::default(), &another());
    let names: Vec<&str> = pair.stops.iter().map(|stop| stop.names[1].as_str()).collect();
    assert_eq!(names, ["P1", "P2"]);
    assert!(
        pair.stops
            .iter()
            .all(|stop| stop.found.of.map(|of| of.sent) == [101, 101])
    );
    // The same names at other places are not the same points.
    let elsewhere = Trip {
        stop_every: Some(55.0),
        ..another()
    };
    let pair = pair_of(&Trip::default(), &elsewhere);
    let apart: Vec<(&str, i64)> = pair
        .namesakes
        .iter()
        .map(|namesake| (namesake.name.as_str(), namesake.apart_m.round() as i64))
        .collect();
    assert_eq!(apart.len(), 2, "{apart:?}");
    assert!((20..=30).contains(&apart[0].1), "{apart:?}");
}

#[test]
fn what_cannot_be_compared_is_said() {
    let far = Trip {
        north: 400.0,
        ..another()
    };
    let pair = pair_of(&Trip::default(), &far);
    assert!(matches!(pair.mind[0], Mind::NothingShared(Some(apart)) if (380.0..=410.0).contains(&apart)));
    assert_eq!(pair.delivery, Err(NoAverage::FewPatches(0)));
    assert!(
        say::answer(&pair).contains("No square of 10 m was measured in both"),
        "{}",
        say::answer(&pair)
    );
    // Another board without the station's readings: its own meter compares with no other's.
    let other = Trip {
        board: "yew",
        there: false,
        ..another()
    };
    let pair = pair_of(&Trip::default(), &other);
    assert_eq!(pair.side, Err(NoLevels::OwnMeters));
    assert!(pair.level.is_none() && pair.places.iter().all(|place| place.found.level.value.is_none()));
    assert!(pair.mind.contains(&Mind::Boards) && pair.delivery.is_ok());
    // The same board's own meter does.
    let same = Trip {
        there: false,
        ..another()
    };
    assert_eq!(pair_of(&same, &same).side, Ok(Side::Here));
    // Another station.
    let moved = Trip {
        station: (60.0, 0.0),
        ..another()
    };
    let pair = pair_of(&Trip::default(), &moved);
    let stations = pair.mind.iter().find_map(|what| match what {
        Mind::StationsApart(apart) => Some(*apart),
        _ => None,
    });
    assert!((stations.unwrap() - 60.0).abs() < 0.01);
    assert!(pair.places.len() >= 18, "places stay where they lie");
}

#[test]
fn a_short_walk_has_places_and_no_average() {
    let short = Trip {
        metres: 45.0,
        stop_every: None,
        ..Trip::default()
    };
    let pair = pair_of(&short, &another());
    assert!(matches!(pair.delivery, Err(NoAverage::FewPatches(patches)) if patches < 4));
    assert!(!pair.places.is_empty());
    assert_eq!(
        say::answer(&pair).matches("four are needed").count(),
        1,
        "{}",
        say::answer(&pair)
    );
}

#[test]
fn table_and_json_tell_the_same_figures() {
    let third = Trip {
        board: "yew",
        day: 2,
        seed: 5,
        ..Trip::default()
    };
    let found = compared(&[&Trip::default(), &another(), &third], 3);
    assert_eq!(found.pairs.len(), 2);
    let (table, values) = (text::text(&found), json::json(&found));
    for (pair, value) in found.pairs.iter().zip(values["pairs"].as_array().unwrap()) {
        let answer = value["answer"].as_str().unwrap();
        assert_eq!(answer, say::answer(pair));
        assert!(table.contains(answer), "{table}");
        assert_eq!(value["places"].as_array().unwrap().len(), pair.places.len());
        for (place, value) in pair.places.iter().zip(value["places"].as_array().unwrap()) {
            assert_eq!(
                value["delivery_difference"]["value"].as_f64(),
                place.found.delivery.value
            );
            assert_eq!(value["level_difference_db"]["low"].as_f64(), place.found.level.low);
        }
    }
    assert!(!table.contains("NaN") && !values.to_string().contains("NaN"));
    assert!(table.contains("C (yew) against A (fern)"), "{table}");
}

#[test]
fn nothing_at_all_is_compared_without_a_panic() {
    let none = Made {
        samples: Samples::default(),
        setup: Setup::default(),
        estimates: Estimates::default(),
    };
    let member = Member {
        name: "none",
        samples: &none.samples,
        setup: &none.setup,
        estimates: &none.estimates,
    };
    assert!(together(&[]).pairs.is_empty());
    let found = together(&[member, member]);
    assert!(found.pairs.is_empty());
    assert!(text::text(&found).contains("nothing to compare"));
}

/// How often the averages' intervals hold, over worlds with a gain of their own.
#[test]
#[ignore = "minutes"]
fn how_often_averages_hold() {
    let (mut level, mut sure_wrong, mut sure, mut places, trips) = (0, 0, 0, 0, 100);
    for world in 0..trips {
        let gain_db = (world % 9) as f64 - 4.0;
        let second = Trip {
            gain_db,
            seed: 1000 + world,
            ..another()
        };
        let first = Trip {
            seed: 5000 + world,
            ..Trip::default()
        };
        let pair = compared(&[&first, &second], world).pairs.remove(0);
        let found = pair.level.unwrap().unwrap();
        level += u32::from(found.interval.holds(gain_db));
        for place in &pair.places {
            places += 1;
            let wrong = match place.better {
                Better::NotTold => continue,
                Better::First => gain_db >= 0.0,
                Better::Second => gain_db <= 0.0,
            };
            sure += 1;
            sure_wrong += u32::from(wrong);
        }
    }
    println!("level on average: {level} of {trips} hold; surely better: {sure} of {places} places, wrong {sure_wrong}");
    assert!(level >= 90, "{level}");
    assert!(sure_wrong * 50 <= sure, "{sure_wrong} of {sure}");
}
