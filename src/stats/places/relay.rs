//! Where a relay or a second station might stand.

use super::goal::Goal;
use super::model::Model;
use super::tails::student4_below;
use super::trend::basis;

/// A relay must itself be served with at least this chance.
const SERVED: f64 = 0.5;

/// What is to be placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// A relay: it must itself be in reach of the station.
    Relay,
    /// A second station that stands on its own.
    SecondStation,
}

/// A candidate place with what it promises.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// Its index among the candidates.
    pub index: usize,
    /// Expected newly served share of the wanted ground, 0 to 1; for a relay times the chance that it is itself served.
    pub score: f64,
}

/// Scores each of `candidates` (metres) by the newly served share of `ground`, in their order.
///
/// `ground` is places (x, y) in metres with how much each is wanted (0 and up). The link from a candidate to the ground was
/// never measured: it gets the trend with full shadowing, so the best few are places *to test by walking*, never a promise.
/// A relay that is unwalked or likely out of reach scores 0. Without a reachable goal, or any wanted ground, all score 0.
pub fn second_places(
    model: &Model,
    goal: &Goal,
    role: Role,
    candidates: &[(f64, f64)],
    ground: &[((f64, f64), f64)],
) -> Vec<f64> {
    let total: f64 = ground.iter().map(|(_, want)| want).sum();
    let Some(needed) = model.threshold(goal).filter(|_| total > 0.0) else {
        return vec![0.0; candidates.len()];
    };
    let places: Vec<(f64, f64)> = ground.iter().map(|(place, _)| *place).collect();
    let unserved: Vec<f64> = model
        .answer(goal, &places)
        .iter()
        .zip(ground)
        .map(|(place, (_, want))| want * place.estimate.map_or(1.0, |estimate| 1.0 - estimate.chance))
        .collect();
    let spread = model.covariance.sill() + model.covariance.nugget() + needed.sd * needed.sd;
    model
        .answer(goal, candidates)
        .iter()
        .map(|candidate| {
            let Some(estimate) = candidate.estimate else { return 0.0 };
            let served = match role {
                Role::SecondStation => 1.0,
                Role::Relay if estimate.is_resolved() && estimate.chance >= SERVED => estimate.chance,
                Role::Relay => return 0.0,
            };
            let gained: f64 = places
                .iter()
                .zip(&unserved)
                .map(|(place, want)| {
                    let row = basis(place.0, place.1, model.trend.clear_facing(), (candidate.x, candidate.y));
                    let spread = (spread + model.trend.variance(&row)).sqrt();
                    want * student4_below((model.trend.level(&row) - needed.level) / spread)
                })
                .sum();
            served * gained / total
        })
        .collect()
}

impl Candidate {
    /// The best `most` of `scores`, best first, ties by index; places that promise nothing are left out.
    pub fn shortlist(scores: &[f64], most: usize) -> Vec<Self> {
        let mut all: Vec<Self> = scores
            .iter()
            .enumerate()
            .filter(|(_, score)| **score > 0.0)
            .map(|(index, score)| Self { index, score: *score })
            .collect();
        all.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.index.cmp(&b.index)));
        all.truncate(most);
        all
    }
}
