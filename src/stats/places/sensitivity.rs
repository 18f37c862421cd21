//! The level of 50 % delivery, as far as the survey's own losses can tell it.

use super::goal::Receiver;
use super::record::Record;
use super::site::Site;
use super::summary::Summary;
use super::tails::normal_below;

/// Share of the losses' weight that counts: neighbouring records share their fate.
const TRUST: f64 = 0.3;

/// The level of 50 % delivery in dBm, on a 0.5 dB grid within 8 dB of the nominal one.
///
/// `posterior` is what site and surroundings together say of each record's level. The nominal value stands when nothing or
/// everything was lost.
pub(super) fn half_level(records: &[Record], posterior: &[Site], summary: &Summary, receiver: &Receiver) -> f64 {
    let lost = records.iter().any(|record| record.lost() > 0);
    let received = records.iter().any(|record| record.received > 0);
    if !(lost && received) {
        return receiver.half_level;
    }
    let spread = summary.fading_sd * summary.fading_sd + receiver.waterfall * receiver.waterfall;
    let (mut best, mut found) = (f64::NEG_INFINITY, receiver.half_level);
    for step in -16..=16 {
        let tried = receiver.half_level + f64::from(step) * 0.5;
        let z = (tried - receiver.half_level) / receiver.half_level_sd;
        let told: f64 = records
            .iter()
            .zip(posterior)
            .map(|(record, level)| {
                let below = normal_below((level.level - tried) / (spread + level.variance).sqrt());
                let p = ((1.0 - summary.background_loss) * below).clamp(1e-9, 1.0 - 1e-9);
                record.lost_weight() * (-p).ln_1p() + record.received_weight() * p.ln()
            })
            .sum();
        let value = -0.5 * z * z + TRUST * told;
        if value > best + 1e-9 {
            (best, found) = (value, tried);
        }
    }
    found
}
