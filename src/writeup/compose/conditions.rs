//! Set-up and conditions: what was measured with, where, when, and what the surveyor noted.

use super::whole::{Part, days};
use crate::findings::words;
use crate::survey::sample::Excluded;
use crate::writeup::document::{Block, DataTable, Document, ReadTable, Section};
use crate::writeup::number;
use crate::writeup::private::Told;

/// At most so many notes are printed; the table holds all.
const MOST_NOTES: usize = 40;

/// The section, and its tables.
pub fn section(part: &Part<'_>, document: &mut Document) -> Section {
    let setup = &part.subject.setup;
    let samples = &part.subject.samples;
    let mut facts: Vec<(String, String)> = Vec::new();
    let mut fact = |name: &str, text: String| facts.push((name.to_owned(), text));
    if let Some(days) = days(samples) {
        fact("When", days);
    }
    let station = &setup.station;
    fact(
        "Station",
        station.name.clone().unwrap_or_else(|| "not named".to_owned()),
    );
    let place = match station.position.and_then(|position| part.teller.tell(position)) {
        Some(Told::Degrees(position)) => format!(
            "{}, {} (degrees north, east; WGS 84)",
            number::fixed(Some(position.lat().0), 6),
            number::fixed(Some(position.lon().0), 6)
        ),
        Some(Told::Metres { .. }) => "left out; all places are metres east and north of it".to_owned(),
        None => "not known: distances and bearings are empty".to_owned(),
    };
    fact("Its position", place);
    fact(
        "Its aerial",
        station.height.map_or_else(
            || "height not noted".to_owned(),
            |height| format!("{} m above the ground", words::minus(height.0, 1)),
        ),
    );
    if let Some(sigma) = station.sigma {
        fact(
            "Position known to",
            format!("±{} m a direction (one standard deviation)", words::minus(sigma.0, 1)),
        );
    }
    let radio: Vec<String> = [
        setup.radio.kind.clone(),
        setup.radio.channel.map(|channel| format!("channel {channel}")),
        setup
            .radio
            .frequency
            .map(|frequency| format!("{} MHz", words::minus(frequency.0, 0))),
    ]
    .into_iter()
    .flatten()
    .collect();
    if !radio.is_empty() {
        fact("Radio", radio.join(", "));
    }
    let goal = &setup.goal;
    fact(
        "Goal",
        format!(
            "{} delivered with {} confidence, {} dB to spare; runs of {} messages at a point",
            words::percent(goal.delivery),
            words::percent(goal.confidence),
            words::minus(goal.margin_db, 0),
            goal.messages
        ),
    );
    let counted = samples.rows.iter().filter(|row| row.counts()).count();
    let delivered = samples
        .rows
        .iter()
        .filter(|row| row.counts() && row.delivered())
        .count();
    fact(
        "Exchanges",
        format!(
            "{} in all; {} count, {} of them delivered",
            words::count(samples.rows.len() as u64),
            words::count(counted as u64),
            words::count(delivered as u64)
        ),
    );
    let left_out: Vec<String> = Excluded::ALL
        .into_iter()
        .filter_map(|reason| {
            let rows = samples.rows.iter().filter(|row| row.excluded == Some(reason)).count() as u64;
            (rows > 0).then(|| format!("{} {}", words::count(rows), reason.word()))
        })
        .collect();
    if !left_out.is_empty() {
        fact("Not counted", left_out.join(", "));
    }
    let mut blocks = vec![Block::Facts(facts)];
    if let Some(note) = &setup.note {
        blocks.extend(
            note.lines()
                .filter(|line| !line.trim().is_empty())
                .map(|line| Block::Text(line.to_owned())),
        );
    }
    blocks.push(boards(part, document));
    if !setup.leave_out.is_empty() {
        let stretches = setup.leave_out.iter().map(|stretch| {
            format!(
                "{} s to {} s left out of all figures: {}",
                words::minus(stretch.from_s, 1),
                words::minus(stretch.to_s, 1),
                stretch.why
            )
        });
        blocks.push(Block::List(stretches.collect()));
    }
    if !part.subject.notes.is_empty() {
        let notes = &part.subject.notes;
        blocks.push(Block::Text("Notes made on the way:".to_owned()));
        let listed = notes
            .iter()
            .take(MOST_NOTES)
            .map(|note| format!("{} s: {}", words::minus(note.at.seconds(), 0), note.text));
        blocks.push(Block::List(listed.collect()));
        document.tables.push(DataTable {
            name: part.name("notes"),
            head: vec!["elapsed_s", "text"],
            rows: notes
                .iter()
                .map(|note| vec![number::cell(Some(note.at.seconds()), 3), number::words(&note.text)])
                .collect(),
        });
    }
    part.section("conditions", "Set-up and conditions", blocks)
}

