//! What a stop says where nothing, or everything, arrived.
//!
//! A level posterior has no end on the open side but the grid's, and its quantiles then depend on that. The limit here does
//! not: it is the level at which what was seen would happen in just so many of a hundred stops.

use super::cells::fades::{FADE_MIN_DB, LEVEL_STEP_DB};
use super::cells::{MEAN_MIN_DBM, MEANS, SCurve, fade_masses, mean_at};

/// The exchanges of a stop, in so many stretches each frozen in one fade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Exchanges, at least 1.
    pub exchanges: f64,
    /// Independent fades they were spread over, at least 1; more than there are exchanges counts as one each.
    pub fades: f64,
}

/// Returns the mean power, dBm, above which a stop like `run` would lose everything in less than a share `tail` of cases.
///
/// `interference` is the share lost at any level; `fadings` are K values in dB with their weights. `None` when even the
/// strongest level of the grid would lose everything as often, or an argument is out of range.
pub fn at_most_dbm(
    run: Run,
    curve: SCurve,
    interference: f64,
    fadings: impl IntoIterator<Item = (f64, f64)>,
    tail: f64,
) -> Option<f64> {
    let seen = chance(run, fadings, move |level| {
        1.0 - (1.0 - interference) * curve.delivery(level)
    })?;
    // Falls with the level.
    crossing(|mean| seen(mean) > tail)
}

/// Returns the mean power, dBm, below which a stop like `run` would receive everything in less than a share `tail` of cases;
/// arguments and `None` as for [`at_most_dbm`], interference left out.
pub fn at_least_dbm(run: Run, curve: SCurve, fadings: impl IntoIterator<Item = (f64, f64)>, tail: f64) -> Option<f64> {
    let seen = chance(run, fadings, move |level| curve.delivery(level))?;
    crossing(|mean| seen(mean) < tail)
}

/// The chance, at a mean power, that every exchange has an outcome of chance `each` at its level.
fn chance(
    run: Run,
    fadings: impl IntoIterator<Item = (f64, f64)>,
    each: impl Fn(f64) -> f64,
) -> Option<impl Fn(f64) -> f64> {
    if !(run.exchanges >= 1.0 && run.exchanges.is_finite() && run.fades >= 1.0) {
        return None;
    }
    let fades = run.fades.min(run.exchanges);
    let in_a_fade = run.exchanges / fades;
    let fadings: Vec<(Vec<f64>, f64)> = fadings
        .into_iter()
        .map(|(k, weight)| (fade_masses(k, 0.0), weight))
        .collect();
    let total: f64 = fadings.iter().map(|(_, weight)| weight).sum();
    if !(total > 0.0 && total.is_finite()) {
        return None;
    }
    Some(move |mean: f64| {
        let levels = fadings.first().map_or(0, |(masses, _)| masses.len());
        let frozen: Vec<f64> = (0..levels)
            .map(|i| {
                each(mean + FADE_MIN_DB + LEVEL_STEP_DB * i as f64)
                    .max(0.0)
                    .powf(in_a_fade)
            })
            .collect();
        fadings
            .iter()
            .map(|(masses, weight)| {
                let one: f64 = masses.iter().zip(&frozen).map(|(mass, all)| mass * all).sum();
                weight / total * one.powf(fades)
            })
            .sum()
    })
}

/// The level up to which `holds`, to 0.001 dB; `None` when it holds at both ends of the grid or at neither.
fn crossing(holds: impl Fn(f64) -> bool) -> Option<f64> {
    let (mut low, mut high) = (MEAN_MIN_DBM, mean_at(MEANS - 1));
    if !holds(low) || holds(high) {
        return None;
    }
    while high - low > 1e-3 {
        let middle = 0.5 * (low + high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(0.5 * (low + high))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve() -> SCurve {
        SCurve::new(-92.0, 1.0).unwrap()
    }

    #[test]
    fn without_fading_the_limit_is_that_of_a_proportion() {
        // K = 40 dB hardly fades. Nothing of 40 leaves at most 1 - 0.025^(1/40) = 8.81 % (Clopper & Pearson 1934).
        let run = Run {
            exchanges: 40.0,
            fades: 40.0,
        };
        let high = at_most_dbm(run, curve(), 0.0, [(40.0, 1.0)], 0.025).unwrap();
        assert!((curve().delivery(high) - 0.0881).abs() < 0.001, "{high}");
        let low = at_least_dbm(run, curve(), [(40.0, 1.0)], 0.025).unwrap();
        assert!((1.0 - curve().delivery(low) - 0.0881).abs() < 0.001, "{low}");
    }

    #[test]
    fn standing_still_allows_for_one_deep_fade() {
        // A Rayleigh fade is 15.97 dB or deeper in 2.5 % of places: a thousand messages in one fade all go lost there when the
        // receiver's edge, some 7 dB below m for a thousand tries, stands that far below the mean.
        let still = at_most_dbm(
            Run {
                exchanges: 1000.0,
                fades: 1.0,
            },
            curve(),
            0.0,
            [(-60.0, 1.0)],
            0.025,
        )
        .unwrap();
        assert!((still - (-92.0 - 6.9 + 15.97)).abs() < 1.0, "{still}");
        let moved = at_most_dbm(
            Run {
                exchanges: 1000.0,
                fades: 50.0,
            },
            curve(),
            0.0,
            [(-60.0, 1.0)],
            0.025,
        )
        .unwrap();
        assert!(moved < still - 10.0, "{moved}");
    }

    #[test]
    fn where_nothing_can_be_said() {
        let one = Run {
            exchanges: 1.0,
            fades: 1.0,
        };
        assert_eq!(at_most_dbm(one, curve(), 0.1, [(6.0, 1.0)], 0.025), None);
        assert_eq!(
            at_most_dbm(Run { exchanges: 0.0, ..one }, curve(), 0.0, [(6.0, 1.0)], 0.025),
            None
        );
        assert_eq!(at_most_dbm(one, curve(), 0.0, [], 0.025), None);
        assert_eq!(at_least_dbm(one, curve(), [(6.0, f64::NAN)], 0.025), None);
    }
}
