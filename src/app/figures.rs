//! `farpace figures`: every number, as a table or as JSON.

use std::io::Write as _;
use std::path::Path;

use super::bar::Bar;
use super::whole::{self, Content};
use super::{known, screen};
use crate::cli::FiguresArgs;
use crate::findings::curves::Known;
use crate::findings::estimates::{Estimates, estimates};
use crate::findings::{json, table};
use crate::survey::{Samples, Setup};

/// A saved survey with everything that is known of it.
#[derive(Debug)]
pub struct Read {
    /// Its set-up.
    pub setup: Setup,
    /// Its rows.
    pub samples: Samples,
    /// What was made of them.
    pub estimates: Estimates,
    /// The folder's own name.
    pub name: String,
    /// What a person should know: unknown keys, torn records, rows that cannot be read.
    pub warnings: Vec<String>,
}

/// Reads a saved survey and makes its figures, by what the boards taught in `known`.
///
/// # Errors
/// When the folder is no survey.
pub fn read(at: &Path, known: &Known) -> anyhow::Result<Read> {
    let mut bar = Bar::new("reading, per cent", 100);
    let read = read_with(at, known, |share| bar.at((share * 100.0) as usize))?;
    bar.end();
    for warning in &read.warnings {
        eprintln!("farpace: {warning}");
    }
    Ok(read)
}

/// As [`read`], its warnings kept to itself.
///
/// # Errors
/// When the folder is no survey.
pub fn read_quietly(at: &Path, known: &Known) -> anyhow::Result<Read> {
    read_with(at, known, |_| ())
}

fn read_with(at: &Path, known: &Known, step: impl FnMut(f64)) -> anyhow::Result<Read> {
    let whole = whole::read(at, step)?;
    let mut references: Vec<String> = Vec::new();
    let samples = match whole.content {
        Content::Survey(mut survey) => {
            survey.settle();
            survey.samples();
            references.extend(screen::references(&survey));
            survey.into_samples()
        }
        Content::Rows(samples) => samples,
    };
    let name = known::name_of(at);
    let told = |board: &str| references.iter().any(|reference| reference == board);
    let estimates = estimates(&samples, &whole.setup, known, Some(&name), told);
    Ok(Read {
        setup: whole.setup,
        samples,
        estimates,
        name,
        warnings: whole.warnings,
    })
}

/// Prints the figures of some surveys. Without `--with-known` the surveys speak for themselves alone, so that another
/// computer gives the same.
///
/// # Errors
/// When a folder is no survey, or standard output is closed.
pub fn figures(args: &FiguresArgs) -> anyhow::Result<()> {
    let known = if args.with_known {
        known::load()?
    } else {
        Known::default()
    };
    let mut values = Vec::new();
    let mut out = std::io::stdout().lock();
    for folder in &args.folders {
        let read = read(folder, &known)?;
        if args.json {
            values.push(json::survey(&read.name, &read.samples, &read.setup, &read.estimates));
        } else {
            writeln!(
                out,
                "{}",
                table::survey(&read.name, &read.samples, &read.setup, &read.estimates)
            )?;
        }
    }
    if args.json {
        let all = serde_json::json!({ "format": 1, "program": concat!("farpace ", env!("CARGO_PKG_VERSION")), "surveys": values });
        writeln!(out, "{}", serde_json::to_string_pretty(&all)?)?;
    }
    Ok(())
}
