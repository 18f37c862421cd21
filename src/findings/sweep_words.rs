//! What a sweep says, in sentences, the most important first; screens and write-up share them.

use super::sweeps::{Pair, Sweep};
use super::words;
use crate::stats::sweep::advice::Advice;
use crate::stats::sweep::analysis::Directivity;
use crate::stats::sweep::closure::{Closure, ClosureMeaning};
use crate::stats::sweep::direction_test::told;
use crate::stats::sweep::fit::different_turns;
use crate::stats::sweep::{Arc, Estimate, Printed, SweepFigures, WhyNot};

/// Everything it says: whether the board is directional, which way it must face, how much that matters, whether the sweep
/// can be trusted, and what could not be said.
pub fn sentences(sweep: &Sweep) -> Vec<String> {
    let figures = &sweep.figures;
    let mut said = vec![directional(figures.directivity)];
    said.extend(counts(figures));
    if let Printed::Value(arc) = &figures.strongest {
        said.push(format!(
            "Strongest with the mark at {}{}{}.",
            turn(&figures.strongest),
            side(arc.centre_deg),
            if hardly_known(arc) {
                "; so wide an interval hardly says which way"
            } else {
                ""
            }
        ));
    }
    said.extend(weakest(figures));
    said.extend(front_to_back(&figures.front_to_back_db));
    if let Some(width) = figures.beamwidth_deg.value() {
        said.push(format!("Within 3 dB of the strongest over {}.", interval(width, "°")));
    }
    if let Ok(found) = &figures.closure {
        said.push(words::sentence(&closure(found)));
    }
    said.extend(unsaid(figures));
    if let Err(why) = figures.closure {
        said.push(format!("Whether it closes is not known: {why}."));
    }
    said.extend(sweep.whereabouts.caution());
    said.push(advice(sweep));
    said
}

/// What was delivered at all turns together, where nothing can be said of their levels.
fn counts(figures: &SweepFigures) -> Option<String> {
    let steps = &figures.steps;
    if steps.is_empty() || steps.iter().any(|step| step.moments.is_some()) {
        return None;
    }
    Some(format!(
        "{} of {} delivered in {} {}.",
        words::count(steps.iter().map(|step| step.delivered as u64).sum()),
        words::count(steps.iter().map(|step| step.exchanges as u64).sum()),
        steps.len(),
        if steps.len() == 1 { "step" } else { "steps" }
    ))
}

/// Whether the board is directional.
fn directional(directivity: Directivity) -> String {
    match directivity {
        Directivity::Shown { p, needed } => {
            format!("Directional, more than noise would show ({}).", told(p, needed))
        }
        Directivity::NotShown { p, needed } => {
            format!(
                "No turn is shown to be better than another beyond noise ({}).",
                told(p, needed)
            )
        }
        Directivity::NotTested(why) => format!("Whether it is directional is not known: {why}."),
    }
}

/// A turn for somebody who faces the station, where that says more than the angle.
fn side(turn_deg: f64) -> String {
    match turn_deg.round().rem_euclid(360.0) {
        0.0 => ", at the station".to_owned(),
        180.0 => ", away from the station".to_owned(),
        right if right < 180.0 => format!(", {right:.0}° right of the station"),
        left => format!(", {:.0}° left of the station", 360.0 - left),
    }
}

fn weakest(figures: &SweepFigures) -> Option<String> {
    let place = figures
        .weakest
        .value()
        .map_or(String::new(), |_| format!(", at {}", turn(&figures.weakest)));
    // The sentence before names the strongest turn, where it can be named.
    let strongest = if figures.strongest.value().is_some() {
        "it"
    } else {
        "the strongest turn"
    };
    match &figures.null_depth_db {
        Printed::Value(depth) => Some(format!(
            "Deepest null {} below {strongest}{place}.",
            interval(depth, " dB")
        )),
        Printed::AtLeast { low, .. } => Some(format!(
            "Deepest null at least {} dB below {strongest}{place}.",
            words::minus(words::down(*low, 0), 0)
        )),
        Printed::AtMost { high, .. } => Some(format!(
            "No turn is more than {} dB below another.",
            words::minus(words::up(*high, 0), 0)
        )),
        Printed::NotPrinted(_) => None,
    }
}

