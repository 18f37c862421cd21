//! The fit of a walk: exponent, shadowing and the board, from cells to posterior.
//!
//! The mean level of cell j is A - 10 n (log10 `d_j` - log10 `d_ref`) + sigma `z_j`, with z a first-order Markov chain over cells
//! in the order of their first visit. Over a fixed grid of sigma and correlation distance the cells' likelihoods are
//! filtered, which integrates A and n out exactly; the grid's points are then weighed by their likelihood.

use crate::stats::cells::{CellModel, CellTable, Interference, MEANS, SCurve};

use super::bend::{Bend, bend};
use super::binning::WalkCell;
use super::filter::{Before, CellCurves, Order, run};
use super::learn::{ARGUMENTS, FlatCells, K, LN_S, LOGIT_F, M, Surroundings, Trend, flatten, learn};
use super::posterior::{Part, Posterior, averaging};
use super::range::DeliveryCurves;
use super::scurve::MeasuredSCurve;

/// What is known beforehand of the board and its surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Beforehand {
    /// Nothing: S-curve, fading and interference are learned from the walk.
    Nothing,
    /// The S-curve, from earlier walks: fading and interference are learned, and the curve's own uncertainty enters every range.
    Curve(MeasuredSCurve),
    /// All, without uncertainty.
    All {
        /// The S-curve.
        curve: SCurve,
        /// Rician factor, dB; taken into -10 to 15.
        k_db: f64,
        /// Share of exchanges lost whatever their level; taken into 0 to 0.98.
        interference: f64,
    },
}

/// Why a walk has no fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoFit {
    /// No cell at all.
    #[error("no exchange far enough from the station; walk farther out")]
    NoCells,
    /// Not one exchange answered.
    #[error("nothing was received on this walk; begin nearer to the station")]
    NothingReceived,
    /// Answers, but no level with any of them.
    #[error("no answer carried a level; the law of level against distance needs some")]
    NoLevels,
    /// The board's parameters cannot be told apart at all.
    #[error("the walk says nothing about the board; give it a stored curve")]
    Degenerate,
}

/// Why no exponent is given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoSlope {
    /// Fewer than 8 cells.
    FewCells(usize),
    /// The farthest cell is less than twice as far as the nearest: the ratio.
    ShortSpan(f64),
    /// The exponent's standard deviation is 0.6 or more.
    Vague(f64),
}

/// What a reader of the fit should know.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FitWarning {
    /// No exponent can be given.
    NoSlope(NoSlope),
    /// Fewer than three cells lost 30 in 100 beyond interference, or m is known no better than 2 dB: the board's limit was not seen.
    SensitivityNotReached,
    /// Evidence that the law bends at this distance in metres: ranges at high delivery are then wrong, mostly too short where it steepens.
    Bend {
        /// Where, metres.
        at_m: f64,
        /// Twice the natural logarithm of the Bayes factor for two slopes.
        evidence: f64,
    },
    /// Interference takes this share of all exchanges, whatever their level.
    Interference(f64),
    /// Three in ten cells or more were visited again (out and back makes it about half): the slope rests on fewer independent places than it seems.
    MostlyRevisited(f64),
}

/// Cells and exchanges a fit rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// Cells.
    pub cells: usize,
    /// Exchanges in them.
    pub exchanges: f64,
    /// Exchanges answered.
    pub delivered: f64,
    /// Distance of the nearest cell, metres.
    pub nearest_m: f64,
    /// Distance of the farthest cell, metres.
    pub farthest_m: f64,
    /// Share of cells visited again.
    pub revisited: f64,
    /// Share delivered in the outer quarter of cells.
    pub outer_delivery: f64,
}

