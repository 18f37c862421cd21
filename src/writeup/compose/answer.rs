//! The answer: where a node can go, with which board, facing which way, how far, and how sure that is.

use std::fmt::Write as _;

use super::whole::Part;
use crate::findings::answer::Answer;
use crate::findings::count_words::{self, Missing};
use crate::findings::places::{Spot, telling};
use crate::findings::points::PointRow;
use crate::findings::stop::StopFigures;
use crate::findings::{compared_words, reach_words, sweep_words, words};
use crate::stats::boards::Effect;
use crate::stats::sweep::analysis::Directivity;
use crate::stats::sweep::printed::Printed;
use crate::stats::verdict::Verdict;
use crate::stats::walk::describe::RangeWording;
use crate::survey::setup::Goal;
use crate::writeup::document::Block;

/// The answer of one survey; `sure`: with what "can go" means.
pub fn blocks(part: &Part<'_>, sure: bool) -> Vec<Block> {
    let estimates = &part.subject.estimates;
    let goal = &part.subject.setup.goal;
    let mut blocks = vec![Block::Lead(lead(part))];
    if let Some(doubted) = part
        .subject
        .places
        .as_ref()
        .and_then(|places| places.station_doubted.clone())
    {
        blocks.push(Block::Caution(doubted));
    }
    let mut facts = Vec::new();
    if let Some(spot) = part.subject.places.as_ref().and_then(|places| places.spots.first()) {
        let led = if is_without_points(part) {
            farthest_good(part)
        } else {
            None
        };
        let nearer = match led {
            Some(led) if led != spot => {
                ". It is not the place named above, which is the farthest out that is sure enough"
            }
            _ => "",
        };
        let taken = if_taken(part).map_or_else(String::new, |taken| format!("{taken}: "));
        let said = format!("{taken}{}{nearer}", spot_words(spot));
        facts.push(("Surest place on the map".to_owned(), words::sentence(&said)));
    }
    facts.push(("Which board".to_owned(), which_board(part)));
    let facing = facing(part);
    facts.push(("Facing which way".to_owned(), facing));
    let mut far: Vec<String> = Vec::new();
    let mut unknown: Vec<(String, Vec<&str>)> = Vec::new();
    for board in &estimates.boards {
        let Some(reach) = &board.reach else {
            let all_lost = board.walk_losses.all_lost();
            far.extend(all_lost.map(|all_lost| format!("not known for {}: {all_lost}", board.name)));
            continue;
        };
        match (&reach.fit, range_at(&reach.ranges, goal.delivery)) {
            (Err(_), _) => {
                let why = board.why_no_range().unwrap_or_default();
                match unknown.iter_mut().find(|(known, _)| *known == why) {
                    Some((_, names)) => names.push(&board.name),
                    None => unknown.push((why, vec![&board.name])),
                }
            }
            (_, Some((share, wording))) => far.push(format!(
                "{}: {} delivered, on average over places, to {}{}",
                board.name,
                words::percent(share),
                reach_words::range(wording),
                reach.interference_share().map_or_else(String::new, |share| format!(
                    ", {}",
                    reach_words::interference_aside(share)
                ))
            )),
            (_, None) => {}
        }
    }
    far.extend(
        unknown
            .into_iter()
            .map(|(why, names)| format!("not known for {}: {why}", names.join(", "))),
    );
    facts.push((
        "How far".to_owned(),
        if far.is_empty() {
            "Not known: no walk with levels was made.".to_owned()
        } else {
            format!("{}.", far.join("; "))
        },
    ));
    if sure {
        facts.push(("How sure".to_owned(), how_sure(goal, is_without_points(part))));
    }
    blocks.push(Block::Facts(facts));
    blocks
}

/// The range asked for: at the delivery nearest to the goal's.
pub fn range_at(ranges: &[(f64, RangeWording)], delivery: f64) -> Option<(f64, &RangeWording)> {
    ranges
        .iter()
        .min_by(|a, b| (a.0 - delivery).abs().total_cmp(&(b.0 - delivery).abs()))
        .map(|(share, wording)| (*share, wording))
}

