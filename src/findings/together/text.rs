//! A comparison of surveys as plain text, for the table of `farpace figures`.

use std::fmt::Write as _;

use super::pair::Pair;
use super::say;
use super::whole::Together;
use crate::findings::words::{metres, minus};

/// All of it.
pub fn text(together: &Together) -> String {
    let mut out = String::from("Together\n");
    for line in say::surveys(together) {
        let _ = writeln!(out, "  {line}");
    }
    if together.pairs.is_empty() {
        out.push_str("  nothing to compare: two surveys with positions are needed\n");
    }
    for pair in &together.pairs {
        lines(&mut out, pair);
    }
    out
}

fn lines(out: &mut String, pair: &Pair) {
    let _ = writeln!(out, "\n{}", say::who(pair));
    let _ = writeln!(out, "  {}", say::answer(pair));
    for what in &pair.mind {
        let _ = writeln!(out, "  mind: {}", say::mind(what, pair));
    }
    if !pair.places.is_empty() {
        let _ = writeln!(out, "  {}", say::method(pair));
        let _ = writeln!(out, "  Places, {}:", say::origin(pair));
    }
    for place in &pair.places {
        let [first, second] = say::counts(&place.found);
        let _ = writeln!(
            out,
            "    {:<18} {first} / {second}: {} points, level {}; {}",
            say::at(place.at),
            say::points(place.found.delivery),
            say::decibels(place.found.level),
            say::better(place, pair)
        );
    }
    if !pair.places.is_empty() {
        let _ = writeln!(
            out,
            "  squares with too few exchanges {}, only in the first {}, only in the second {}",
            pair.thin.len(),
            pair.alone[0].len(),
            pair.alone[1].len()
        );
    }
    if !pair.stops.is_empty() {
        let _ = writeln!(out, "  Points of both:");
    }
    for stop in &pair.stops {
        let apart = stop
            .apart_m
            .map_or_else(String::new, |apart| format!(", {} apart", metres(apart)));
        let [first, second] = say::counts(&stop.found);
        let _ = writeln!(
            out,
            "    {}{apart}: {first} / {second}: {} points, level {}",
            say::stop_name(stop),
            say::points(stop.found.delivery),
            say::decibels(stop.found.level)
        );
    }
    for namesake in &pair.namesakes {
        let _ = writeln!(
            out,
            "    {} is not one place: the two lie {} m apart",
            namesake.name,
            minus(namesake.apart_m, 0)
        );
    }
}
