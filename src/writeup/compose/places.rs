//! Places: where a node can go, the best spots, where to walk next.

use super::points::{place_cells, place_columns};
use super::whole::Part;
use crate::findings::outdoors::{CAUTIONS, FIRST};
use crate::findings::places::telling;
use crate::findings::words;
use crate::units::Degrees;
use crate::writeup::document::{Block, Cell, DataTable, Document, ReadTable, Section};
use crate::writeup::number;
use crate::writeup::places::{SecondRows, class_words};
use crate::writeup::svg::places::places;

/// The section, with its figure and tables.
///
/// `outdoors`: with what to take care of there, which is said once in a write-up.
pub fn section(part: &Part<'_>, document: &mut Document, outdoors: bool) -> Section {
    let Some(found) = &part.subject.places else {
        let why = match &part.subject.estimates.places {
            Some(Err(why)) => words::no_places(why),
            _ => "no board was heard".to_owned(),
        };
        let none = Block::Text(format!("No map of places was made: {why}."));
        return part.section("places", "Places", vec![none]);
    };
    // A doubted station and what is assumed stand before everything that rests on them.
    let before = found.station_doubted.iter().chain(&found.assumed);
    let mut blocks: Vec<Block> = before.cloned().map(Block::Caution).collect();
    let station = part.subject.setup.station.name.as_deref().unwrap_or("station");
    if let Some(figure) = places(&part.name("places"), found, station) {
        blocks.push(document.add_figure(figure));
    }
    if let Some(needed) = &found.needed {
        let (low, high) = needed.interval();
        blocks.push(Block::Text(format!(
            "A place needs a local mean level of {} dBm ({}) for {} delivered with {} dB to spare; the map tells the chance that it has it.",
            words::minus(needed.level, 1),
            high.map_or_else(
                || format!(
                    "{} or more: {}",
                    words::minus(words::down(low, 1), 1),
                    telling::needed_is_open(needed).unwrap_or_default()
                ),
                |high| format!("{} to {}", words::minus(words::down(low, 1), 1), words::minus(words::up(high, 1), 1))
            ),
            words::percent(found.delivery),
            words::minus(found.margin_db, 0)
        )));
    }
    if found.spots.is_empty() {
        blocks.push(Block::Text("No spot stands out.".to_owned()));
    } else {
        blocks.push(Block::Table(ReadTable {
            caption: format!(
                "The best spots for {}{}, best first; from {} exchanges.",
                found.node(),
                found
                    .if_taken
                    .as_ref()
                    .map_or_else(String::new, |taken| format!(", {taken}")),
                words::count(found.exchanges as u64)
            ),
            head: [
                ("spot", true),
                ("from the station", true),
                ("towards", true),
                ("chance to meet the goal", true),
                ("beyond the margin asked for", true),
                ("exchanges within 15 m", true),
            ]
            .map(|(name, numeric)| (name.to_owned(), numeric))
            .to_vec(),
            rows: found
                .spots
                .iter()
                .enumerate()
                .map(|(index, spot)| {
                    vec![
                        (index + 1).to_string(),
                        words::metres(spot.distance.0),
                        towards(spot.bearing),
                        words::percent(spot.chance),
                        format!(
                            "{} dB (at least {})",
                            words::minus(spot.spare_db, 0),
                            telling::spare_at_least(spot)
                        ),
                        words::count(u64::from(spot.exchanges)),
                    ]
                })
                .collect(),
        }));
    }
    if !found.next.is_empty() {
        blocks.push(Block::Text("Where to walk next:".to_owned()));
        blocks.push(Block::List(found.next.clone()));
    }
    for list in &found.second {
        blocks.push(Block::Text(list.head.clone()));
        if !list.rows.is_empty() {
            blocks.push(second_table(list, found.exchanges));
        }
    }
    if outdoors {
        blocks.push(Block::Text(format!("Before anybody goes there. {FIRST}")));
        blocks.push(Block::List(
            CAUTIONS.iter().map(|caution| (*caution).to_owned()).collect(),
        ));
    }
    blocks.extend(found.cautions.iter().cloned().map(Block::Caution));
    let mut head = vec!["spot"];
    head.extend(place_columns(part.teller));
    head.extend([
        "distance_m",
        "from_station_deg",
        "chance",
        "spare_db",
        "spare_low_db",
        "exchanges",
    ]);
    document.tables.push(DataTable {
        name: part.name("spots"),
        head,
        rows: found
            .spots
            .iter()
            .enumerate()
            .map(|(index, spot)| {
                let mut row = vec![number::whole(Some(index as u64 + 1))];
                row.extend(place_cells(part.teller, Some(spot.position)));
                row.extend([
                    number::cell(Some(spot.distance.0), 2),
                    Cell::Number(number::direction(spot.bearing.map(|bearing| bearing.0), 1)),
                    number::cell(Some(spot.chance), 4),
                    number::cell(Some(spot.spare_db), 2),
                    number::cell(spot.spare_low_db, 2),
                    number::whole(Some(u64::from(spot.exchanges))),
                ]);
                row
            })
            .collect(),
    });
    document.tables.push(second_data(part, &found.second));
    document.tables.push(DataTable {
        name: part.name("places"),
        head: vec!["east_m", "north_m", "class", "chance"],
        rows: found
            .cells
            .iter()
            .map(|cell| {
                vec![
                    number::cell(Some(cell.x), 1),
                    number::cell(Some(cell.y), 1),
                    number::words(class_words(cell.class)),
                    number::cell(cell.estimate.map(|estimate| estimate.chance), 4),
                ]
            })
            .collect(),
    });
    part.section("places", "Places", blocks)
}

