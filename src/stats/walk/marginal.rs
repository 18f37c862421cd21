//! Likelihoods of a walk's cells with their mean levels integrated out, as functions of the board and its surroundings.

use crate::stats::cells::{MEAN_MIN_DBM, MEAN_STEP_DB, MEANS, READING_MIN_DBM, SCurve, fade_masses};
use crate::stats::special::logistic;

use super::binning::WalkCell;
use super::learn::{ARGUMENTS, DIFFERENCE, LOGIT_F, Surroundings};
use super::lost_whole::LostWhole;
use super::quick::sum_exp;
use super::response::{READINGS, ReadingKernel, Response};

/// Log-likelihoods this far under a cell's best are left out; exp(-70) is 4e-31, which leaves room for the arguments to
/// move.
const DROP: f64 = 70.0;

/// Readings and losses of all cells in flat arrays.
#[derive(Clone, Debug)]
pub(super) struct FlatCells {
    /// Index of each cell's first entry in `readings`, and one past the last cell's.
    pub first: Vec<usize>,
    /// Readings as indices from -130 dBm up, with their number.
    pub readings: Vec<(usize, f64)>,
    pub delivered: Vec<f64>,
    pub unread: Vec<f64>,
    pub lost: Vec<f64>,
}

impl FlatCells {
    /// Number of cells.
    pub(super) fn count(&self) -> usize {
        self.lost.len()
    }

    /// Only the cells with these numbers.
    pub(super) fn only(&self, cells: &[usize]) -> Self {
        let mut few = Self {
            first: vec![0],
            readings: Vec::new(),
            delivered: only(&self.delivered, cells),
            unread: only(&self.unread, cells),
            lost: only(&self.lost, cells),
        };
        for &cell in cells {
            few.readings
                .extend_from_slice(&self.readings[self.first[cell]..self.first[cell + 1]]);
            few.first.push(few.readings.len());
        }
        few
    }
}

fn only(values: &[f64], cells: &[usize]) -> Vec<f64> {
    cells.iter().map(|&cell| values[cell]).collect()
}

/// The trend a walk's cells scatter about.
#[derive(Clone, Debug)]
pub(super) struct Trend {
    /// Mean level at each cell, dBm.
    pub level_dbm: Vec<f64>,
    /// Scatter of cells about it, dB.
    pub sigma_db: f64,
    /// Scatter without any correlation from cell to cell, dB.
    pub nugget_db: f64,
    /// Scatter inside a cell, dB.
    pub within_db: f64,
}

impl Trend {
    /// The trend at the cells with these numbers.
    pub(super) fn only(&self, cells: &[usize]) -> Self {
        Self {
            level_dbm: only(&self.level_dbm, cells),
            ..*self
        }
    }
}

/// Log-likelihood of each cell about a trend, as a function of the four arguments.
///
/// Tables are kept for the (m, s, K) last seen, so that steps along f cost next to nothing, and cover only the mean
/// levels that matter for a cell: those are found on the whole grid and found anew as soon as an argument has moved
/// far.
pub(super) struct Likelihood<'a> {
    cells: &'a FlatCells,
    kernel: ReadingKernel,
    within_db: f64,
    /// Logarithm of the trend's normal after the nugget, [`MEANS`] to a cell.
    log_trend: Vec<f64>,
    lost_whole: LostWhole,
    centre: Option<[f64; ARGUMENTS]>,
    /// Levels looked at, for each cell: first, and one past the last.
    windows: Vec<(usize, usize)>,
    /// The same for each reading: all that its cells look at.
    reading_windows: Vec<(usize, usize)>,
    tables: Vec<Table>,
    fades: Vec<(f64, Vec<f64>)>,
    by_cell: Vec<f64>,
    scratch: Vec<f64>,
}

/// What the readings alone say, for one (m, ln s, K).
struct Table {
    key: [f64; 3],
    /// For each cell with readings or answers over its window: log-likelihood of its readings, interference aside.
    heard: Vec<f64>,
    /// Chance of success at each mean level of any window.
    delivery: Vec<f64>,
}

