//! A comparison of surveys in words, the same on the screen, in the table and in the write-up.

use super::compared::{Compared, Measured};
use super::member::letter;
use super::mind::Mind;
use super::pair::{Better, NoLevels, Pair, PlacePair};
use super::stops::StopPair;
use super::whole::Together;
use crate::findings::words::{self, count, metres, minus, percent, percents, signed};
use crate::stats::difference::{Average, Limited, NoAverage};
use crate::stats::proportions::Interval;
use crate::units::UtcMs;

/// Which surveys and boards are compared: `B (fern) against A (yew)`.
pub fn who(pair: &Pair) -> String {
    let (a, b) = letters(pair);
    if pair.boards[0] == pair.boards[1] {
        format!("{b} against {a}, {} in both", pair.boards[0])
    } else {
        format!("{b} ({}) against {a} ({})", pair.boards[1], pair.boards[0])
    }
}

/// The letters of the first and the second.
pub fn letters(pair: &Pair) -> (char, char) {
    (letter(pair.first), letter(pair.second))
}

/// At how many places which is better, in a sentence.
pub fn verdict(pair: &Pair) -> String {
    let (a, b) = letters(pair);
    if pair.places.is_empty() {
        return match pair.side_m {
            Some(side) => format!(
                "No square of {} was measured in both with {} exchanges or more.",
                metres(side),
                super::pair::ENOUGH
            ),
            None => "No position is known, so no place can be compared.".to_owned(),
        };
    }
    let (second, first, same) = (
        pair.count(Better::Second),
        pair.count(Better::First),
        pair.count(Better::NotTold),
    );
    let total = pair.places.len();
    let noun = if total == 1 { "place" } else { "places" };
    if second + first == 0 {
        return format!("At none of {total} {noun} is one surely better than the other.");
    }
    let by_level = pair.places.iter().filter(|place| place.by_level).count();
    let how = match by_level {
        0 => "better",
        some if some == first + second => "stronger",
        _ => "better or stronger",
    };
    format!("Of {total} {noun}, {b} is surely {how} at {second}, {a} at {first}; not told apart at {same}.")
}

/// The answer: the verdict, and what holds on average over places.
pub fn answer(pair: &Pair) -> String {
    let mut said = verdict(pair);
    if pair.places.is_empty() {
        return said;
    }
    if let (Some(Err(why)), Err(_)) = (pair.level, pair.delivery) {
        said.push_str(&format!(" No average over places: {}.", no_average(why)));
        return said;
    }
    for part in [level_average(pair), delivery_average(pair)].into_iter().flatten() {
        said.push(' ');
        said.push_str(&part);
    }
    said
}

/// The level on average over places, in a sentence; `None` where levels are not compared.
pub fn level_average(pair: &Pair) -> Option<String> {
    let (a, b) = letters(pair);
    let heard = match pair.side.ok()? {
        crate::findings::side::Side::There => "as the station heard them",
        crate::findings::side::Side::Here => "as the board heard the station",
    };
    Some(match pair.level? {
        Ok(Average {
            value,
            interval,
            places,
            ..
        }) => format!(
            "On average over {places} places {b}'s level is {} dB {} {a}'s ({} to {}), {heard}.",
            minus(value.abs(), 1),
            if value < 0.0 { "below" } else { "above" },
            signed(interval.low, 1),
            signed(interval.high, 1)
        ),
        Err(why) => format!("No average of levels: {}.", no_average(why)),
    })
}

/// The delivery on average over places, in a sentence; `None` where nothing was compared.
pub fn delivery_average(pair: &Pair) -> Option<String> {
    let (a, b) = letters(pair);
    if pair.places.is_empty() {
        return None;
    }
    Some(match pair.delivery {
        Ok(average) => format!(
            "Of 100 messages {b} delivered {} {} than {a} on average ({} to {}).",
            minus((average.value * 100.0).abs(), 1),
            if average.value < 0.0 { "fewer" } else { "more" },
            signed(average.interval.low * 100.0, 1),
            signed(average.interval.high * 100.0, 1)
        ),
        Err(why) => format!("No average of delivery: {}.", no_average(why)),
    })
}

