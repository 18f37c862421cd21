//! Figures of a pattern that is only known through draws: each with the interval its draws leave.
//!
//! Every draw is sampled each 2° and read like a known pattern ([`crate::stats::sampled`]). Percentiles of the draws give
//! the intervals; the width and the share within 3 dB are biased (broad lobes come out too narrow, narrow ones too wide),
//! so theirs is the hull of the percentile and the reverse-percentile interval.
//!
//! Front to back needs more care. Each draw's own strongest direction less its opposite can never be negative, and of two
//! equal lobes it is never 0: the direction was picked because the draw is strong there. What a person asks is another
//! thing: how much is lost by turning the board round from the direction that is named. So front and back are read at
//! turns that the draw itself had no part in choosing: at the turn named, and at the strongest turns of other draws, which
//! carry the doubt about that turn.

use super::fit::{DRAWS, PatternFit, series};
use super::printed::{Arc, Estimate};
use crate::stats::circular::half_width_holding;
use crate::stats::fourier::terms;
use crate::stats::sampled::{beamwidth_samples, extremes};

/// Samples of a pattern, each 2°.
const SAMPLES: usize = 180;
pub(super) const SPACING_DEG: f64 = 360.0 / SAMPLES as f64;
/// Share of the draws an interval holds.
const LEVEL: f64 = 0.95;
/// Which other draw tells a draw's front: a stride coprime to their number, begun so that none tells its own.
const OTHER_STRIDE: usize = 389;
const OTHER_FIRST: usize = 101;

/// Figures of a pattern with 95 % intervals, before anything is decided about what may be said.
#[derive(Clone, Debug, PartialEq)]
pub struct Features {
    /// Turn of the strongest direction.
    pub strongest: Arc,
    /// Turn of the weakest direction.
    pub weakest: Arc,
    /// Width 3 dB down, degrees; 360 stands for a pattern that never falls so far.
    pub beamwidth_deg: Estimate,
    /// Whether the mean pattern falls 3 dB on both sides.
    pub beamwidth_exists: bool,
    /// Directions within 3 dB of the strongest, degrees out of 360.
    pub within_3_db_deg: Estimate,
    /// Level at the turn named strongest less that at the turn opposite, dB; below 0 where the opposite turn may be the
    /// stronger one. The interval holds it for the turn named and for the true strongest turn.
    pub front_to_back_db: Estimate,
    /// Each draw's own strongest less its opposite, dB: never below 0, and too great where lobes are alike. Without upper
    /// end where the null may be deeper than the fit.
    pub picked_front_to_back_db: Estimate,
    /// Strongest less weakest, dB; without upper end where the null may be deeper than the fit.
    pub peak_to_null_db: Estimate,
    /// Where directivity was not shown: upper end (97.5 %) of peak-to-null, dB, should the board be directional after all.
    /// The interval above leans towards a round board and would promise too little. Front to back is never greater, and its
    /// own upper end, which was passed in 5 of 18 sweeps over a lobe that had drowned in fades, says no more.
    pub at_most_db: Option<f64>,
}

/// Reads the figures off the draws of a fit.
pub fn features(fit: &PatternFit) -> Features {
    let basis: Vec<Vec<f64>> = (0..SAMPLES)
        .map(|sample| terms(sample as f64 * SPACING_DEG, fit.order))
        .collect();
    let mut curve = vec![0.0; SAMPLES];
    sample(&basis, &fit.coefficients, &mut curve);
    let mean = read(&curve);

    let mut strongest = Vec::with_capacity(DRAWS);
    let mut weakest = Vec::with_capacity(DRAWS);
    let mut widths = Vec::with_capacity(DRAWS);
    let mut shares = Vec::with_capacity(DRAWS);
    let mut backs = Vec::with_capacity(DRAWS);
    let mut nulls = Vec::with_capacity(DRAWS);
    let mut at_named = Vec::with_capacity(DRAWS);
    let mut curves = Vec::with_capacity(DRAWS);
    for draw in &fit.draws {
        sample(&basis, draw, &mut curve);
        let figures = read(&curve);
        at_named.push(less_opposite(&curve, mean.top));
        curves.push((curve.clone(), figures.top));
        strongest.push(figures.top as f64 * SPACING_DEG);
        weakest.push(figures.bottom as f64 * SPACING_DEG);
        widths.push(figures.width_deg.unwrap_or(360.0));
        shares.push(figures.within_deg);
        backs.push(figures.back_db);
        nulls.push(figures.null_db);
    }

    let arc = |place: usize, turns: &[f64]| {
        let centre_deg = place as f64 * SPACING_DEG;
        Arc {
            centre_deg,
            half_width_deg: half_width_holding(centre_deg, turns, LEVEL).unwrap_or(180.0),
        }
    };
    let directional = fit.directional;
    let mut beamwidth_deg = percentiles(&mut widths);
    let mut within_3_db_deg = percentiles(&mut shares);
    let mut picked_front_to_back_db = percentiles(&mut backs);
    let mut at_others: Vec<f64> = (0..curves.len())
        .map(|index| {
            let (_, top) = &curves[(index * OTHER_STRIDE + OTHER_FIRST) % curves.len()];
            less_opposite(&curves[index].0, *top)
        })
        .collect();
    let front_to_back_db = front_to_back(
        percentiles(&mut at_named),
        percentiles(&mut at_others),
        picked_front_to_back_db,
    );
    let mut peak_to_null_db = percentiles(&mut nulls);
    if !directional {
        picked_front_to_back_db.low = 0.0;
        peak_to_null_db.low = 0.0;
        beamwidth_deg.high = Some(360.0);
        within_3_db_deg.high = Some(360.0);
    }
    if fit.sharp_null {
        picked_front_to_back_db.high = None;
        peak_to_null_db.high = None;
    }
    Features {
        strongest: arc(mean.top, &strongest),
        weakest: arc(mean.bottom, &weakest),
        beamwidth_deg: hull(beamwidth_deg, mean.width_deg.unwrap_or(360.0)),
        beamwidth_exists: mean.width_deg.is_some(),
        within_3_db_deg: hull(within_3_db_deg, mean.within_deg),
        front_to_back_db,
        picked_front_to_back_db,
        peak_to_null_db,
        at_most_db: fit.draws_if_directional.as_ref().map(|draws| at_most(&basis, draws)),
    }
}

