//! The S-curve of a board learned at stops: readings and losses at several places, with no law of distance between them.
//!
//! Each stop has a mean power and a fading of its own, both free; what the stops have in common is the board, m and s, and a
//! share of exchanges lost at any level that differs from stop to stop. Losses tell the board's limit only together with
//! readings at the same stop: weak readings there and strong ones elsewhere. The posterior is worked out on a grid, so that a
//! handful of stops gives an interval as wide as it must be.

use super::cells::{Cell, CellTable, MEANS, SCurve};
use super::special::{beta_tails, logistic};
use super::walk::scurve::MeasuredSCurve;

/// What was heard at one stop.
#[derive(Clone, Debug, PartialEq)]
pub struct StopHeard {
    /// Readings and losses.
    pub cell: Cell,
    /// Independent exchanges over exchanges, 0 to 1: 1 where nothing fades in time, for losses are then independent.
    pub weight: f64,
}

/// Why stops tell no S-curve.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoCurve {
    /// No stop with levels.
    #[error("it was not measured at a point yet")]
    NoStop,
    /// One stop with levels: two are the least.
    #[error("it was measured at one point only")]
    FewStops,
    /// Fewer than ten exchanges lost at all stops together.
    #[error("of {sent} messages at its points it lost {lost}, too few to tell")]
    FewLosses {
        /// Messages that count, silences of the station left out.
        sent: u64,
        /// Of these, lost.
        lost: u64,
    },
    /// Fewer than two stops lost more than a tenth: one place may have a trouble of its own.
    #[error("it lost more than a tenth at fewer than two points")]
    OnePlace,
    /// The losses may be the board's limit or something else.
    #[error("the losses at its points do not tell its limit from interference")]
    Vague,
}

/// Largest standard deviation of m with which a curve is given, dB: that of a walk's.
const VAGUE_DB: f64 = 2.0;
/// Fewest exchanges lost.
const LEAST_LOST: f64 = 10.0;
/// At least so many stops must have lost more than such a share.
const LOSSY: (usize, f64) = (2, 0.1);
/// Prior of m in dBm, mean and standard deviation: what boards of this kind are sold with, and room for their meters (common
/// practice). Without it a patch of interference at the weakest of few stops passes for the limit of the board.
pub const M_PRIOR: (f64, f64) = (-92.0, 5.0);

/// The m that tables are made for, dBm; other whole decibels are the same table shifted.
const BASE_DBM: i32 = -92;
/// ln s on the grid: the prior is N(0, 0.5²).
const LN_S: [f64; 7] = [-1.05, -0.7, -0.35, 0.0, 0.35, 0.7, 1.05];
/// K of a stop in dB, all alike beforehand: from Rayleigh to one frozen fade.
const K_DB: [f64; 6] = [-5.0, 1.0, 5.0, 9.0, 14.0, 25.0];
/// Shares lost at any level that a stop may have.
const SHARES: [f64; 8] = [0.001, 0.004, 0.012, 0.03, 0.07, 0.15, 0.3, 0.55];
/// Logits of the mean share, and the prior's: N(-4, 1.5²).
const MEAN_LOGITS: [f64; 6] = [-6.5, -5.5, -4.5, -3.5, -2.5, -1.5];
/// How alike the shares of stops are: Beta(8 f, 8 (1 - f)), as in [`super::cells::Interference::varying`].
const CONCENTRATION: f64 = 8.0;
/// The grid of m goes from so far below the weakest reading to so far above it, dB.
const REACH_DB: (i32, i32) = (8, 10);
/// How far from a stop's readings its mean power is looked for, in steps of the grid of mean powers.
const AROUND: usize = 40;

/// Tables for every s and K of the grid: costly, and alike for all boards.
#[derive(Clone, Debug)]
pub struct StopTables {
    /// By s, then K.
    tables: Vec<Table>,
    /// Chance of each share, for each mean share.
    shares: Vec<[f64; SHARES.len()]>,
}