/// A shortlist as it is read: where from the station, and what it might newly serve; its own links were never measured, so without an interval.
fn second_table(list: &SecondRows, exchanges: usize) -> Block {
    let relay = list.what == "relay";
    let mut head = vec![
        ("place", true),
        ("from the station", true),
        ("towards", true),
        ("might newly serve of this ground", true),
    ];
    if relay {
        head.push(("itself in reach", true));
    }
    Block::Table(ReadTable {
        caption: format!(
            "Where a {} might stand, to be tested by walking: worked out from {} exchanges with the one station, never measured.",
            list.what,
            words::count(exchanges as u64)
        ),
        head: head
            .into_iter()
            .map(|(name, numeric)| (name.to_owned(), numeric))
            .collect(),
        rows: list
            .rows
            .iter()
            .enumerate()
            .map(|(index, place)| {
                let promise = &place.promise;
                let mut row = vec![
                    (index + 1).to_string(),
                    words::metres(place.distance.0),
                    towards(place.bearing),
                    words::percent(promise.score),
                ];
                if relay {
                    row.push(words::percent(promise.served));
                }
                row
            })
            .collect(),
    })
}

/// The same lists as data.
fn second_data(part: &Part<'_>, lists: &[SecondRows]) -> DataTable {
    let mut head = vec!["what", "place"];
    head.extend(place_columns(part.teller));
    head.extend(["distance_m", "from_station_deg", "newly_served", "itself_in_reach"]);
    let rows = lists.iter().flat_map(|list| {
        list.rows.iter().enumerate().map(|(index, place)| {
            let promise = &place.promise;
            let mut row = vec![number::words(list.what), number::whole(Some(index as u64 + 1))];
            row.extend(place_cells(part.teller, Some(place.position)));
            row.extend([
                number::cell(Some(place.distance.0), 2),
                Cell::Number(number::direction(place.bearing.map(|bearing| bearing.0), 1)),
                number::cell(Some(promise.score), 4),
                number::cell((list.what == "relay").then_some(promise.served), 4),
            ]);
            row
        })
    });
    DataTable {
        name: part.name("second"),
        head,
        rows: rows.collect(),
    }
}

/// A bearing from the station, as tables have it.
fn towards(bearing: Option<Degrees>) -> String {
    bearing.map_or_else(|| "–".to_owned(), words::bearing)
}
