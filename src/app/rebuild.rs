//! `farpace rebuild`: the tables anew from the journal and the set-up.

use std::path::Path;

use super::bar::Bar;
use super::say::say;
use super::tables;
use super::whole::{self, Content};
use crate::findings::words::{count, so_many};
use crate::session::format;

/// Makes `samples.csv` and `points.csv` anew.
///
/// # Errors
/// When the folder holds no journal, its set-up cannot be used, or the disk does not take the tables.
pub fn rebuild(at: &Path) -> anyhow::Result<()> {
    let mut bar = Bar::new("reading, per cent", 100);
    let (whole, held) = whole::read_beside_table(at, |share| bar.at((share * 100.0) as usize))?;
    bar.end();
    for warning in &whole.warnings {
        say(warning);
    }
    let Content::Survey(mut survey, _) = whole.content else {
        anyhow::bail!(
            "{} holds no journal.csv: there is nothing to rebuild from",
            at.display()
        );
    };
    survey.settle();
    let rows = survey.samples().rows.len();
    anyhow::ensure!(
        rows > 0 || held == 0,
        "{}: no exchange can be read in its journal.csv, and samples.csv holds {}: nothing was rebuilt. To rebuild empty tables all \
         the same, move samples.csv away",
        at.display(),
        count(held as u64)
    );
    tables::write(at, &mut survey)?;
    if held > rows {
        say(format!(
            "samples.csv held {} exchanges, the journal tells of {} only: it was cut short or damaged. Both tables as they were are \
             kept beside the new ones, as samples.csv.{before} and points.csv.{before}",
            count(held as u64),
            count(rows as u64),
            before = format::BEFORE
        ));
    }
    let counts = survey.counts();
    say(format!(
        "{} from {} and {}; {} malformed",
        so_many(rows as u64, "exchange", "exchanges"),
        so_many(counts.node_lines, "node line", "node lines"),
        so_many(counts.gps_lines, "GPS line", "GPS lines"),
        so_many(counts.node_malformed, "node line was", "node lines were")
    ));
    Ok(())
}