#[derive(Clone, Debug)]
struct Table {
    heard: CellTable,
    /// ln of the chance of delivery, interference aside, at each mean power.
    delivered: Vec<f64>,
    /// ln of the chance of a loss, a row of [`MEANS`] for each share.
    lost: Vec<f64>,
}

impl Default for StopTables {
    fn default() -> Self {
        let mut tables = Vec::with_capacity(LN_S.len() * K_DB.len());
        for ln_s in LN_S {
            let curve = SCurve::new(f64::from(BASE_DBM), ln_s.exp());
            for k_db in K_DB {
                let Some(curve) = curve else { continue };
                let heard = CellTable::new(curve, k_db, 0.0);
                let chance = heard.delivered();
                tables.push(Table {
                    delivered: chance.iter().map(|d| (d + 1e-12).ln()).collect(),
                    lost: SHARES
                        .iter()
                        .flat_map(|f| chance.iter().map(move |d| (1.0 - (1.0 - f) * d + 1e-12).ln()))
                        .collect(),
                    heard,
                });
            }
        }
        Self {
            tables,
            shares: MEAN_LOGITS.iter().map(|logit| shares_about(logistic(*logit))).collect(),
        }
    }
}

/// The chance of each of [`SHARES`] where shares are Beta about `mean`, each standing for all nearer to it than to another by
/// ratio.
fn shares_about(mean: f64) -> [f64; SHARES.len()] {
    let (a, b) = (CONCENTRATION * mean, CONCENTRATION * (1.0 - mean));
    let below = |x: f64| beta_tails(a, b, x).map_or(0.5, |tails| tails.lower);
    let edge = |i: usize| (SHARES[i] * SHARES[i + 1]).sqrt();
    std::array::from_fn(|i| {
        let to = if i + 1 < SHARES.len() { below(edge(i)) } else { 1.0 };
        let from = if i > 0 { below(edge(i - 1)) } else { 0.0 };
        (to - from).max(1e-12)
    })
}

impl StopTables {
    /// Learns a board's S-curve from stops.
    ///
    /// # Errors
    ///
    /// Why they tell none.
    pub fn learn(&self, stops: &[StopHeard]) -> Result<MeasuredSCurve, NoCurve> {
        let read: Vec<&StopHeard> = stops.iter().filter(|stop| !stop.cell.readings.is_empty()).collect();
        if read.len() < 2 {
            return Err(if read.is_empty() {
                NoCurve::NoStop
            } else {
                NoCurve::FewStops
            });
        }
        let lost = read.iter().map(|stop| stop.cell.lost).sum::<f64>();
        if lost < LEAST_LOST {
            let sent = read.iter().map(|stop| stop.cell.exchanges()).sum::<f64>();
            return Err(NoCurve::FewLosses {
                sent: sent.round() as u64,
                lost: lost.round() as u64,
            });
        }
        let lossy = |stop: &&&StopHeard| stop.cell.lost > LOSSY.1 * stop.cell.exchanges();
        if read.iter().filter(lossy).count() < LOSSY.0 {
            return Err(NoCurve::OnePlace);
        }
        let weakest = read.iter().filter_map(|stop| Some(stop.cell.readings.first()?.0)).min();
        let Some(weakest) = weakest else {
            return Err(NoCurve::FewStops);
        };
        let limits: Vec<i32> = (weakest - REACH_DB.0..=weakest + REACH_DB.1).collect();
        let mut logs = Vec::with_capacity(LN_S.len() * limits.len());
        for (s, ln_s) in LN_S.iter().enumerate() {
            let tables = &self.tables[s * K_DB.len()..(s + 1) * K_DB.len()];
            for m_dbm in &limits {
                let by_stop: Vec<_> = read.iter().map(|stop| likelihoods(tables, stop, *m_dbm)).collect();
                let m_dbm = f64::from(*m_dbm);
                let prior = -0.5 * (ln_s / 0.5).powi(2) - 0.5 * ((m_dbm - M_PRIOR.0) / M_PRIOR.1).powi(2);
                logs.push((m_dbm, *ln_s, prior + self.over_shares(&by_stop)));
            }
        }
        summary(&logs, f64::from(limits[0])).ok_or(NoCurve::Vague)
    }

