//! One round of the fit: the board from the trend, then the trend from the board.

use crate::stats::cells::{CellModel, CellTable, Interference, MEANS, READING_MIN_DBM};

use super::binning::WalkCell;
use super::filter::{Before, CellCurves, Filtered, Order, run};
use super::fit::NoFit;
use super::learn::{ARGUMENTS, Surroundings, learn};
use super::marginal::{FlatCells, Trend};
use super::posterior::{Part, Posterior};
use super::response::READINGS;
use super::shadowing_grid::{self, ShadowingGrid};

/// Scatter from cell to cell without correlation, dB: position error, structure inside cells, few fades.
pub(super) const NUGGET_DB: f64 = 1.0;
/// Priors of the exponent: mean and variance.
pub(super) const SLOPE_PRIOR: (f64, f64) = (2.9, 0.8 * 0.8);
/// Prior of what the walker's body takes with the back to the station, dB: mean and variance. A torso at 2.4 GHz takes some
/// 5 to 20 dB where it stands between (order of magnitude: common practice), a board held over the head or out aside nothing.
pub(super) const BODY_PRIOR: (f64, f64) = (3.0, 5.0 * 5.0);
/// Prior variance of the level about its start, dB².
pub(super) const LEVEL_VARIANCE: f64 = 15.0 * 15.0;

/// Places of the cells, and the order they are filtered in.
pub(super) struct Line {
    pub log10_distance: Vec<f64>,
    pub log10_reference: f64,
    pub order: Order,
    /// How far the walker had the back to the station in each cell, where the walk can tell what that costs.
    pub away: Option<Vec<f64>>,
}

impl Line {
    pub(super) fn new(cells: &[WalkCell]) -> Self {
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
            let apart = (a.east_m - b.east_m).hypot(a.north_m - b.north_m);
            let same_place = if inward { a.same_place } else { b.same_place };
            gap_m.push(if same_place {
                apart.hypot(BETWEEN_PASSES_M)
            } else {
                apart
            });
        }
        Self {
            log10_reference: log10_distance.iter().sum::<f64>() / n as f64,
            log10_distance,
            order: Order { cells: order, gap_m },
            away: both_ways(cells),
        }
    }

    /// Numbers of so many cells nearest to the station, in order.
    fn nearest(&self, most: usize) -> Vec<usize> {
        let mut cells: Vec<usize> = (0..self.log10_distance.len()).collect();
        cells.sort_by(|&a, &b| self.log10_distance[a].total_cmp(&self.log10_distance[b]));
        cells.truncate(most);
        cells.sort_unstable();
        cells
    }

    /// The law's columns: the level, what the exponent multiplies, and, with the body, what its loss multiplies.
    pub(super) fn with_body(&self, away: &[f64]) -> Vec<[f64; 3]> {
        self.falls().zip(away).map(|(fall, away)| [1.0, fall, -away]).collect()
    }

    /// Decades beyond the reference distance, times -10: what the exponent multiplies.
    pub(super) fn falls(&self) -> impl Iterator<Item = f64> + '_ {
        self.log10_distance.iter().map(|d| -10.0 * (d - self.log10_reference))
    }
}

/// How far positions drift between two passes of one place, metres: the shadow met is not quite the same.
const BETWEEN_PASSES_M: f64 = 4.0;
/// Least share of exchanges of either heading for which the body's loss is looked for.
const LEAST_SHARE: f64 = 0.1;

/// How far each cell had the back to the station, where enough is known of both headings; cells of unknown heading count as
/// across.
fn both_ways(cells: &[WalkCell]) -> Option<Vec<f64>> {
    let (mut outward, mut inward, mut all) = (0.0, 0.0, 0.0);
    for cell in cells {
        let n = cell.heard.exchanges();
        all += n;
        match cell.away {
            Some(away) if away > 0.75 => outward += n,
            Some(away) if away < 0.25 => inward += n,
            _ => {}
        }
    }
    (outward.min(inward) > LEAST_SHARE * all).then(|| cells.iter().map(|cell| cell.away.unwrap_or(0.5)).collect())
}