fn boards(part: &Part<'_>, document: &mut Document) -> Block {
    let dash = || "–".to_owned();
    let mut rows = Vec::new();
    let mut data = Vec::new();
    for board in &part.subject.estimates.boards {
        let set = part.subject.setup.boards.iter().find(|set| set.name == board.name);
        let hello = part
            .subject
            .hellos
            .iter()
            .find(|(name, _)| *name == board.name)
            .map(|(_, hello)| hello);
        let tx = set.and_then(|set| set.tx).or_else(|| hello.and_then(|hello| hello.tx));
        let height = set.and_then(|set| set.height);
        let rate = board.delivered as f64 / board.exchanges.max(1) as f64;
        let need = board.reach.as_ref().and_then(|reach| reach.need);
        rows.push(vec![
            format!("{}{}", board.name, if board.reference { " (reference)" } else { "" }),
            words::count(board.exchanges),
            words::percent(rate),
            tx.map_or_else(dash, |tx| format!("{} dBm", words::minus(tx.0, 1))),
            height.map_or_else(dash, |height| format!("{} m", words::minus(height.0, 1))),
            need.map_or_else(dash, |need| {
                format!(
                    "{} dBm (±{} dB)",
                    words::minus(need.curve.level90_dbm(), 0),
                    words::minus(1.96 * need.level90_sd_db(), 1)
                )
            }),
            board.need_from().unwrap_or_else(dash),
            set.and_then(|set| set.note.clone()).unwrap_or_else(dash),
        ]);
        data.push(vec![
            number::words(&board.name),
            number::whole(Some(u64::from(board.reference))),
            number::whole(Some(board.exchanges)),
            number::whole(Some(board.delivered)),
            number::cell(Some(rate), 4),
            number::cell(tx.map(|tx| tx.0), 1),
            number::cell(height.map(|height| height.0), 2),
            number::cell(need.map(|need| need.curve.m_dbm()), 2),
            number::cell(need.map(|need| need.m_sd_db()), 2),
            number::cell(need.map(|need| need.curve.level90_dbm()), 2),
            number::cell(need.map(|need| need.level90_sd_db()), 2),
            number::words(board.side.map_or("", |side| side.words())),
            number::words(hello.and_then(|hello| hello.fw.as_deref()).unwrap_or_default()),
            number::words(hello.and_then(|hello| hello.radio.as_deref()).unwrap_or_default()),
            number::whole(hello.and_then(|hello| hello.chan).map(u64::from)),
            number::words(set.and_then(|set| set.note.as_deref()).unwrap_or_default()),
        ]);
    }
    document.tables.push(DataTable {
        name: part.name("boards"),
        head: vec![
            "board",
            "reference",
            "exchanges",
            "delivered",
            "rate",
            "tx_dbm",
            "height_m",
            "half_delivery_dbm",
            "half_delivery_sd_db",
            "needed_90_dbm",
            "needed_90_sd_db",
            "levels_read",
            "firmware",
            "radio",
            "channel",
            "note",
        ],
        rows: data,
    });
    Block::Table(ReadTable {
        caption: "Boards. Needed: the level at which it still delivers 90 %, and what taught it.".to_owned(),
        head: [
            ("board", false),
            ("exchanges", true),
            ("delivered", true),
            ("sends at", true),
            ("carried at", true),
            ("needed", true),
            ("learned from", false),
            ("note", false),
        ]
        .map(|(name, numeric)| (name.to_owned(), numeric))
        .to_vec(),
        rows,
    })
}
