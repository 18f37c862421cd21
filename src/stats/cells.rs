//! What one cell of readings and losses says about its local mean power.
//!
//! A *cell* is a stop, a stretch of a walk or a step of a sweep: so many readings at each whole dBm, so many exchanges
//! lost. Its one unknown is the mean power mu in dBm. Each exchange has the level L = mu + fade; it is delivered with
//! probability (1 - f) S(L), and then read as round(L + noise). A loss is therefore evidence ("at most this strong"),
//! never a missing value.
//!
//! The fade is Rician in power (Rice 1945, Bell System Technical Journal 24), S is logistic, the reading noise has 1 dB.
//! The likelihood is worked out on the grid of mean powers given by [`mean_at`]; a table for one set of radio constants is
//! built once and then serves any number of cells by plain sums over contiguous rows.

use super::special::{bessel_i0_scaled, beta_quantile, logistic, normal_cdf};

/// Number of mean powers on the grid.
pub const MEANS: usize = 301;
/// Lowest mean power of the grid, dBm.
pub const MEAN_MIN_DBM: f64 = -150.0;
/// Step of the grid of mean powers, dB.
pub const MEAN_STEP_DB: f64 = 0.5;
/// Lowest whole reading a table knows, dBm. A reading outside the table counts as delivered at an unknown level.
pub const READING_MIN_DBM: i32 = -130;
/// Highest whole reading a table knows, dBm.
pub const READING_MAX_DBM: i32 = 0;
/// The fade, in dB of K, that stands for Rayleigh (no steady part).
pub const RAYLEIGH_K_DB: f64 = -20.0;

const READINGS: usize = (READING_MAX_DBM - READING_MIN_DBM + 1) as usize;
/// Step of levels and fades, dB.
const LEVEL_STEP_DB: f64 = 0.25;
/// Levels to a step of mean power.
const LEVELS_PER_MEAN: usize = 2;
const LEVELS_PER_DB: usize = 4;
const FADE_MIN_DB: f64 = -40.0;
const FADES: usize = 209;
const LEVELS: usize = (MEANS - 1) * LEVELS_PER_MEAN + FADES;
/// Noise of a reading before it is rounded, one standard deviation in dB.
const READING_NOISE_DB: f64 = 1.0;
/// A reading lies at most this many whole dB from its rounded level.
const READING_REACH: i32 = 4;
/// What is added to every probability of a reading, so that one wild reading cannot rule out a mean power.
const OUTLIER_FLOOR: f64 = 1e-9;

/// The `index`-th level, dBm: the lowest is the weakest fade of the lowest mean.
fn level_at(index: usize) -> f64 {
    MEAN_MIN_DBM + FADE_MIN_DB + LEVEL_STEP_DB * index as f64
}

/// Returns the `index`-th mean power of the grid, dBm.
pub fn mean_at(index: usize) -> f64 {
    MEAN_MIN_DBM + MEAN_STEP_DB * index as f64
}

/// The delivery of one board against level, without fading and without interference: S(L) = 1 / (1 + exp(-(L - m)/s)).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SCurve {
    m_dbm: f64,
    s_db: f64,
}

impl SCurve {
    /// Takes the level of half delivery `m_dbm` and the scale `s_db` > 0; `None` when either is out of range.
    pub fn new(m_dbm: f64, s_db: f64) -> Option<Self> {
        (m_dbm.is_finite() && s_db.is_finite() && s_db > 0.0).then_some(Self { m_dbm, s_db })
    }

    /// The level of half delivery, dBm.
    pub fn m_dbm(self) -> f64 {
        self.m_dbm
    }

    /// The logistic scale, dB: smaller is steeper.
    pub fn s_db(self) -> f64 {
        self.s_db
    }

    /// The probability of delivery at a steady `level_dbm`.
    pub fn delivery(self, level_dbm: f64) -> f64 {
        logistic((level_dbm - self.m_dbm) / self.s_db)
    }

    /// The level at which the board itself delivers 90 %: m + s ln 9, dBm.
    pub fn level90_dbm(self) -> f64 {
        self.m_dbm + self.s_db * 9.0_f64.ln()
    }
}

