//! How many independent fades the exchanges of one stop saw.

use super::cells::Heard;

/// Fresh path to an independent fade at 2.4 GHz, metres: 0.64 wavelengths, from the integral of J0 squared over distance
/// (Clarke 1968, Bell System Technical Journal 47:957-1000).
pub const FADE_PATH_M: f64 = 0.08;

/// Most lags looked at in a stop's autocorrelation.
const LAGS: usize = 60;
/// Variance of rounding to a whole dB plus that of a reading (0.7 dB), dB squared.
const READING_VARIANCE: f64 = 1.0 / 12.0 + 0.5;

/// Returns how many independent fades the exchanges of one stop saw, at least 1 (0 for no exchange).
///
/// `exchanges` are in order and evenly spaced. The autocorrelation of the received dBm, over pairs where both were read,
/// with lag 0 freed of reading noise and all lags of the pull of the removed mean, is summed to the first below 0.05.
/// `fresh_path_m` is the path moved over, retracing left out (a circle counts once), 0 when standing still; it allows one
/// fade and one more for each [`FADE_PATH_M`]. `None`: not known, the autocorrelation alone decides.
pub fn independent_fades(exchanges: &[Heard], fresh_path_m: Option<f64>) -> f64 {
    let total = exchanges.len();
    if total == 0 {
        return 0.0;
    }
    let allowed = fresh_path_m.map(|path| 1.0 + path.max(0.0) / FADE_PATH_M);
    let heard: Vec<Option<f64>> = exchanges
        .iter()
        .map(|e| match e {
            Heard::At(r) => Some(f64::from(*r)),
            Heard::Unread | Heard::Lost => None,
        })
        .collect();
    let read = heard.iter().flatten().count();
    if read < 4 {
        return allowed.unwrap_or(1.0).min(total as f64).min(1.0 + total as f64 / 20.0);
    }
    let mean = heard.iter().flatten().sum::<f64>() / read as f64;
    let centred: Vec<f64> = heard.iter().map(|r| r.map_or(0.0, |r| r - mean)).collect();
    let present: Vec<f64> = heard.iter().map(|r| if r.is_some() { 1.0 } else { 0.0 }).collect();
    let n = total as f64;
    let covariance: Vec<f64> = (0..=LAGS.min(total / 3))
        .map(|lag| {
            let pairs: f64 = present[lag..].iter().zip(&present).map(|(a, b)| a * b).sum();
            let sum: f64 = centred[lag..].iter().zip(&centred).map(|(a, b)| a * b).sum();
            if pairs >= 5.0 { sum / pairs } else { 0.0 }
        })
        .collect();
    let fading = (covariance[0] - READING_VARIANCE).max(0.05 * covariance[0]).max(1e-6);
    let mut inflation = 1.0_f64;
    for _ in 0..30 {
        let pull = (inflation / n).min(0.5);
        let variance = fading / (1.0 - pull);
        let mut sum = 1.0;
        for (lag, c) in covariance.iter().enumerate().skip(1) {
            let rho = ((c + pull * variance) / variance).min(1.0);
            if rho < 0.05 {
                break;
            }
            sum += 2.0 * rho * (1.0 - lag as f64 / n);
        }
        let next = sum.min(0.5 * n);
        if (next - inflation).abs() < 1e-3 {
            break;
        }
        inflation = 0.5 * (inflation + next);
    }
    let fades = (n / inflation).max(1.0);
    allowed.map_or(fades, |a| fades.min(a))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_readings_and_none() {
        assert_eq!(independent_fades(&[], None), 0.0);
        assert_eq!(independent_fades(&[Heard::Lost; 10], None), 1.0);
        // Ten exchanges, all lost, along 0.8 m: no more than one and a half, for nothing shows that they differ.
        assert_eq!(independent_fades(&[Heard::Lost; 10], Some(0.8)), 1.5);
    }

    #[test]
    fn alternating_readings_are_independent_and_constant_ones_are_not_counted_twice() {
        let alternating: Vec<Heard> = (0..100).map(|i| Heard::At(-70 - 6 * (i % 2))).collect();
        assert!(independent_fades(&alternating, None) > 90.0);
        assert_eq!(independent_fades(&alternating, Some(0.0)), 1.0);
        assert!((independent_fades(&alternating, Some(0.8)) - 11.0).abs() < 1e-9);
        let slow: Vec<Heard> = (0..100).map(|i| Heard::At(-70 - 10 * (i / 25 % 2))).collect();
        assert!(independent_fades(&slow, None) < 10.0);
    }
}
