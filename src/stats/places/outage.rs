//! Spells in which the station, not the ground, was silent.

use super::exchange::Exchange;

/// A silence shorter than this, in seconds, is left to the ground.
const SHORTEST: f64 = 3.0;
/// A silence of fewer exchanges than this cannot be told from ground.
const FEWEST: usize = 10;
/// Exchanges looked at on each side.
pub const SIDE: usize = 10;
/// dB above the half-delivery level at which both sides of an outage stand.
const LEAD: f64 = 12.0;
/// What one side must have more, in dB, when it alone speaks for the outage.
const LONE_LEAD: f64 = 6.0;

/// A run of lost exchanges that began and ended so abruptly that the station must have been silent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outage {
    /// Index of the first lost exchange.
    pub first: usize,
    /// Index one past the last lost exchange.
    pub past: usize,
    /// Time in seconds of the first lost exchange.
    pub from: f64,
    /// Time in seconds of the last lost exchange.
    pub to: f64,
}

impl Outage {
    /// How many exchanges are left out.
    pub const fn lost(&self) -> usize {
        self.past - self.first
    }
}

/// Finds the outages in `exchanges` (usable ones, in order of time) for a receiver of `half_level` dBm.
///
/// Ground fades in over metres; a silent station does not. A run of at least 3 s and 10 exchanges is an outage if it is
/// abrupt on both sides (of the 10 exchanges there at least 8 delivered, mean at least 12 dB above `half_level`) or very
/// abrupt on one (at least 9, 18 dB). The last run of a survey is never one: its end was not seen.
pub fn outages(exchanges: &[Exchange], half_level: f64) -> Vec<Outage> {
    let mut found = Vec::new();
    let mut before: Option<usize> = None;
    for (now, exchange) in exchanges.iter().enumerate() {
        if exchange.lost {
            continue;
        }
        if let Some(last) = before
            && long_silence(exchanges, last, now)
            && abrupt(exchanges, last, now, half_level)
        {
            found.push(Outage {
                first: last + 1,
                past: now,
                from: exchanges[last + 1].t,
                to: exchanges[now - 1].t,
            });
        }
        before = Some(now);
    }
    found
}

/// Whether the run between the delivered exchanges `last` and `now` is long enough to be judged.
pub(super) fn long_silence(exchanges: &[Exchange], last: usize, now: usize) -> bool {
    let lost = now - last - 1;
    // The silence itself, without the half intervals at either end.
    let span = (exchanges[now].t - exchanges[last].t) * lost as f64 / (lost + 1) as f64;
    may_be_outage(lost, span)
}

/// Whether so many lost in a row over so many seconds may be an outage, by their length alone.
pub fn may_be_outage(lost: usize, seconds: f64) -> bool {
    lost >= FEWEST && seconds >= SHORTEST - 1e-6
}

/// Whether the run between the delivered exchanges `last` and `now` starts and ends abruptly; false without both sides.
pub(super) fn abrupt(exchanges: &[Exchange], last: usize, now: usize, half_level: f64) -> bool {
    if last + 1 < SIDE || now + SIDE > exchanges.len() {
        return false;
    }
    let (ahead, ahead_lead) = side(&exchanges[last + 1 - SIDE..=last], half_level);
    let (after, after_lead) = side(&exchanges[now..now + SIDE], half_level);
    let lone = |count: usize, lead: f64| count >= 9 && lead >= LEAD + LONE_LEAD;
    (ahead.min(after) >= 8 && ahead_lead.min(after_lead) >= LEAD) || lone(ahead, ahead_lead) || lone(after, after_lead)
}

/// Delivered exchanges on one side, and their mean level above `half_level` in dB.
fn side(exchanges: &[Exchange], half_level: f64) -> (usize, f64) {
    let levels: Vec<f64> = exchanges.iter().filter_map(Exchange::delivered).collect();
    if levels.is_empty() {
        return (0, f64::NEG_INFINITY);
    }
    (
        levels.len(),
        levels.iter().sum::<f64>() / levels.len() as f64 - half_level,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(t: f64, level: Option<f64>) -> Exchange {
        Exchange {
            x: t,
            y: 0.0,
            t,
            level,
            lost: level.is_none(),
            speed: Some(1.0),
            course: None,
        }
    }

    fn silence(before: f64, lost: usize, after: f64) -> Vec<Exchange> {
        (0..20)
            .map(|_| Some(before))
            .chain((0..lost).map(|_| None))
            .chain((0..20).map(|_| Some(after)))
            .enumerate()
            .map(|(i, level)| row(i as f64 / 10.0, level))
            .collect()
    }

    #[test]
    fn an_abrupt_silence_of_three_seconds_is_an_outage() {
        let found = outages(&silence(-70.0, 30, -70.0), -98.0);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].first, found[0].past, found[0].lost()), (20, 50, 30));
        assert!(outages(&silence(-70.0, 29, -70.0), -98.0).is_empty());
    }

    #[test]
    fn ground_that_fades_in_is_none() {
        assert!(outages(&silence(-90.0, 60, -92.0), -98.0).is_empty());
        // Strong on one side alone is enough when very strong.
        assert_eq!(outages(&silence(-75.0, 60, -96.0), -98.0).len(), 1);
        assert!(outages(&silence(-83.0, 60, -96.0), -98.0).is_empty());
    }

    #[test]
    fn an_unfinished_silence_is_left_to_the_ground() {
        let mut rows = silence(-70.0, 60, -70.0);
        rows.truncate(20 + 60 + 9);
        assert!(outages(&rows, -98.0).is_empty());
        assert!(outages(&[], -98.0).is_empty());
    }
}