/// Returns the masses of a Rician fade at -40 (0.25) +12 dB about its mean power, summing to 1.
///
/// `k_db` is steady over scattered power in dB, -20 for Rayleigh, taken into -60 to 40. `spread_db` >= 0 adds a Gaussian
/// spread of that standard deviation (shadowing that changes within a cell); up to 0.2 dB it is left out, above 40 dB it is
/// taken as 40.
pub fn fade_masses(k_db: f64, spread_db: f64) -> Vec<f64> {
    let k_db = k_db.clamp(-60.0, 40.0);
    let spread_db = spread_db.min(40.0);
    let k = 10_f64.powf(k_db / 10.0);
    let mut masses: Vec<f64> = (0..FADES)
        .map(|i| {
            let power = 10_f64.powf((FADE_MIN_DB + LEVEL_STEP_DB * i as f64) / 10.0);
            let z = 2.0 * (k * (1.0 + k) * power).sqrt();
            (1.0 + k) * (-k - (1.0 + k) * power + z).exp() * bessel_i0_scaled(z) * power
        })
        .collect();
    let total: f64 = masses.iter().sum();
    for mass in &mut masses {
        *mass /= total;
    }
    if spread_db > 0.2 {
        spread(&masses, spread_db)
    } else {
        masses
    }
}

/// Convolves with a Gaussian; what would fall off an end is kept in the end's own mass.
fn spread(masses: &[f64], spread_db: f64) -> Vec<f64> {
    let reach = (3.5 * spread_db / LEVEL_STEP_DB).ceil() as i64;
    let mut kernel: Vec<f64> = (-reach..=reach)
        .map(|i| (-0.5 * (i as f64 * LEVEL_STEP_DB / spread_db).powi(2)).exp())
        .collect();
    let total: f64 = kernel.iter().sum();
    for weight in &mut kernel {
        *weight /= total;
    }
    let last = masses.len() as i64 - 1;
    let mut out = vec![0.0; masses.len()];
    for (i, mass) in masses.iter().enumerate() {
        for (shift, weight) in (-reach..=reach).zip(&kernel) {
            out[(i as i64 + shift).clamp(0, last) as usize] += mass * weight;
        }
    }
    out
}

/// The probabilities of readings and of delivery over the grid of mean powers, for one K and one S-curve.
#[derive(Clone, Debug)]
pub struct CellTable {
    k_db: f64,
    curve: SCurve,
    /// ln(g + floor), a row of [`MEANS`] for each reading.
    log_g: Vec<f64>,
    /// Probability of delivery, interference aside, at each mean power.
    delivered: Vec<f64>,
}

impl CellTable {
    /// Builds the table; `k_db` and `spread_db` as in [`fade_masses`].
    pub fn new(curve: SCurve, k_db: f64, spread_db: f64) -> Self {
        let masses = fade_masses(k_db, spread_db);
        let pass: Vec<f64> = (0..LEVELS).map(|l| curve.delivery(level_at(l))).collect();

        let delivered = (0..MEANS)
            .map(|j| {
                let levels = &pass[j * LEVELS_PER_MEAN..j * LEVELS_PER_MEAN + FADES];
                masses.iter().zip(levels).map(|(mass, s)| mass * s).sum()
            })
            .collect();

        let mut log_g = reading_probabilities(&masses, &pass);
        let floor = OUTLIER_FLOOR.ln();
        for g in &mut log_g {
            *g = if *g > 0.0 { (*g + OUTLIER_FLOOR).ln() } else { floor };
        }
        Self {
            k_db,
            curve,
            log_g,
            delivered,
        }
    }

    /// The K this table was built for, dB.
    pub fn k_db(&self) -> f64 {
        self.k_db
    }

    /// The S-curve this table was built for.
    pub fn curve(&self) -> SCurve {
        self.curve
    }

    /// The probability of delivery at each mean power of the grid, interference aside.
    pub fn delivered(&self) -> &[f64] {
        &self.delivered
    }

