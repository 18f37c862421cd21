//! Reads a whole file into lines, by the ordinary reader of sources.

use std::path::Path;

use crossbeam_channel::bounded;

use super::ear;
use crate::sources::{self, Address, Happening, Kit, RawLine, Role, Stamp};

/// All lines of a file.
///
/// # Errors
/// When it cannot be read: in words.
pub fn read(path: &Path) -> anyhow::Result<Vec<RawLine>> {
    let (send, come) = bounded::<(Role, Happening)>(4096);
    let kit = Kit::new(std::sync::Arc::new(Stamp::default as fn() -> Stamp), ear::hear);
    let handle = sources::open(&Address::File(path.to_owned()), Role::Node, &kit, send);
    let mut lines = Vec::new();
    let mut trouble = None;
    for (_, happening) in &come {
        match happening {
            Happening::Line(line) => lines.push(line),
            Happening::Trouble { why } => trouble = Some(why),
            Happening::Ended => break,
            Happening::Up { .. } | Happening::Down { .. } => {}
        }
    }
    handle.stop();
    match trouble {
        Some(why) => Err(anyhow::anyhow!(why)),
        None => Ok(lines),
    }
}