    /// Logarithm of the likelihood of all stops, over the mean share lost at any level.
    fn over_shares(&self, by_stop: &[[f64; SHARES.len()]]) -> f64 {
        let terms: Vec<f64> = MEAN_LOGITS
            .iter()
            .zip(&self.shares)
            .map(|(logit, shares)| {
                let prior = -0.5 * ((logit + 4.0) / 1.5).powi(2);
                by_stop.iter().fold(prior, |sum, stop| {
                    let terms: Vec<f64> = stop.iter().zip(shares).map(|(log, share)| log + share.ln()).collect();
                    sum + log_sum(&terms)
                })
            })
            .collect();
        log_sum(&terms)
    }
}

/// Logarithm of one stop's likelihood for each share, mean power and fading integrated out.
fn likelihoods(tables: &[Table], stop: &StopHeard, m_dbm: i32) -> [f64; SHARES.len()] {
    let cell = &stop.cell;
    let shift = m_dbm - BASE_DBM;
    let index = |dbm: i32| (2 * (dbm - shift + 150)).clamp(0, MEANS as i32 - 1) as usize;
    let (Some(first), Some(last)) = (cell.readings.first(), cell.readings.last()) else {
        return [0.0; SHARES.len()];
    };
    let from = index(first.0).saturating_sub(AROUND);
    let to = (index(last.0) + AROUND).min(MEANS - 1);
    let delivered = cell.delivered();
    let mut sums = [const { Vec::new() }; SHARES.len()];
    let mut heard = vec![0.0; to - from + 1];
    for table in tables {
        heard.fill(0.0);
        for &(reading, count) in &cell.readings {
            let row = table.heard.log_reading(reading - shift).unwrap_or(&table.delivered);
            for (out, log) in heard.iter_mut().zip(&row[from..=to]) {
                *out += count * log;
            }
        }
        for (out, log) in heard.iter_mut().zip(&table.delivered[from..=to]) {
            *out += cell.unread * log;
        }
        for ((share, sums), lost) in SHARES.iter().zip(&mut sums).zip(table.lost.chunks_exact(MEANS)) {
            let through = delivered * (-share).ln_1p();
            let terms: Vec<f64> = heard
                .iter()
                .zip(&lost[from..=to])
                .map(|(heard, lost)| stop.weight * (heard + through + cell.lost * lost))
                .collect();
            sums.push(log_sum(&terms));
        }
    }
    sums.map(|logs| log_sum(&logs))
}

fn log_sum(logs: &[f64]) -> f64 {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let near = logs.iter().filter(|log| **log > top - 40.0);
    top + near.map(|log| (log - top).exp()).sum::<f64>().ln()
}