/// Where a round begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Start {
    pub surroundings: Surroundings,
    pub level_dbm: f64,
    pub slope: f64,
    pub sigma_db: f64,
    /// What the walker's body takes with the back to the station, dB.
    pub body_db: f64,
}

/// The walk as the rounds see it.
pub(super) struct Walked<'a> {
    pub cells: &'a [WalkCell],
    pub flat: &'a FlatCells,
    pub line: &'a Line,
}

/// What a round gives.
pub(super) struct Round {
    pub posterior: Posterior,
    pub curves: CellCurves,
    pub log_likelihood: f64,
}

impl Round {
    pub(super) fn start(&self, surroundings: Surroundings) -> Start {
        Start {
            surroundings,
            level_dbm: self.posterior.mean(|part| part.level_dbm),
            slope: self.posterior.mean(|part| part.slope),
            sigma_db: self.posterior.mean(|part| part.ln_sigma).exp(),
            body_db: self.posterior.mean(|part| part.body_db),
        }
    }
}

/// How closely a round looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Care {
    /// The board from every cell, the trend over the whole grid: for figures.
    Whole,
    /// The board from the cells nearest to the station, a hundred at most, the trend over the thinned grid: enough to begin the
    /// next round from. The far cells of a long walk are mostly lost whole, and say little of fading and interference.
    Near,
}

/// Cells looked at with [`Care::Near`].
const NEAREST: usize = 100;

impl Care {
    fn grid(self) -> &'static ShadowingGrid {
        match self {
            Self::Whole => &ShadowingGrid::FULL,
            Self::Near => &ShadowingGrid::THINNED,
        }
    }
}

pub(super) fn round(
    walked: &Walked,
    start: &Start,
    free: &[usize],
    care: Care,
    within_db: f64,
    covariance: Option<&mut [[f64; ARGUMENTS]; ARGUMENTS]>,
) -> Result<(Round, Surroundings), NoFit> {
    let Walked { cells, flat, line } = *walked;
    let mut surroundings = start.surroundings;
    if !free.is_empty() {
        let trend = Trend {
            level_dbm: line
                .falls()
                .enumerate()
                .map(|(cell, fall)| {
                    let body = line.away.as_ref().map_or(0.0, |away| start.body_db * away[cell]);
                    start.level_dbm + start.slope * fall - body
                })
                .collect(),
            sigma_db: start.sigma_db,
            nugget_db: NUGGET_DB,
            within_db,
        };
        let few = (care == Care::Near && cells.len() > NEAREST).then(|| {
            let nearest = line.nearest(NEAREST);
            (flat.only(&nearest), trend.only(&nearest))
        });
        let (flat, trend) = few.as_ref().map_or((flat, &trend), |(flat, trend)| (flat, trend));
        let learned = learn(flat, trend, &surroundings, free, covariance.is_some()).ok_or(NoFit::Degenerate)?;
        surroundings = learned.surroundings;
        if let Some(out) = covariance {
            *out = learned.covariance;
        }
    }
    let curve = surroundings.curve().ok_or(NoFit::Degenerate)?;
    let table = CellTable::new(curve, surroundings.table_k_db(), within_db);
    let model = CellModel::new(table, &Interference::fixed(surroundings.interference));
    let curves = curves(cells, &model);
    let (posterior, log_likelihood) = grid(&curves, line, start.level_dbm, care.grid());
    let round = Round {
        posterior,
        curves,
        log_likelihood,
    };
    Ok((round, surroundings))
}

