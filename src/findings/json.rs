//! Every number as JSON: stable keys, units in their names, `null` for what is not known and a reason beside it.

use serde_json::{Map, Value, json};

use super::boards_json::{boards_at_points, comparison};
use super::delivery::Standing;
use super::estimates::{BoardFigures, Estimates};
use super::loss_json::losses;
use super::places;
use super::points::PointRow;
use super::reach::Reach;
use super::reach_words;
use super::stop::StopFigures;
use super::sweeps::{self, Sweep};
use super::words;
use crate::stats::level::MeanPower;
use crate::stats::margin::Margin;
use crate::stats::sweep::analysis::Directivity;
use crate::stats::sweep::{Arc, Estimate, Printed};
use crate::stats::verdict::Verdict;
use crate::stats::walk::describe::RangeWording;
use crate::stats::walk::inflation::Inflation;
use crate::stats::walk::posterior::Spread;
use crate::survey::sample::{Excluded, Samples};
use crate::survey::setup::Setup;

/// All figures of a survey.
pub fn survey(name: &str, samples: &Samples, setup: &Setup, estimates: &Estimates) -> Value {
    let counted = samples.rows.iter().filter(|row| row.counts());
    let mut excluded = Map::new();
    for reason in Excluded::ALL {
        let count = samples.rows.iter().filter(|row| row.excluded == Some(reason)).count();
        excluded.insert(reason.word().replace(' ', "_"), json!(count));
    }
    let station = &setup.station;
    json!({
        "survey": name,
        "title": setup.title,
        "note": setup.note,
        "begin_utc": samples.rows.first().and_then(|row| row.utc.rfc3339()),
        "end_utc": samples.rows.last().and_then(|row| row.utc.rfc3339()),
        "exchanges": samples.rows.len(),
        "exchanges_counted": counted.clone().count(),
        "delivered": counted.filter(|row| row.delivered()).count(),
        "excluded": excluded,
        "goal": {
            "delivery": setup.goal.delivery,
            "confidence": setup.goal.confidence,
            "margin_db": setup.goal.margin_db,
            "messages": setup.goal.messages,
        },
        "station": {
            "name": station.name,
            "lat_deg": station.position.map(|position| position.lat().0),
            "lon_deg": station.position.map(|position| position.lon().0),
            "height_m": station.height.map(|height| height.0),
            "sigma_m": station.sigma.map(|sigma| sigma.0),
        },
        "boards": estimates.boards.iter().map(|one| board(estimates, one)).collect::<Vec<_>>(),
        "points": estimates.points.iter().map(|(row, figures)| point(estimates, row, figures)).collect::<Vec<_>>(),
        "boards_at_points": boards_at_points(estimates, setup),
        "comparison": comparison(estimates),
        "sweeps": estimates.sweeps.iter().map(|one| sweep(one, estimates)).collect::<Vec<_>>(),
        "sweeps_compared": sweeps::pairs(&estimates.sweeps).iter().map(|pair| json!({
            "first": pair.first,
            "second": pair.second,
            "apart_m": pair.apart_m,
            "mean_db": printed(&pair.comparison.mean_db),
            "turns": pair.comparison.turns.iter().map(|turn| json!({
                "turn_deg": turn.turn_deg,
                "alone_db": printed(&turn.alone_db),
                "together_db": printed(&turn.together_db),
            })).collect::<Vec<_>>(),
            "sure_at_deg": pair.comparison.sure_deg,
            "same_shape_p": pair.comparison.same_shape_p,
        })).collect::<Vec<_>>(),
        "places": estimates.places.as_ref().map(places::json::places),
        "assumptions": [
            "bursts of interference up to about 0.8 s",
            "levels describe this kind of place, not another one",
        ],
    })
}

