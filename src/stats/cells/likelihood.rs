//! Cells, and the log likelihood of their mean power.

use super::grid::{MEANS, READING_MAX_DBM, READING_MIN_DBM, READINGS};
use super::interference::Interference;
use super::table::CellTable;

/// What became of one exchange.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heard {
    /// Delivered, and read as so many whole dBm.
    At(i32),
    /// Delivered, its level not known.
    Unread,
    /// Lost.
    Lost,
}

/// The readings and losses of one cell.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cell {
    /// Whole readings in dBm with how often each came, ascending.
    pub readings: Vec<(i32, f64)>,
    /// Exchanges delivered without a usable reading.
    pub unread: f64,
    /// Exchanges lost.
    pub lost: f64,
}

impl Cell {
    /// Counts exchanges by what became of them.
    pub fn count(exchanges: impl IntoIterator<Item = Heard>) -> Self {
        let mut counts = vec![0_u32; READINGS];
        let (mut unread, mut lost) = (0_u32, 0_u32);
        for exchange in exchanges {
            match exchange {
                Heard::Lost => lost += 1,
                Heard::At(r) if (READING_MIN_DBM..=READING_MAX_DBM).contains(&r) => {
                    counts[(r - READING_MIN_DBM) as usize] += 1;
                }
                Heard::At(_) | Heard::Unread => unread += 1,
            }
        }
        Self {
            readings: (READING_MIN_DBM..)
                .zip(&counts)
                .filter(|(_, count)| **count > 0)
                .map(|(r, count)| (r, f64::from(*count)))
                .collect(),
            unread: f64::from(unread),
            lost: f64::from(lost),
        }
    }

    /// Exchanges delivered, with a reading or without.
    pub fn delivered(&self) -> f64 {
        self.readings.iter().map(|(_, count)| count).sum::<f64>() + self.unread
    }

    /// All exchanges.
    pub fn exchanges(&self) -> f64 {
        self.delivered() + self.lost
    }
}

/// A table together with an interference: all that is needed to weigh cells.
#[derive(Clone, Debug)]
pub struct CellModel {
    table: CellTable,
    log_through: Vec<f64>,
    /// ln of the probability of a loss, a row of [`MEANS`] for each interference node.
    log_lost: Vec<f64>,
    /// ln of the probability of delivery, interference aside.
    log_delivered: Vec<f64>,
}

impl CellModel {
    /// Joins a table with an interference.
    pub fn new(table: CellTable, interference: &Interference) -> Self {
        let log_delivered = table.delivered().iter().map(|d| (d + 1e-12).ln()).collect();
        let mut model = Self {
            table,
            log_through: Vec::new(),
            log_lost: Vec::new(),
            log_delivered,
        };
        model.set_interference(interference);
        model
    }

    /// Changes the interference and keeps the table, which is the costly part.
    pub fn set_interference(&mut self, interference: &Interference) {
        self.log_through = interference.nodes().iter().map(|f| (-f).ln_1p()).collect();
        self.log_lost = interference
            .nodes()
            .iter()
            .flat_map(|f| {
                self.table
                    .delivered()
                    .iter()
                    .map(move |d| (1.0 - (1.0 - f) * d + 1e-12).ln())
            })
            .collect();
    }

    /// The table.
    pub fn table(&self) -> &CellTable {
        &self.table
    }

    /// Returns `weight` times the log likelihood of `cell` at each mean power of the grid.
    ///
    /// `weight` = min(1, effective count / count) tempers for exchanges that are not independent (Ribatet, Cooley & Davison
    /// 2012, Statistica Sinica 22). An empty cell gives zeros.
    pub fn log_likelihood(&self, cell: &Cell, weight: f64) -> Vec<f64> {
        let mut out = vec![0.0; MEANS];
        self.log_likelihood_into(cell, weight, &mut out);
        out
    }

    /// As [`Self::log_likelihood`], into the first [`MEANS`] places of `out`, without allocating for a fixed interference.
    pub fn log_likelihood_into(&self, cell: &Cell, weight: f64, out: &mut [f64]) {
        let out = &mut out[..MEANS];
        out.fill(0.0);
        let mut unread = cell.unread;
        for &(reading, count) in &cell.readings {
            match self.table.log_reading(reading) {
                Some(row) => add_scaled(out, count, row),
                None => unread += count,
            }
        }
        if unread > 0.0 {
            add_scaled(out, unread, &self.log_delivered);
        }
        let delivered = cell.delivered();
        let nodes = self.log_through.len();
        if nodes == 1 {
            let through = delivered * self.log_through[0];
            for (o, lost) in out.iter_mut().zip(&self.log_lost) {
                *o = (*o + through + cell.lost * lost) * weight;
            }
            return;
        }
        let mut terms = vec![0.0; nodes];
        for (j, o) in out.iter_mut().enumerate() {
            let mut top = f64::NEG_INFINITY;
            for (i, term) in terms.iter_mut().enumerate() {
                *term = delivered * self.log_through[i] + cell.lost * self.log_lost[i * MEANS + j];
                top = top.max(*term);
            }
            let mean = terms.iter().map(|term| (term - top).exp()).sum::<f64>() / nodes as f64;
            *o = (*o + top + mean.ln()) * weight;
        }
    }
}

fn add_scaled(out: &mut [f64], factor: f64, row: &[f64]) {
    for (o, value) in out.iter_mut().zip(row) {
        *o += factor * value;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::cells::curve::SCurve;
    use crate::stats::cells::grid::{MEAN_MIN_DBM, MEAN_STEP_DB};

    fn index(mu: f64) -> usize {
        ((mu - MEAN_MIN_DBM) / MEAN_STEP_DB).round() as usize
    }

    #[test]
    fn losses_alone_say_at_most_this_strong() {
        let model = CellModel::new(
            CellTable::new(SCurve::new(-92.0, 1.0).unwrap(), 6.0, 0.0),
            &Interference::varying(0.02),
        );
        let cell = Cell::count((0..40).map(|_| Heard::Lost));
        let ll = model.log_likelihood(&cell, 1.0);
        assert!(ll.windows(2).all(|pair| pair[1] <= pair[0] + 1e-9));
        assert!(ll[index(-110.0)] - ll[index(-80.0)] > 3.0);
        assert!(
            model
                .log_likelihood(&Cell::default(), 1.0)
                .iter()
                .all(|v| v.abs() < 1e-12)
        );
    }

    #[test]
    fn a_delivery_without_a_reading_still_counts() {
        let model = CellModel::new(
            CellTable::new(SCurve::new(-92.0, 1.0).unwrap(), 6.0, 0.0),
            &Interference::fixed(0.02),
        );
        let cell = Cell::count([Heard::Unread, Heard::At(40), Heard::At(-70), Heard::Lost]);
        assert_eq!((cell.unread, cell.delivered(), cell.exchanges()), (2.0, 3.0, 4.0));
        let unread = Cell {
            unread: 10.0,
            ..Cell::default()
        };
        let ll = model.log_likelihood(&unread, 1.0);
        assert!(ll[index(-70.0)] - ll[index(-95.0)] > 10.0);
    }
}
