//! `farpace rebuild`: the tables anew from the journal and the set-up.

use std::path::Path;

use super::tables;
use crate::session::folder;

/// Makes `samples.csv` and `points.csv` anew.
///
/// # Errors
/// When the folder holds no journal, its set-up cannot be used, or the disk does not take the tables.
pub fn rebuild(at: &Path) -> anyhow::Result<()> {
    let found = folder::open(at)?;
    for warning in &found.warnings {
        eprintln!("farpace: {warning}");
    }
    let Some(mut survey) = found.survey() else {
        anyhow::bail!(
            "{} holds no journal.csv: there is nothing to rebuild from",
            at.display()
        );
    };
    tables::write(at, &mut survey)?;
    let rows = survey.samples().rows.len();
    let counts = survey.counts();
    eprintln!(
        "farpace: {} exchanges from {} node lines and {} GPS lines; {} node lines were malformed",
        rows, counts.node_lines, counts.gps_lines, counts.node_malformed
    );
    Ok(())
}
