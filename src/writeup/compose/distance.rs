//! Delivery and level by distance, board by board, with the law and the ranges.

use super::whole::Part;
use crate::findings::by_distance::by_distance;
use crate::findings::places::telling::STATION_DOUBTED;
use crate::findings::reach_words;
use crate::findings::side::Side;
use crate::findings::words;
use crate::stats::walk::describe::RangeWording;
use crate::stats::walk::inflation::Inflation;
use crate::stats::walk::posterior::Spread;
use crate::writeup::document::{Block, Cell, DataTable, Document, ReadTable, Section};
use crate::writeup::number;
use crate::writeup::svg::distance::{self, Board};
use crate::writeup::text::shortened;

/// At most so many boards have figures by distance; the tables hold all.
const MOST_BOARDS: usize = 6;

/// The section, with its figures and tables.
pub fn section(part: &Part<'_>, document: &mut Document) -> Section {
    let doubted = part
        .subject
        .places
        .as_ref()
        .and_then(|places| places.station_doubted.as_ref());
    let mut blocks: Vec<Block> = doubted
        .map(|_| Block::Caution(STATION_DOUBTED.to_owned()))
        .into_iter()
        .collect();
    let mut ranges = Vec::new();
    let mut bodies = Vec::new();
    let mut range_data: Vec<Vec<Cell>> = Vec::new();
    let mut ring_data: Vec<Vec<Cell>> = Vec::new();
    let mut law_data: Vec<Vec<Cell>> = Vec::new();
    let mut shares: Vec<f64> = Vec::new();
    let mut unfitted: Vec<(String, Vec<String>)> = Vec::new();
    let mut lost: Vec<String> = Vec::new();
    for (index, board) in part.subject.estimates.boards.iter().enumerate() {
        // Where no level was read it does not matter whose they would be.
        let side = board.reach.as_ref().map_or(Side::There, |reach| reach.side);
        let measured = by_distance(&part.subject.samples, &board.name, side);
        let walk_losses = board.walk_losses();
        if let Some(all_lost) = board.walk_losses.all_lost() {
            lost.push(format!("{}: {all_lost}.", board.name));
        } else if let [sum, reasons @ ..] = walk_losses.as_slice() {
            let reasons = if reasons.is_empty() {
                String::new()
            } else {
                format!(": {}", reasons.join("; "))
            };
            lost.push(format!("{}: {sum}{reasons}.", board.name));
        }
        for ring in &measured.rings {
            ring_data.push(vec![
                number::words(&board.name),
                number::cell(Some(ring.from_m), 1),
                number::cell(Some(ring.to_m), 1),
                number::cell(Some(ring.mean_m), 1),
                number::whole(Some(ring.sent)),
                number::whole(Some(ring.delivered)),
                number::cell(Some(ring.delivered as f64 / ring.sent as f64), 4),
                number::cell(Some(ring.plain.low), 4),
                number::cell(Some(ring.plain.high), 4),
                number::cell(Some(ring.interval.low), 4),
                number::cell(Some(ring.interval.high), 4),
                number::cell(ring.mean_dbm, 1),
            ]);
        }
        let Some(reach) = &board.reach else { continue };
        let drawn = Board {
            name: &board.name,
            measured: &measured,
            reach,
            goal: part.subject.setup.goal.delivery,
            why_no_law: board.why_no_range(),
        };
        for point in drawn.law() {
            law_data.push(vec![
                number::words(&board.name),
                number::cell(Some(point.distance_m), 1),
                number::cell(Some(point.level_dbm.median), 2),
                number::cell(Some(point.level_dbm.low), 2),
                number::cell(Some(point.level_dbm.high), 2),
                number::cell(Some(point.delivery.median), 4),
                number::cell(Some(point.delivery.low), 4),
                number::cell(Some(point.delivery.high), 4),
                number::whole(Some(u64::from(point.extrapolated))),
            ]);
        }
        if let Ok(fit) = &reach.fit {
            let slope = match fit.slope(&Inflation::MEASURED) {
                Ok(slope) => format!(
                    "{} ({} to {})",
                    words::minus(slope.median, 1),
                    words::minus(slope.low, 1),
                    words::minus(slope.high, 1)
                ),
                Err(why) => format!("not given: {}", reach_words::no_slope(&why)),
            };
            let shadowing = fit.shadowing_db(&Inflation::MEASURED);
            let mut row = vec![board.name.clone()];
            shares = reach.ranges.iter().map(|(share, _)| *share).collect();
            row.extend(reach.ranges.iter().map(|(_, wording)| reach_words::range(wording)));
            let interference = fit.interference_share(&Inflation::MEASURED);
            row.push(reach_words::interference(interference));
            row.push(slope);
            row.push(format!(
                "{} dB ({} to {})",
                words::minus(shadowing.median, 1),
                words::minus(shadowing.low, 1),
                words::minus(shadowing.high, 1)
            ));
            ranges.push(row);
            bodies.push(match fit.body_db(&Inflation::MEASURED) {
                Some(body) => format!("{}: {}.", board.name, reach_words::walkers_body_loss(body)),
                None => format!(
                    "{}: what the walker's body takes is not told: {}.",
                    board.name,
                    reach_words::NO_BODY_LOSS
                ),
            });
            range_data.extend(
                reach
                    .ranges
                    .iter()
                    .map(|(share, wording)| range_cells(&board.name, *share, wording, interference)),
            );
        } else if let Some(why) = board.why_no_range() {
            match unfitted.iter_mut().find(|(known, _)| *known == why) {
                Some((_, names)) => names.push(board.name.clone()),
                None => unfitted.push((why, vec![board.name.clone()])),
            }
        }
        // A board that only stood at a few points shows nothing over distance that their table does not.
        let spread = measured.span.is_some_and(|(near, far)| far >= 1.5 * near) && measured.rings.len() >= 3;
        if index < MOST_BOARDS && spread {
            let name = |kind: &str| part.name(&format!("{kind}-{}", index + 1));
            if let Some(figure) = distance::level(&name("level"), &drawn) {
                blocks.push(document.add_figure(figure));
            }
            if let Some(figure) = distance::delivery(&name("delivery"), &drawn) {
                blocks.push(document.add_figure(figure));
            }
        }
    }
    if !ranges.is_empty() {
        let mut head = vec![("board".to_owned(), false)];
        head.extend(
            shares
                .iter()
                .map(|share| (format!("{} delivered to", words::percent(*share)), true)),
        );
        head.push(("interference takes".to_owned(), true));
        head.push(("exponent".to_owned(), true));
        head.push(("shadowing".to_owned(), true));
        blocks.insert(
            0,
            Block::Table(ReadTable {
                caption: "How far each board reaches, on average over places at that distance, interference left aside; what that takes at any distance; how fast its level falls (10 × exponent dB for ten times \
                          the distance); and by how much places at one distance differ (one standard deviation)."
                    .to_owned(),
                head,
                rows: ranges,
            }),
        );
        blocks.insert(1, Block::List(bodies));
    }
    for (why, names) in unfitted {
        blocks.push(Block::Text(format!(
            "No law is fitted for {}: {why}.",
            names.join(", ")
        )));
    }
    if !lost.is_empty() {
        blocks.push(Block::Text("Why messages were lost on walks:".to_owned()));
        blocks.push(Block::List(lost));
    }
    if blocks.is_empty() {
        blocks.push(Block::Text("Nothing was measured at a known distance.".to_owned()));
    }
    let undrawn: Vec<String> = part
        .subject
        .estimates
        .boards
        .iter()
        .skip(MOST_BOARDS)
        .map(|board| shortened(&board.name, 40))
        .collect();
    if !undrawn.is_empty() {
        blocks.push(Block::Text(format!("In the tables only: {}.", undrawn.join(", "))));
    }
    let mut table = |name: &str, head: &[&'static str], rows: Vec<Vec<Cell>>| {
        if !rows.is_empty() {
            document.tables.push(DataTable {
                name: part.name(name),
                head: head.to_vec(),
                rows,
            });
        }
    };
    table(
        "ranges",
        &[
            "board",
            "delivery",
            "said",
            "metres",
            "low_m",
            "high_m",
            "interference",
            "interference_low",
            "interference_high",
        ],
        range_data,
    );
    table(
        "rings",
        &[
            "board",
            "from_m",
            "to_m",
            "mean_m",
            "exchanges",
            "delivered",
            "rate",
            "rate_low",
            "rate_high",
            "delivered_low",
            "delivered_high",
            "mean_dbm",
        ],
        ring_data,
    );
    table(
        "law",
        &[
            "board",
            "distance_m",
            "level_dbm",
            "level_low_dbm",
            "level_high_dbm",
            "delivery",
            "delivery_low",
            "delivery_high",
            "extrapolated",
        ],
        law_data,
    );
    part.section("distance", "Delivery and level by distance", blocks)
}

fn range_cells(board: &str, share: f64, wording: &RangeWording, interference: Spread) -> Vec<Cell> {
    let (said, metres, low, high) = match *wording {
        RangeWording::AtLeast { metres } => ("at least", None, Some(metres), None),
        RangeWording::About { metres, low, high, .. } => ("about", metres, Some(low), high),
        RangeWording::Interval { low, metres, high } => ("interval", Some(metres), Some(low), high),
        RangeWording::Below { metres } => ("below", None, None, Some(metres)),
        RangeWording::Unreachable { .. } => ("unreachable", None, None, None),
        RangeWording::NotMeasured(_) => ("not measured", None, None, None),
    };
    vec![
        number::words(board),
        number::cell(Some(share), 2),
        number::words(said),
        number::cell(metres, 1),
        number::cell(low, 1),
        number::cell(high, 1),
        number::cell(Some(interference.median), 4),
        number::cell(Some(interference.low), 4),
        number::cell(Some(interference.high), 4),
    ]
}
