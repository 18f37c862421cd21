//! Which record an exchange belongs to: those of one ground cell and group, numbered as they are first visited.

use std::collections::HashMap;

use super::exchange::Exchange;

/// A cell and a group within it.
type Key = (i64, i64, u8);

/// The cells visited so far.
#[derive(Clone, Debug)]
pub(super) struct Visits {
    /// Side of the cells, metres.
    pub cell: f64,
    // Only ever looked up, never walked through: the order of records is that of first visit.
    index: HashMap<Key, usize>,
    last: Option<(Key, usize)>,
    last_time: Option<f64>,
}

impl Visits {
    pub(super) fn new(cell: f64) -> Self {
        Self {
            cell,
            index: HashMap::new(),
            last: None,
            last_time: None,
        }
    }

    /// The number of an exchange's record, the next one where it is the first, and the seconds since the exchange before.
    pub(super) fn visit(&mut self, exchange: &Exchange, group: u8) -> (usize, f64) {
        let elapsed = exchange.t - self.last_time.unwrap_or(exchange.t);
        self.last_time = Some(exchange.t);
        let key = (
            (exchange.x / self.cell).floor() as i64,
            (exchange.y / self.cell).floor() as i64,
            group,
        );
        // A walker stays in a cell for seconds: the last answer is nearly always the next one.
        if let Some((_, at)) = self.last.filter(|(last, _)| *last == key) {
            return (at, elapsed);
        }
        let next = self.index.len();
        let at = *self.index.entry(key).or_insert(next);
        self.last = Some((key, at));
        (at, elapsed)
    }
}