/// A fitted walk.
#[derive(Clone, Debug)]
pub struct WalkFit {
    /// What it rests on.
    pub extent: Extent,
    /// Belief about level, exponent and shadowing. [`WalkFit::slope`] is the exponent as it may be printed.
    pub posterior: Posterior,
    /// The board's S-curve, given or learned.
    pub curve: SCurve,
    /// Rician factor, dB.
    pub k_db: f64,
    /// Share of exchanges lost whatever their level.
    pub interference: f64,
    /// Covariance of m (dB), ln s, logit of the interference, K (dB); 0 where not learned or given as exact.
    pub covariance: [[f64; ARGUMENTS]; ARGUMENTS],
    /// Spread of the level inside a cell beyond fading, dB.
    pub within_db: f64,
    /// Whether the S-curve was learned from this walk.
    pub curve_learned: bool,
    /// Whether the walk saw the board's limit, or the curve was known beforehand.
    pub sensitivity_reached: bool,
    /// Why no exponent may be printed.
    pub no_slope: Option<NoSlope>,
    /// A second slope weighed against one.
    pub bend: Bend,
    /// What a reader should know.
    pub warnings: Vec<FitWarning>,
    /// Logarithm of the largest marginal likelihood times prior on the grid.
    pub log_likelihood: f64,
    pub(super) delivery: DeliveryCurves,
}

/// Grid of shadowing standard deviations, dB: 2 × 1.17^i.
fn sigmas() -> [f64; 13] {
    std::array::from_fn(|i| 2.0 * 1.17_f64.powi(i as i32))
}

/// Grid of correlation distances, metres.
const DELTAS: [f64; 8] = [3.0, 4.5, 7.0, 10.0, 15.0, 22.0, 33.0, 50.0];
/// Scatter from cell to cell without correlation, dB: position error, structure inside cells, few fades.
pub(super) const NUGGET_DB: f64 = 1.0;
/// Priors of the exponent: mean and variance.
pub(super) const SLOPE_PRIOR: (f64, f64) = (2.9, 0.8 * 0.8);
/// Prior variance of the level about its start, dB².
pub(super) const LEVEL_VARIANCE: f64 = 15.0 * 15.0;

/// ln of the priors of sigma and delta: log-normal about 5 dB and 10 m, each with deviation 0.6.
pub(super) fn log_prior(ln_sigma: f64, ln_delta: f64) -> f64 {
    -0.5 * ((ln_sigma - 5.0_f64.ln()) / 0.6).powi(2) - 0.5 * ((ln_delta - 10.0_f64.ln()) / 0.6).powi(2)
}

/// Places of the cells, and the order they are filtered in.
pub(super) struct Line {
    pub log10_distance: Vec<f64>,
    pub log10_reference: f64,
    pub order: Order,
}

impl Line {
    fn new(cells: &[WalkCell]) -> Self {
        let log10_distance: Vec<f64> = cells.iter().map(|cell| cell.log10_distance).collect();
        let n = cells.len();
        let inward = log10_distance[n - 1] < log10_distance[0];
        let order: Vec<usize> = if inward {
            (0..n).rev().collect()
        } else {
            (0..n).collect()
        };
        let mut gap_m = vec![0.0];
        for pair in order.windows(2) {
            let (a, b) = (&cells[pair[0]], &cells[pair[1]]);
            gap_m.push((a.east_m - b.east_m).hypot(a.north_m - b.north_m));
        }
        Self {
            log10_reference: log10_distance.iter().sum::<f64>() / n as f64,
            log10_distance,
            order: Order { cells: order, gap_m },
        }
    }

    /// Decades beyond the reference distance, times -10: what the exponent multiplies.
    pub(super) fn falls(&self) -> impl Iterator<Item = f64> + '_ {
        self.log10_distance.iter().map(|d| -10.0 * (d - self.log10_reference))
    }
}

