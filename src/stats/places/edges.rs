//! What the map says where there is little or odd to go by.

use proptest::prelude::*;

use super::answer::{Class, Map};
use super::caveat::Caveat;
use super::exchange::Exchange;
use super::goal::{Change, Goal, Receiver};
use super::intake::Intake;
use super::model::{Empty, Model};
use super::next_walk::{Frame, next_walk};
use super::relay::{Role, second_places, shortlist};
use super::spots::spots;

const STATION: (f64, f64) = (10.0, 50.0);
const FRAME: Frame = Frame {
    west: 0.0,
    south: 0.0,
    east: 160.0,
    north: 100.0,
};

fn goal() -> Goal {
    Goal::new(0.95, 10.0).unwrap()
}

/// Rows of a walk in lanes; levels fall with distance and ripple, and are lost below -98 dBm.
fn lanes(count: usize, power: f64) -> Vec<Exchange> {
    (0..count)
        .map(|i| {
            let along = i as f64 * 0.125;
            let (lane, within) = ((along / 140.0).floor(), along % 140.0);
            let east = lane % 2.0 == 0.0;
            let (x, y) = (if east { 10.0 + within } else { 150.0 - within }, 12.0 + 17.0 * lane);
            let distance = (x - STATION.0).hypot(y - STATION.1).max(1.0);
            let ripple = 4.0 * (x / 9.0).sin() * (y / 7.0).cos() + 3.0 * (i as f64 * 2.399).sin();
            let level = power - 30.0 * (distance / 10.0).log10() + ripple;
            let lost = level < -98.0;
            Exchange {
                x,
                y,
                t: i as f64 / 10.0,
                level: (!lost).then(|| level.round()),
                lost,
                speed: Some(1.25),
                course: Some(if east { 90.0 } else { 270.0 }),
            }
        })
        .collect()
}

fn built(rows: &[Exchange]) -> Model {
    let binned = Intake::new(rows, STATION, -98.0).records();
    Model::build(&binned, STATION, Receiver::at(-98.0)).unwrap()
}

#[test]
fn without_exchanges_all_ground_is_unwalked() {
    let binned = Intake::new(&[], STATION, -98.0).records();
    let map = Map::from(Model::build(&binned, STATION, Receiver::at(-98.0)));
    assert!(matches!(map, Map::Empty(Empty::NoExchanges)));
    let answers = map.answer(&goal(), &FRAME.grid(20.0));
    assert_eq!(answers.len(), 40);
    assert!(
        answers
            .iter()
            .all(|place| place.class == Class::Unwalked && place.estimate.is_none())
    );
    assert!(spots(&answers, 40.0, 10).is_empty());
}

#[test]
fn a_station_without_a_place_is_refused() {
    let binned = Intake::new(&lanes(200, -60.0), STATION, -98.0).records();
    assert_eq!(
        Model::build(&binned, (f64::NAN, 0.0), Receiver::at(-98.0)).err(),
        Some(Empty::NoStation)
    );
}

#[test]
fn a_few_seconds_leave_nearly_all_unwalked_and_nothing_good_by_chance() {
    let model = built(&lanes(120, -60.0));
    assert!(model.records().len() < 10);
    assert!(matches!(
        model.caveats(&goal())[0],
        Caveat::FewRecords {
            records: 1..10,
            needed: 10
        }
    ));
    let answers = model.answer(&goal(), &FRAME.grid(4.0));
    let unwalked = answers.iter().filter(|place| place.class == Class::Unwalked).count();
    assert!(unwalked * 100 > answers.len() * 90, "{unwalked}");
}

#[test]
fn where_all_was_lost_nothing_is_good_and_walked_ground_is_poor() {
    let rows: Vec<Exchange> = lanes(3000, -60.0)
        .into_iter()
        .map(|row| Exchange {
            lost: true,
            level: None,
            ..row
        })
        .collect();
    let model = built(&rows);
    assert!(model.caveats(&goal()).contains(&Caveat::NothingDelivered));
    assert_eq!(model.half_level(), -98.0);
    let walked: Vec<(f64, f64)> = model.records().iter().map(|record| (record.x, record.y)).collect();
    for place in model.answer(&goal(), &walked) {
        assert_eq!(place.class, Class::Poor, "{place:?}");
    }
    assert!(
        model
            .answer(&goal(), &FRAME.grid(5.0))
            .iter()
            .all(|place| place.class != Class::Good)
    );
}

