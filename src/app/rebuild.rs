//! `farpace rebuild`: the tables anew from the journal and the set-up.

use std::path::Path;

use super::bar::Bar;
use super::tables;
use super::whole::{self, Content};

/// Makes `samples.csv` and `points.csv` anew.
///
/// # Errors
/// When the folder holds no journal, its set-up cannot be used, or the disk does not take the tables.
pub fn rebuild(at: &Path) -> anyhow::Result<()> {
    let mut bar = Bar::new("reading, per cent", 100);
    let whole = whole::read(at, |share| bar.at((share * 100.0) as usize))?;
    bar.end();
    for warning in &whole.warnings {
        eprintln!("farpace: {warning}");
    }
    let Content::Survey(mut survey, _) = whole.content else {
        anyhow::bail!(
            "{} holds no journal.csv: there is nothing to rebuild from",
            at.display()
        );
    };
    survey.settle();
    tables::write(at, &mut survey)?;
    let rows = survey.samples().rows.len();
    let counts = survey.counts();
    eprintln!(
        "farpace: {} exchanges from {} node lines and {} GPS lines; {} node lines were malformed",
        rows, counts.node_lines, counts.gps_lines, counts.node_malformed
    );
    Ok(())
}
