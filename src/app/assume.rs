//! What places are to assume, as the command line says it.

use crate::cli::AssumeArgs;
use crate::findings::assumptions::{HEIGHTS_M, LEAVES_DB, Wanted};
use crate::units::{Db, Metres};

/// Takes it from the flags.
///
/// # Errors
/// When a height or a loss is none.
pub fn wanted(args: &AssumeArgs) -> anyhow::Result<Wanted> {
    if let Some(mounted) = args.mounted {
        anyhow::ensure!(
            HEIGHTS_M.contains(&mounted),
            "--mounted {}: give a height between {} and {} m",
            number(mounted),
            HEIGHTS_M.start(),
            HEIGHTS_M.end()
        );
    }
    if let Some(leaves) = args.leaves {
        anyhow::ensure!(
            LEAVES_DB.contains(&leaves),
            "--leaves {}: give a loss between {} and {} dB",
            number(leaves),
            LEAVES_DB.start(),
            LEAVES_DB.end()
        );
    }
    Ok(Wanted {
        board: args.board.clone(),
        mounted: args.mounted.map(Metres),
        leaves: args.leaves.map(Db),
    })
}

/// A number as it was given; what is none is said to be none.
pub fn number(given: f64) -> String {
    if given.is_nan() {
        "is no number".to_owned()
    } else {
        given.to_string()
    }
}