/// Why there is no average.
pub fn no_average(why: NoAverage) -> String {
    match why {
        NoAverage::FewPatches(1) => "the places lie in one patch of ground, and four are needed".to_owned(),
        NoAverage::FewPatches(patches) => format!("the places lie in {patches} patches of ground, and four are needed"),
    }
}

/// Why levels are not compared.
pub const fn no_levels(why: NoLevels) -> &'static str {
    match why {
        NoLevels::NoneRead => "levels were not read in both",
        NoLevels::OwnMeters => {
            "the boards differ and the station's readings are not in both: a board's own meter compares with no other's"
        }
    }
}

/// What must be kept in mind, in a sentence.
pub fn mind(what: &Mind, pair: &Pair) -> String {
    let (a, b) = letters(pair);
    match what {
        Mind::NothingShared(Some(apart)) => format!(
            "{a} and {b} share no ground: where they come closest, {} lie between.",
            metres(*apart)
        ),
        Mind::NothingShared(None) => format!("{a} and {b} share no ground, as far as positions are known."),
        Mind::DaysApart(days) => format!(
            "{a} and {b} are {} {} apart: weather, leaves, traffic and the station's own state differ between days, and the difference holds all of it.",
            count(*days),
            if *days == 1 { "day" } else { "days" }
        ),
        Mind::HoursApart(hours) => format!(
            "{a} and {b} were made within a day, {} apart.",
            match hours {
                0 => "less than an hour".to_owned(),
                1 => "an hour".to_owned(),
                more => format!("{more} hours"),
            }
        ),
        Mind::Boards => format!(
            "{a} carried {}, {b} {}: the difference is of boards and of days together. Only one survey with both boards at the same points tells the boards apart.",
            pair.boards[0], pair.boards[1]
        ),
        Mind::Levels(why) => format!("Levels are not compared: {}.", no_levels(*why)),
        Mind::StationsApart(apart) => format!(
            "The stations stood {} apart: places are compared where they lie on the ground, distances each from its own station.",
            metres(*apart)
        ),
        Mind::StationUnknown([first, second]) => {
            let whose = match (first, second) {
                (true, true) => "either".to_owned(),
                (true, false) => a.to_string(),
                _ => b.to_string(),
            };
            format!("The station's position is not known in {whose}: whether both had one station cannot be said.")
        }
        Mind::StationHeights(first, second) => format!(
            "The station's aerial stood {} m high in {a} and {} m in {b}.",
            minus(*first, 1),
            minus(*second, 1)
        ),
        Mind::Channels(first, second) => format!("{a} was on channel {first}, {b} on {second}."),
        Mind::Goals(first, second) => format!(
            "The goals differ: {} delivered in {a}, {} in {b}. Nothing here depends on them.",
            percent(*first),
            percent(*second)
        ),
        Mind::Positions(sigma) => format!(
            "Positions are known to about {} (one sigma on each axis): a square holds its own places only so far.",
            metres(*sigma)
        ),
        Mind::OtherBoards(names) => format!(
            "Not compared, since only one of the two carried them: {}.",
            names.join(", ")
        ),
    }
}

/// A delivery rate as it is told, with its limits: `98 % of 120 (94–99 %)`.
fn rate(of: Measured) -> String {
    if of.sent == 0 {
        return "–".to_owned();
    }
    format!(
        "{} of {} ({})",
        percent(of.delivered as f64 / of.sent as f64),
        count(of.sent),
        limits(of.rate)
    )
}

/// A difference of delivery in points of a hundred, with its limits.
pub fn points(difference: Limited) -> String {
    in_unit(difference, 100.0, 0, "")
}

/// A difference of level in dB, with its limits.
pub fn decibels(difference: Limited) -> String {
    in_unit(difference, 1.0, 1, " dB")
}

/// A difference of level as numbers only, where a heading names the unit.
pub fn decibels_in_short(difference: Limited) -> String {
    in_unit(difference, 1.0, 1, "")
}