/// Tables kept: a round of the ascent asks for 13 different ones.
const KEPT: usize = 16;

impl<'a> Likelihood<'a> {
    pub(super) fn new(cells: &'a FlatCells, trend: &Trend) -> Self {
        let mut log_trend = Vec::with_capacity(cells.count() * MEANS);
        let bell = NuggetBell::new(trend.sigma_db, trend.nugget_db);
        for &level in &trend.level_dbm {
            bell.append(level, &mut log_trend);
        }
        let lost_whole = LostWhole::new(&log_trend, MEANS, &cells.delivered, &cells.lost);
        Self {
            cells,
            kernel: ReadingKernel::new(),
            within_db: trend.within_db,
            log_trend,
            lost_whole,
            centre: None,
            windows: Vec::new(),
            reading_windows: Vec::new(),
            tables: Vec::new(),
            fades: Vec::new(),
            by_cell: vec![0.0; cells.count()],
            scratch: vec![0.0; MEANS],
        }
    }

    /// Number of cells.
    pub(super) fn count(&self) -> usize {
        self.cells.count()
    }

    /// The log-likelihood of each cell.
    pub(super) fn by_cell(&mut self, x: &[f64; ARGUMENTS]) -> &[f64] {
        let moved = self
            .centre
            .is_none_or(|c| (0..ARGUMENTS).any(|i| (x[i] - c[i]).abs() > 4.01 * DIFFERENCE[i]));
        if moved {
            self.centre_at(x);
        }
        let table = self.table(x);
        self.sum(table, logistic(x[LOGIT_F]), false);
        &self.by_cell
    }

    /// Looks over the whole grid at `x` and keeps what can matter near it.
    fn centre_at(&mut self, x: &[f64; ARGUMENTS]) {
        let count = self.cells.count();
        self.tables.clear();
        self.windows = vec![(0, MEANS); count];
        self.widen_readings();
        let table = self.table(x);
        self.sum(table, logistic(x[LOGIT_F]), true);
        self.widen_readings();
        self.tables.clear();
        self.centre = Some(*x);
    }

    fn widen_readings(&mut self) {
        self.reading_windows = vec![(MEANS, 0); READINGS];
        for (cell, &(from, to)) in self.windows.iter().enumerate() {
            for &(reading, _) in &self.cells.readings[self.cells.first[cell]..self.cells.first[cell + 1]] {
                let window = &mut self.reading_windows[reading];
                *window = (window.0.min(from), window.1.max(to));
            }
        }
    }

    /// Index of the table for `x`, made when it is not there.
    fn table(&mut self, x: &[f64; ARGUMENTS]) -> usize {
        let at = Surroundings::from_arguments(x);
        let key = [at.m_dbm, at.s_db, at.table_k_db()];
        if let Some(found) = self.tables.iter().position(|t| t.key == key) {
            return found;
        }
        if self.tables.len() >= KEPT {
            self.tables.remove(0);
        }
        let table = self.make_table(key);
        self.tables.push(table);
        self.tables.len() - 1
    }

