//! Where the station is, by standing beside it with the receiver for a while.

use crate::ground::{LocalPlane, Offset, Position};
use crate::survey::fixes::Fix;
use crate::units::{Metres, Seconds};

/// How long the error of a receiver lives, seconds: the air, the satellites' clocks and the trees around change over many
/// minutes (common practice; taken long, so that the claim stays cautious).
const ERROR_LIVES_S: f64 = 600.0;

/// Fixes that differ by more than this many times the receiver's own sigma were not taken standing still.
const WANDERS: f64 = 2.5;

/// A mean of fixes, and how far to believe it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Averaged {
    /// How many fixes.
    pub count: usize,
    /// From the first to the last, by the receiver's own time.
    pub time: Seconds,
    /// Their mean.
    pub position: Position,
    /// Standard deviation of the fixes east and north; `None` of fewer than two.
    pub spread: Option<(Metres, Metres)>,
    /// The receiver's own one-sigma error per axis, root mean square; `None` where it says none.
    pub own_sigma: Option<Metres>,
    /// One-sigma error per axis of the mean; `None` where the receiver says nothing to judge by.
    pub sigma: Option<Metres>,
    /// Whether the fixes differ more than by what the receiver says of itself.
    pub wanders: bool,
}

/// The mean of fixes taken beside the station; `None` of no fix.
///
/// The fixes of a receiver share their error for minutes, so their number does not divide it: the mean of a time T of an
/// error that dies away as exp(-t/τ) keeps the share √(2τ/T · (1 − τ/T · (1 − exp(−T/τ)))) of its sigma (G. I. Taylor,
/// Diffusion by continuous movements, Proc. London Math. Soc. s2-20 (1922) 196-212), here with τ = 600 s: 0.98 after a
/// minute, 0.86 after ten. Where the fixes spread wider than the receiver says, their spread is taken instead of its word.
/// The spread alone is no measure of the error: what all fixes share does not show in it.
pub fn average(fixes: &[Fix]) -> Option<Averaged> {
    let (first, last) = (fixes.first()?, fixes.last()?);
    let count = fixes.len();
    let plane = LocalPlane::about(first.position);
    let offsets: Vec<Offset> = fixes.iter().map(|fix| plane.offset(fix.position)).collect();
    let mean = |axis: fn(&Offset) -> f64| offsets.iter().map(axis).sum::<f64>() / count as f64;
    let (east, north) = (mean(|offset| offset.east.0), mean(|offset| offset.north.0));
    let deviation = |axis: fn(&Offset) -> f64, middle: f64| {
        let squares: f64 = offsets.iter().map(|offset| (axis(offset) - middle).powi(2)).sum();
        Metres((squares / (count as f64 - 1.0)).sqrt())
    };
    let spread = (count >= 2).then(|| {
        let east = deviation(|offset| offset.east.0, east);
        (east, deviation(|offset| offset.north.0, north))
    });
    let position = plane.position(Offset {
        east: Metres(east),
        north: Metres(north),
    })?;
    let said: Vec<f64> = fixes
        .iter()
        .filter_map(|fix| fix.facts.sigma.map(|(sigma, _)| sigma))
        .collect();
    let own =
        (!said.is_empty()).then(|| (said.iter().map(|sigma| sigma * sigma).sum::<f64>() / said.len() as f64).sqrt());
    let wide = spread.map(|(east, north)| (east.0.hypot(north.0)) / std::f64::consts::SQRT_2);
    let time = ((last.utc.0 - first.utc.0) as f64 / 1000.0).max(0.0);
    let sigma = own.map(|own| (own * share_left(time)).max(wide.unwrap_or(0.0)));
    Some(Averaged {
        count,
        time: Seconds(time),
        position,
        spread,
        own_sigma: own.map(Metres),
        sigma: sigma.map(Metres),
        wanders: own.zip(wide).is_some_and(|(own, wide)| wide > WANDERS * own),
    })
}

