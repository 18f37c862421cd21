//! Exponential and logarithm without branches, so that a loop over a cell's levels runs several at a time.
//!
//! The usual reductions and series (W. Cody and W. Waite 1980, Software Manual for the Elementary Functions): within 1e-15
//! of the standard library's, relative.

/// ln 2 in two parts: the first ends in zeros, so that its products with small whole numbers are exact.
const LN_2: (f64, f64) = (6.931_471_803_691_238e-1, 1.908_214_929_270_587_7e-10);
/// Added to a small number, it leaves the nearest whole number in the last bits.
const TO_WHOLE: f64 = 6_755_399_441_055_744.0;

/// exp(x) for x from -700 to 700.
#[inline]
pub(super) fn exp(x: f64) -> f64 {
    let shifted = x * std::f64::consts::LOG2_E + TO_WHOLE;
    let whole = shifted - TO_WHOLE;
    let r = (x - whole * LN_2.0) - whole * LN_2.1;
    // Taylor's series, summed in pairs; what is left out is under 2e-16 for r within half of ln 2.
    let (r2, r4) = (r * r, (r * r) * (r * r));
    let low = (1.0 + r) + r2 * (0.5 + r * (1.0 / 6.0));
    let middle = (1.0 / 24.0 + r * (1.0 / 120.0)) + r2 * (1.0 / 720.0 + r * (1.0 / 5_040.0));
    let high = (1.0 / 40_320.0 + r * (1.0 / 362_880.0)) + r2 * (1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0));
    let sum = low + r4 * (middle + r4 * (high + r4 * (1.0 / 479_001_600.0)));
    sum * f64::from_bits(shifted.to_bits().wrapping_add(1023) << 52)
}

/// ln(x) for normal x > 0.
#[inline]
pub(super) fn ln(x: f64) -> f64 {
    const MANTISSA: u64 = (1 << 52) - 1;
    let bits = x.to_bits();
    let whole = f64::from_bits((bits >> 52) | 0x4330_0000_0000_0000) - (4_503_599_627_370_496.0 + 1023.0);
    let m = f64::from_bits((bits & MANTISSA) | (1023 << 52));
    let high = m > std::f64::consts::SQRT_2;
    let (m, whole) = if high { (0.5 * m, whole + 1.0) } else { (m, whole) };
    let s = (m - 1.0) / (m + 1.0);
    let square = s * s;
    // 2 artanh(s): what is left out is under 1e-17.
    let mut sum = 1.0 / 21.0;
    for inverse in [
        1.0 / 19.0,
        1.0 / 17.0,
        1.0 / 15.0,
        1.0 / 13.0,
        1.0 / 11.0,
        1.0 / 9.0,
        1.0 / 7.0,
        1.0 / 5.0,
        1.0 / 3.0,
    ] {
        sum = sum * square + inverse;
    }
    whole * LN_2.0 + (2.0 * s + (2.0 * s * square * sum + whole * LN_2.1))
}

/// Sum of exp(v - top) over `values`, all at most `top`; terms under exp(-39), 1e-17 of the largest, are left out.
pub(super) fn sum_exp(values: &[f64], top: f64) -> f64 {
    const LANES: usize = 4;
    let term = |v: f64| {
        let d = v - top;
        if d > -39.0 { exp(d.max(-39.0)) } else { 0.0 }
    };
    let mut sums = [0.0; LANES];
    let (whole, rest) = values.as_chunks::<LANES>();
    for chunk in whole {
        if chunk.iter().all(|&v| v - top <= -39.0) {
            continue;
        }
        for lane in 0..LANES {
            sums[lane] += term(chunk[lane]);
        }
    }
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest.iter().map(|v| term(*v)).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_equal_the_standard_library() {
        for i in 0..200_000 {
            let x = -700.0 * f64::from(i) / 200_000.0;
            let (got, want) = (exp(x), x.exp());
            assert!((got - want).abs() <= 1e-15 * want, "exp {x}: {got} {want}");
            let y = 10_f64.powf(-300.0 + 600.0 * f64::from(i) / 200_000.0);
            let (got, want) = (ln(y), y.ln());
            assert!(
                (got - want).abs() <= 1e-15 * want.abs().max(1.0),
                "ln {y}: {got} {want}"
            );
        }
        assert_eq!((exp(0.0), ln(1.0)), (1.0, 0.0));
    }

    #[test]
    fn a_sum_leaves_out_only_what_is_nothing() {
        let values: Vec<f64> = (0..103).map(|i| -0.013 * f64::from(i * i)).collect();
        let want: f64 = values.iter().map(|v| v.exp()).sum();
        assert!((sum_exp(&values, 0.0) - want).abs() < 1e-14 * want);
        assert_eq!(sum_exp(&[f64::NEG_INFINITY, 2.0], 2.0), 1.0);
    }
}