fn board(estimates: &Estimates, board: &BoardFigures) -> Value {
    let need = board.reach.as_ref().and_then(|reach| reach.need);
    let mut value = json!({
        "board": board.name,
        "reference": board.reference,
        "exchanges": board.exchanges,
        "delivered": board.delivered,
        "levels_read_at": board.side,
        "need": need.map(|need| {
            let (m, s) = (need.m_interval_dbm(), need.s_interval_db());
            json!({
                "half_delivery_dbm": need.curve.m_dbm(),
                "half_delivery_low_dbm": m.0,
                "half_delivery_high_dbm": m.1,
                "scale_db": need.curve.s_db(),
                "scale_low_db": s.0,
                "scale_high_db": s.1,
                "level90_dbm": need.curve.level90_dbm(),
                "level90_low_dbm": need.level90_interval_dbm().0,
                "level90_high_dbm": need.level90_interval_dbm().1,
                "level90_sd_db": need.level90_sd_db(),
                "walks": need.walks,
                "exchanges": estimates.need_exchanges(board),
                "exchanges_why_not": estimates.need_exchanges(board).is_none()
                    .then_some("of earlier surveys the curve is kept with its uncertainty, not their counts"),
                "learned_at_points": board.reach.as_ref().is_some_and(|reach| reach.at_points == Some(Ok(()))),
                "learned_from": board.need_from(),
                "learned_in_this_survey": board.reach.as_ref().is_some_and(|reach| reach.own.is_some()),
            })
        }),
    });
    value["need_why_not"] = json!(board.why_no_margin().map(|why| why.to_string()));
    value["need_is"] = json!("levels without fading and without a margin, interference left aside");
    value["reach"] = reach_json(board);
    value["walk_losses"] = walk_losses(board);
    value
}

/// What was lost on the walks of a board, and why: estimates with their limits, counts without.
fn walk_losses(board: &BoardFigures) -> Value {
    let losses = &board.walk_losses;
    let spread = |number: Option<Spread>| {
        json!(number.map(|number| json!({ "lost": number.median, "low": number.low, "high": number.high })))
    };
    json!({
        "exchanges": losses.exchanges,
        "lost": losses.lost,
        "station_silent": losses.silent,
        "unread": losses.unread,
        "too_weak": spread(losses.split.map(|split| split.weak)),
        "at_strong_levels": spread(losses.split.map(|split| split.strong)),
        "lost_mostly_one_way": losses.one_way.is_some(),
        "nearest_m": losses.span_m.map(|span| span.0),
        "farthest_m": losses.span_m.map(|span| span.1),
        "words": losses.all_lost().map_or_else(|| board.walk_losses(), |all_lost| vec![all_lost]),
    })
}

/// How far a board reaches; every key is always there, and null where nothing is known.
fn reach_json(board: &BoardFigures) -> Value {
    let reach = board.reach.as_ref();
    let fit = reach.and_then(|reach| reach.fit.as_ref().ok());
    let slope = fit.map(|fit| fit.slope(&Inflation::MEASURED));
    let slope_is = slope.as_ref().and_then(|slope| slope.as_ref().ok());
    let shadowing = fit.map(|fit| fit.shadowing_db(&Inflation::MEASURED));
    let interference = reach.and_then(Reach::interference_share);
    let body = fit.and_then(|fit| fit.body_db(&Inflation::MEASURED));
    let fading_k = fit.and_then(|fit| fit.fading_k_interval_db(&Inflation::MEASURED));
    let ranges = |reach: &Reach| -> Vec<Value> {
        let told = reach.ranges.iter();
        told.map(|(share, wording)| range(*share, wording)).collect()
    };
    json!({
        "why_not": match reach {
            None => board.why_no_level().map(str::to_owned),
            Some(_) => board.why_no_range(),
        },
        "exchanges": reach.map(|reach| fit.map_or(reach.exchanges as u64, |fit| fit.extent.exchanges.round() as u64)),
        "too_far": reach.map(|reach| reach.too_far),
        "cells": fit.map(|fit| fit.extent.cells),
        "nearest_m": fit.map(|fit| fit.extent.nearest_m),
        "farthest_m": fit.map(|fit| fit.extent.farthest_m),
        "exponent": slope_is.map(|slope| slope.median),
        "exponent_low": slope_is.map(|slope| slope.low),
        "exponent_high": slope_is.map(|slope| slope.high),
        "exponent_why_not": slope.as_ref().and_then(|slope| slope.as_ref().err()).map(reach_words::no_slope),
        "shadowing_db": shadowing.map(|shadowing| shadowing.median),
        "shadowing_low_db": shadowing.map(|shadowing| shadowing.low),
        "shadowing_high_db": shadowing.map(|shadowing| shadowing.high),
        "body_loss_db": body.map(|body| body.median),
        "body_loss_low_db": body.map(|body| body.low),
        "body_loss_high_db": body.map(|body| body.high),
        "body_loss_why_not": (fit.is_some() && body.is_none()).then_some(reach_words::NO_BODY_LOSS),
        "fading_k_db": fit.map(|fit| fit.k_db),
        "fading_k_low_db": fading_k.and_then(|(low, _)| low),
        "fading_k_high_db": fading_k.and_then(|(_, high)| high),
        "fading_k_is": "steady over scattered power in the mean over the walk; an end that is null beside the other is open",
        "fading_k_why_no_interval": (fit.is_some() && fading_k.is_none()).then_some("the fading was taken, not learned from this walk"),
        "interference": interference.map(|share| share.median),
        "interference_low": interference.map(|share| share.low),
        "interference_high": interference.map(|share| share.high),
        "limit_seen": fit.map(|fit| fit.sensitivity_reached),
        "ranges": reach.map(ranges).unwrap_or_default(),
        "warnings": fit.map(|fit| fit.warnings.iter().map(reach_words::fit_warning).collect::<Vec<_>>()).unwrap_or_default(),
    })
}