fn front_to_back(ratio: &Printed<Estimate>) -> Option<String> {
    match ratio {
        Printed::Value(ratio) => Some(format!("Front to back {}.", interval(ratio, " dB"))),
        Printed::AtLeast { low, .. } => Some(format!(
            "Front to back at least {} dB.",
            words::minus(words::down(*low, 0), 0)
        )),
        // No turn is farther below another than the null: that has been said.
        Printed::AtMost { .. } | Printed::NotPrinted(_) => None,
    }
}

/// A figure with its interval, the unit with its own blank.
fn interval(estimate: &Estimate, unit: &str) -> String {
    let high = estimate.high.map_or("more".to_owned(), |high| words::minus(high, 0));
    format!(
        "{}{unit} ({} to {high})",
        words::minus(estimate.value, 0),
        words::minus(estimate.low, 0)
    )
}

/// Which figures are not said in full and why, gathered by reason; what follows from there being no directivity is not
/// said again for each of them.
pub fn unsaid(figures: &SweepFigures) -> Vec<String> {
    const UNTOLD: &str = "Not told";
    const ONE_SIDE: &str = "Told on one side only";
    let side = |figure: &Printed<Estimate>| match figure {
        Printed::AtLeast { .. } | Printed::AtMost { .. } => ONE_SIDE,
        Printed::Value(_) | Printed::NotPrinted(_) => UNTOLD,
    };
    let all = [
        ("strongest turn", UNTOLD, figures.strongest.why()),
        ("weakest turn", UNTOLD, figures.weakest.why()),
        ("3 dB width", side(&figures.beamwidth_deg), figures.beamwidth_deg.why()),
        (
            "front to back",
            side(&figures.front_to_back_db),
            figures.front_to_back_db.why(),
        ),
        ("null depth", side(&figures.null_depth_db), figures.null_depth_db.why()),
        (
            "share within 3 dB",
            side(&figures.share_within_3_db),
            figures.share_within_3_db.why(),
        ),
    ];
    let known = match figures.directivity {
        Directivity::NotTested(why) => Some(why.to_string()),
        Directivity::Shown { .. } | Directivity::NotShown { .. } => None,
    };
    let mut reasons: Vec<(&str, String, Vec<&str>)> = Vec::new();
    for (name, how, why) in all {
        let Some(why) = why.filter(|why| !matches!(why, WhyNot::NoDirectivity { .. })) else {
            continue;
        };
        let why = why.to_string();
        if known.as_ref() == Some(&why) {
            continue;
        }
        match reasons
            .iter_mut()
            .find(|(other, known, _)| *other == how && *known == why)
        {
            Some((_, _, names)) => names.push(name),
            None => reasons.push((how, why, vec![name])),
        }
    }
    reasons
        .into_iter()
        .map(|(how, why, names)| format!("{how} ({}): {why}.", names.join(", ")))
        .collect()
}

/// What so many turns can answer.
pub fn advice(sweep: &Sweep) -> String {
    let turns: Vec<f64> = sweep.steps.iter().map(|step| step.turn_deg).collect();
    let turns = different_turns(&turns);
    format!(
        "{turns} different {}: {}.",
        if turns == 1 { "turn" } else { "turns" },
        Advice::for_turns(turns)
    )
}

