//! Whether the law of level against distance bends: a second slope weighed against one.

use super::filter::{Before, CellCurves, Filtered, run};
use super::other_laws::{OtherLaw, OtherLaws, Ripple, Shape};
use super::rounds::{BODY_PRIOR, LEVEL_VARIANCE, Line, SLOPE_PRIOR};
use super::shadowing_grid::{ShadowingGrid, log_prior};

/// A second slope weighed against one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bend {
    /// Twice the natural logarithm of the Bayes factor for two slopes over one; under 0 speaks for one.
    pub evidence: f64,
    /// Where a bend would be, metres.
    pub at_m: f64,
    /// How much the exponent would change there.
    pub change: f64,
}

/// Places tried for a bend.
const PLACES: usize = 5;
/// Prior standard deviation of the change of exponent.
const CHANGE_SD: f64 = 1.5;

/// Weighs a law with a break against one without: breaks evenly in log distance between the walk's 20 % and 80 %
/// points, change of exponent N(0, 1.5²), on every other point of the shadowing's grid; and, where one is given, a law with a
/// ripple of known shape, its height N(0.5, 0.5²) times that shape.
///
/// In simulated walks over a real break from 2 to 4 it spoke up in 6 of 100 at best, and never where there was none:
/// its silence says little. The broken laws are kept, for a range is that of all laws, each weighed by its likelihood.
pub(super) fn bend(curves: &CellCurves, line: &Line, level_dbm: f64, ripple: Option<&Ripple>) -> (Bend, OtherLaws) {
    match &line.away {
        None => {
            let straight: Vec<[f64; 2]> = line.falls().map(|fall| [1.0, fall]).collect();
            let before = Before {
                mean: [level_dbm, SLOPE_PRIOR.0],
                variance: [LEVEL_VARIANCE, SLOPE_PRIOR.1],
            };
            weighed::<2, 3>(curves, line, &straight, &before, ripple)
        }
        Some(away) => {
            let before = Before {
                mean: [level_dbm, SLOPE_PRIOR.0, BODY_PRIOR.0],
                variance: [LEVEL_VARIANCE, SLOPE_PRIOR.1, BODY_PRIOR.1],
            };
            weighed::<3, 4>(curves, line, &line.with_body(away), &before, ripple)
        }
    }
}

/// As [`bend`], for a straight law with the columns of `straight`; B is S + 1.
fn weighed<const S: usize, const B: usize>(
    curves: &CellCurves,
    line: &Line,
    straight: &[[f64; S]],
    before: &Before<S>,
    ripple: Option<&Ripple>,
) -> (Bend, OtherLaws) {
    let (without, _) = evidence(curves, line, straight, before);
    let more = |own: &[f64; S], last: f64| std::array::from_fn(|i| if i < S { own[i] } else { last });
    let under = |shape: Shape, mean: f64, variance: f64| {
        let design: Vec<[f64; B]> = straight
            .iter()
            .zip(&line.log10_distance)
            .map(|(own, &d)| more(own, shape.at(d, ripple)))
            .collect();
        let before: Before<B> = Before {
            mean: more(&before.mean, mean),
            variance: more(&before.variance, variance),
        };
        evidence(curves, line, &design, &before)
    };
    let mut sorted = line.log10_distance.clone();
    sorted.sort_by(f64::total_cmp);
    let (near, far) = (quantile(&sorted, 0.2), quantile(&sorted, 0.8));
    let mut best = (f64::NEG_INFINITY, near, 0.0);
    let mut all = [0.0; PLACES];
    let mut laws = Vec::new();
    for (place, out) in all.iter_mut().enumerate() {
        let at = near + (far - near) * place as f64 / (PLACES - 1) as f64;
        let shape = Shape::Bend(at);
        let (value, seen) = under(shape, 0.0, CHANGE_SD * CHANGE_SD);
        *out = value;
        let top = seen.iter().max_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, _, top)) = top.filter(|_| value > best.0) {
            best = (value, at, top.mean[S]);
        }
        laws.push(OtherLaw::new(shape, value - without - (PLACES as f64).ln(), &seen));
    }
    if ripple.is_some() {
        let (value, seen) = under(Shape::Ripple, 0.5, 0.25);
        laws.push(OtherLaw::new(Shape::Ripple, value - without, &seen));
    }
    let bend = Bend {
        evidence: 2.0 * (log_mean(&all) - without),
        at_m: 10_f64.powf(best.1),
        change: best.2,
    };
    (
        bend,
        OtherLaws {
            laws,
            ripple: ripple.cloned(),
        },
    )
}

/// What a law is believed to be at one point of the grid: logarithm of likelihood times prior, ln sigma, the belief.
type Seen<const P: usize> = (f64, f64, Filtered<P>);

/// Logarithm of the likelihood averaged over the thinned grid, and what is believed at each of its points.
fn evidence<const P: usize>(
    curves: &CellCurves,
    line: &Line,
    design: &[[f64; P]],
    before: &Before<P>,
) -> (f64, Vec<Seen<P>>) {
    let found = ShadowingGrid::THINNED.search(|sigma, delta| {
        let seen = run(curves, &line.order, design, (sigma, delta), before);
        (
            seen.log_likelihood + log_prior(sigma.ln(), delta.ln()),
            (sigma.ln(), seen),
        )
    });
    let all: Vec<Seen<P>> = found
        .into_iter()
        .map(|(log, (ln_sigma, seen))| (log, ln_sigma, seen))
        .collect();
    let logs: Vec<f64> = all.iter().map(|seen| seen.0).collect();
    // The mean is one over the whole grid: what was not looked at adds nothing to its sum.
    let share = logs.len() as f64 / ShadowingGrid::THINNED.points() as f64;
    (log_mean(&logs) + share.ln(), all)
}

fn log_mean(logs: &[f64]) -> f64 {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    top + (logs.iter().map(|l| (l - top).exp()).sum::<f64>() / logs.len() as f64).ln()
}

/// Quantile by straight interpolation between order statistics.
fn quantile(sorted: &[f64], q: f64) -> f64 {
    let place = q * (sorted.len() - 1) as f64;
    let below = sorted[place.floor() as usize];
    below + (sorted[place.ceil() as usize] - below) * place.fract()
}