fn range(share: f64, wording: &RangeWording) -> Value {
    let (kind, metres, low, high) = match wording {
        RangeWording::AtLeast { metres } => ("at_least", None, Some(*metres), None),
        RangeWording::About { metres, low, high, .. } => ("about", *metres, Some(*low), *high),
        RangeWording::Interval { low, metres, high } => ("interval", Some(*metres), Some(*low), *high),
        RangeWording::Below { metres } => ("below", None, None, Some(*metres)),
        RangeWording::Unreachable { .. } => ("unreachable", None, None, None),
        RangeWording::NotMeasured(_) => ("not_measured", None, None, None),
    };
    json!({
        "delivery": share, "kind": kind, "range_m": metres, "range_low_m": low, "range_high_m": high,
        "why_not": match wording {
            RangeWording::NotMeasured(why) => Some(reach_words::no_range(*why)),
            _ => None,
        },
        "words": reach_words::range(wording),
    })
}

fn point(estimates: &Estimates, row: &PointRow, figures: &StopFigures) -> Value {
    json!({
        "point": row.point,
        "activity": row.activity,
        "pose": row.pose,
        "turn_deg": row.turn.map(|turn| turn.0),
        "board": row.board,
        "boot": row.boot,
        "run": row.run,
        "begin_utc": row.begin.rfc3339(),
        "lat_deg": row.position.map(|position| position.lat().0),
        "lon_deg": row.position.map(|position| position.lon().0),
        "distance_m": row.distance.map(|distance| distance.0),
        "bearing_deg": row.bearing.map(|bearing| bearing.0),
        "messages": row.messages,
        "delivered": row.delivered,
        "carried_off": row.left.as_ref().map(|left| json!({
            "away_m": left.away_m, "messages_left_aside": left.all.messages.saturating_sub(row.messages),
        })),
        "plain_wilson_low": row.interval.low,
        "plain_wilson_high": row.interval.high,
        "mean_here_dbm": row.here_dbm,
        "mean_there_dbm": row.there_dbm,
        "count": standing(&row.standing),
        "level": level(figures),
        "level_why_not": estimates.why_no_level(row, figures),
        "margin": figures.margin.as_ref().map(margin),
        "margin_why_not": estimates.why_no_margin(row, figures).map(|why| why.to_string()),
        "moved_m": figures.path_m,
        "moved_why_not": estimates.why_no_path(row, figures),
        "surer_by": figures.surer.map(words::surer),
        "losses": figures.losses.as_ref().map(words::reasons),
        "losses_by_reason": figures.losses.as_ref().map(losses),
        "losses_why_not": figures.losses.is_none().then(|| estimates.why_no_losses(row)),
    })
}

/// What a count proves.
pub fn standing(standing: &Standing) -> Value {
    let more = standing.more();
    let why_not = match (standing.verdict, standing.taken_back) {
        (_, Some(_)) => Some("it has changed since a verdict was reached: measure it anew"),
        (Verdict::KeepMeasuring, None) if more.is_none() => {
            Some("so close to the goal that more than 3000 messages are missing")
        }
        (Verdict::KeepMeasuring, None) => None,
        _ => Some("the verdict is there"),
    };
    json!({
        "statement_is_of": "the board as held here",
        "rate": standing.delivery.rate,
        "rate_low": standing.delivery.interval.low,
        "rate_high": standing.delivery.interval.high,
        "worth_independent_messages": standing.delivery.effective,
        "messages_for_one": standing.delivery.inflation,
        "verdict": standing.word(),
        "proven_delivery": standing.judgement.proven,
        "refuted_delivery": standing.judgement.refuted,
        "verdict_after_messages": standing.found_after,
        "about_more_messages": more.map(|more| more.messages),
        "more_messages_would": more.map(|more| if more.would_meet { "meet" } else { "rule_out" }),
        "no_forecast_because": why_not,
    })
}

