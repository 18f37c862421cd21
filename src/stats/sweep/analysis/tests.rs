use super::*;
use crate::stats::cells::{Cell, SCurve};
use crate::stats::special::student_t_quantile;
use crate::stats::sweep::steps::Exchange;

const FIXTURE: &str = include_str!("../../../../tests/reference/sweep.json");

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

/// The fixture's values carry seven digits.
fn near(got: f64, expected: f64, what: &str) {
    assert!(
        (got - expected).abs() <= 1e-6 * expected.abs().max(1e-3),
        "{what}: {got} for {expected}"
    );
}

fn fixture() -> (serde_json::Value, Prepared) {
    let fixture: serde_json::Value = serde_json::from_str(FIXTURE).unwrap();
    let board = &fixture["board"];
    let curve = SCurve::new(board["m"].as_f64().unwrap(), board["s"].as_f64().unwrap()).unwrap();
    let sweep_model = SweepModel::new(curve, board["f"].as_f64().unwrap());
    let cells: Vec<(Cell, f64)> = fixture["hist"]
        .as_array()
        .unwrap()
        .iter()
        .map(|step| {
            let readings = numbers(&step["values"]).into_iter().map(|v| v as i32);
            let cell = Cell {
                readings: readings.zip(numbers(&step["counts"])).collect(),
                unread: 0.0,
                lost: step["lost"].as_f64().unwrap(),
            };
            (cell, step["weight"].as_f64().unwrap())
        })
        .collect();
    let model = sweep_model.pooled(&cells).unwrap();
    let steps = numbers(&fixture["theta_deg"])
        .into_iter()
        .zip(&cells)
        .enumerate()
        .map(|(place, (turn_deg, (cell, weight)))| PreparedStep {
            turn_deg,
            time_s: place as f64,
            exchanges: cell.exchanges() as usize,
            delivered: cell.delivered() as usize,
            effective: weight * cell.exchanges(),
            log_likelihood: model.log_likelihood(cell, *weight),
        })
        .collect();
    let prepared = Prepared {
        steps,
        k_db: model.table().k_db(),
        offset: None,
    };
    (fixture, prepared)
}

#[test]
fn agrees_with_the_reference_sweep() {
    let (fixture, prepared) = fixture();
    let expect = &fixture["expect"];
    near(prepared.k_db, fixture["pooled_K"].as_f64().unwrap(), "K");
    let turns: Vec<f64> = prepared.steps.iter().map(|step| step.turn_deg).collect();
    let likelihoods: Vec<Vec<f64>> = prepared.steps.iter().map(|step| step.log_likelihood.clone()).collect();
    let fit = fit::fit(&turns, &likelihoods, None, false).unwrap();
    assert_eq!(fit.order as u64, expect["order"].as_u64().unwrap());
    for (got, expected) in fit.scale_weights.iter().zip(numbers(&expect["w"])) {
        near(*got, expected, "weight of a scale");
    }
    near(fit.direction_p.unwrap(), expect["p_dir"].as_f64().unwrap(), "p");
    near(fit.tau_db, expect["tau"].as_f64().unwrap(), "tau");
    let drift = numbers(&expect["drift"]);
    // Nearly nothing: judged on the scale of its own standard deviation.
    assert!((fit.drift_db.unwrap().0 - drift[0]).abs() < 1e-6 * drift[1]);
    near(fit.drift_db.unwrap().1, drift[1], "drift sd");
    assert_eq!(fit.sharp_null, expect["nd_at_least"].as_bool().unwrap());
    for (place, (level, sd)) in numbers(&fixture["pattern_every_30deg"])
        .into_iter()
        .zip(numbers(&fixture["pattern_sd"]))
        .enumerate()
    {
        let turn = 30.0 * place as f64;
        near(fit.at(turn), level, "pattern");
        near(fit.standard_deviation_at(turn), sd, "pattern sd");
    }
    let features = features(&fit);
    near(features.strongest.centre_deg, expect["peak"].as_f64().unwrap(), "peak");
    near(
        features.strongest.half_width_deg,
        expect["peak_half"].as_f64().unwrap(),
        "peak half-width",
    );
    let interval = |got: Estimate, key: &str| {
        let expected = numbers(&expect[format!("{key}_q")]);
        near(got.low, expected[0], key);
        near(got.high.unwrap(), expected[1], key);
    };
    interval(features.beamwidth_deg, "bw");
    interval(features.within_3_db_deg, "share");
    interval(features.picked_front_to_back_db, "fb");
    interval(features.peak_to_null_db, "nd");
    near(
        features.within_3_db_deg.value,
        expect["share"].as_f64().unwrap(),
        "share",
    );
    near(
        features.picked_front_to_back_db.value,
        expect["fb"].as_f64().unwrap(),
        "front to back",
    );
    near(features.peak_to_null_db.value, expect["nd"].as_f64().unwrap(), "null");
    let closed = close(&prepared.steps, (fit.tau_db, fit.freedom)).unwrap();
    let expected = numbers(&fixture["closure"]);
    near(closed.difference_db, expected[0], "closure");
    near(closed.standard_error_db, expected[1], "closure error");
}

