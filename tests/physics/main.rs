//! Every formula of `propagation`, `link` and `ground` against published values, row by row of `tests/reference`.

mod checks;
mod ground;
mod link;
mod propagation;