fn in_unit(difference: Limited, scale: f64, decimals: usize, unit: &str) -> String {
    let told = |number: f64| signed(number * scale, decimals);
    let to = i32::try_from(decimals).unwrap_or(0);
    let least = |low: f64| signed(words::down(low * scale, to), decimals);
    let most = |high: f64| signed(words::up(high * scale, to), decimals);
    match (difference.value, difference.low, difference.high) {
        (Some(value), Some(low), Some(high)) => {
            format!("{}{unit} ({} to {})", told(value), told(low), told(high))
        }
        (_, Some(low), None) => format!("at least {}{unit}", least(low)),
        (_, None, Some(high)) => format!("at most {}{unit}", most(high)),
        (None, Some(low), Some(high)) => format!("{} to {}{unit}", least(low), most(high)),
        _ => "–".to_owned(),
    }
}

/// Which is better at a place, or stronger where the level alone tells.
pub fn better(place: &PlacePair, pair: &Pair) -> String {
    let (a, b) = letters(pair);
    let how = if place.by_level { "stronger" } else { "better" };
    match place.better {
        Better::Second => format!("{b} {how}"),
        Better::First => format!("{a} {how}"),
        Better::NotTold => "not told apart".to_owned(),
    }
}

/// Where a place lies, metres east and north of the first station (or of the first place).
pub fn at((east, north): (f64, f64)) -> String {
    let way = |metres: f64, plus: &str, less: &str| {
        format!(
            "{} m {}",
            minus(metres.abs(), 0),
            if metres < 0.0 { less } else { plus }
        )
    };
    format!("{}, {}", way(east, "E", "W"), way(north, "N", "S"))
}

/// The same as numbers of metres only, where a heading names the unit.
pub fn at_in_short(place: (f64, f64)) -> String {
    at(place).replace(" m ", "\u{A0}")
}

/// What metres east and north are counted from.
pub fn origin(pair: &Pair) -> String {
    let (a, _) = letters(pair);
    if pair.stations[0].is_some() {
        format!("from {a}'s station")
    } else {
        "from the first place measured".to_owned()
    }
}

/// How a point of both is called.
pub fn stop_name(stop: &StopPair) -> String {
    let [a, b] = &stop.names;
    let name = if a == b { a.clone() } else { format!("{a} / {b}") };
    match stop.apart_m {
        Some(_) => name,
        None => format!("{name} (by name alone)"),
    }
}

/// A rate with its limits, in per cent.
pub fn limits(rate: Limited) -> String {
    match rate.low.zip(rate.high) {
        Some((low, high)) => percents(Interval { low, high }),
        None => "–".to_owned(),
    }
}

/// What was delivered of how many at one place, for each survey.
pub fn counts(found: &Compared) -> [String; 2] {
    found.of.map(rate)
}

/// What is compared, for a reader who sees it for the first time.
pub fn method(pair: &Pair) -> String {
    let side = pair.side_m.map_or_else(|| "–".to_owned(), metres);
    format!(
        "Squares of ground {side} wide that both went through with {} exchanges or more; sweeps are left out. Differences are the second less the first. \
         Limits are 95 % for a place by itself; \"surely\" means 95 % for all places together. Limits of differences after Newcombe (1998, Stat. Med. 17:873) and Zou and Donner (2008, Stat. Med. 27:1693); averages count patches of nine squares as independent.",
        super::pair::ENOUGH
    )
}

/// The surveys, one a line: letter, title, day, counts.
pub fn surveys(together: &Together) -> Vec<String> {
    let line = |shown: &super::whole::Shown| {
        let day = shown.begin.and_then(UtcMs::rfc3339);
        format!(
            "{}: {}{}, {} exchanges, {} delivered",
            shown.letter,
            shown.title,
            day.as_deref()
                .and_then(|day| day.get(..10))
                .map_or_else(String::new, |day| format!(", {day}")),
            count(shown.exchanges),
            count(shown.delivered)
        )
    };
    together.surveys.iter().map(line).collect()
}
