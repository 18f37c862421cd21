//! Where a relay or a second station might stand.

use super::goal::Goal;
use super::model::Model;
use super::tails::student4_below;
use super::trend::basis;

/// A relay must itself be served with at least this chance.
const SERVED: f64 = 0.5;
/// Standard deviations of the doubt that all ground shares, either way. In 60 made orchards, rough ones, what 290 listed places
/// newly served lay inside in 75 of 100, and was 18.5 % where 18.4 % was promised: the interval is no 95 % one and must not be
/// called one. Of 181 relays listed 81 % were themselves in reach, 84 % having been said.
const EITHER_WAY: f64 = 2.8;

/// What is to be placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// A relay: it must itself be in reach of the station.
    Relay,
    /// A second station that stands on its own.
    SecondStation,
}

/// What a relay or a second station at a place might newly serve.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Promise {
    /// Expected newly served share of the wanted ground, 0 to 1; for a relay times the chance that it is itself served.
    pub score: f64,
    /// The same if the trend and the level needed were 2.8 standard deviations worse than thought.
    pub low: f64,
    /// The same if they were as much better.
    pub high: f64,
    /// The chance that it is itself served by the station: 1 for a second station, 0 for a relay that is unwalked or likely
    /// out of reach.
    pub served: f64,
}

/// What each of `candidates` (metres) promises for `ground`, in their order.
///
/// `ground` is places (x, y) in metres with how much each is wanted (0 and up). The link from a candidate to the ground was
/// never measured: it gets the trend with full shadowing, so the best few are places *to test by walking*, never a promise.
/// The interval is that of what all ground shares, trend and level needed; it knows nothing of walls and trees that only the
/// candidate's own paths would meet. A relay that is unwalked or likely out of reach scores 0. Without a reachable goal, or any
/// wanted ground, all score 0.
pub fn second_places(
    model: &Model,
    goal: &Goal,
    role: Role,
    candidates: &[(f64, f64)],
    ground: &[((f64, f64), f64)],
) -> Vec<Promise> {
    let total: f64 = ground.iter().map(|(_, want)| want).sum();
    let Some(needed) = model.threshold(goal).filter(|_| total > 0.0) else {
        return vec![Promise::default(); candidates.len()];
    };
    let places: Vec<(f64, f64)> = ground.iter().map(|(place, _)| *place).collect();
    let unserved: Vec<f64> = model
        .answer(goal, &places)
        .iter()
        .zip(ground)
        .map(|(place, (_, want))| want * place.estimate.map_or(1.0, |estimate| 1.0 - estimate.chance))
        .collect();
    let own = model.covariance.sill() + model.covariance.nugget();
    model
        .answer(goal, candidates)
        .iter()
        .map(|candidate| {
            let Some(estimate) = candidate.estimate else {
                return Promise::default();
            };
            let served = match role {
                Role::SecondStation => 1.0,
                Role::Relay if estimate.is_resolved() && estimate.chance >= SERVED => estimate.chance,
                Role::Relay => return Promise::default(),
            };
            let mut gained = [0.0; 3];
            for (place, want) in places.iter().zip(&unserved) {
                let away = (place.0 - candidate.x).hypot(place.1 - candidate.y);
                let lift = goal.lift(away);
                let row = basis(place.0, place.1, model.trend.clear_facing(), (candidate.x, candidate.y));
                let spare = model.trend.level(&row) + lift.gain - needed.level;
                let shared = model.trend.variance(&row) + needed.sd * needed.sd + lift.sd * lift.sd;
                let (root, own) = (EITHER_WAY * shared.sqrt(), own.sqrt());
                gained[0] += want * student4_below(spare / own.hypot(shared.sqrt()));
                gained[1] += want * student4_below((spare - root) / own);
                gained[2] += want * student4_below((spare + root) / own);
            }
            let [score, low, high] = gained.map(|gained| needed.possible * served * gained / total);
            Promise {
                score,
                low,
                high,
                served,
            }
        })
        .collect()
}

/// Indices of the best `most` candidates, best first, each at least `apart` metres from the better ones and newly serving at
/// least the share `worth`.
///
/// Neighbouring places serve the same ground: a list of five next to each other would be a list of one.
pub fn shortlist(candidates: &[(f64, f64)], promises: &[Promise], apart: f64, worth: f64, most: usize) -> Vec<usize> {
    let mut all: Vec<usize> = (0..candidates.len().min(promises.len()))
        .filter(|index| promises[*index].score >= worth)
        .collect();
    all.sort_by(|a, b| promises[*b].score.total_cmp(&promises[*a].score).then(a.cmp(b)));
    let mut kept: Vec<usize> = Vec::new();
    for index in all {
        let (x, y) = candidates[index];
        let clear = |other: &usize| (candidates[*other].0 - x).hypot(candidates[*other].1 - y) >= apart;
        if kept.len() < most && kept.iter().all(clear) {
            kept.push(index);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_of_a_better_place_are_left_out() {
        let candidates = [(0.0, 0.0), (10.0, 0.0), (60.0, 0.0), (120.0, 0.0)];
        let promise = |score| Promise {
            score,
            ..Promise::default()
        };
        let promises = [0.2, 0.3, 0.25, 0.001].map(promise);
        assert_eq!(shortlist(&candidates, &promises, 40.0, 0.01, 5), [1, 2]);
        assert_eq!(shortlist(&candidates, &promises, 5.0, 0.01, 2), [1, 2]);
        assert!(shortlist(&candidates, &promises, 40.0, 0.5, 5).is_empty());
    }
}