/// The cells' likelihoods; cells that lost equally many and heard nothing share one.
fn curves(cells: &[WalkCell], model: &CellModel) -> CellCurves {
    let mut own: Vec<&WalkCell> = Vec::new();
    let mut lost_whole: Vec<(f64, usize)> = Vec::new();
    let mut of = Vec::with_capacity(cells.len());
    for cell in cells {
        let lost = (cell.heard.delivered() <= 0.0).then_some(cell.heard.lost);
        let shared = lost_whole.iter().find(|&&(count, _)| Some(count) == lost);
        of.push(shared.map_or(own.len(), |&(_, curve)| curve));
        if shared.is_none() {
            lost_whole.extend(lost.map(|lost| (lost, own.len())));
            own.push(cell);
        }
    }
    let mut log_likelihood = vec![0.0; own.len() * MEANS];
    for (cell, row) in own.iter().zip(log_likelihood.chunks_exact_mut(MEANS)) {
        model.log_likelihood_into(&cell.heard, 1.0, row);
    }
    CellCurves::new(log_likelihood, of, NUGGET_DB)
}

/// Filters at every point of the grid.
fn grid(curves: &CellCurves, line: &Line, level_dbm: f64, grid: &ShadowingGrid) -> (Posterior, f64) {
    let mut parts = match &line.away {
        None => {
            let design: Vec<[f64; 2]> = line.falls().map(|fall| [1.0, fall]).collect();
            let before = Before {
                mean: [level_dbm, SLOPE_PRIOR.0],
                variance: [LEVEL_VARIANCE, SLOPE_PRIOR.1],
            };
            parts(grid, curves, &line.order, &design, &before, |_| (0.0, 0.0))
        }
        Some(away) => {
            let before = Before {
                mean: [level_dbm, SLOPE_PRIOR.0, BODY_PRIOR.0],
                variance: [LEVEL_VARIANCE, SLOPE_PRIOR.1, BODY_PRIOR.1],
            };
            let body = |seen: &Filtered<3>| (seen.mean[2], seen.covariance[2][2]);
            parts(grid, curves, &line.order, &line.with_body(away), &before, body)
        }
    };
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

/// A part for every point of the grid that counts, its weight a logarithm for now.
fn parts<const P: usize>(
    grid: &ShadowingGrid,
    curves: &CellCurves,
    order: &Order,
    design: &[[f64; P]],
    before: &Before<P>,
    body: impl Fn(&Filtered<P>) -> (f64, f64),
) -> Vec<Part> {
    let found = grid.search(|sigma, delta| {
        let seen = run(curves, order, design, (sigma, delta), before);
        let (body_db, body_variance) = body(&seen);
        let v = &seen.covariance;
        let (ln_sigma, ln_delta) = (sigma.ln(), delta.ln());
        let log = seen.log_likelihood + shadowing_grid::log_prior(ln_sigma, ln_delta);
        let part = Part {
            ln_sigma,
            ln_delta,
            level_dbm: seen.mean[0],
            slope: seen.mean[1],
            covariance: [[v[0][0], v[0][1]], [v[1][0], v[1][1]]],
            body_db,
            body_variance,
            weight: log,
        };
        (log, part)
    });
    found.into_iter().map(|(_, part)| part).collect()
}

/// Start values: a straight line through the dB means of the cells that lost at most half, the weakest fiftieth of
/// readings as m, the losses in the strongest cells as interference.
pub(super) fn start(cells: &[WalkCell], flat: &FlatCells, line: &Line, care: Care) -> Start {
    let readings = |cell: usize| &flat.readings[flat.first[cell]..flat.first[cell + 1]];
    let dbm = |index: usize| f64::from(READING_MIN_DBM) + index as f64;
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

    let mut counts = vec![0.0; READINGS];
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
    // On a walk mostly beyond the board's range a fifth of all cells holds weak ones, too, and the ascent has far to go from there.
    let among = match care {
        Care::Whole => cells.len(),
        Care::Near => heard.len(),
    };
    strongest.truncate((among / 5).max(3));
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
        body_db: BODY_PRIOR.0,
    }
}
