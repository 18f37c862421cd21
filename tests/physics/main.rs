//! Every formula of `propagation`, `link` and `ground` against published values, row by row of `tests/reference`.

#![expect(clippy::unwrap_used, reason = "a check row that cannot be read is a failed test")]

mod checks;
mod ground;
mod link;
mod propagation;
