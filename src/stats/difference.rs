//! The difference of two estimates that each have limits of their own, and its mean over places.

use super::proportions::{Interval, two_sided_z};
use super::special::student_t_quantile;

/// An estimate with limits; each may be missing where it is not known, as the lower limit of "at most so much".
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limited {
    /// The estimate.
    pub value: Option<f64>,
    /// Nothing lower is likely.
    pub low: Option<f64>,
    /// Nothing higher is likely.
    pub high: Option<f64>,
}

impl Limited {
    /// Whether it lies surely above zero, or surely below.
    pub fn sign(self) -> Option<bool> {
        match (self.low, self.high) {
            (Some(low), _) if low > 0.0 => Some(true),
            (_, Some(high)) if high < 0.0 => Some(false),
            _ => None,
        }
    }

    /// Both limits; `None` where one is missing.
    pub fn interval(self) -> Option<Interval> {
        Some(Interval {
            low: self.low?,
            high: self.high?,
        })
    }
}

/// Returns `second` - `first` of two independent estimates in one unit, with limits at the confidence theirs have.
///
/// The limits' distances add as squares, each side with the limits that matter there (square-and-add: Newcombe 1998,
/// Statistics in Medicine 17:873-890, method 10, for rates; Zou and Donner 2008, Statistics in Medicine 27:1693-1702, in
/// general). Where an estimate has a limit and no value, the plain difference of the limits is taken, which is wider.
pub fn difference(first: Limited, second: Limited) -> Limited {
    let value = first.value.zip(second.value).map(|(first, second)| second - first);
    let outward = |from: Option<f64>, to: Option<f64>| Some((from? - to?).abs());
    let limit = |upper: bool| {
        let (far, near) = if upper {
            (second.high, first.low)
        } else {
            (second.low, first.high)
        };
        match value {
            Some(value) => {
                let reach = outward(second.value, far)?.hypot(outward(first.value, near)?);
                Some(if upper { value + reach } else { value - reach })
            }
            None => Some(far? - near?),
        }
    };
    Limited {
        value,
        low: limit(false),
        high: limit(true),
    }
}

/// A difference on average over places.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Average {
    /// The mean over places, each counted once.
    pub value: f64,
    /// Its limits.
    pub interval: Interval,
    /// Places.
    pub places: usize,
    /// Patches of ground they lie in, which count as independent.
    pub patches: usize,
}

/// Why there is no average.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoAverage {
    /// Fewer patches of ground than four.
    FewPatches(usize),
}

/// Patches from which on an average is given.
pub const LEAST_PATCHES: usize = 4;

