//! `farpace figures`: every number, as a table or as JSON.

use std::io::Write as _;
use std::path::Path;

use super::{assume, known};
use crate::cli::FiguresArgs;
use crate::findings::curves::Known;
use crate::findings::estimates::{Estimates, estimates};
use crate::findings::{json, table};
use crate::session::folder::{self, Found};
use crate::survey::Samples;

/// A saved survey with everything that is known of it.
#[derive(Debug)]
pub struct Read {
    /// As it was found.
    pub found: Found,
    /// Its rows.
    pub samples: Samples,
    /// What was made of them.
    pub estimates: Estimates,
    /// The folder's own name.
    pub name: String,
}

/// Reads a saved survey and makes its figures, by what the boards taught in `known`.
///
/// # Errors
/// When the folder is no survey.
pub fn read(at: &Path, known: &Known) -> anyhow::Result<Read> {
    let read = read_quietly(at, known)?;
    for warning in &read.found.warnings {
        eprintln!("farpace: {warning}");
    }
    Ok(read)
}

/// As [`read`], its warnings kept to itself.
///
/// # Errors
/// When the folder is no survey.
pub fn read_quietly(at: &Path, known: &Known) -> anyhow::Result<Read> {
    let found = folder::open(at)?;
    let mut references: Vec<String> = Vec::new();
    let samples = match found.survey() {
        Some(mut survey) => {
            survey.samples();
            let told = survey
                .stream()
                .boots()
                .iter()
                .filter(|boot| boot.reference == Some(true));
            references.extend(told.map(|boot| boot.identity.board().to_owned()));
            survey.into_samples()
        }
        None => found.samples(),
    };
    let name = known::name_of(at);
    let told = |board: &str| references.iter().any(|reference| reference == board);
    let estimates = estimates(&samples, &found.setup, known, Some(&name), told);
    Ok(Read {
        found,
        samples,
        estimates,
        name,
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
    let wanted = assume::wanted(&args.assume)?;
    let mut values = Vec::new();
    let mut out = std::io::stdout().lock();
    for folder in &args.folders {
        let mut read = read(folder, &known)?;
        if let Some(Ok(places)) = &mut read.estimates.places {
            places.check_station(&read.samples, &read.found.setup);
        }
        read.estimates.assume(&wanted, &read.found.setup);
        if args.json {
            values.push(json::survey(
                &read.name,
                &read.samples,
                &read.found.setup,
                &read.estimates,
            ));
        } else {
            writeln!(
                out,
                "{}",
                table::survey(&read.name, &read.samples, &read.found.setup, &read.estimates)
            )?;
        }
    }
    if args.json {
        let all = serde_json::json!({ "format": 1, "program": concat!("farpace ", env!("CARGO_PKG_VERSION")), "surveys": values });
        writeln!(out, "{}", serde_json::to_string_pretty(&all)?)?;
    }
    Ok(())
}
