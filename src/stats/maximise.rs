//! Damped Newton ascent for smooth functions of a few arguments, with derivatives by finite differences.

use nalgebra::{DMatrix, DVector, SymmetricEigen};

/// How a maximum is looked for.
#[derive(Clone, Debug, PartialEq)]
pub struct AscentRules<'a> {
    /// Step of the finite differences along each argument, in that argument's unit.
    pub difference: &'a [f64],
    /// Longest step along each argument, in that argument's unit; empty for no limit.
    pub longest_step: &'a [f64],
    /// Most rounds; each costs 1 + 2k + k(k - 1) evaluations and a line search for k arguments.
    pub rounds: usize,
    /// The ascent ends when a round gains less than this, in the function's unit.
    pub gain: f64,
}

/// Where the ascent ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Ascent {
    /// The arguments reached.
    pub at: Vec<f64>,
    /// The function there.
    pub value: f64,
    /// Minus the second derivatives where the last round began, eigenvalues without their signs and a thousandth of the largest
    /// at least, so that it can be inverted.
    pub curvature: DMatrix<f64>,
    /// Whether the last round gained less than asked for, rather than the rounds running out.
    pub settled: bool,
    /// How often the function was evaluated.
    pub evaluations: usize,
}

/// Climbs from `start`; `None` when the arguments' number does not match the rules, or is 0, or no round is allowed.
///
/// Guarantees: never returns a place lower than the start by more than 1e-9 (in the function's unit), evaluates the
/// function a bounded number of times, and treats a value that is no number as minus infinity. It finds a local maximum
/// only.
pub fn ascend(mut function: impl FnMut(&[f64]) -> f64, start: &[f64], rules: &AscentRules) -> Option<Ascent> {
    let k = start.len();
    let limited = !rules.longest_step.is_empty();
    if k == 0 || rules.difference.len() != k || (limited && rules.longest_step.len() != k) || rules.rounds == 0 {
        return None;
    }
    let mut evaluations = 0;
    let mut at = start.to_vec();
    let mut call = |x: &[f64]| {
        evaluations += 1;
        let value = function(x);
        if value.is_nan() { f64::NEG_INFINITY } else { value }
    };
    let mut value = call(&at);
    let mut curvature = DMatrix::zeros(k, k);
    let mut settled = false;
    for _ in 0..rules.rounds {
        let (slope, bend) = derivatives(&mut call, &at, value, rules.difference);
        curvature = positive(&bend);
        let Some(mut step) = curvature.clone().cholesky().map(|c| c.solve(&slope)) else {
            break;
        };
        if limited {
            let excess = step
                .iter()
                .zip(rules.longest_step)
                .fold(0.0_f64, |worst, (s, limit)| worst.max(s.abs() / limit));
            if excess > 1.0 {
                step /= excess;
            }
        }
        let mut share = 1.0;
        let mut reached = value;
        let mut moved = None;
        while share > 0.02 {
            let trial: Vec<f64> = at.iter().zip(step.iter()).map(|(x, s)| x + share * s).collect();
            reached = call(&trial);
            if reached > value - 1e-9 {
                moved = Some(trial);
                break;
            }
            share *= 0.5;
        }
        let gain = reached - value;
        if let Some(trial) = moved {
            at = trial;
            value = reached;
        }
        if gain.abs() < rules.gain {
            settled = true;
            break;
        }
    }
    Some(Ascent {
        at,
        value,
        curvature,
        settled,
        evaluations,
    })
}