/// How the second of two sweeps differs from the first, turn by turn.
pub fn against(pair: &Pair) -> String {
    let mean = match &pair.comparison.mean_db {
        Printed::Value(mean) => format!(
            "{} ({} to {}) in the mean",
            words::decibels(mean.value),
            words::signed(mean.low, 0),
            mean.high.map_or("more".to_owned(), |high| words::signed(high, 0))
        ),
        Printed::AtLeast { why, .. } | Printed::AtMost { why, .. } | Printed::NotPrinted(why) => {
            format!("no mean difference ({why})")
        }
    };
    let sure: Vec<String> = pair
        .comparison
        .sure_deg
        .iter()
        .map(|turn| format!("{}°", words::minus(*turn, 0)))
        .collect();
    let apart = apart(pair).map_or_else(String::new, |words| format!("; {words}"));
    if sure.is_empty() {
        format!("{mean}; at no turn a sure difference{apart}")
    } else {
        format!("{mean}; for sure at {}{apart}", sure.join(", "))
    }
}

/// What to keep in mind where two sweeps were not done at the same spot; `None` where they may have been.
pub fn apart(pair: &Pair) -> Option<String> {
    let apart = words::metres(pair.apart_m?);
    Some(format!(
        "they were turned {apart} apart, so part of every difference is the place's"
    ))
}

/// A direction of a sweep, or why there is none.
pub fn turn(figure: &Printed<Arc>) -> String {
    match figure {
        Printed::Value(arc) => format!("{:.0}° ± {:.0}°", arc.centre_deg.round() % 360.0, arc.half_width_deg),
        Printed::AtLeast { why, .. } | Printed::AtMost { why, .. } | Printed::NotPrinted(why) => format!("— ({why})"),
    }
}

/// A turn known to less than this on either side, degrees, is no advice: it leaves open more than a quarter of the circle.
const HARDLY_DEG: f64 = 45.0;

/// Whether a turn's interval is so wide that the turn is no advice.
pub fn hardly_known(arc: &Arc) -> bool {
    arc.half_width_deg > HARDLY_DEG
}

