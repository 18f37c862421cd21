//! The fit of a walk: exponent, shadowing and the board, from cells to posterior.
//!
//! The mean level of cell j is A - 10 n (log10 `d_j` - log10 `d_ref`) + sigma `z_j`, with z a first-order Markov chain
//! over cells in the order of their first visit. Over a fixed grid of sigma and correlation distance the cells'
//! likelihoods are filtered, which integrates A and n out exactly; the grid's points are then weighed by their
//! likelihood.

use crate::stats::cells::SCurve;

use super::bend::{Bend, bend};
use super::binning::WalkCell;
use super::inflation::Inflation;
use super::learn::{ARGUMENTS, K, LN_S, LOGIT_F, M, Surroundings};
use super::marginal::{FlatCells, flatten};
use super::other_laws::{Belief, OtherLaws, Ripple};
use super::posterior::{Posterior, averaging};
use super::range::DeliveryCurves;
use super::rounds::{Care, Line, Walked, round, start};
use super::scurve::MeasuredSCurve;

/// What is known beforehand of the board and its surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Beforehand {
    /// Nothing: S-curve, fading and interference are learned from the walk.
    Nothing,
    /// The S-curve, from earlier walks: fading and interference are learned, and the curve's own uncertainty enters
    /// every range.
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

/// Twice the natural logarithm of a Bayes factor from which a bend is spoken of: ten to one. The grade at which R. Kass and
/// A. Raftery 1995 (JASA 90:773) call evidence strong is 6, positive 2.
pub(super) const STRONG_EVIDENCE: f64 = 4.6;

/// What a reader of the fit should know.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FitWarning {
    /// No exponent can be given.
    NoSlope(NoSlope),
    /// Fewer than three cells lost 30 in 100 beyond interference, or m is known no better than 2 dB: the board's limit
    /// was not seen.
    SensitivityNotReached,
    /// Evidence that the law bends at this distance in metres: ranges at high delivery are then wrong, mostly too short
    /// where it steepens.
    Bend {
        /// Where, metres.
        at_m: f64,
        /// Twice the natural logarithm of the Bayes factor for two slopes.
        evidence: f64,
    },
    /// The walk went one way only, so far as headings are known: what the walker's body takes is in the law and the ranges.
    OneWay,
    /// Interference takes this share of all exchanges, whatever their level.
    Interference(f64),
    /// Three in ten cells or more were visited again (out and back makes it about half): the slope rests on fewer
    /// independent places than it seems.
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
    /// Whether the walk went both ways, so that what the walker's body takes is told apart from the law.
    pub body_apart: bool,
    /// What a reader should know.
    pub warnings: Vec<FitWarning>,
    /// Logarithm of the largest marginal likelihood times prior on the grid.
    pub log_likelihood: f64,
    pub(super) delivery: DeliveryCurves,
    pub(super) other_laws: OtherLaws,
}

/// Fits a walk's cells, given in the order of their first visit.
///
/// Two rounds: the board (where it is not known) from the trend, then the trend from the board.
///
/// # Errors
///
/// Where nothing can be fitted at all; a fit that says little is a fit with warnings.
pub fn fit_walk(cells: &[WalkCell], beforehand: &Beforehand) -> Result<WalkFit, NoFit> {
    fit_walk_over(cells, beforehand, None)
}