/// Central differences: gradient, and minus the second derivatives.
fn derivatives(
    call: &mut impl FnMut(&[f64]) -> f64,
    at: &[f64],
    value: f64,
    h: &[f64],
) -> (DVector<f64>, DMatrix<f64>) {
    let k = at.len();
    let mut ahead = vec![0.0; k];
    let mut behind = vec![0.0; k];
    let mut slope = DVector::zeros(k);
    let mut bend = DMatrix::zeros(k, k);
    let mut x = at.to_vec();
    for i in 0..k {
        x[i] = at[i] + h[i];
        ahead[i] = call(&x);
        x[i] = at[i] - h[i];
        behind[i] = call(&x);
        x[i] = at[i];
        slope[i] = (ahead[i] - behind[i]) / (2.0 * h[i]);
        bend[(i, i)] = -(ahead[i] - 2.0 * value + behind[i]) / (h[i] * h[i]);
    }
    for i in 0..k {
        for j in 0..i {
            x[i] = at[i] + h[i];
            x[j] = at[j] + h[j];
            let both_ahead = call(&x);
            x[i] = at[i] - h[i];
            x[j] = at[j] - h[j];
            let both_behind = call(&x);
            x[i] = at[i];
            x[j] = at[j];
            let mixed = both_ahead - ahead[i] - ahead[j] + 2.0 * value - behind[i] - behind[j] + both_behind;
            bend[(i, j)] = -mixed / (2.0 * h[i] * h[j]);
            bend[(j, i)] = bend[(i, j)];
        }
    }
    (slope, bend)
}

/// The matrix with its eigenvalues' signs taken off, none under a thousandth of the largest; a unit matrix where differences are no
/// numbers.
///
/// Where the function bends upwards a step is thereby as long as its curvature asks for, and not the longest allowed, which would
/// leave the other directions nothing (Y. Dauphin and others 2014, arXiv:1406.2572).
fn positive(bend: &DMatrix<f64>) -> DMatrix<f64> {
    if bend.iter().any(|b| !b.is_finite()) {
        return DMatrix::identity(bend.nrows(), bend.ncols());
    }
    let mut eigen = SymmetricEigen::new(bend.clone());
    let floor = 1e-3 * eigen.eigenvalues.amax().max(1e-6);
    eigen.eigenvalues.apply(|w| *w = w.abs().max(floor));
    eigen.recompose()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rules(rounds: usize) -> AscentRules<'static> {
        AscentRules {
            difference: &[1e-3, 1e-3],
            longest_step: &[],
            rounds,
            gain: 1e-12,
        }
    }

    #[test]
    fn a_paraboloid_takes_one_step_and_gives_its_curvature() {
        let top = ascend(
            |x| -(x[0] - 1.0).powi(2) - 3.0 * (x[1] + 2.0).powi(2) - x[0] * x[1],
            &[0.0, 0.0],
            &rules(9),
        )
        .unwrap();
        // Gradient zero: -2(x-1) - y = 0 and -6(y+2) - x = 0, so x = 24/11, y = -26/11.
        assert!(
            (top.at[0] - 24.0 / 11.0).abs() < 1e-6 && (top.at[1] + 26.0 / 11.0).abs() < 1e-6,
            "{top:?}"
        );
        assert!((top.curvature[(0, 0)] - 2.0).abs() < 1e-4 && (top.curvature[(0, 1)] - 1.0).abs() < 1e-4);
        assert!(top.settled && top.evaluations < 30);
    }

    #[test]
    fn a_banana_is_climbed_without_ever_going_down() {
        // H. H. Rosenbrock 1960, The Computer Journal 3:175: the summit of its negative is at (1, 1). Central
        // differences of step h shift it by 400 h², by the third derivative.
        let finer = AscentRules {
            difference: &[1e-4, 1e-4],
            ..rules(200)
        };
        let banana = |x: &[f64]| -(1.0 - x[0]).powi(2) - 100.0 * (x[1] - x[0] * x[0]).powi(2);
        let top = ascend(banana, &[-1.2, 1.0], &finer).unwrap();
        assert!(
            (top.at[0] - 1.0).abs() < 1e-4 && (top.at[1] - 1.0).abs() < 1e-4,
            "{top:?}"
        );
    }

    #[test]
    fn steps_are_limited_and_nonsense_is_survived() {
        let limited = AscentRules {
            longest_step: &[0.1, 0.1],
            ..rules(1)
        };
        let one = ascend(|x| -(x[0] - 5.0).powi(2) - x[1] * x[1], &[0.0, 0.0], &limited).unwrap();
        assert!((one.at[0] - 0.1).abs() < 1e-9);
        assert!(ascend(|_| f64::NAN, &[0.0, 0.0], &rules(3)).is_some());
        assert!(ascend(|x| x[0], &[0.0], &rules(3)).is_none());
    }
}