fn lead(part: &Part<'_>) -> String {
    let goal = &part.subject.setup.goal;
    let stops: Vec<&(PointRow, StopFigures)> = part
        .subject
        .estimates
        .points
        .iter()
        .filter(|(row, _)| row.activity == "point")
        .collect();
    let said = |figures: &StopFigures| Answer::delivers(figures.margin.as_ref(), goal.margin_db);
    let rank = |figures: &StopFigures| match said(figures) {
        Answer::Can => 3,
        Answer::CanUnknown => 2,
        Answer::CanOpen => 1,
        _ => 0,
    };
    let far = |row: &PointRow| row.distance.map_or(-1.0, |distance| distance.0);
    let best = stops
        .iter()
        .filter(|(row, _)| row.standing.word() == "meets")
        .max_by(|a, b| rank(&a.1).cmp(&rank(&b.1)).then(far(&a.0).total_cmp(&far(&b.0))));
    if let Some((row, figures)) = best {
        let whether = match said(figures) {
            Answer::Can => format!("A node can go at point {} with {}", row.point, row.board),
            answer => format!("Point {} with {} {}", row.point, row.board, answer.of_a_point()),
        };
        return format!("{whether}: {}.", stop_words(row, figures));
    }
    if stops.is_empty() {
        return by_map(part);
    }
    let goal_words = format!(
        "{} delivered with {} confidence",
        words::percent(goal.delivery),
        words::percent(goal.confidence)
    );
    let nearest = stops
        .iter()
        .filter(|(row, _)| row.standing.word() == "unsure")
        .max_by(|a, b| proven(&a.0).total_cmp(&proven(&b.0)));
    match nearest {
        Some((row, figures)) => format!(
            "No point is shown to meet the goal of {goal_words} yet. Closest is point {} with {}: {}{}; {}.",
            row.point,
            row.board,
            stop_words(row, figures),
            if row.standing.verdict == Verdict::KeepMeasuring && row.standing.delivery.interval.high < goal.delivery {
                "; by that interval it misses the goal, though the verdict, which must hold whenever one looks, is not reached"
            } else {
                ""
            },
            count_words::by_count(&row.standing, Missing::Figures)
        ),
        None => format!("Every point measured misses the goal of {goal_words}."),
    }
}

/// A place on the map is offered from this chance on that a node there meets the goal.
const GOOD: f64 = 0.9;
/// Fewer exchanges near by would make it a guess of the field, not a place that was walked.
const WALKED: u32 = 20;

/// The spot farthest out that the map offers and that was walked.
fn farthest_good<'a>(part: &'a Part<'_>) -> Option<&'a Spot> {
    let spots = part.subject.places.iter().flat_map(|places| &places.spots);
    spots
        .filter(|spot| spot.chance >= GOOD && spot.exchanges >= WALKED)
        .max_by(|a, b| a.distance.0.total_cmp(&b.distance.0))
}

fn is_without_points(part: &Part<'_>) -> bool {
    let mut points = part.subject.estimates.points.iter();
    !points.any(|(row, _)| row.activity == "point")
}

/// What every chance of the map rests on, as a condition, where what the board needs is taken.
fn if_taken(part: &Part<'_>) -> Option<String> {
    part.subject.places.as_ref()?.if_taken.clone()
}

/// Where no run was made: what the map of places offers farthest out.
fn by_map(part: &Part<'_>) -> String {
    match farthest_good(part) {
        Some(spot) => words::capital(&format!(
            "{}by the map a node can likely go as far out as {}. No run at a point was made to confirm it.",
            if_taken(part).map_or_else(String::new, |taken| format!("{taken}, ")),
            spot_words(spot)
        )),
        None if part.subject.places.is_none() => {
            "No run at a point was made and no map of places could be; what the exchanges tell is below.".to_owned()
        }
        None => {
            "No run at a point was made and the map offers no good place that was walked; what the walk tells is below."
                .to_owned()
        }
    }
}

fn proven(row: &PointRow) -> f64 {
    row.standing.judgement.proven.unwrap_or(0.0)
}

fn stop_words(row: &PointRow, figures: &StopFigures) -> String {
    let delivery = &row.standing.delivery;
    let mut said = format!(
        "{} of {} delivered as held there ({})",
        words::count(row.delivered),
        words::count(row.messages),
        words::percents(delivery.interval)
    );
    if let Some(margin) = &figures.margin {
        let _ = write!(said, ", {} to spare", words::margin(margin));
    }
    if let Some(distance) = row.distance {
        let _ = write!(said, ", {} from the station", words::metres(distance.0));
    }
    if let Some(bearing) = row.bearing {
        let _ = write!(said, ", which bears {}", words::bearing(bearing));
    }
    said
}

fn spot_words(spot: &Spot) -> String {
    format!(
        "{} from the station{}: {} sure to meet the goal, {} dB beyond the margin asked for (at least {}); {} exchanges within 15 m",
        words::metres(spot.distance.0),
        spot.bearing
            .map_or_else(String::new, |bearing| format!(" towards {}", words::bearing(bearing))),
        words::percent(spot.chance),
        words::minus(spot.spare_db, 0),
        telling::spare_at_least(spot),
        words::count(u64::from(spot.exchanges))
    )
}

