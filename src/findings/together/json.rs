//! A comparison of surveys as JSON.

use serde_json::{Value, json};

use super::compared::Measured;
use super::pair::Pair;
use super::say;
use super::whole::Together;
use crate::stats::difference::{Average, Limited, NoAverage};
use crate::units::UtcMs;

/// All of it.
pub fn json(together: &Together) -> Value {
    json!({
        "surveys": together.surveys.iter().map(|shown| json!({
            "letter": shown.letter.to_string(),
            "title": shown.title,
            "begin_utc": shown.begin.and_then(UtcMs::rfc3339),
            "exchanges_counted": shown.exchanges,
            "delivered": shown.delivered,
        })).collect::<Vec<_>>(),
        "pairs": together.pairs.iter().map(pair).collect::<Vec<_>>(),
    })
}

fn pair(pair: &Pair) -> Value {
    let (a, b) = say::letters(pair);
    json!({
        "first": a.to_string(),
        "second": b.to_string(),
        "first_board": pair.boards[0],
        "second_board": pair.boards[1],
        "levels_compared_at": pair.side.ok(),
        "levels_why_not": pair.side.err().map(say::no_levels),
        "square_m": pair.side_m,
        "answer": say::answer(pair),
        "average_level_db": pair.level.map(average),
        "average_delivery": average(pair.delivery),
        "metres_counted_from": say::origin(pair),
        "places": pair.places.iter().map(|place| json!({
            "east_m": place.at.0,
            "north_m": place.at.1,
            "first": measured(place.found.of[0]),
            "second": measured(place.found.of[1]),
            "delivery_difference": limited(place.found.delivery),
            "level_difference_db": limited(place.found.level),
            "better": say::better(place, pair),
        })).collect::<Vec<_>>(),
        "squares_too_thin": pair.thin.len(),
        "squares_only_first": pair.alone[0].len(),
        "squares_only_second": pair.alone[1].len(),
        "points": pair.stops.iter().map(|stop| json!({
            "first_name": stop.names[0],
            "second_name": stop.names[1],
            "apart_m": stop.apart_m,
            "distance_m": stop.distance_m,
            "first": measured(stop.found.of[0]),
            "second": measured(stop.found.of[1]),
            "delivery_difference": limited(stop.found.delivery),
            "level_difference_db": limited(stop.found.level),
        })).collect::<Vec<_>>(),
        "not_one_place": pair.namesakes.iter().map(|namesake| json!({
            "name": namesake.name,
            "apart_m": namesake.apart_m,
        })).collect::<Vec<_>>(),
        "mind": pair.mind.iter().map(|what| say::mind(what, pair)).collect::<Vec<_>>(),
    })
}

fn measured(of: Measured) -> Value {
    json!({
        "messages": of.sent,
        "delivered": of.delivered,
        "rate": limited(of.rate),
        "level_dbm": limited(of.level),
    })
}

fn limited(figure: Limited) -> Value {
    json!({ "value": figure.value, "low": figure.low, "high": figure.high })
}

fn average(average: Result<Average, NoAverage>) -> Value {
    match average {
        Ok(average) => json!({
            "value": average.value,
            "low": average.interval.low,
            "high": average.interval.high,
            "places": average.places,
            "patches": average.patches,
            "why_not": null,
        }),
        Err(why) => json!({
            "value": null, "low": null, "high": null, "places": null, "patches": null, "why_not": say::no_average(why),
        }),
    }
}
