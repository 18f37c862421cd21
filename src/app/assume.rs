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
            "--mounted {mounted} is not between {} and {} m",
            HEIGHTS_M.start(),
            HEIGHTS_M.end()
        );
    }
    if let Some(leaves) = args.leaves {
        anyhow::ensure!(
            LEAVES_DB.contains(&leaves),
            "--leaves {leaves} is not between {} and {} dB",
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