fn level(figures: &StopFigures) -> Value {
    let Some(level) = &figures.level else {
        return Value::Null;
    };
    let (estimate, low, high) = match level.mean_power {
        MeanPower::Between { median_dbm, interval } => (Some(median_dbm), Some(interval.low), Some(interval.high)),
        MeanPower::AtMost { high_dbm } => (None, None, Some(high_dbm)),
        MeanPower::AtLeast { low_dbm } => (None, Some(low_dbm), None),
        MeanPower::Open => (None, None, None),
    };
    json!({
        "mean_power_dbm": estimate,
        "mean_power_low_dbm": low,
        "mean_power_high_dbm": high,
        "fading_k_db": level.k_db,
        "exchanges": level.exchanges,
        "independent_fades": level.effective,
        "why_not": (level.mean_power == MeanPower::Open).then_some(words::NOTHING_OF_THE_LEVEL),
        "notes": level.notes.iter().map(|note| words::level_note(*note)).collect::<Vec<_>>(),
    })
}

/// A margin; what is not known of it is null.
pub fn margin(margin: &Margin) -> Value {
    let (estimate, low, high) = match margin {
        Margin::Between { estimate_db, interval } => (Some(*estimate_db), Some(interval.low), Some(interval.high)),
        Margin::AtMost { high_db } => (None, None, Some(*high_db)),
        Margin::AtLeast { low_db } => (None, Some(*low_db), None),
    };
    json!({ "margin_db": estimate, "margin_low_db": low, "margin_high_db": high })
}

fn printed(figure: &Printed<Estimate>) -> Value {
    match figure {
        Printed::Value(estimate) => {
            json!({ "value": estimate.value, "low": estimate.low, "high": estimate.high, "why": null })
        }
        Printed::AtLeast { low, why } => json!({ "value": null, "low": low, "high": null, "why": why.to_string() }),
        Printed::AtMost { high, why } => json!({ "value": null, "low": null, "high": high, "why": why.to_string() }),
        Printed::NotPrinted(why) => json!({ "value": null, "low": null, "high": null, "why": why.to_string() }),
    }
}

fn arc(figure: &Printed<Arc>) -> Value {
    match figure {
        Printed::Value(arc) => {
            json!({ "turn_deg": arc.centre_deg, "half_width_deg": arc.half_width_deg, "why": null })
        }
        Printed::AtLeast { why, .. } | Printed::AtMost { why, .. } | Printed::NotPrinted(why) => {
            json!({ "turn_deg": null, "half_width_deg": null, "why": why.to_string() })
        }
    }
}

fn sweep(sweep: &Sweep, estimates: &Estimates) -> Value {
    let board = estimates.boards.iter().find(|board| board.name == sweep.board);
    let figures = &sweep.figures;
    let (directional, p, needed) = match figures.directivity {
        Directivity::Shown { p, needed } => (Some(true), Some(p), Some(needed)),
        Directivity::NotShown { p, needed } => (Some(false), Some(p), Some(needed)),
        Directivity::NotTested(_) => (None, None, None),
    };
    let steps: Vec<Value> = figures
        .steps
        .iter()
        .map(|step| {
            json!({
                "turn_deg": step.turn_deg,
                "messages": step.exchanges,
                "delivered": step.delivered,
                "level_dbm": printed(&step.level),
            })
        })
        .collect();
    json!({
        "point": sweep.name,
        "pose": sweep.pose,
        "board": sweep.board,
        "levels_read_at": board.and_then(|board| board.side),
        "run": sweep.run,
        "begin_utc": sweep.begin.rfc3339(),
        "distance_m": sweep.distance_m,
        "with_position": sweep.whereabouts.placed,
        "farthest_step_m": sweep.whereabouts.farthest_step_m,
        "caution": sweep.whereabouts.caution(),
        "directional": directional,
        "directional_p": p,
        "directional_p_needed": needed,
        "strongest": arc(&figures.strongest),
        "weakest": arc(&figures.weakest),
        "beamwidth_deg": printed(&figures.beamwidth_deg),
        "share_within_3_db": printed(&figures.share_within_3_db),
        "front_to_back_db": printed(&figures.front_to_back_db),
        "null_depth_db": printed(&figures.null_depth_db),
        "closure": match &figures.closure {
            Ok(closure) => json!({
                "turn_deg": closure.turn_deg,
                "difference_db": closure.difference_db,
                "low_db": closure.interval_db().0,
                "high_db": closure.interval_db().1,
                "why": null,
            }),
            Err(why) => json!({
                "turn_deg": null, "difference_db": null, "low_db": null, "high_db": null, "why": why.to_string(),
            }),
        },
        "spread_db": figures.pattern.as_ref().ok().map(|pattern| pattern.tau_db),
        "steps": steps,
    })
}
