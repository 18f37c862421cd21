//! Several surveys of the same ground together: what differs where, from the same findings as screen and table.

use super::whole::title;
use crate::findings::sweeps::Sweep;
use crate::findings::together::compared::Compared;
use crate::findings::together::member::Member;
use crate::findings::together::pair::Pair;
use crate::findings::together::say;
use crate::findings::together::whole::{Together, together};
use crate::findings::words;
use crate::stats::difference::Limited;
use crate::writeup::document::{Block, Cell, DataTable, Document, ReadTable, Section};
use crate::writeup::number;
use crate::writeup::subject::Subject;
use crate::writeup::svg::{polar, together as svg};
use crate::writeup::text::shortened;

/// At most so many places are printed; the table holds all.
const MOST_PLACES: usize = 15;

/// The answer, and the sections that bear it out, one a pair of surveys; nothing of one survey.
pub fn parts(subjects: &[Subject], document: &mut Document) -> (Vec<Block>, Vec<Section>) {
    if subjects.len() < 2 {
        return (Vec::new(), Vec::new());
    }
    let titles: Vec<String> = subjects
        .iter()
        .enumerate()
        .map(|(index, subject)| title(subject, index))
        .collect();
    let members: Vec<Member<'_>> = subjects
        .iter()
        .zip(&titles)
        .map(|(subject, name)| Member {
            name,
            samples: &subject.samples,
            setup: &subject.setup,
            estimates: &subject.estimates,
        })
        .collect();
    let found = together(&members);
    let mut sections = vec![opening(&found, subjects, document)];
    for (index, pair) in found.pairs.iter().enumerate() {
        sections.push(section(index, pair, document));
    }
    let mut answer = vec![Block::List(say::surveys(&found))];
    for pair in &found.pairs {
        answer.push(Block::Text(format!("{}:", say::who(pair))));
        answer.push(Block::Lead(say::answer(pair)));
    }
    (answer, sections)
}

fn opening(found: &Together, subjects: &[Subject], document: &mut Document) -> Section {
    let mut blocks = Vec::new();
    if found.pairs.is_empty() {
        blocks.push(Block::Text(
            "They are not compared: in fewer than two of them an exchange has a position.".to_owned(),
        ));
    }
    // The surveys' letters tell their sweeps apart.
    let lettered: Vec<Sweep> = subjects
        .iter()
        .zip(&found.surveys)
        .flat_map(|(subject, shown)| subject.estimates.sweeps.iter().map(move |sweep| (sweep, shown.letter)))
        .map(|(sweep, letter)| Sweep {
            board: format!("{letter}: {}", sweep.board),
            ..sweep.clone()
        })
        .collect();
    let sweeps: Vec<&Sweep> = lettered.iter().collect();
    let swept = subjects
        .iter()
        .filter(|subject| !subject.estimates.sweeps.is_empty())
        .count();
    if swept > 1
        && let Some(figure) = polar::overlay("together-sweeps", &sweeps)
    {
        blocks.push(document.add_figure(figure));
    }
    Section {
        id: "together".to_owned(),
        title: "The surveys together".to_owned(),
        sub: false,
        blocks,
    }
}

fn section(index: usize, pair: &Pair, document: &mut Document) -> Section {
    let name = |what: &str| format!("together-{}-{what}", index + 1);
    let mut blocks = Vec::new();
    blocks.extend(pair.mind.iter().map(|what| Block::Caution(say::mind(what, pair))));
    for figure in [svg::map(&name("map"), pair), svg::level(&name("level"), pair)]
        .into_iter()
        .flatten()
    {
        blocks.push(document.add_figure(figure));
    }
    if !pair.places.is_empty() {
        blocks.push(Block::Table(places(pair)));
        if pair.places.len() > MOST_PLACES {
            blocks.push(Block::Text(format!(
                "The first {MOST_PLACES} of {} places; {}.csv holds all.",
                pair.places.len(),
                name("places")
            )));
        }
        blocks.push(Block::Text(say::method(pair)));
        document.tables.push(places_data(&name("places"), pair));
    }
    if !pair.stops.is_empty() {
        blocks.push(Block::Table(stops(pair)));
        document.tables.push(stops_data(&name("points"), pair));
    }
    if !pair.namesakes.is_empty() {
        let said = pair.namesakes.iter().map(|namesake| {
            format!(
                "{} is not one place: the two lie {} apart.",
                shortened(&namesake.name, 40),
                words::metres(namesake.apart_m)
            )
        });
        blocks.push(Block::List(said.collect()));
    }
    Section {
        id: format!("together-{}", index + 1),
        title: say::who(pair),
        sub: true,
        blocks,
    }
}