#[test]
fn where_nothing_was_lost_the_nominal_level_stands() {
    let model = built(&lanes(3000, -30.0));
    assert_eq!(model.half_level(), -98.0);
    assert!(model.caveats(&goal()).contains(&Caveat::LimitTaken {
        half_level: -98.0,
        tested: false
    }));
}

#[test]
fn a_limit_that_was_taken_is_said_so_though_messages_were_lost() {
    let model = built(&lanes(3000, -75.0));
    let sensitivity = |learned| super::need::Sensitivity {
        half_level: -98.0,
        half_level_sd: 3.0,
        cautious: -98.0,
        scale: 1.0,
        learned,
        least_lost: 0.0,
    };
    assert!(model.records().iter().any(|record| record.lost() > 0));
    let said = |learned| {
        let need = model.need(goal().share(), &sensitivity(learned)).unwrap();
        let caveats = model.caveats(&goal().needing(need));
        caveats
            .iter()
            .any(|caveat| matches!(caveat, Caveat::LimitTaken { tested: true, .. }))
    };
    assert!(said(false) && !said(true));
}

#[test]
fn a_goal_that_background_loss_breaks_has_no_good_place_and_says_why() {
    let rows: Vec<Exchange> = lanes(3000, -40.0)
        .into_iter()
        .enumerate()
        .map(|(i, row)| Exchange {
            lost: row.lost || i % 12 == 0,
            ..row
        })
        .collect();
    let model = built(&rows);
    let strict = Goal::new(0.95, 0.0).unwrap();
    assert!(
        model
            .caveats(&strict)
            .iter()
            .any(|caveat| matches!(caveat, Caveat::BackgroundLoss { share } if (0.05..0.12).contains(share)))
    );
    for place in model.answer(&strict, &FRAME.grid(20.0)) {
        let estimate = place.estimate.unwrap();
        assert_eq!((estimate.chance, estimate.spare), (0.0, None));
    }
    assert!(
        next_walk(&model, &strict, (50.0, 50.0), &FRAME, |_, _| 1.0)
            .legs
            .is_empty()
    );
    assert!(model.threshold(&Goal::new(0.8, 0.0).unwrap()).is_some());
}

#[test]
fn a_weaker_board_is_a_larger_margin_and_an_uncertain_one_is_less_sure() {
    let model = built(&lanes(4000, -62.0));
    let places = FRAME.grid(8.0);
    let chances = |goal: &Goal| -> Vec<f64> {
        model
            .answer(goal, &places)
            .iter()
            .map(|place| place.estimate.unwrap().chance)
            .collect()
    };
    let margin = chances(&Goal::new(0.95, 14.0).unwrap());
    let weaker = chances(&goal().with(Change { gain: -4.0, sd: 0.0 }).unwrap());
    assert_eq!(margin, weaker);
    let unsure = chances(&goal().with(Change { gain: -4.0, sd: 6.0 }).unwrap());
    for (sure, unsure) in margin.iter().zip(&unsure) {
        assert!((unsure - 0.49).abs() <= (sure - 0.49).abs() + 1e-9, "{sure} {unsure}");
    }
    assert!(
        unsure
            .iter()
            .zip(&margin)
            .any(|(unsure, sure)| (unsure - sure).abs() > 0.05)
    );
}

#[test]
fn going_on_from_an_earlier_map_stays_near_a_full_rebuild() {
    let rows = lanes(6000, -62.0);
    let split = 5700;
    let mut intake = Intake::new(&rows[..split], STATION, -98.0);
    let before = Model::build(&intake.records(), STATION, Receiver::at(-98.0)).unwrap();
    for row in &rows[split..] {
        intake.push(*row);
    }
    let resumed = before.resume(&intake.records()).unwrap();
    let rebuilt = Model::build(&intake.records(), STATION, Receiver::at(-98.0)).unwrap();
    assert_eq!(resumed.theta(), before.theta());
    assert_eq!(resumed.hold_out(), before.hold_out());
    let places = FRAME.grid(4.0);
    let apart: Vec<f64> = resumed
        .answer(&goal(), &places)
        .iter()
        .zip(rebuilt.answer(&goal(), &places))
        .map(|(a, b)| (a.estimate.unwrap().chance - b.estimate.unwrap().chance).abs())
        .collect();
    let mean = apart.iter().sum::<f64>() / apart.len() as f64;
    let most = apart.iter().copied().fold(0.0, f64::max);
    assert!(mean < 0.003 && most < 0.028, "mean {mean} most {most}");
}

