//! `farpace figures`: every number, as a table or as JSON.

use std::io::Write as _;
use std::path::Path;

use super::bar::Bar;
use super::in_metres::in_metres;
use super::run::wrong_usage;
use super::say::{harmless, say};
use super::whole::{self, Content};
use super::{assume, given, halves, known, tables};
use crate::cli::FiguresArgs;
use crate::findings::boards;
use crate::findings::curves::Known;
use crate::findings::estimates::Estimates;
use crate::findings::together::learn::{Source, figures_of};
use crate::findings::together::member::Member;
use crate::findings::{json, table, together};
use crate::ground::local::LocalPlane;
use crate::survey::{Samples, Setup};
use crate::wire::visible;
use crate::writeup::private;
use crate::writeup::subject::Privacy;

/// A saved survey with everything that is known of it.
#[derive(Debug)]
pub struct Read {
    /// Its set-up.
    pub setup: Setup,
    /// Its rows.
    pub samples: Samples,
    /// Boards whose own hello calls them the reference.
    pub references: Vec<String>,
    /// What was made of them.
    pub estimates: Estimates,
    /// The folder's own name.
    pub name: String,
    /// What a person should know: unknown keys, torn records, rows that cannot be read.
    pub warnings: Vec<String>,
}

impl Read {
    /// As it takes part in a comparison of surveys.
    pub fn member(&self) -> Member<'_> {
        Member {
            name: &self.name,
            samples: &self.samples,
            setup: &self.setup,
            estimates: &self.estimates,
        }
    }

    /// As its figures are made from, known among others by a key.
    pub fn source<'a>(&'a self, key: &'a str) -> Source<'a> {
        Source {
            key,
            samples: &self.samples,
            setup: &self.setup,
            references: &self.references,
        }
    }
}

/// Reads a saved survey and makes its figures, by what the boards taught in `known`; its warnings are kept with it.
///
/// # Errors
/// When the folder is no survey.
pub fn read_quietly(at: &Path, known: &Known) -> anyhow::Result<Read> {
    let mut read = open(at, |_| ())?;
    let source = read.source(&read.name);
    read.estimates = figures_of(&[source], known, halves::figures, |_, _| {})
        .pop()
        .unwrap_or_default();
    Ok(read)
}

/// Reads a saved survey without making any figures yet; `step` is told which share of it has been read, 0 to 1.
///
/// # Errors
/// When the folder is no survey.
pub fn open(at: &Path, step: impl FnMut(f64)) -> anyhow::Result<Read> {
    let (whole, held) = whole::read_beside_table(at, step)?;
    let mut references: Vec<String> = Vec::new();
    let mut warnings = whole.warnings;
    let samples = match whole.content {
        Content::Survey(mut survey, _) => {
            survey.settle();
            warnings.extend(tables::more_than_journal(at, held, survey.samples().rows.len()));
            references.extend(boards::told(&survey).into_iter().map(str::to_owned));
            survey.into_samples()
        }
        Content::Rows(samples) => samples,
    };
    Ok(Read {
        setup: whole.setup,
        samples,
        references,
        estimates: Estimates::default(),
        name: known::name_of(at),
        warnings,
    })
}

/// Prints the figures of some surveys. Without `--with-known` the surveys speak for themselves alone (of several,
/// each is told what the others taught), so that another computer gives the same.
///
/// # Errors
/// When a folder is no survey, or standard output is closed.
pub fn figures(args: &FiguresArgs) -> anyhow::Result<()> {
    let known = if args.with_known {
        known::load()?
    } else {
        Known::default()
    };
    let wanted = assume::wanted(&args.assume).map_err(wrong_usage)?;
    given::once(&args.folders)?;
    let privacy = Privacy {
        positions: args.private,
        words: args.no_words,
    };
    let mut all = Vec::new();
    let mut bar = Bar::new("reading, per cent", args.folders.len() * 100);
    for (index, folder) in args.folders.iter().enumerate() {
        all.push(open(folder, |share| bar.at(((index as f64 + share) * 100.0) as usize))?);
    }
    bar.end();
    for (index, read) in all.iter_mut().enumerate() {
        private::redact(&mut read.setup, &mut read.samples, &mut Vec::new(), privacy);
        if privacy.words {
            read.name = format!("survey {}", index + 1);
        }
        if !args.json {
            harmless(&mut read.setup, &mut read.samples, &mut read.references);
        }
    }
    for warning in all.iter().flat_map(|read| &read.warnings) {
        say(warning);
    }
    // Known by their names only where what is known already goes by names.
    let keys: Vec<String> = all
        .iter()
        .enumerate()
        .map(|(index, read)| {
            if args.with_known {
                read.name.clone()
            } else {
                index.to_string()
            }
        })
        .collect();
    let sources: Vec<Source<'_>> = all.iter().zip(&keys).map(|(read, key)| read.source(key)).collect();
    let made = figures_of(&sources, &known, halves::figures, |_, _| {});
    let boards: Vec<&str> = made.iter().flat_map(Estimates::board_names).collect();
    given::known_board(&wanted, &boards)?;
    for (read, made) in all.iter_mut().zip(made) {
        read.estimates = made;
        read.estimates.assume(&wanted, &read.setup);
    }
    let mut values = Vec::new();
    let mut out = std::io::stdout().lock();
    for read in &all {
        if args.json {
            let mut value = json::survey(&read.name, &read.samples, &read.setup, &read.estimates);
            if args.private {
                in_metres(&mut value, read.setup.station.position.map(LocalPlane::about).as_ref());
            }
            values.push(value);
        } else {
            let table = table::survey(&read.name, &read.samples, &read.setup, &read.estimates, args.private);
            writeln!(out, "{}", visible::shown(&table))?;
        }
    }
    let members: Vec<Member<'_>> = all.iter().map(Read::member).collect();
    let together = (members.len() > 1).then(|| together::whole::together(&members));
    if args.json {
        let mut all = serde_json::json!({ "format": 1, "program": concat!("farpace ", env!("CARGO_PKG_VERSION")), "surveys": values });
        if let Some(together) = &together {
            all["together"] = together::json::json(together);
        }
        writeln!(out, "{}", visible::shown_json(&serde_json::to_string_pretty(&all)?))?;
    } else if let Some(together) = &together {
        write!(out, "{}", visible::shown(&together::text::text(together)))?;
    }
    Ok(())
}