fn heads(first: &[(&str, bool)], pair: &Pair) -> Vec<(String, bool)> {
    let (a, b) = say::letters(pair);
    let mut heads: Vec<(String, bool)> = first
        .iter()
        .map(|(name, number)| ((*name).to_owned(), *number))
        .collect();
    heads.extend([
        (format!("{a} delivered"), true),
        (format!("{b} delivered"), true),
        ("difference, of 100".to_owned(), true),
        ("level, dB".to_owned(), true),
    ]);
    heads
}

fn places(pair: &Pair) -> ReadTable {
    let (a, b) = say::letters(pair);
    let mut head = heads(&[("place, metres", false)], pair);
    head.push(("which".to_owned(), false));
    ReadTable {
        caption: format!(
            "Places both measured, {}, the surest difference first; differences are {b} less {a}, with 95 % limits.",
            say::origin(pair)
        ),
        head,
        rows: pair
            .places
            .iter()
            .take(MOST_PLACES)
            .map(|place| {
                let [first, second] = say::counts(&place.found);
                vec![
                    say::at_in_short(place.at),
                    first,
                    second,
                    say::points(place.found.delivery),
                    say::decibels_in_short(place.found.level),
                    say::better(place, pair),
                ]
            })
            .collect(),
    }
}

fn stops(pair: &Pair) -> ReadTable {
    let (a, b) = say::letters(pair);
    ReadTable {
        caption: format!("Points of both; differences are {b} less {a}, with 95 % limits."),
        head: heads(&[("point", false), ("apart", true)], pair),
        rows: pair
            .stops
            .iter()
            .map(|stop| {
                let [first, second] = say::counts(&stop.found);
                vec![
                    say::stop_name(stop),
                    stop.apart_m.map_or_else(|| "–".to_owned(), words::metres),
                    first,
                    second,
                    say::points(stop.found.delivery),
                    say::decibels_in_short(stop.found.level),
                ]
            })
            .collect(),
    }
}

fn limits(figure: Limited, decimals: usize) -> [Cell; 3] {
    [figure.value, figure.low, figure.high].map(|value| number::cell(value, decimals))
}

/// Columns that places and points share.
const FIGURES: [&str; 22] = [
    "a_messages",
    "a_delivered",
    "a_rate",
    "a_rate_low",
    "a_rate_high",
    "a_level_dbm",
    "a_level_low_dbm",
    "a_level_high_dbm",
    "b_messages",
    "b_delivered",
    "b_rate",
    "b_rate_low",
    "b_rate_high",
    "b_level_dbm",
    "b_level_low_dbm",
    "b_level_high_dbm",
    "rate_difference",
    "rate_difference_low",
    "rate_difference_high",
    "level_difference_db",
    "level_difference_low_db",
    "level_difference_high_db",
];

fn figures(found: &Compared) -> Vec<Cell> {
    let mut cells = Vec::with_capacity(FIGURES.len());
    for of in found.of {
        cells.push(number::whole(Some(of.sent)));
        cells.push(number::whole(Some(of.delivered)));
        cells.extend(limits(of.rate, 4));
        cells.extend(limits(of.level, 2));
    }
    cells.extend(limits(found.delivery, 4));
    cells.extend(limits(found.level, 2));
    cells
}

fn places_data(name: &str, pair: &Pair) -> DataTable {
    let mut head = vec!["east_m", "north_m", "square_m", "which"];
    head.extend(FIGURES);
    DataTable {
        name: name.to_owned(),
        head,
        rows: pair
            .places
            .iter()
            .map(|place| {
                let mut cells = vec![
                    number::cell(Some(place.at.0), 1),
                    number::cell(Some(place.at.1), 1),
                    number::cell(pair.side_m, 0),
                    number::words(&say::better(place, pair)),
                ];
                cells.extend(figures(&place.found));
                cells
            })
            .collect(),
    }
}

fn stops_data(name: &str, pair: &Pair) -> DataTable {
    let mut head = vec!["a_point", "b_point", "apart_m", "distance_m"];
    head.extend(FIGURES);
    DataTable {
        name: name.to_owned(),
        head,
        rows: pair
            .stops
            .iter()
            .map(|stop| {
                let mut cells = vec![
                    number::words(&stop.names[0]),
                    number::words(&stop.names[1]),
                    number::cell(stop.apart_m, 1),
                    number::cell(stop.distance_m, 1),
                ];
                cells.extend(figures(&stop.found));
                cells
            })
            .collect(),
    }
}