/// As [`fit_walk`], over ground that may have a ripple of known shape.
///
/// # Errors
///
/// As [`fit_walk`].
pub fn fit_walk_over(cells: &[WalkCell], beforehand: &Beforehand, ripple: Option<&Ripple>) -> Result<WalkFit, NoFit> {
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
        let halved = |i: usize| cells[i].same_place || cells.get(i + 1).is_some_and(|next| next.same_place);
        let revisited =
            (0..cells.len()).filter(|&i| cells[i].revisited && !halved(i)).count() as f64 / cells.len() as f64;
        // A cell passed once averages about 6 m of shadowing; passed again, some 15 m, as positions drift between
        // passes.
        6.0 + 9.0 * revisited
    };
    // With a curve from elsewhere the first round only finds where the second begins; without, the second moves the curve too
    // little to make up for it.
    let care = match beforehand {
        Beforehand::Curve(_) => Care::Near,
        Beforehand::Nothing | Beforehand::All { .. } => Care::Whole,
    };
    let mut start = start(cells, &flat, &line, care);
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
    let walked = Walked {
        cells,
        flat: &flat,
        line: &line,
    };
    let (first, surroundings) = round(&walked, &start, free, care, 1.5, None)?;
    let trend = first.start(surroundings);
    let sigma = trend.sigma_db;
    let delta = first.posterior.mean(|part| part.ln_delta).exp();
    let within_db = (sigma * sigma * (1.0 - averaging(extent_m, delta)))
        .sqrt()
        .clamp(0.3, 4.0);
    let (mut second, surroundings) = round(&walked, &trend, free, Care::Whole, within_db, Some(&mut covariance))?;
    if let Beforehand::Curve(stored) = beforehand {
        for (own, known) in covariance.iter_mut().zip(&stored.covariance) {
            own[..2].copy_from_slice(known);
        }
    }
    second.posterior.cell_extent_m = extent_m;
    let level = second.posterior.mean(|part| part.level_dbm);
    let (bend, other_laws) = bend(&second.curves, &line, level, ripple);
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
        body_apart: line.away.is_some(),
        other_laws,
        warnings: Vec::new(),
        log_likelihood: second.log_likelihood,
        delivery: DeliveryCurves::new(&surroundings, within_db).ok_or(NoFit::Degenerate)?,
        posterior: second.posterior,
    };
    fit.warnings = warnings(&fit);
    if cells.iter().any(|cell| cell.away.is_some()) && !fit.body_apart {
        fit.warnings.push(FitWarning::OneWay);
    }
    Ok(fit)
}

impl WalkFit {
    /// Whether laws with a bend are looked at, and there is strong evidence for one.
    pub(super) fn clearly_bends(&self, inflation: &Inflation) -> bool {
        inflation.other_laws > 0.0 && self.bend.evidence > STRONG_EVIDENCE
    }

    /// Variance in dB² that a belief about the level lacks at a log10 distance: shadow on a scale that one walk cannot tell
    /// from the law, and, where nobody walked, that the law may run on otherwise.
    pub(super) fn lack(&self, belief: &Belief, log10_distance: f64, inflation: &Inflation) -> f64 {
        let unseen = inflation.unseen_shadow * belief.ln_sigma.exp();
        let (nearest, farthest) = (self.extent.nearest_m.log10(), self.extent.farthest_m.log10());
        let outside = (log10_distance - farthest).max(nearest - log10_distance).max(0.0);
        let unwalked = 10.0 * inflation.unwalked_slope * outside;
        unseen * unseen + unwalked * unwalked
    }

    /// What is believed of the level over distance, the straight law and, with prior odds of `odds` for each kind, the others.
    pub(super) fn beliefs(&self, odds: f64) -> Vec<Belief> {
        let mut all: Vec<Belief> = Vec::new();
        for part in &self.posterior.parts {
            let [[a, b], [c, d]] = part.covariance;
            all.push(Belief {
                weight: part.weight,
                ln_sigma: part.ln_sigma,
                mean: [part.level_dbm, part.slope, 0.0],
                covariance: [[a, b, 0.0], [c, d, 0.0], [0.0; 3]],
                shape: None,
            });
        }
        if odds <= 0.0 {
            return all;
        }
        for law in &self.other_laws.laws {
            let factor = odds * law.log_factor.min(600.0).exp();
            all.extend(law.parts.iter().map(|part| Belief {
                weight: factor * part.weight,
                ln_sigma: part.ln_sigma,
                mean: part.mean,
                covariance: part.covariance,
                shape: Some(law.shape),
            }));
        }
        let total: f64 = all.iter().map(|belief| belief.weight).sum();
        all.retain_mut(|belief| {
            belief.weight /= total;
            belief.weight > 1e-5
        });
        all
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
    if fit.bend.evidence > STRONG_EVIDENCE {
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