#[test]
fn the_reference_sweep_is_said_so() {
    let (_, prepared) = fixture();
    let figures = figures(&prepared, Direction::Here);
    assert!(matches!(figures.directivity, Directivity::Shown { p, .. } if p < 0.01));
    assert!(figures.strongest.value().unwrap().holds(1.0_f64.to_degrees()));
    // The width's interval is 155° wide.
    assert!(matches!(figures.beamwidth_deg.why(), Some(WhyNot::TooWide { .. })));
    let pattern = figures.pattern.as_ref().unwrap();
    assert_eq!(
        (pattern.level_dbm.len(), pattern.low_dbm.len(), pattern.high_dbm.len()),
        (360, 360, 360)
    );
    for turn in 0..360 {
        assert!(pattern.low_dbm[turn] < pattern.level_dbm[turn] && pattern.level_dbm[turn] < pattern.high_dbm[turn]);
    }
    assert_eq!(figures.steps.len(), 13);
    assert!(figures.closure.is_ok());
    assert!(student_t_quantile(0.975, figures.spread().1).is_some());
}

/// A sweep without scatter: forty echoes a turn at the pattern's level, rounded, with a slow swing of ±2 dB.
fn tidy(turns: &[f64], pattern: impl Fn(f64) -> f64, floor_dbm: f64) -> Vec<Step> {
    turns
        .iter()
        .enumerate()
        .map(|(place, turn)| Step {
            turn_deg: *turn,
            time_s: 10.0 * place as f64,
            path_m: None,
            exchanges: (0..40)
                .map(|i| {
                    let swing = f64::from(i * 17 % 40) / 10.0 - 2.0;
                    let level = pattern(*turn) + swing;
                    if level < floor_dbm {
                        Exchange::Lost
                    } else {
                        Exchange::Echo {
                            here: Some(level.round() as i32),
                            there: Some(level.round() as i32 - 3),
                        }
                    }
                })
                .collect(),
        })
        .collect()
}

fn lobe(turn: f64) -> f64 {
    -78.0 + 6.0 * (turn - 60.0).to_radians().cos()
}

fn around(steps: u32) -> Vec<f64> {
    (0..steps)
        .map(|step| 360.0 * f64::from(step) / f64::from(steps))
        .collect()
}

fn model() -> SweepModel {
    SweepModel::new(SCurve::new(-92.0, 1.0).unwrap(), 0.02)
}

#[test]
fn each_direction_alone_and_both_together_agree() {
    let model = model();
    let steps = tidy(&around(12), lobe, -92.0);
    for direction in [Direction::Here, Direction::There, Direction::Joint] {
        let figures = analyse(&steps, &model, direction);
        assert!(
            matches!(figures.directivity, Directivity::Shown { .. }),
            "{direction:?}"
        );
        assert!(figures.strongest.value().unwrap().holds(60.0), "{direction:?}");
        assert_eq!(figures.front_to_back_db.holds(12.0), Some(true), "{direction:?}");
        assert_eq!(figures.null_depth_db.holds(12.0), Some(true), "{direction:?}");
        assert_eq!(figures.closure, Err(WhyNot::NotRepeated));
        assert_eq!(figures.offset.unwrap().mean_db, -3.0);
    }
}

#[test]
fn two_equal_lobes_have_no_front() {
    let lobes = |turn: f64| -78.0 + 5.0 * (2.0 * (turn - 40.0)).to_radians().cos();
    for turns in [8, 12, 16] {
        let figures = analyse(&tidy(&around(turns), lobes, -92.0), &model(), Direction::Joint);
        assert!(matches!(figures.directivity, Directivity::Shown { .. }), "{turns}");
        let ratio = figures.front_to_back_db.value().unwrap();
        assert!(ratio.low < 0.0 && ratio.high.unwrap() > 0.0, "{turns}: {ratio:?}");
        assert!(ratio.value.abs() < 1.0, "{turns}: {ratio:?}");
    }
}