/// The share of the error that is left in the mean of so many seconds.
fn share_left(seconds: f64) -> f64 {
    let lives = seconds / ERROR_LIVES_S;
    // Below this the formula loses its digits; its series begins 1 - lives / 3.
    if lives < 1e-4 {
        return 1.0;
    }
    (2.0 / lives * (1.0 - (1.0 - (-lives).exp()) / lives)).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::separation;
    use crate::survey::fixes::Facts;
    use crate::units::{Degrees, Elapsed, UtcMs};
    use crate::wire::SigmaFrom;

    fn fix(second: u64, lat: f64, lon: f64, sigma: Option<f64>) -> Fix {
        Fix {
            at: Elapsed(second * 1_000_000),
            utc: UtcMs(second as i64 * 1000),
            wall_us: second as i64 * 1_000_000,
            position: Position::new(Degrees(lat), Degrees(lon)).unwrap(),
            facts: Facts {
                sigma: sigma.map(|sigma| (sigma, SigmaFrom::Hdop)),
                ..Facts::default()
            },
        }
    }

    #[test]
    fn many_fixes_of_a_minute_are_hardly_better_than_one() {
        let fixes: Vec<Fix> = (0..=60).map(|second| fix(second, 52.1, -2.9, Some(2.5))).collect();
        let mean = average(&fixes).unwrap();
        assert_eq!((mean.count, mean.time), (61, Seconds(60.0)));
        let sigma = mean.sigma.unwrap().0;
        assert!((2.4..2.5).contains(&sigma), "{sigma}");
    }

    #[test]
    fn the_share_left_is_that_of_a_dying_correlation() {
        // By numerical integration of 2/T² ∫(T - t) exp(-t/600) dt.
        for seconds in [30.0, 600.0, 3600.0] {
            let steps = 200_000;
            let width = seconds / f64::from(steps);
            let integral: f64 = (0..steps)
                .map(|step| (f64::from(step) + 0.5) * width)
                .map(|t| (seconds - t) * (-t / 600.0_f64).exp() * width)
                .sum();
            let expected = (2.0 * integral / (seconds * seconds)).sqrt();
            assert!((share_left(seconds) - expected).abs() < 1e-6, "{seconds}");
        }
        assert_eq!(share_left(0.0), 1.0);
    }

    #[test]
    fn the_mean_lies_amid_the_fixes_also_across_the_antimeridian() {
        let fixes = [fix(0, 10.0, 179.999_99, None), fix(1, 10.000_01, -179.999_99, None)];
        let mean = average(&fixes).unwrap();
        let middle = Position::new(Degrees(10.000_005), Degrees(180.0)).unwrap();
        assert!(separation(mean.position, middle).distance.0 < 1e-3);
        let (east, north) = mean.spread.unwrap();
        assert!((east.0 - 2.193 / std::f64::consts::SQRT_2).abs() < 0.01, "{east:?}");
        assert!((north.0 - 1.106 / std::f64::consts::SQRT_2).abs() < 0.01, "{north:?}");
        assert_eq!(mean.sigma, None, "a spread alone says nothing of what all fixes share");
    }

    #[test]
    fn one_fix_has_no_spread_and_none_has_no_mean() {
        assert_eq!(average(&[]), None);
        let mean = average(&[fix(0, 52.1, -2.9, Some(3.0))]).unwrap();
        assert_eq!((mean.spread, mean.sigma), (None, Some(Metres(3.0))));
    }

    #[test]
    fn somebody_who_walks_is_noticed() {
        let fixes: Vec<Fix> = (0..30)
            .map(|second| fix(second, 52.1 + second as f64 * 1e-5, -2.9, Some(2.0)))
            .collect();
        let mean = average(&fixes).unwrap();
        assert!(mean.wanders);
        assert!(mean.sigma.unwrap().0 > 5.0, "the spread counts then");
    }
}