/// The curve with its covariance; `None` where m is known too badly, or may lie lower than was looked for.
fn summary(logs: &[(f64, f64, f64)], lowest_dbm: f64) -> Option<MeasuredSCurve> {
    let top = logs.iter().map(|log| log.2).fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|log| (log.2 - top).exp()).collect();
    let total: f64 = weights.iter().sum();
    let mean = |of: &dyn Fn(&(f64, f64, f64)) -> f64| {
        logs.iter()
            .zip(&weights)
            .map(|(log, weight)| weight * of(log))
            .sum::<f64>()
            / total
    };
    let (m, ln_s) = (mean(&|log| log.0), mean(&|log| log.1));
    // A value of the grid stands for all that are nearest to it: its step squared over twelve.
    let step = LN_S[1] - LN_S[0];
    let variance = [
        mean(&|log| (log.0 - m).powi(2)) + 1.0 / 12.0,
        mean(&|log| (log.1 - ln_s).powi(2)) + step * step / 12.0,
    ];
    let both = mean(&|log| (log.0 - m) * (log.1 - ln_s));
    let lowest = mean(&|log| f64::from(u8::from(log.0 < lowest_dbm + 1.5)));
    if lowest > 0.02 || variance[0].sqrt() > VAGUE_DB {
        return None;
    }
    MeasuredSCurve::new(
        SCurve::new(m, ln_s.exp())?,
        [[variance[0], both], [both, variance[1]]],
        1,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A stop in one frozen fade: readings scatter by 1 dB, so many in 100 arrive.
    fn frozen(dbm: i32, delivered: f64) -> StopHeard {
        let share = [(-2, 0.06), (-1, 0.24), (0, 0.40), (1, 0.24), (2, 0.06)];
        StopHeard {
            cell: Cell {
                readings: share
                    .iter()
                    .map(|(off, share)| (dbm + off, share * delivered))
                    .collect(),
                unread: 0.0,
                lost: 100.0 - delivered,
            },
            weight: 1.0,
        }
    }

    #[test]
    fn stops_on_both_sides_of_the_limit_tell_it() {
        // S(L) = 1 / (1 + exp(-(L + 92) / 1.2)) at -80, -90, -91, -93 and -94 dBm.
        let stops = [(-80, 99.0), (-90, 84.0), (-91, 70.0), (-93, 30.0), (-94, 16.0)].map(|(dbm, n)| frozen(dbm, n));
        let found = StopTables::default().learn(&stops).unwrap();
        let (low, high) = found.m_interval_dbm();
        assert!(low < -92.0 && -92.0 < high && high - low < 3.0, "{low} to {high}");
        let (low, high) = found.level90_interval_dbm();
        let true_level = -92.0 + 1.2 * 9.0_f64.ln();
        assert!(
            low < true_level && true_level < high && high - low < 5.0,
            "{low} to {high}"
        );
    }

    #[test]
    fn a_whole_decibel_further_down_is_the_same_a_decibel_further_down() {
        let tables = StopTables::default();
        let at = |shift: i32| {
            let stops = [(-80, 99.0), (-90, 84.0), (-93, 30.0)].map(|(dbm, n)| frozen(dbm + shift, n));
            tables.learn(&stops).unwrap()
        };
        let (near, far) = (at(0), at(-7));
        // But for the pull of what boards usually are.
        assert!((near.curve.m_dbm() - far.curve.m_dbm() - 7.0).abs() < 0.3);
        assert!((near.m_sd_db() - far.m_sd_db()).abs() < 0.1);
    }

    #[test]
    fn losses_far_from_the_limit_or_none_at_all_tell_nothing() {
        let tables = StopTables::default();
        assert_eq!(tables.learn(&[]), Err(NoCurve::NoStop));
        assert_eq!(tables.learn(&[frozen(-60, 90.0)]), Err(NoCurve::FewStops));
        assert_eq!(
            tables.learn(&[frozen(-60, 100.0), frozen(-70, 99.0)]),
            Err(NoCurve::FewLosses { sent: 200, lost: 1 })
        );
        assert_eq!(
            tables.learn(&[frozen(-60, 100.0), frozen(-70, 60.0)]),
            Err(NoCurve::OnePlace)
        );
        // A tenth lost at strong and weaker levels alike is no limit.
        let alike = [-50, -60, -70].map(|dbm| frozen(dbm, 88.0));
        assert_eq!(tables.learn(&alike), Err(NoCurve::Vague));
        let odd = StopHeard {
            cell: Cell {
                readings: vec![(-130, 1.0), (0, 1.0)],
                unread: 1e9,
                lost: 1e9,
            },
            weight: f64::NAN,
        };
        assert!(tables.learn(&[odd.clone(), odd]).is_err());
    }
}