    fn make_table(&mut self, key: [f64; 3]) -> Table {
        let [m_dbm, s_db, k_db] = key;
        if !self.fades.iter().any(|f| f.0 == k_db) {
            if self.fades.len() >= KEPT {
                self.fades.remove(0);
            }
            self.fades.push((k_db, fade_masses(k_db, self.within_db)));
        }
        let fade = self.fades.iter().find(|f| f.0 == k_db).map_or(&[][..], |f| &f.1);
        let width = |(cell, window): (usize, &(usize, usize))| {
            if self.lost_whole.has(cell) {
                0
            } else {
                window.1 - window.0
            }
        };
        let mut heard = vec![0.0; self.windows.iter().enumerate().map(width).sum()];
        let mut delivery = vec![0.0; MEANS];
        // A place without a finite m has no likelihood: the ascent then turns back.
        let Some(curve) = SCurve::new(m_dbm, s_db) else {
            heard.fill(f64::NEG_INFINITY);
            return Table { key, heard, delivery };
        };
        let response = Response::new(fade, curve);
        let from = self.windows.iter().map(|w| w.0).min().unwrap_or(0);
        let to = self.windows.iter().map(|w| w.1).max().unwrap_or(0);
        for (index, out) in delivery.iter_mut().enumerate().take(to).skip(from) {
            *out = response.delivery(index);
        }
        let mut rows: Vec<Vec<f64>> = vec![Vec::new(); READINGS];
        for (reading, (row, &(from, to))) in rows.iter_mut().zip(&self.reading_windows).enumerate() {
            if from < to {
                row.resize(to - from, 0.0);
                response.log_reading(reading, from, &self.kernel, row);
            }
        }
        let mut start = 0;
        for (cell, &(from, to)) in self.windows.iter().enumerate() {
            if self.lost_whole.has(cell) {
                continue;
            }
            let out = &mut heard[start..start + to - from];
            for &(reading, count) in &self.cells.readings[self.cells.first[cell]..self.cells.first[cell + 1]] {
                let skip = from - self.reading_windows[reading].0;
                for (o, row) in out.iter_mut().zip(&rows[reading][skip..]) {
                    *o += count * row;
                }
            }
            if self.cells.unread[cell] > 0.0 {
                for (o, d) in out.iter_mut().zip(&delivery[from..to]) {
                    *o += self.cells.unread[cell] * (d + 1e-12).ln();
                }
            }
            start += to - from;
        }
        Table { key, heard, delivery }
    }

    /// Fills `by_cell`; with `narrow`, cuts each cell's window to what matters.
    fn sum(&mut self, table: usize, f: f64, narrow: bool) {
        let table = &self.tables[table];
        let log_through = (-f).ln_1p();
        let log_lost: Vec<f64> = table
            .delivery
            .iter()
            .map(|d| (1.0 - (1.0 - f) * d + 1e-12).ln())
            .collect();
        let curves = if narrow {
            Vec::new()
        } else {
            self.lost_whole.curves(&self.windows, &table.delivery, &log_lost)
        };
        let mut start = 0;
        for (cell, window) in self.windows.iter_mut().enumerate() {
            let (from, to) = *window;
            let lost_whole = self.lost_whole.has(cell);
            let quick = (!narrow && lost_whole).then(|| self.lost_whole.log_sum(cell, *window, &curves));
            if let Some(log) = quick.flatten() {
                self.by_cell[cell] = log;
                continue;
            }
            let width = to - from;
            let values = &mut self.scratch[..width];
            let through = self.cells.delivered[cell] * log_through;
            let lost = self.cells.lost[cell];
            let trend = &self.log_trend[cell * MEANS + from..cell * MEANS + to];
            for (value, (log_lost, trend)) in values.iter_mut().zip(log_lost[from..to].iter().zip(trend)) {
                *value = lost * log_lost + trend;
            }
            if !lost_whole {
                for (value, heard) in values.iter_mut().zip(&table.heard[start..start + width]) {
                    *value += heard + through;
                }
                start += width;
            }
            let top = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            self.by_cell[cell] = top + sum_exp(values, top).ln();
            if narrow {
                let first = values.iter().position(|&v| v > top - DROP).unwrap_or(0);
                let last = values.iter().rposition(|&v| v > top - DROP).unwrap_or(width - 1);
                *window = (from + first, from + last + 1);
            }
        }
    }
}

/// The logarithm of N(·; centre, sigma²) seen through the nugget, up to a constant common to all.
///
/// The nugget is a sum over 15 steps of the grid. As the normal is the exponential of a square, each term is that at
/// the level itself times a power of one ratio; what the sum adds to the square is nearly a square again, so that cubics
/// through a table of it are within 1e-9 of it.
struct NuggetBell {
    sigma_db: f64,
    factor: [f64; 2 * HALF + 1],
    less: f64,
    /// What the sum adds, at offsets from the centre of -[`REACH_DB`] up in steps of [`FINE_DB`].
    added: Vec<f64>,
}

