//! Critical values for comparing several boards with one reference at once.

use nalgebra::{DMatrix, SymmetricEigen};

use super::special::{chi_squared_quantile, normal_cdf};

const NODES: usize = 40;
/// Correlation of two comparisons that share a reference measured as often as each board.
const CORRELATION: f64 = 0.5;

/// Returns the two-sided critical value for `comparisons` with one reference and `degrees` of freedom of the standard error
/// (any positive number): all intervals estimate +- value * standard error hold at once with `confidence`.
///
/// Dunnett 1955, J. American Statistical Association 50:1096-1121, at equal correlation 1/2, by 40-point Gauss-Hermite
/// quadrature over the reference and 40 equal-probability points over the standard error; within 0.02 of the printed tables
/// from 5 degrees of freedom. Sought between 1 and 30 by bisection. `None` unless comparisons >= 1, degrees > 0 and
/// 0 < confidence < 1.
pub fn dunnett_critical(comparisons: usize, degrees: f64, confidence: f64) -> Option<f64> {
    if comparisons == 0 || !(degrees > 0.0 && degrees.is_finite() && confidence > 0.0 && confidence < 1.0) {
        return None;
    }
    let reference = gauss_hermite();
    let scales: Vec<f64> = (0..NODES)
        .map(|i| chi_squared_quantile((i as f64 + 0.5) / NODES as f64, degrees).map(|q| (q / degrees).sqrt()))
        .collect::<Option<_>>()?;
    let (shared, own) = (CORRELATION.sqrt(), (1.0 - CORRELATION).sqrt());
    let held = |value: f64| {
        let mut sum = 0.0;
        for (z, weight) in &reference {
            for scale in &scales {
                let within =
                    normal_cdf((shared * z + value * scale) / own) - normal_cdf((shared * z - value * scale) / own);
                sum += weight * within.powi(comparisons.min(1_000_000) as i32);
            }
        }
        sum / NODES as f64
    };
    let (mut low, mut high) = (1.0, 30.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if held(middle) < confidence {
            low = middle;
        } else {
            high = middle;
        }
        if high - low < 1e-12 {
            break;
        }
    }
    Some(0.5 * (low + high))
}

/// Nodes and weights for the mean over a standard normal, by the eigenvalues of the Jacobi matrix (Golub & Welsch 1969,
/// Mathematics of Computation 23:221-230).
fn gauss_hermite() -> Vec<(f64, f64)> {
    let jacobi = DMatrix::from_fn(NODES, NODES, |i, j| {
        if i.abs_diff(j) == 1 {
            (i.max(j) as f64).sqrt()
        } else {
            0.0
        }
    });
    let eigen = SymmetricEigen::new(jacobi);
    (0..NODES)
        .map(|i| (eigen.eigenvalues[i], eigen.eigenvectors[(0, i)].powi(2)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::special::student_t_quantile;

    #[test]
    fn quadrature_integrates_moments() {
        let moment = |k: i32| gauss_hermite().iter().map(|(z, w)| w * z.powi(k)).sum::<f64>();
        for (power, wanted) in [(0, 1.0), (2, 1.0), (4, 3.0), (6, 15.0), (8, 105.0)] {
            assert!(
                (moment(power) - wanted).abs() < 1e-10 * wanted,
                "{power}: {}",
                moment(power)
            );
        }
    }

    #[test]
    fn printed_tables() {
        // Dunnett 1964, Biometrics 20:482-491, two-sided 5 % (from memory): the printed second decimal.
        for (boards, degrees, printed) in [
            (2, 5.0, 3.03),
            (3, 10.0, 2.76),
            (3, 20.0, 2.54),
            (2, 10.0, 2.57),
            (2, 20.0, 2.38),
        ] {
            let got = dunnett_critical(boards, degrees, 0.95).unwrap();
            assert!((got - printed).abs() < 0.025, "{boards}, {degrees}: {got}");
        }
    }

    #[test]
    fn one_comparison_is_student() {
        let got = dunnett_critical(1, 12.0, 0.95).unwrap();
        assert!((got - student_t_quantile(0.975, 12.0).unwrap()).abs() < 0.01, "{got}");
        assert_eq!(dunnett_critical(0, 5.0, 0.95), None);
        assert_eq!(dunnett_critical(2, f64::NAN, 0.95), None);
    }
}