#[test]
fn a_null_right_behind_is_at_least_and_one_beside_is_not() {
    let behind = |turn: f64| if turn == 240.0 { -110.0 } else { lobe(turn) };
    let figures = analyse(&tidy(&around(12), behind, -92.0), &model(), Direction::Here);
    assert!(
        matches!(figures.front_to_back_db, Printed::AtLeast { low, why: WhyNot::SharpNull } if low > 0.0),
        "{:?}",
        figures.front_to_back_db
    );
    let beside = |turn: f64| {
        if turn == 330.0 {
            -110.0
        } else {
            -78.0 + 5.0 * (2.0 * (turn - 60.0)).to_radians().cos()
        }
    };
    let figures = analyse(&tidy(&around(12), beside, -92.0), &model(), Direction::Here);
    assert!(
        figures.front_to_back_db.value().is_some(),
        "{:?}",
        figures.front_to_back_db
    );
}

#[test]
fn a_step_left_out_changes_little() {
    let mut turns = around(8);
    turns.remove(3);
    let figures = analyse(&tidy(&turns, lobe, -92.0), &model(), Direction::Joint);
    assert_eq!(figures.pattern.as_ref().unwrap().order, 2);
    assert!(figures.strongest.value().unwrap().holds(60.0));
}

#[test]
fn a_sweep_broken_off_gives_levels_and_the_curve_but_no_figures_of_the_circle() {
    let half: Vec<f64> = around(12).into_iter().take(7).collect();
    let figures = analyse(&tidy(&half, lobe, -92.0), &model(), Direction::Here);
    assert_eq!(figures.steps.len(), 7);
    assert_eq!(figures.strongest.why(), Some(WhyNot::Gap { gap_deg: 180.0 }));
    assert_eq!(figures.front_to_back_db.why(), Some(WhyNot::Gap { gap_deg: 180.0 }));
    assert_eq!(figures.pattern.as_ref().unwrap().order, 1);
}

#[test]
fn too_few_turns_give_levels_alone() {
    let figures = analyse(&tidy(&around(4), lobe, -92.0), &model(), Direction::Here);
    let why = WhyNot::TooFewTurns { have: 4, need: 5 };
    assert_eq!(figures.pattern.as_ref().unwrap_err(), &why);
    assert_eq!(figures.strongest, Printed::NotPrinted(why));
    let level = figures.steps[0].level.value().unwrap();
    assert!((level.value - lobe(0.0)).abs() < 1.0 && level.low < level.value);
}

#[test]
fn an_empty_or_dead_sweep_says_so() {
    let model = model();
    assert_eq!(
        analyse(&[], &model, Direction::Joint).pattern.unwrap_err(),
        WhyNot::NoExchanges
    );
    let dead = analyse(&tidy(&around(8), |_| -120.0, -92.0), &model, Direction::Joint);
    assert_eq!(dead.strongest, Printed::NotPrinted(WhyNot::NothingHeard));
    let nearly = tidy(&around(8), |turn| if turn == 0.0 { -80.0 } else { -120.0 }, -92.0);
    let nearly = analyse(&nearly, &model, Direction::Here);
    assert_eq!(nearly.pattern.unwrap_err(), WhyNot::TooFewHeard { have: 1, need: 3 });
    assert!(matches!(nearly.steps[3].level, Printed::AtMost { high, .. } if high < -85.0));
}

#[test]
fn a_step_that_heard_nothing_makes_the_null_at_least() {
    let dead_back = |turn: f64| if turn == 240.0 { -110.0 } else { lobe(turn) };
    let figures = analyse(&tidy(&around(12), dead_back, -92.0), &model(), Direction::Here);
    assert!(matches!(figures.null_depth_db, Printed::AtLeast { low, why: WhyNot::SharpNull } if low > 5.0));
    assert!(figures.weakest.value().is_none_or(|arc| arc.holds(240.0)));
}

#[test]
fn a_sweep_that_fades_away_does_not_close() {
    let mut turns = around(12);
    turns.push(0.0);
    let mut steps = tidy(&turns, lobe, -92.0);
    let closed = analyse(&steps, &model(), Direction::Here).closure.unwrap();
    assert!(closed.difference_db.abs() < 0.1);
    steps[12] = tidy(&[0.0], |turn| lobe(turn) - 12.0, -99.0).remove(0);
    steps[12].time_s = 120.0;
    let open = analyse(&steps, &model(), Direction::Here).closure.unwrap();
    assert!((open.difference_db + 12.0).abs() < 1.0);
}
