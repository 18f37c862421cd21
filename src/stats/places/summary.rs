//! What the records say before any model: fading, background loss, and a level to start from.

use super::goal::Receiver;
use super::record::Record;

/// Fading in dB where no record can tell.
pub(super) const FADING: f64 = 5.0;
/// The least and most fading believed, in dB.
const FADING_RANGE: (f64, f64) = (2.5, 7.0);
/// dB below the half-delivery level assumed where nothing was ever delivered.
const BELOW: f64 = 10.0;

/// Quantities pooled over all records.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Summary {
    /// Median of the mean levels in dBm, or 10 dB under the half-delivery level when nothing was delivered.
    pub level: f64,
    /// Small-scale fading: standard deviation in dB.
    pub fading_sd: f64,
    /// Whether any record could tell the fading.
    pub fading_known: bool,
    /// Share lost whatever the level.
    pub background_loss: f64,
    /// Which records are strong.
    pub strong: Vec<bool>,
}

/// Pools `records` for a receiver by its nominal level of 50 % delivery and the level of strong records.
pub(super) fn summarise(records: &[Record], receiver: &Receiver) -> Summary {
    let strong: Vec<bool> = records
        .iter()
        .map(|record| record.level.is_some_and(|level| level >= receiver.strong))
        .collect();
    let (mut lost, mut sent) = (0.5, 100.0);
    for record in records.iter().zip(&strong).filter_map(|(r, s)| s.then_some(r)) {
        lost += f64::from(record.lost());
        sent += f64::from(record.sent);
    }
    let fading = fading(records);
    Summary {
        level: median(records).unwrap_or(receiver.half_level - BELOW),
        fading_sd: fading.unwrap_or(FADING),
        fading_known: fading.is_some(),
        background_loss: lost / sent,
        strong,
    }
}

/// Whether a record has readings enough, and losses so few that losing the weakest does not narrow them.
pub(super) fn few_lost(record: &Record) -> bool {
    record.received >= 8 && f64::from(record.lost()) <= 0.05 * f64::from(record.sent)
}

/// Pooled fading from records of at least 8 delivered and few lost, where losing the weakest does not narrow it.
fn fading(records: &[Record]) -> Option<f64> {
    let (mut squares, mut freedom) = (0.0, 0.0);
    for record in records {
        if few_lost(record) {
            let more = f64::from(record.received - 1);
            squares += record.variance * more;
            freedom += more;
        }
    }
    (freedom > 0.0).then(|| (squares / freedom).sqrt().clamp(FADING_RANGE.0, FADING_RANGE.1))
}

fn median(records: &[Record]) -> Option<f64> {
    let mut levels: Vec<f64> = records.iter().filter_map(|record| record.level).collect();
    if levels.is_empty() {
        return None;
    }
    levels.sort_by(f64::total_cmp);
    let half = levels.len() / 2;
    Some(if levels.len() % 2 == 1 {
        levels[half]
    } else {
        f64::midpoint(levels[half - 1], levels[half])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(sent: u32, received: u32, level: f64, variance: f64) -> Record {
        Record {
            x: 0.0,
            y: 0.0,
            facing: 0.0,
            unknown: 0.0,
            sent,
            received,
            level: (received > 0).then_some(level),
            variance,
            weight: 1.0,
        }
    }

    #[test]
    fn nothing_delivered_leaves_the_assumed_values() {
        let told = summarise(&[record(20, 0, 0.0, 0.0)], &Receiver::at(-98.0));
        assert_eq!((told.level, told.fading_sd, told.fading_known), (-108.0, 5.0, false));
        assert!((told.background_loss - 0.005).abs() < 1e-15);
    }

    #[test]
    fn strong_losses_are_background_and_weak_ones_are_not() {
        let told = summarise(
            &[record(100, 98, -60.0, 16.0), record(100, 40, -95.0, 4.0)],
            &Receiver::at(-98.0),
        );
        assert!((told.background_loss - 2.5 / 200.0).abs() < 1e-15);
        assert_eq!(told.strong, [true, false]);
        assert!((told.fading_sd - 4.0).abs() < 1e-12);
        assert!((told.level + 77.5).abs() < 1e-12);
    }
}
