//! Normal draws that are the same every time: Halton points (Halton 1960, Numerische Mathematik 2:84) through the normal
//! quantile.

use crate::stats::special::normal_quantile;

/// Bases of the first dimensions.
const PRIMES: [u64; 10] = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29];
/// The first points lie on a line in the higher dimensions and are left out.
const SKIPPED: u64 = 21;

/// Dimensions that can be drawn.
pub(crate) const DIMENSIONS: usize = PRIMES.len();

/// The `index`-th standard normal value of a dimension, both counted from 0; dimensions past [`DIMENSIONS`] repeat.
pub(crate) fn normal(index: usize, dimension: usize) -> f64 {
    let base = PRIMES[dimension % DIMENSIONS];
    let (mut left, mut share, mut point) = (index as u64 + SKIPPED, 1.0, 0.0);
    while left > 0 {
        share /= base as f64;
        point += share * (left % base) as f64;
        left /= base;
    }
    // Inside the clamp the quantile exists.
    normal_quantile(point.clamp(1e-6, 1.0 - 1e-6)).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_points_are_the_reversed_digits() {
        // 21 = 10101 in base 2, reversed 0.10101 = 21/32; in base 3 it is 210, reversed 0.012 = 5/27.
        assert!((normal(0, 0) - normal_quantile(21.0 / 32.0).unwrap()).abs() < 1e-14);
        assert!((normal(0, 1) - normal_quantile(5.0 / 27.0).unwrap()).abs() < 1e-14);
    }

    #[test]
    fn a_thousand_draws_have_the_moments_of_a_normal() {
        for dimension in 0..8 {
            let draws: Vec<f64> = (0..1000).map(|index| normal(index, dimension)).collect();
            let mean = draws.iter().sum::<f64>() / 1000.0;
            let variance = draws.iter().map(|draw| (draw - mean).powi(2)).sum::<f64>() / 1000.0;
            assert!(
                mean.abs() < 0.02 && (variance - 1.0).abs() < 0.04,
                "{dimension}: {mean} {variance}"
            );
        }
    }
}