/// Steps of the grid that the nugget reaches either way.
const HALF: usize = 7;
/// Steps of the table to one of the grid of mean levels.
const FINER: usize = 4;
const FINE_DB: f64 = MEAN_STEP_DB / FINER as f64;
/// Offsets the table covers; beyond, the sum is worked out.
const REACH_DB: f64 = 160.0;

impl NuggetBell {
    fn new(sigma_db: f64, nugget_db: f64) -> Self {
        let mut factor = [0.0; 2 * HALF + 1];
        let mut total = 0.0;
        for (i, factor) in factor.iter_mut().enumerate() {
            let offset = (i as f64 - HALF as f64) * MEAN_STEP_DB;
            let nugget = (-0.5 * (offset / nugget_db).powi(2)).exp();
            total += nugget;
            *factor = nugget * (-0.5 * (offset / sigma_db).powi(2)).exp();
        }
        let mut bell = Self {
            sigma_db,
            factor,
            less: total.ln() + sigma_db.ln(),
            added: Vec::new(),
        };
        let points = (2.0 * REACH_DB / FINE_DB) as usize + 1;
        bell.added = (0..points).map(|i| bell.adds(FINE_DB * i as f64 - REACH_DB)).collect();
        bell
    }

    /// What the sum adds at an offset of `d` decibels from the centre.
    fn adds(&self, d: f64) -> f64 {
        // The 14th power must stay a number; with a sigma of 2 dB or more the limit lies 400 dB away.
        let exponent = (MEAN_STEP_DB * d / (self.sigma_db * self.sigma_db)).clamp(-50.0, 50.0);
        let ratio = exponent.exp();
        let sum = self.factor.iter().rev().fold(0.0, |sum, c| sum * ratio + c);
        sum.ln() - HALF as f64 * exponent
    }

    /// Appends it over the mean levels, for a centre in dBm.
    fn append(&self, centre: f64, out: &mut Vec<f64>) {
        let first = MEAN_MIN_DBM - centre;
        let place = (first + REACH_DB) / FINE_DB;
        // Cubics take one point before and two after.
        let last = place + (FINER * (MEANS - 1)) as f64 + 2.0;
        let inside = place >= 1.0 && last < self.added.len() as f64 && self.sigma_db >= 1.5;
        let x = place.fract();
        let weights = [
            -x * (x - 1.0) * (x - 2.0) / 6.0,
            (x + 1.0) * (x - 1.0) * (x - 2.0) / 2.0,
            -(x + 1.0) * x * (x - 2.0) / 2.0,
            (x + 1.0) * x * (x - 1.0) / 6.0,
        ];
        let from = place as usize;
        let scale = -0.5 / (self.sigma_db * self.sigma_db);
        out.extend((0..MEANS).map(|index| {
            let d = first + MEAN_STEP_DB * index as f64;
            let added = if inside {
                let at = from + FINER * index - 1;
                self.added[at..at + 4].iter().zip(&weights).map(|(a, w)| a * w).sum()
            } else {
                self.adds(d)
            };
            scale * d * d + added - self.less
        }));
    }
}

/// Cells in flat arrays, with readings outside the tables counted as unread.
pub(super) fn flatten(cells: &[WalkCell]) -> FlatCells {
    let mut flat = FlatCells {
        first: vec![0],
        readings: Vec::new(),
        delivered: Vec::new(),
        unread: Vec::new(),
        lost: Vec::new(),
    };
    for cell in cells {
        let mut unread = cell.heard.unread;
        for &(dbm, count) in &cell.heard.readings {
            match usize::try_from(i64::from(dbm) - i64::from(READING_MIN_DBM)) {
                Ok(index) if index < READINGS => flat.readings.push((index, count)),
                _ => unread += count,
            }
        }
        flat.first.push(flat.readings.len());
        flat.delivered.push(cell.heard.delivered());
        flat.unread.push(unread);
        flat.lost.push(cell.heard.lost);
    }
    flat
}