/// The estimate is that at the turn named; its interval reaches as far down as that of any turn the draw did not choose,
/// and as far up as any reading: the strongest of a true lobe is a little above what the fit, drawn towards round, has.
fn front_to_back(at_named: Estimate, at_others: Estimate, picked: Estimate) -> Estimate {
    let highs = [at_named.high, at_others.high, picked.high].into_iter().flatten();
    Estimate {
        value: at_named.value,
        low: at_named.low.min(at_others.low),
        high: highs.reduce(f64::max),
    }
}

/// A curve's level at one of its samples less that at the opposite one.
fn less_opposite(curve: &[f64], at: usize) -> f64 {
    curve[at] - curve[(at + SAMPLES / 2) % SAMPLES]
}

/// The 97.5 percent point of peak-to-null over draws, dB.
fn at_most(basis: &[Vec<f64>], draws: &[Vec<f64>]) -> f64 {
    let mut curve = vec![0.0; SAMPLES];
    let mut nulls: Vec<f64> = draws
        .iter()
        .map(|draw| {
            sample(basis, draw, &mut curve);
            read(&curve).null_db
        })
        .collect();
    quantile(&mut nulls, f64::midpoint(1.0, LEVEL))
}

/// Figures of one sampled pattern.
struct Figures {
    top: usize,
    bottom: usize,
    width_deg: Option<f64>,
    within_deg: f64,
    back_db: f64,
    null_db: f64,
}

fn sample(basis: &[Vec<f64>], coefficients: &[f64], curve: &mut [f64]) {
    for (level, terms) in curve.iter_mut().zip(basis) {
        *level = series(terms, coefficients);
    }
}

fn read(curve: &[f64]) -> Figures {
    let (top, bottom) = extremes(curve);
    let greatest = curve[top];
    let null_db = greatest - curve[bottom];
    let within = curve.iter().filter(|level| **level >= greatest - 3.0).count();
    Figures {
        top,
        bottom,
        width_deg: beamwidth_samples(curve, top)
            .filter(|_| null_db >= 3.0)
            .map(|width| width * SPACING_DEG),
        within_deg: within as f64 * SPACING_DEG,
        back_db: less_opposite(curve, top),
        null_db,
    }
}

/// The median of the draws and the interval that leaves 2.5 % on either side.
fn percentiles(values: &mut [f64]) -> Estimate {
    let tail = (1.0 - LEVEL) / 2.0;
    Estimate {
        value: quantile(values, 0.5),
        low: quantile(values, tail),
        high: Some(quantile(values, 1.0 - tail)),
    }
}

/// Widens a percentile interval, in degrees, by its mirror image about the figure of the mean pattern.
fn hull(interval: Estimate, of_mean: f64) -> Estimate {
    let high = interval.high.unwrap_or(360.0);
    Estimate {
        low: interval.low.min(2.0 * of_mean - high).max(0.0),
        high: Some(high.max(2.0 * of_mean - interval.low).min(360.0)),
        ..interval
    }
}

/// The quantile of values at a probability, interpolated between neighbours (Hyndman and Fan 1996, type 7); reorders them.
/// Not a number for no values.
pub(super) fn quantile(values: &mut [f64], p: f64) -> f64 {
    if values.is_empty() {
        return f64::NAN;
    }
    let place = p.clamp(0.0, 1.0) * (values.len() - 1) as f64;
    let below = place.floor() as usize;
    let (_, lower, above) = values.select_nth_unstable_by(below, f64::total_cmp);
    let lower = *lower;
    let upper = above.iter().copied().fold(f64::INFINITY, f64::min);
    if upper.is_finite() {
        lower + (place - below as f64) * (upper - lower)
    } else {
        lower
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_interpolate_between_neighbours() {
        let mut values = [4.0, 1.0, 3.0, 2.0];
        assert_eq!(quantile(&mut values, 0.5), 2.5);
        assert_eq!(quantile(&mut values, 0.0), 1.0);
        assert_eq!(quantile(&mut values, 1.0), 4.0);
        assert!((quantile(&mut values, 0.1) - 1.3).abs() < 1e-12);
        assert!(quantile(&mut [], 0.5).is_nan());
    }

    #[test]
    fn most_draws_read_front_and_back_where_another_is_strongest() {
        let other = |index: usize| (index * OTHER_STRIDE + OTHER_FIRST) % DRAWS;
        let mut seen: Vec<usize> = (0..DRAWS).map(other).collect();
        assert!((0..DRAWS).filter(|index| other(*index) == *index).count() <= 4);
        seen.sort_unstable();
        assert_eq!(seen, (0..DRAWS).collect::<Vec<_>>(), "each once");
    }

    #[test]
    fn the_hull_is_never_narrower_than_the_percentiles() {
        let percentiles = Estimate {
            value: 90.0,
            low: 60.0,
            high: Some(150.0),
        };
        let widened = hull(percentiles, 80.0);
        assert_eq!((widened.low, widened.high), (10.0, Some(150.0)));
    }
}