fn which_board(part: &Part<'_>) -> String {
    let boards = &part.subject.estimates.boards;
    let Some(found) = &part.subject.estimates.comparison else {
        return match boards.as_slice() {
            [] => "No exchange counts.".to_owned(),
            [only] => format!("Only {} was carried.", only.name),
            several => format!(
                "{} were carried; they were not measured at the same points, so nothing is said about which is better.",
                several
                    .iter()
                    .map(|board| board.name.as_str())
                    .collect::<Vec<_>>()
                    .join(", ")
            ),
        };
    };
    let reference = found.names.first().map_or("the reference", String::as_str);
    let comparison = match &found.comparison {
        Ok(comparison) => comparison,
        Err(why) => return format!("Not compared: {}.", words::no_comparison(*why)),
    };
    let named = |index: usize| found.names.get(index).map_or("?", String::as_str);
    let mut better: Vec<(f64, String)> = Vec::new();
    let mut worse: Vec<String> = Vec::new();
    let mut alike: Vec<String> = Vec::new();
    let mut unsaid: Vec<String> = Vec::new();
    for board in &comparison.boards {
        if let Some(why) = found.nothing_said(board) {
            unsaid.push(compared_words::nothing_said(found, board.board, why));
            continue;
        }
        let said = format!("{} {}", named(board.board), compared_words::effect(found, board));
        match board.effect {
            Effect::Measured {
                estimate_db,
                simultaneous,
                ..
            } if simultaneous.low > 0.0 => better.push((estimate_db, said)),
            Effect::Measured { simultaneous, .. } if simultaneous.high < 0.0 => worse.push(said),
            Effect::OpenEnded {
                high_db: Some(high), ..
            } if high < 0.0 => worse.push(said),
            Effect::OpenEnded { low_db: Some(low), .. } if low > 0.0 => better.push((low, said)),
            _ => alike.push(said),
        }
    }
    better.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut sentences = Vec::new();
    if unsaid.len() == comparison.boards.len() {
        // Nothing is shown of any: that none is better would be said of boards nobody compared.
    } else if better.is_empty() {
        sentences.push(format!("No board is shown to be better than {reference}."));
    } else {
        let list: Vec<&str> = better.iter().map(|(_, said)| said.as_str()).collect();
        sentences.push(format!(
            "Stronger than {reference} at the station: {}.",
            list.join("; ")
        ));
    }
    if !worse.is_empty() {
        sentences.push(format!("Weaker: {}.", worse.join("; ")));
    }
    if !alike.is_empty() {
        sentences.push(format!("Not told apart: {}.", alike.join("; ")));
    }
    if !unsaid.is_empty() {
        sentences.push(format!("Nothing can be said: {}.", unsaid.join("; ")));
    }
    sentences.join(" ")
}

fn facing(part: &Part<'_>) -> String {
    let sweeps = &part.subject.estimates.sweeps;
    if sweeps.is_empty() {
        return "Not known: no orientation sweep was made.".to_owned();
    }
    let said: Vec<String> = sweeps
        .iter()
        .map(|sweep| {
            let who = crate::writeup::svg::polar::label(sweep);
            match (&sweep.figures.directivity, &sweep.figures.strongest) {
                (Directivity::Shown { .. }, strongest @ Printed::Value(arc)) if sweep_words::hardly_known(arc) => {
                    format!(
                        "{who}: directional, its best turn hardly known: {} clockwise from the station",
                        sweep_words::turn(strongest)
                    )
                }
                (Directivity::Shown { .. }, strongest @ Printed::Value(_)) => format!(
                    "{who}: turn its mark {} clockwise from the station",
                    sweep_words::turn(strongest)
                ),
                (Directivity::Shown { .. }, other) => {
                    format!("{who}: directional, its best turn {}", sweep_words::turn(other))
                }
                (Directivity::NotShown { .. }, _) => format!("{who}: no direction is shown to be better than another"),
                (Directivity::NotTested(why), _) => format!("{who}: not known, {why}"),
            }
        })
        .collect();
    format!("{}.", said.join("; "))
}

fn how_sure(goal: &Goal, without_points: bool) -> String {
    let (asked, confidence) = (words::percent(goal.delivery), words::percent(goal.confidence));
    let margin = words::minus(goal.margin_db, 0);
    let means = if without_points {
        format!(
            "\"Can likely go\" means: by the levels and losses of the walk, {WALKED} exchanges or more near the place, the chance is {} or more that \
             {asked} is delivered there with {margin} dB to spare. No counts at a point were made, and only those could show {asked} with \
             {confidence} confidence.",
            words::percent(GOOD)
        )
    } else {
        format!(
            "\"Can go\" means: the counts show {asked} delivered with {confidence} confidence, bursts of losses allowed for, and the lower limit of \
             the margin is {margin} dB or more."
        )
    };
    format!("{means} Figures in brackets are 95 % intervals unless said otherwise.")
}