#[test]
fn the_next_walk_leads_into_doubt_and_a_relay_into_served_ground() {
    let model = built(&lanes(2400, -62.0));
    let plan = next_walk(&model, &goal(), (70.0, 40.0), &FRAME, |_, _| 1.0);
    assert!(!plan.legs.is_empty() && plan.doubt > 0.0);
    assert!(plan.legs.windows(2).all(|pair| pair[0].score >= pair[1].score));
    assert!(plan.legs.iter().all(|leg| leg.settles > 0.0 && leg.settles < 1.0));
    let wanted = next_walk(
        &model,
        &goal(),
        (70.0, 40.0),
        &FRAME,
        |_, y| if y > 70.0 { 1.0 } else { 0.0 },
    );
    assert!(wanted.legs[0].y > 40.0, "{:?}", wanted.legs);
    assert!(wanted.doubt < plan.doubt);

    let candidates = FRAME.grid(20.0);
    let ground: Vec<((f64, f64), f64)> = candidates.iter().map(|place| (*place, 1.0)).collect();
    let relay = second_places(&model, &goal(), Role::Relay, &candidates, &ground);
    let second = second_places(&model, &goal(), Role::SecondStation, &candidates, &ground);
    let answers = model.answer(&goal(), &candidates);
    for ((relay, second), place) in relay.iter().zip(&second).zip(&answers) {
        assert!(relay.score <= second.score && second.high <= 1.0);
        for promise in [relay, second] {
            assert!(
                promise.low <= promise.score && promise.score <= promise.high,
                "{promise:?}"
            );
        }
        assert!(relay.score == 0.0 || place.estimate.unwrap().chance >= 0.5);
    }
    let short = shortlist(&candidates, &relay, 40.0, 0.001, 5);
    assert!(short.len() <= 5 && !short.is_empty());
    assert!(
        short
            .windows(2)
            .all(|pair| relay[pair[0]].score >= relay[pair[1]].score)
    );
    let none: Vec<((f64, f64), f64)> = candidates.iter().map(|place| (*place, 0.0)).collect();
    assert!(
        second_places(&model, &goal(), Role::Relay, &candidates, &none)
            .iter()
            .all(|promise| promise.score == 0.0)
    );
}

fn odd_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -200.0f64..200.0,
        1 => Just(0.0),
        1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, -1e300, 1e6, -1e6, 1e-300]),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn odd_input_gives_finite_answers_or_none(
        rows in prop::collection::vec(
            (odd_number(), odd_number(), odd_number(), prop::option::of(odd_number()), any::<bool>(),
             prop::option::of(odd_number()), prop::option::of(odd_number())),
            0..60),
        station in (odd_number(), odd_number()),
        place in (odd_number(), odd_number()),
    ) {
        let rows: Vec<Exchange> = rows
            .into_iter()
            .map(|(x, y, t, level, lost, speed, course)| Exchange { x, y, t, level, lost, speed, course })
            .collect();
        let binned = Intake::new(&rows, station, -98.0).records();
        let map = Map::from(Model::build(&binned, station, Receiver::at(-98.0)));
        for answer in map.answer(&goal(), &[place, (0.0, 0.0)]) {
            if let Some(estimate) = answer.estimate {
                prop_assert!(estimate.chance.is_finite() && (0.0..=1.0).contains(&estimate.chance));
                prop_assert!(estimate.level.is_finite() && estimate.sd.is_finite() && estimate.sd > 0.0);
            }
        }
        if let Map::Fitted(model) = map {
            let _ = next_walk(&model, &goal(), place, &FRAME, |_, _| 1.0);
        }
        let _ = super::locate::locate(&super::courses::Courses::gather(&rows), Receiver::at(-98.0), Some(station));
    }
}
