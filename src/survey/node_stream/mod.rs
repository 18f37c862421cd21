//! From node lines to exchanges: boots, gaps, late and double lines, boards that have not said who they are.
//!
//! In reading order: `told` is what a line brings; `exchanges` a run of numbers without a hole and `boot` whose it
//! is; `order` the rows they make; `breaks` when the source was not read. Then what becomes of a line: `stream` takes
//! it, `naming` says whose it is, `settling` enters it, `restart` and `waiting` deal with one that does not run on,
//! `checksums` with one that may be damaged.

mod boot;
mod breaks;
mod checksums;
mod exchanges;
mod naming;
mod order;
mod restart;
mod settling;
mod stream;
mod told;
mod waiting;

pub use boot::{Boot, Identity};
pub use order::{Key, written_ms};
pub use stream::NodeStream;
pub use told::{Effect, Moment, Told};