/// What the repeated first turn says of a sweep.
pub fn closure(closure: &Closure) -> String {
    let (low, high) = closure.interval_db();
    let by = format!(
        "{} dB ({} to {}) at {}°",
        words::signed(closure.difference_db, 1),
        words::signed(low, 1),
        words::signed(high, 1),
        words::minus(closure.turn_deg, 0)
    );
    match closure.meaning() {
        ClosureMeaning::Closes => {
            format!("the first turn measured again differs by {by}: the sweep closes within its interval")
        }
        ClosureMeaning::Stronger => {
            format!("the link became stronger during the sweep, by {by}: turns measured late look too strong")
        }
        ClosureMeaning::Weaker => {
            format!("the link became weaker during the sweep, by {by}: turns measured late look too weak")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::whereabouts::Whereabouts;
    use crate::stats::cells::SCurve;
    use crate::stats::sweep::{Direction, Exchange, Step, SweepModel, analyse};
    use crate::units::UtcMs;

    fn sweep(turns: &[f64], level: impl Fn(f64) -> f64) -> Sweep {
        let steps: Vec<Step> = turns
            .iter()
            .enumerate()
            .map(|(place, turn)| Step {
                turn_deg: *turn,
                time_s: place as f64,
                path_m: None,
                exchanges: (0..40)
                    .map(|ping| {
                        let level = level(*turn) + f64::from(ping * 17 % 40) / 10.0 - 2.0;
                        Exchange::Echo {
                            here: Some(level.round() as i32),
                            there: Some(level.round() as i32 - 3),
                        }
                    })
                    .collect(),
            })
            .collect();
        let model = SweepModel::new(SCurve::new(-92.0, 1.0).unwrap(), 0.02);
        Sweep {
            name: "S1".to_owned(),
            pose: Some("flat".to_owned()),
            board: "fern".to_owned(),
            run: 1,
            begin: UtcMs(0),
            distance_m: None,
            at_station: None,
            whereabouts: Whereabouts {
                exchanges: 40 * steps.len(),
                placed: 40 * steps.len(),
                farthest_step_m: Some(1.0),
                ..Whereabouts::default()
            },
            figures: analyse(&steps, &model, Direction::Joint),
            steps,
        }
    }

    fn around(steps: u32) -> Vec<f64> {
        (0..=steps)
            .map(|step| 360.0 * f64::from(step % steps) / f64::from(steps))
            .collect()
    }

    #[test]
    fn a_lobe_is_told_the_most_important_first() {
        let said = sentences(&sweep(&around(12), |turn| {
            -78.0 + 6.0 * (turn - 240.0).to_radians().cos()
        }));
        assert!(said[0].starts_with("Directional, more than noise"), "{said:#?}");
        assert!(said[1].starts_with("Strongest with the mark at 2"), "{said:#?}");
        assert!(said[1].contains("left of the station"), "{said:#?}");
        assert!(said[2].starts_with("Deepest null "), "{said:#?}");
        assert!(said.iter().any(|line| line.contains("the sweep closes")), "{said:#?}");
        assert!(said.last().unwrap().starts_with("12 different turns:"), "{said:#?}");
    }

    #[test]
    fn no_sentence_points_at_one_that_is_not_there_nor_claims_more_than_is_known() {
        let mut sweep = sweep(&around(8), |turn| -78.0 + 6.0 * (turn - 240.0).to_radians().cos());
        let figures = &mut sweep.figures;
        figures.directivity = Directivity::NotShown { p: 0.014, needed: 0.01 };
        figures.strongest = Printed::NotPrinted(WhyNot::TooWide {
            width_deg: 237.0,
            most_deg: 180.0,
        });
        figures.null_depth_db = Printed::AtLeast {
            low: 3.52,
            why: WhyNot::NotHowMuch { have: 8, need: 12 },
        };
        let said = sentences(&sweep);
        assert!(
            said[0].contains("(p = 0.014; below 0.01 is needed where steps scatter as here)"),
            "{said:#?}"
        );
        assert!(
            said[1].starts_with("Deepest null at least 3 dB below the strongest turn"),
            "{said:#?}"
        );
        let has = |words: &str| said.iter().any(|line| line == words);
        assert!(
            has(
                "Not told (strongest turn): its interval is 237° wide, and none wider than 180° is told; measure more turns."
            ),
            "{said:#?}"
        );
        assert!(
            said.iter()
                .any(|line| line.starts_with("Told on one side only (") && line.contains("null depth): 8 turns")),
            "{said:#?}"
        );
        let figures = &mut sweep.figures;
        figures.strongest = Printed::Value(Arc {
            centre_deg: 316.0,
            half_width_deg: 88.0,
        });
        let said = sentences(&sweep);
        assert!(
            said[1].contains("316° ± 88°") && said[1].contains("hardly"),
            "{said:#?}"
        );
    }

    #[test]
    fn what_is_not_known_says_why_and_only_once() {
        let said = sentences(&sweep(&around(12)[..3], |_| -70.0));
        assert_eq!(
            said,
            [
                "Whether it is directional is not known: 3 turns measured, 5 needed.",
                "Whether it closes is not known: the first turn was not measured again at the end.",
                "3 different turns: fewer than 5 turns give levels, not a pattern; take 8 to see whether the board is \
                 directional."
            ]
        );
    }

    #[test]
    fn a_round_board_is_not_called_anything_else() {
        let said = sentences(&sweep(&around(12), |_| -70.0));
        assert!(said[0].starts_with("No turn is shown to be better"), "{said:#?}");
        assert!(!said.iter().any(|line| line.contains("Strongest")), "{said:#?}");
    }

    #[test]
    fn sides_are_those_of_somebody_who_faces_the_station() {
        assert_eq!(side(52.0), ", 52° right of the station");
        assert_eq!(side(243.4), ", 117° left of the station");
        assert_eq!(side(359.8), ", at the station");
        assert_eq!(side(180.2), ", away from the station");
    }
}
