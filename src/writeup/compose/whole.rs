//! A write-up put together: the answer first, then each survey, then what holds for all.

use super::{again, answer, cautions, conditions, distance, ground, method, places, points, sweeps, together};
use crate::findings::together::member::letter;
use crate::survey::sample::Samples;
use crate::units::UtcMs;
use crate::writeup::document::{Block, Document, Section};
use crate::writeup::private::Teller;
use crate::writeup::subject::{Making, Subject};

/// One survey on its way into a document.
#[derive(Clone, Copy, Debug)]
pub struct Part<'a> {
    /// The survey.
    pub subject: &'a Subject,
    /// Tells places as privacy asks.
    pub teller: &'a Teller,
    /// Put before the names of its sections, figures and tables: empty where there is only one survey.
    pub prefix: &'a str,
}

impl Part<'_> {
    /// A section of this survey.
    pub fn section(&self, id: &str, title: &str, blocks: Vec<Block>) -> Section {
        Section {
            id: format!("{}{id}", self.prefix),
            title: title.to_owned(),
            sub: !self.prefix.is_empty(),
            blocks,
        }
    }

    /// The name of a figure or table of this survey.
    pub fn name(&self, name: &str) -> String {
        format!("{}{name}", self.prefix)
    }
}

/// Puts the write-up of surveys together.
pub fn document(subjects: &[Subject], making: &Making) -> Document {
    let mut document = Document {
        title: match subjects {
            [only] => title(only, 0),
            several => format!("{} surveys", several.len()),
        },
        subtitle: subjects
            .iter()
            .filter_map(|subject| days(&subject.samples))
            .collect::<Vec<_>>()
            .join("; "),
        colophon: format!("Made by farpace {} from the surveys' own files.", making.version),
        ..Document::default()
    };
    let several = subjects.len() > 1;
    let (mut opening, compared) = together::parts(subjects, &mut document);
    let mut bodies = Vec::new();
    for (index, subject) in subjects.iter().enumerate() {
        let teller = Teller::new(&subject.setup, making.privacy);
        let prefix = if several {
            format!("s{}-", index + 1)
        } else {
            String::new()
        };
        let part = Part {
            subject,
            teller: &teller,
            prefix: &prefix,
        };
        if several {
            opening.push(Block::Text(format!("{}: {}", letter(index), title(subject, index))));
            bodies.push(Section {
                id: format!("s{}", index + 1),
                title: format!("{}: {}", letter(index), title(subject, index)),
                sub: false,
                blocks: days(&subject.samples).map(Block::Text).into_iter().collect(),
            });
        }
        // What "can go" means is said once, as long as it means the same.
        let before = index.checked_sub(1).and_then(|before| subjects.get(before));
        let stood = |subject: &Subject| subject.estimates.points.iter().any(|(row, _)| row.activity == "point");
        let anew =
            before.is_none_or(|before| before.setup.goal != subject.setup.goal || stood(before) != stood(subject));
        opening.extend(answer::blocks(&part, anew));
        bodies.push(conditions::section(&part, &mut document));
        bodies.extend(ground::section(&part, &mut document));
        bodies.push(distance::section(&part, &mut document));
        bodies.push(points::section(&part, &mut document));
        bodies.push(sweeps::section(&part, &mut document));
        let first_map = subjects[..index].iter().all(|before| before.places.is_none());
        bodies.push(places::section(&part, &mut document, first_map));
    }
    document.sections.push(Section {
        id: "answer".to_owned(),
        title: if several { "The answers" } else { "The answer" }.to_owned(),
        sub: false,
        blocks: opening,
    });
    document.sections.extend(compared);
    document.sections.extend(bodies);
    document.sections.push(method::section());
    document.sections.push(method::untold());
    document.sections.push(cautions::section(subjects, making));
    document.sections.push(again::section(subjects, making));
    document.cleaned()
}

/// What a survey is called; by its number where it has no title.
pub fn title(subject: &Subject, index: usize) -> String {
    if subject.setup.title.trim().is_empty() {
        format!("Survey {}", index + 1)
    } else {
        subject.setup.title.clone()
    }
}

/// The day or days of a survey, and the hours, in universal time.
pub fn days(samples: &Samples) -> Option<String> {
    let minute = |moment: UtcMs| Some(moment.rfc3339()?.get(..16)?.replace('T', " "));
    let (first, last) = (minute(samples.rows.first()?.utc)?, minute(samples.rows.last()?.utc)?);
    Some(match (first.split_once(' '), last.split_once(' ')) {
        (Some((day, from)), Some((same, to))) if day == same => format!("{day}, {from} to {to} UTC"),
        _ => format!("{first} to {last} UTC"),
    })
}