    /// ln of the probability (with its floor) that an exchange is delivered and read as `reading_dbm`, at each mean power of
    /// the grid; `None` for a reading outside the table.
    pub fn log_reading(&self, reading_dbm: i32) -> Option<&[f64]> {
        let row = usize::try_from(i64::from(reading_dbm) - i64::from(READING_MIN_DBM)).ok()?;
        self.log_g.get(row * MEANS..(row + 1) * MEANS)
    }
}

/// Fades of one parity from the strongest down, the ends below one in a thousand million cut off.
struct Falling {
    strongest: usize,
    masses: Vec<f64>,
}

impl Falling {
    fn of(masses: &[f64], parity: usize) -> Self {
        let counts = |i: &usize| i % LEVELS_PER_MEAN == parity && masses[*i] >= 1e-9;
        let strongest = (0..masses.len()).rev().find(counts).unwrap_or(parity);
        let weakest = (0..masses.len()).find(counts).unwrap_or(parity);
        Self {
            strongest,
            masses: (weakest..=strongest)
                .rev()
                .step_by(LEVELS_PER_MEAN)
                .map(|i| masses[i])
                .collect(),
        }
    }
}

/// Probability of each reading at each mean power, a row of [`MEANS`] for each reading.
///
/// The sums run so that a row is walked upwards in memory: level l is fade l - 2j of mean j.
fn reading_probabilities(masses: &[f64], pass: &[f64]) -> Vec<f64> {
    let falling: [Falling; LEVELS_PER_MEAN] = std::array::from_fn(|parity| Falling::of(masses, parity));
    // A level's place within its whole dBm repeats every dB.
    let offsets = || -READING_REACH..=READING_REACH;
    let kernel: [Vec<f64>; LEVELS_PER_DB] = std::array::from_fn(|l| {
        let nearest = (level_at(l) + 0.5).floor();
        offsets()
            .map(|off| {
                let above = nearest + f64::from(off) - level_at(l);
                normal_cdf((above + 0.5) / READING_NOISE_DB) - normal_cdf((above - 0.5) / READING_NOISE_DB)
            })
            .collect()
    });
    let mut probabilities = vec![0.0; READINGS * MEANS];
    for (l, s) in pass.iter().enumerate().filter(|(_, s)| **s >= 1e-12) {
        let nearest = (level_at(l) + 0.5).floor() as i32;
        let fades = &falling[l % LEVELS_PER_MEAN];
        let weakest = fades.strongest - LEVELS_PER_MEAN * (fades.masses.len() - 1);
        if l < weakest {
            continue;
        }
        let first = l.saturating_sub(fades.strongest).div_ceil(LEVELS_PER_MEAN);
        let last = ((l - weakest) / LEVELS_PER_MEAN).min(MEANS - 1);
        let skipped = (fades.strongest + LEVELS_PER_MEAN * first - l) / LEVELS_PER_MEAN;
        for (off, share) in offsets().zip(&kernel[l % LEVELS_PER_DB]) {
            let reading = nearest + off;
            if first > last || !(READING_MIN_DBM..=READING_MAX_DBM).contains(&reading) {
                continue;
            }
            let row = (reading - READING_MIN_DBM) as usize * MEANS;
            let share = s * share;
            for (p, mass) in probabilities[row + first..=row + last]
                .iter_mut()
                .zip(&fades.masses[skipped..])
            {
                *p += share * mass;
            }
        }
    }
    probabilities
}

/// The share of exchanges lost whatever their level: one number, or a number that differs from cell to cell.
#[derive(Clone, Debug, PartialEq)]
pub struct Interference {
    nodes: Vec<f64>,
}

impl Interference {
    /// The same share `f` in every cell, taken into 0 to 0.98.
    pub fn fixed(f: f64) -> Self {
        Self {
            nodes: vec![if f.is_nan() { 0.0 } else { f.clamp(0.0, 0.98) }],
        }
    }