/// Fits a walk's cells, given in the order of their first visit.
///
/// Two rounds: the board (where it is not known) from the trend, then the trend from the board.
///
/// # Errors
///
/// Where nothing can be fitted at all; a fit that says little is a fit with warnings.
pub fn fit_walk(cells: &[WalkCell], beforehand: &Beforehand) -> Result<WalkFit, NoFit> {
    if cells.is_empty() || cells.iter().any(|c| !c.log10_distance.is_finite()) {
        return Err(NoFit::NoCells);
    }
    let flat = flatten(cells);
    if flat.delivered.iter().sum::<f64>() <= 0.0 {
        return Err(NoFit::NothingReceived);
    }
    if flat.readings.is_empty() {
        return Err(NoFit::NoLevels);
    }
    let line = Line::new(cells);
    let extent_m = {
        let revisited = cells.iter().filter(|cell| cell.revisited).count() as f64 / cells.len() as f64;
        // A cell passed once averages about 6 m of shadowing; passed again, some 15 m, as positions drift between passes.
        6.0 + 9.0 * revisited
    };
    let mut start = start(cells, &flat, &line);
    let mut covariance = [[0.0; ARGUMENTS]; ARGUMENTS];
    match beforehand {
        Beforehand::Nothing => {}
        Beforehand::Curve(stored) => {
            start.surroundings.m_dbm = stored.curve.m_dbm();
            start.surroundings.s_db = stored.curve.s_db();
        }
        Beforehand::All {
            curve,
            k_db,
            interference,
        } => {
            start.surroundings = Surroundings {
                m_dbm: curve.m_dbm(),
                s_db: curve.s_db(),
                k_db: if k_db.is_nan() { 6.0 } else { k_db.clamp(-10.0, 15.0) },
                interference: if interference.is_nan() {
                    0.0
                } else {
                    interference.clamp(0.0, 0.98)
                },
            };
        }
    }
    let free: &[usize] = match beforehand {
        Beforehand::Nothing => &[M, LN_S, LOGIT_F, K],
        Beforehand::Curve(_) => &[LOGIT_F, K],
        Beforehand::All { .. } => &[],
    };
    let (first, surroundings) = round(cells, &flat, &line, &start, free, 1.5, None)?;
    let trend = first.start(surroundings);
    let sigma = trend.sigma_db;
    let delta = first.posterior.mean(|part| part.ln_delta).exp();
    let within_db = (sigma * sigma * (1.0 - averaging(extent_m, delta)))
        .sqrt()
        .clamp(0.3, 4.0);
    let (mut second, surroundings) = round(cells, &flat, &line, &trend, free, within_db, Some(&mut covariance))?;
    if let Beforehand::Curve(stored) = beforehand {
        for (own, known) in covariance.iter_mut().zip(&stored.covariance) {
            own[..2].copy_from_slice(known);
        }
    }
    second.posterior.cell_extent_m = extent_m;
    let level = second.posterior.mean(|part| part.level_dbm);
    let bend = bend(&second.curves, &line, level);
    second.posterior.parts.retain(|part| part.weight > 1e-5);
    let kept: f64 = second.posterior.parts.iter().map(|part| part.weight).sum();
    for part in &mut second.posterior.parts {
        part.weight /= kept;
    }
    let curve = surroundings.curve().ok_or(NoFit::Degenerate)?;
    let learned = matches!(beforehand, Beforehand::Nothing);
    let extent = extent(cells, &flat, &line);
    let over = |cell: usize| {
        flat.lost[cell] / (flat.lost[cell] + flat.delivered[cell]).max(1.0) > 0.3 + surroundings.interference
    };
    let weak = (0..cells.len()).filter(|&cell| over(cell)).count();
    let mut fit = WalkFit {
        extent,
        curve,
        k_db: surroundings.k_db,
        interference: surroundings.interference,
        covariance,
        within_db,
        curve_learned: learned,
        sensitivity_reached: !learned || (weak >= 3 && covariance[M][M].sqrt() < 2.0),
        no_slope: no_slope(&extent, &second.posterior),
        bend,
        warnings: Vec::new(),
        log_likelihood: second.log_likelihood,
        delivery: DeliveryCurves::new(&surroundings, within_db).ok_or(NoFit::Degenerate)?,
        posterior: second.posterior,
    };
    fit.warnings = warnings(&fit);
    Ok(fit)
}

/// Where a round begins.
#[derive(Clone, Copy, Debug)]
struct Start {
    surroundings: Surroundings,
    level_dbm: f64,
    slope: f64,
    sigma_db: f64,
}

/// What a round gives.
struct Round {
    posterior: Posterior,
    curves: CellCurves,
    log_likelihood: f64,
}

impl Round {
    fn start(&self, surroundings: Surroundings) -> Start {
        Start {
            surroundings,
            level_dbm: self.posterior.mean(|part| part.level_dbm),
            slope: self.posterior.mean(|part| part.slope),
            sigma_db: self.posterior.mean(|part| part.ln_sigma).exp(),
        }
    }
}

