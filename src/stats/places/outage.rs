//! Spells in which the station, not the ground, was silent.

use super::exchange::Exchange;

/// A silence shorter than this, in seconds, is left to the ground.
const SHORTEST: f64 = 3.0;
/// A silence of fewer exchanges than this cannot be told from ground.
const FEWEST: usize = 10;
/// Exchanges looked at on each side.
pub const SIDE: usize = 10;
/// A break in the stream of exchanges of so many seconds,
const BREAK: f64 = 5.0;
/// and of so many times their usual interval, is a pause: the board was laid down, or swapped for another and carried on.
const BREAK_INTERVALS: f64 = 4.0;
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
/// abrupt on one (at least 9, 18 dB). The last run of a survey is never one: its end was not seen. Beyond a pause the board may
/// be anywhere: what was heard there says nothing of how abruptly a run began or ended, and the pause is not part of its length.
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

/// Whether the run between the delivered exchanges `last` and `now` is long enough to be judged, pauses left out.
pub(super) fn long_silence(exchanges: &[Exchange], last: usize, now: usize) -> bool {
    let lost = now - last - 1;
    if lost < FEWEST {
        return false;
    }
    let pause = pause(exchanges, last, now);
    let gaps = exchanges[last..=now].windows(2).map(|pair| pair[1].t - pair[0].t);
    // The silence itself, without the half intervals at either end.
    let span = gaps.filter(|gap| *gap <= pause).sum::<f64>() * lost as f64 / (lost + 1) as f64;
    may_be_outage(lost, span)
}

/// Seconds between exchanges that are more than those about a run leave between them as a rule.
fn pause(exchanges: &[Exchange], last: usize, now: usize) -> f64 {
    let about = &exchanges[(last + 1).saturating_sub(SIDE)..(now + SIDE).min(exchanges.len())];
    let mut gaps: Vec<f64> = about.windows(2).map(|pair| pair[1].t - pair[0].t).collect();
    let middle = gaps.len() / 2;
    let usual = *gaps.select_nth_unstable_by(middle, f64::total_cmp).1;
    BREAK.max(BREAK_INTERVALS * usual)
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
    let pause = pause(exchanges, last, now);
    let unbroken = |from: usize, to: usize| {
        let mut pairs = exchanges[from..=to].windows(2);
        pairs.all(|pair| pair[1].t - pair[0].t <= pause)
    };
    let told = |seen: bool, of: &[Exchange]| {
        if seen {
            side(of, half_level)
        } else {
            (0, f64::NEG_INFINITY)
        }
    };
    let (ahead, ahead_lead) = told(unbroken(last + 1 - SIDE, last + 1), &exchanges[last + 1 - SIDE..=last]);
    let (after, after_lead) = told(unbroken(now - 1, now + SIDE - 1), &exchanges[now..now + SIDE]);
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
    fn beyond_a_pause_nothing_is_abrupt() {
        // Strong to the end of a run; a minute later, elsewhere, the first fifteen are lost and the others arrive weakly.
        let mut rows = silence(-60.0, 40, -92.0);
        assert_eq!(outages(&rows, -98.0).len(), 1, "without a pause");
        for row in rows.iter_mut().skip(20) {
            row.t += 60.0;
        }
        assert!(outages(&rows, -98.0).is_empty());
        // A pause within the run is no part of its length: 1.9 s and 1 s are heard of it.
        let mut rows = silence(-60.0, 29, -60.0);
        for row in rows.iter_mut().skip(40) {
            row.t += 60.0;
        }
        assert!(outages(&rows, -98.0).is_empty());
        // A board that sends every ten seconds makes no pauses.
        let mut rows = silence(-60.0, 12, -60.0);
        for row in &mut rows {
            row.t *= 100.0;
        }
        assert_eq!(outages(&rows, -98.0).len(), 1);
    }

    #[test]
    fn an_unfinished_silence_is_left_to_the_ground() {
        let mut rows = silence(-70.0, 60, -70.0);
        rows.truncate(20 + 60 + 9);
        assert!(outages(&rows, -98.0).is_empty());
        assert!(outages(&[], -98.0).is_empty());
    }
}