    /// A share that differs from cell to cell as Beta(8 f, 8 (1 - f)), so that a burst inside one cell is not read as a deep
    /// fade: nine nodes of equal probability. `f` is taken into 0.0001 to 0.95.
    pub fn varying(f: f64) -> Self {
        const CONCENTRATION: f64 = 8.0;
        const NODES: usize = 9;
        let f = if f.is_nan() { 1e-4 } else { f.clamp(1e-4, 0.95) };
        let nodes = (0..NODES)
            .map(|i| {
                let p = (i as f64 + 0.5) / NODES as f64;
                beta_quantile(f * CONCENTRATION, (1.0 - f) * CONCENTRATION, p).map_or(f, |q| q.x.clamp(0.0, 0.98))
            })
            .collect();
        Self { nodes }
    }

    /// The nodes, all equally likely.
    pub fn nodes(&self) -> &[f64] {
        &self.nodes
    }
}

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
        let log_delivered = table.delivered.iter().map(|d| (d + 1e-12).ln()).collect();
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
        self.log_through = interference.nodes.iter().map(|f| (-f).ln_1p()).collect();
        self.log_lost = interference
            .nodes
            .iter()
            .flat_map(|f| {
                self.table
                    .delivered
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

    fn index(mu: f64) -> usize {
        ((mu - MEAN_MIN_DBM) / MEAN_STEP_DB).round() as usize
    }

    #[test]
    fn fade_masses_have_unit_sum_and_unit_mean_power() {
        for k_db in [RAYLEIGH_K_DB, 0.0, 6.0, 15.0, 25.0] {
            let masses = fade_masses(k_db, 0.0);
            let total: f64 = masses.iter().sum();
            let power: f64 = masses
                .iter()
                .enumerate()
                .map(|(i, m)| m * 10_f64.powf((FADE_MIN_DB + LEVEL_STEP_DB * i as f64) / 10.0))
                .sum();
            assert!((total - 1.0).abs() < 1e-12);
            assert!((power - 1.0).abs() < 2e-4, "K {k_db} dB: mean power {power}");
        }
        assert!((fade_masses(6.0, 3.0).iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn no_constant_breaks_a_table() {
        for k_db in [f64::NEG_INFINITY, -300.0, 60.0, f64::INFINITY, f64::NAN] {
            for spread_db in [-1.0, 0.0, 1e9, f64::INFINITY, f64::NAN] {
                for (m, s) in [(-92.0, 1e-9), (500.0, 1.0), (-500.0, 1e9)] {
                    let table = CellTable::new(SCurve::new(m, s).unwrap(), k_db, spread_db);
                    assert!(k_db.is_nan() || table.delivered().iter().all(|d| (0.0..=1.0 + 1e-9).contains(d)));
                }
            }
        }
    }

    #[test]
    fn rayleigh_in_decibels() {
        // -2.5068 dB and 5.5700 dB for power without a steady part; the grid leaves out fades below -40 dB, one in 10,000.
        let masses = fade_masses(RAYLEIGH_K_DB, 0.0);
        let fade = |i: usize| FADE_MIN_DB + LEVEL_STEP_DB * i as f64;
        let mean: f64 = masses.iter().enumerate().map(|(i, m)| m * fade(i)).sum();
        let square: f64 = masses
            .iter()
            .enumerate()
            .map(|(i, m)| m * (fade(i) - mean).powi(2))
            .sum();
        assert!((mean + 2.5068).abs() < 0.006, "{mean}");
        assert!((square.sqrt() - 5.57).abs() < 0.025, "{}", square.sqrt());
    }

    #[test]
    fn readings_and_losses_share_out_every_exchange() {
        let table = CellTable::new(SCurve::new(-92.0, 1.0).unwrap(), 6.0, 0.0);
        for mu in [-95.0, -90.0, -70.0] {
            let read: f64 = (READING_MIN_DBM..=READING_MAX_DBM)
                .map(|r| table.log_reading(r).unwrap()[index(mu)].exp() - OUTLIER_FLOOR)
                .sum();
            // A reading more than 4 dB off its level, at most 4e-5 of them, is left to the outlier floor.
            assert!((read - table.delivered()[index(mu)]).abs() < 4e-5, "{mu}: {read}");
        }
        assert!(table.log_reading(1).is_none());
        assert!(table.log_reading(i32::MIN).is_none());
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