fn round(
    cells: &[WalkCell],
    flat: &FlatCells,
    line: &Line,
    start: &Start,
    free: &[usize],
    within_db: f64,
    covariance: Option<&mut [[f64; ARGUMENTS]; ARGUMENTS]>,
) -> Result<(Round, Surroundings), NoFit> {
    let mut surroundings = start.surroundings;
    if !free.is_empty() {
        let trend = Trend {
            level_dbm: line.falls().map(|fall| start.level_dbm + start.slope * fall).collect(),
            sigma_db: start.sigma_db,
            nugget_db: NUGGET_DB,
            within_db,
        };
        let learned = learn(flat, &trend, &surroundings, free, covariance.is_some()).ok_or(NoFit::Degenerate)?;
        surroundings = learned.surroundings;
        if let Some(out) = covariance {
            *out = learned.covariance;
        }
    }
    let curve = surroundings.curve().ok_or(NoFit::Degenerate)?;
    let table = CellTable::new(curve, surroundings.table_k_db(), within_db);
    let model = CellModel::new(table, &Interference::fixed(surroundings.interference));
    let mut log_likelihood = vec![0.0; cells.len() * MEANS];
    for (cell, row) in cells.iter().zip(log_likelihood.chunks_exact_mut(MEANS)) {
        model.log_likelihood_into(&cell.heard, 1.0, row);
    }
    let curves = CellCurves::new(log_likelihood, NUGGET_DB);
    let (posterior, log_likelihood) = grid(&curves, line, start.level_dbm);
    let round = Round {
        posterior,
        curves,
        log_likelihood,
    };
    Ok((round, surroundings))
}

/// Filters at every point of the grid.
fn grid(curves: &CellCurves, line: &Line, level_dbm: f64) -> (Posterior, f64) {
    let design: Vec<[f64; 2]> = line.falls().map(|fall| [1.0, fall]).collect();
    let before = Before {
        mean: [level_dbm, SLOPE_PRIOR.0],
        variance: [LEVEL_VARIANCE, SLOPE_PRIOR.1],
    };
    let mut parts = Vec::with_capacity(13 * DELTAS.len());
    for delta in DELTAS {
        for sigma in sigmas() {
            let seen = run(curves, &line.order, &design, (sigma, delta), &before);
            parts.push(Part {
                ln_sigma: sigma.ln(),
                ln_delta: delta.ln(),
                level_dbm: seen.mean[0],
                slope: seen.mean[1],
                covariance: seen.covariance,
                // The logarithm for now.
                weight: seen.log_likelihood + log_prior(sigma.ln(), delta.ln()),
            });
        }
    }
    let top = parts.iter().fold(f64::NEG_INFINITY, |a, part| a.max(part.weight));
    for part in &mut parts {
        part.weight = (part.weight - top).exp();
    }
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    for part in &mut parts {
        part.weight /= total;
    }
    let posterior = Posterior {
        log10_reference: line.log10_reference,
        parts,
        cell_extent_m: 0.0,
    };
    (posterior, top)
}

