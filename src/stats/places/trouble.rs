//! Local trouble: places that lose exchanges though the level is plenty.

use super::goal::Goal;
use super::model::Model;

/// Records farther than this, in metres, say nothing about a place.
const REACH: f64 = 15.0;
/// Distance in metres over which a record's word fades.
const FADE: f64 = 5.0;
/// Chance of trouble before any record.
const TROUBLE: f64 = 0.02;

/// The chance, 0 to 1, that no interference or the like troubles the place at metres (x, y), and the exchanges within 15 m.
///
/// Two states, background loss or a loss that breaks `goal`, tested on strong records only: the losses of weak ones are
/// explained by their level. A low value under a high level reads "strong but losing: interference, not distance".
pub(super) fn clean(model: &Model, goal: &Goal, x: f64, y: f64) -> (f64, u32) {
    let quiet = model.background_loss();
    let troubled = (2.0 * (1.0 - goal.share())).max(quiet + 0.05).min(0.99);
    let (lost, received) = ((quiet / troubled).ln(), ((1.0 - quiet) / (1.0 - troubled)).ln());
    let near = model.nearest.within(x, y, REACH);
    let exchanges = near
        .iter()
        .fold(0_u32, |sum, near| sum.saturating_add(model.records[near.index].sent));
    let evidence: f64 = near
        .iter()
        .filter(|near| model.summary.strong[near.index])
        .map(|near| {
            let record = &model.records[near.index];
            (-near.distance / FADE).exp() * (record.lost_weight() * lost + record.received_weight() * received)
        })
        .sum();
    let clean = 1.0 / (1.0 + TROUBLE / (1.0 - TROUBLE) * (-evidence).clamp(-50.0, 50.0).exp());
    (clean, exchanges)
}