/// Returns the mean of differences over places, with its interval; each is `(patch, difference, its own limits)`.
///
/// Places of one patch share walker, weather and the error of the positions, so patches count as independent, not places:
/// Student's interval of the weighted mean of patch means, each weighing as many places as it holds (a ratio estimate with
/// its linearised variance; Cochran 1977, Sampling Techniques, 3rd ed., 6.3). It is never narrower than what the places'
/// own limits give, taken as independent: places that agree by chance must not look certain.
///
/// # Errors
/// When the places lie in fewer than [`LEAST_PATCHES`] patches.
pub fn average<P: Ord + Copy>(places: &[(P, f64, Interval)], confidence: f64) -> Result<Average, NoAverage> {
    let mut patches: std::collections::BTreeMap<P, (f64, f64)> = std::collections::BTreeMap::new();
    let mut own = 0.0;
    let z = two_sided_z(confidence).unwrap_or(f64::INFINITY);
    for (patch, difference, limits) in places {
        let sums = patches.entry(*patch).or_default();
        sums.0 += difference;
        sums.1 += 1.0;
        own += (limits.width() / (2.0 * z)).powi(2);
    }
    let count = patches.len();
    let few = Err(NoAverage::FewPatches(count));
    if count < LEAST_PATCHES {
        return few;
    }
    let places_count = places.len() as f64;
    let value = patches.values().map(|(sum, _)| sum).sum::<f64>() / places_count;
    let spread: f64 = patches.values().map(|(sum, held)| (sum - value * held).powi(2)).sum();
    let k = count as f64;
    let between = (spread * k / (k - 1.0)).sqrt() / places_count;
    let within = own.sqrt() / places_count;
    let Some(t) = student_t_quantile(0.5 + 0.5 * confidence, k - 1.0) else {
        return few;
    };
    let reach = (t * between).max(z * within);
    Ok(Average {
        value,
        interval: Interval {
            low: value - reach,
            high: value + reach,
        },
        places: places.len(),
        patches: count,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::proportions::{newcombe_difference, wilson};

    fn rate(delivered: u64, sent: u64) -> Limited {
        let interval = wilson(delivered, sent, 0.95).unwrap();
        Limited {
            value: Some(delivered as f64 / sent as f64),
            low: Some(interval.low),
            high: Some(interval.high),
        }
    }

    #[test]
    fn of_rates_it_is_the_published_interval() {
        // Newcombe 1998, table II, method 10: 56/70 - 48/80, 9/10 - 3/10, 5/56 - 0/29 (from memory, to four decimals).
        for ((a, n), (b, m), low, high) in [
            ((56, 70), (48, 80), 0.0524, 0.3339),
            ((9, 10), (3, 10), 0.1705, 0.8090),
            ((5, 56), (0, 29), -0.0381, 0.1926),
        ] {
            let found = difference(rate(b, m), rate(a, n));
            assert!((found.low.unwrap() - low).abs() < 6e-5, "{found:?}");
            assert!((found.high.unwrap() - high).abs() < 6e-5, "{found:?}");
            let same = newcombe_difference((a, n), (b, m), 0.95).unwrap();
            assert!((found.low.unwrap() - same.low).abs() < 1e-12);
        }
    }

    #[test]
    fn a_limit_alone_bounds_one_side_only() {
        let at_most = Limited {
            high: Some(-92.0),
            ..Limited::default()
        };
        let known = Limited {
            value: Some(-80.0),
            low: Some(-82.0),
            high: Some(-78.0),
        };
        let found = difference(at_most, known);
        assert_eq!((found.value, found.low, found.high), (None, Some(10.0), None));
        assert_eq!(found.sign(), Some(true));
        assert_eq!(difference(known, at_most).high, Some(-10.0));
        assert_eq!(difference(at_most, Limited::default()), Limited::default());
    }

    #[test]
    fn an_average_needs_patches_and_is_never_surer_than_its_places() {
        let limits = Interval { low: -1.0, high: 1.0 };
        let alike: Vec<(u32, f64, Interval)> = (0..40).map(|index| (index / 10, 2.0, limits)).collect();
        assert_eq!(average(&alike[..30], 0.95), Err(NoAverage::FewPatches(3)));
        let found = average(&alike, 0.95).unwrap();
        assert_eq!((found.value, found.places, found.patches), (2.0, 40, 4));
        // Forty limits of one standard error 1 / 1.96 each: a half width of 1 / sqrt(40).
        assert!((found.interval.high - 2.0 - 40_f64.sqrt().recip()).abs() < 1e-9);
        assert!(average(&Vec::<(u32, f64, Interval)>::new(), 0.95).is_err());
    }

    #[test]
    fn of_patches_of_one_place_it_is_students_interval() {
        let limits = Interval { low: -0.01, high: 0.01 };
        let numbers = [1.0, 2.0, 3.0, 4.0, 5.0];
        let places: Vec<(usize, f64, Interval)> = numbers.iter().map(|x| (*x as usize, *x, limits)).collect();
        let found = average(&places, 0.95).unwrap();
        // 3 +- 2.776445 * sqrt(2.5 / 5), Student's t with 4 degrees of freedom.
        assert!((found.interval.high - 3.0 - 2.776_445 * 0.5_f64.sqrt()).abs() < 1e-5);
    }
}