/// Start values: a straight line through the dB means of the cells that lost at most half, the weakest fiftieth of readings as
/// m, the losses in the strongest cells as interference.
fn start(cells: &[WalkCell], flat: &FlatCells, line: &Line) -> Start {
    let readings = |cell: usize| &flat.readings[flat.first[cell]..flat.first[cell + 1]];
    let dbm = |index: usize| f64::from(crate::stats::cells::READING_MIN_DBM) + index as f64;
    let mean = |cell: usize| {
        let n: f64 = readings(cell).iter().map(|r| r.1).sum();
        (n > 0.0).then(|| readings(cell).iter().map(|r| r.1 * dbm(r.0)).sum::<f64>() / n)
    };
    let heard: Vec<(usize, f64)> = (0..cells.len()).filter_map(|cell| Some((cell, mean(cell)?))).collect();
    let mut good: Vec<(usize, f64)> = heard
        .iter()
        .copied()
        .filter(|&(cell, _)| flat.delivered[cell] >= flat.lost[cell])
        .collect();
    if good.len() < 3 {
        good.clone_from(&heard);
    }
    let falls: Vec<f64> = line.falls().collect();
    let n = good.len() as f64;
    let x_mean = good.iter().map(|g| falls[g.0]).sum::<f64>() / n;
    let y_mean = good.iter().map(|g| g.1).sum::<f64>() / n;
    let xx: f64 = good.iter().map(|g| (falls[g.0] - x_mean).powi(2)).sum();
    let xy: f64 = good.iter().map(|g| (falls[g.0] - x_mean) * (g.1 - y_mean)).sum();
    let slope = if xx > 1e-9 { xy / xx } else { 0.0 };
    let level_dbm = y_mean - slope * x_mean;

    let mut counts = vec![0.0; super::response::READINGS];
    for &(reading, count) in &flat.readings {
        counts[reading] += count;
    }
    let threshold = 0.02 * counts.iter().sum::<f64>();
    let mut below = 0.0;
    let weakest = counts
        .iter()
        .position(|&count| {
            below += count;
            count > 0.0 && below >= threshold
        })
        .unwrap_or(0);

    let mut strongest: Vec<(usize, f64)> = (0..cells.len())
        .map(|cell| (cell, mean(cell).unwrap_or(-999.0)))
        .collect();
    strongest.sort_by(|a, b| b.1.total_cmp(&a.1));
    strongest.truncate((cells.len() / 5).max(3));
    let lost: f64 = strongest.iter().map(|s| flat.lost[s.0]).sum();
    let delivered: f64 = strongest.iter().map(|s| flat.delivered[s.0]).sum();
    Start {
        surroundings: Surroundings {
            m_dbm: dbm(weakest),
            s_db: 1.0,
            interference: ((lost + 0.5) / (lost + delivered + 1.0)).clamp(0.002, 0.3),
            k_db: 6.0,
        },
        level_dbm,
        slope: slope.clamp(1.0, 6.0),
        sigma_db: 5.0,
    }
}

fn extent(cells: &[WalkCell], flat: &FlatCells, line: &Line) -> Extent {
    let mut sorted = line.log10_distance.clone();
    sorted.sort_by(f64::total_cmp);
    let place = 0.75 * (sorted.len() - 1) as f64;
    let below = sorted[place.floor() as usize];
    let outer = below + (sorted[place.ceil() as usize] - below) * place.fract();
    let far: Vec<usize> = (0..cells.len()).filter(|&c| line.log10_distance[c] >= outer).collect();
    let far_delivered: f64 = far.iter().map(|&c| flat.delivered[c]).sum();
    let far_all: f64 = far.iter().map(|&c| flat.delivered[c] + flat.lost[c]).sum();
    let delivered: f64 = flat.delivered.iter().sum();
    Extent {
        cells: cells.len(),
        exchanges: delivered + flat.lost.iter().sum::<f64>(),
        delivered,
        nearest_m: 10_f64.powf(sorted[0]),
        farthest_m: 10_f64.powf(sorted[sorted.len() - 1]),
        revisited: cells.iter().filter(|cell| cell.revisited).count() as f64 / cells.len() as f64,
        outer_delivery: far_delivered / far_all.max(1.0),
    }
}

fn no_slope(extent: &Extent, posterior: &Posterior) -> Option<NoSlope> {
    let span = extent.farthest_m / extent.nearest_m;
    let sd = posterior.slope_sd();
    if extent.cells < 8 {
        Some(NoSlope::FewCells(extent.cells))
    } else if span < 2.0 {
        Some(NoSlope::ShortSpan(span))
    } else if sd >= 0.6 {
        Some(NoSlope::Vague(sd))
    } else {
        None
    }
}

fn warnings(fit: &WalkFit) -> Vec<FitWarning> {
    let mut all = Vec::new();
    if let Some(reason) = fit.no_slope {
        all.push(FitWarning::NoSlope(reason));
    }
    if !fit.sensitivity_reached {
        all.push(FitWarning::SensitivityNotReached);
    }
    // Over 4.6, ten to one: the grade at which R. Kass and A. Raftery 1995 (JASA 90:773) call evidence strong is 6, positive 2.
    if fit.bend.evidence > 4.6 {
        all.push(FitWarning::Bend {
            at_m: fit.bend.at_m,
            evidence: fit.bend.evidence,
        });
    }
    if fit.interference > 0.05 {
        all.push(FitWarning::Interference(fit.interference));
    }
    if fit.extent.revisited >= 0.3 {
        all.push(FitWarning::MostlyRevisited(fit.extent.revisited));
    }
    all
}
