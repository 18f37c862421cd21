//! Cholesky factors of small fixed-size matrices, the map's inner loop.

/// Replaces the upper triangle of the symmetric `matrix` by `U` with `U'U = matrix`; only that triangle is read.
///
/// Every matrix here is a covariance with noise on its diagonal, so positive definite; a pivot that rounding still takes
/// to zero is lifted to the smallest number, which keeps the answer finite.
pub(super) fn factor<const N: usize>(matrix: &mut [[f64; N]; N]) {
    for j in 0..N {
        let (above, below) = matrix.split_at_mut(j + 1);
        let row = &mut above[j];
        let root = row[j].max(f64::MIN_POSITIVE).sqrt();
        let inverse = 1.0 / root;
        row[j] = root;
        for value in &mut row[j + 1..] {
            *value *= inverse;
        }
        // Right-looking: whole rows are updated at once, which the compiler turns into vector instructions.
        for (i, target) in (j + 1..N).zip(below) {
            let by = row[i];
            for (value, pivot) in target[i..].iter_mut().zip(&row[i..]) {
                *value -= by * pivot;
            }
        }
    }
}

/// Solves `U'z = b` in place.
pub(super) fn forward<const N: usize>(upper: &[[f64; N]; N], b: &mut [f64; N]) {
    for j in 0..N {
        let z = b[j] / upper[j][j];
        b[j] = z;
        for (value, u) in b[j + 1..].iter_mut().zip(&upper[j][j + 1..]) {
            *value -= z * u;
        }
    }
}

/// Solves `Uw = z` in place.
pub(super) fn backward<const N: usize>(upper: &[[f64; N]; N], z: &mut [f64; N]) {
    for j in (0..N).rev() {
        let mut sum = z[j];
        for (u, w) in upper[j][j + 1..].iter().zip(&z[j + 1..]) {
            sum -= u * w;
        }
        z[j] = sum / upper[j][j];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solved_system_gives_its_right_side_back() {
        const N: usize = 7;
        let full: [[f64; N]; N] = std::array::from_fn(|i| {
            std::array::from_fn(|j| (-(i as f64 - j as f64).abs() / 3.0).exp() + if i == j { 0.3 } else { 0.0 })
        });
        let right: [f64; N] = std::array::from_fn(|i| (i as f64).sin());
        let (mut upper, mut w) = (full, right);
        factor(&mut upper);
        forward(&upper, &mut w);
        backward(&upper, &mut w);
        for i in 0..N {
            let back: f64 = (0..N).map(|j| full[i][j] * w[j]).sum();
            assert!((back - right[i]).abs() < 1e-13);
        }
    }
}
