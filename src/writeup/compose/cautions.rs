//! Cautions: what a reader of these very surveys should keep in mind.

use super::whole::title;
use crate::findings::{no_link, reach_words, words};
use crate::stats::burst::DeliveryNote;
use crate::stats::level::LevelNote;
use crate::survey::sample::Excluded;
use crate::writeup::document::{Block, Section};
use crate::writeup::subject::{Making, Subject};

/// The section.
pub fn section(subjects: &[Subject], making: &Making) -> Section {
    let mut blocks = Vec::new();
    for (index, subject) in subjects.iter().enumerate() {
        let found = of(subject);
        if subjects.len() > 1 && !found.is_empty() {
            blocks.push(Block::Text(format!("{}:", title(subject, index))));
        }
        blocks.extend(found.into_iter().map(Block::Caution));
    }
    if making.privacy.positions {
        blocks.push(Block::Text(
            "Positions are given in metres east and north of the station. Distances, shapes of paths and times are still in it: who knows the place can recognise it."
                .to_owned(),
        ));
    }
    if blocks.is_empty() {
        blocks.push(Block::Text("None beyond those said beside the figures.".to_owned()));
    }
    Section {
        id: "cautions".to_owned(),
        title: "Cautions".to_owned(),
        sub: false,
        blocks,
    }
}

fn of(subject: &Subject) -> Vec<String> {
    let mut said = Vec::new();
    let estimates = &subject.estimates;
    let rows = &subject.samples.rows;
    for warning in &subject.warnings {
        said.push(format!("{}.", warning.trim_end_matches('.')));
    }
    if let Some(counts) = subject.counts {
        for (count, one, several) in [
            (
                counts.node_malformed,
                "line of the node was damaged and not used",
                "lines of the node were damaged and not used",
            ),
            (
                counts.too_long,
                "line was too long and not used",
                "lines were too long and not used",
            ),
            (
                counts.too_late,
                "answer came too late to count",
                "answers came too late to count",
            ),
        ] {
            if count > 0 {
                said.push(format!("{}.", words::so_many(count, one, several)));
            }
        }
    }
    let unread = rows.iter().filter(|row| row.excluded == Some(Excluded::Unread)).count() as u64;
    if unread > 0 {
        said.push(format!(
            "{} while the node was not being read: unknown, not lost, and not counted.",
            words::so_many(unread, "exchange happened", "exchanges happened")
        ));
    }
    let counted = rows.iter().filter(|row| row.counts()).count() as u64;
    let unplaced = rows.iter().filter(|row| row.counts() && row.place.is_none()).count() as u64;
    if unplaced > 0 && counted > 0 {
        said.push(format!(
            "Of the exchanges that count, {} of {} without a position: in the counts, not in maps and laws.",
            words::count(unplaced),
            words::count(counted)
        ));
    }
    for board in &estimates.boards {
        let Some(reach) = &board.reach else {
            said.push(format!(
                "{}: {}, so only its delivery is known.",
                board.name,
                board.why_no_level().unwrap_or("no level was read")
            ));
            continue;
        };
        if let Some(left_out) = no_link::left_out(reach.too_far) {
            said.push(format!("{}: {left_out}.", board.name));
        }
        for warning in reach.warnings() {
            said.push(format!("{}: {}.", board.name, reach_words::fit_warning(warning)));
        }
        if let Some(why) = board.why_no_margin() {
            said.push(format!("No margin of {} is given: {why}.", board.name));
        }
    }
    let runs = || estimates.points.iter().filter(|(row, _)| row.activity == "point");
    let delivery = |note: DeliveryNote| {
        runs()
            .filter(|(row, _)| row.standing.delivery.notes.contains(&note))
            .count()
    };
    for note in [
        DeliveryNote::VeryFew,
        DeliveryNote::BurstsAssumed,
        DeliveryNote::BurstsBeyondScope,
    ] {
        let count = delivery(note);
        if count > 0 {
            said.push(format!(
                "At {count} of {} runs: {}.",
                runs().count(),
                words::delivery_note(note)
            ));
        }
    }
    for note in [LevelNote::OneFade, LevelNote::PathUnknown, LevelNote::NoReadings] {
        let count = runs()
            .filter(|(_, figures)| figures.level.as_ref().is_some_and(|level| level.notes.contains(&note)))
            .count();
        if count > 0 {
            said.push(format!(
                "At {count} of {} runs: {}.",
                runs().count(),
                words::level_note(note)
            ));
        }
    }
    if let Some(boards) = estimates
        .comparison
        .as_ref()
        .filter(|boards| !boards.needs_unknown.is_empty())
    {
        said.push(format!(
            "What {} need at the station is not known: in the comparison their losses count for less than they should.",
            boards.needs_unknown.join(", ")
        ));
    }
    said
}
