//! A run of exchanges numbered without a hole: what no line tells of is filled in.

use std::collections::VecDeque;

use crate::survey::exchange::{Exchange, Fate};
use crate::units::{Elapsed, UtcMs};

/// Exchanges from one number to another, each of them there.
#[derive(Clone, Debug, Default)]
pub struct Exchanges {
    first: u64,
    run: VecDeque<Exchange>,
}

impl Exchanges {
    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.run.is_empty()
    }

    /// The lowest number and its exchange.
    pub fn first(&self) -> Option<(u64, &Exchange)> {
        Some((self.first, self.run.front()?))
    }

    /// The highest number.
    pub fn last(&self) -> Option<u64> {
        (!self.is_empty()).then(|| self.first + self.run.len() as u64 - 1)
    }

    /// The exchange numbered `n`.
    pub fn get(&self, n: u64) -> Option<&Exchange> {
        let index = usize::try_from(n.checked_sub(self.first)?).ok()?;
        self.run.get(index)
    }

    /// The exchange numbered `n`, to change it.
    pub fn get_mut(&mut self, n: u64) -> Option<&mut Exchange> {
        let index = usize::try_from(n.checked_sub(self.first)?).ok()?;
        self.run.get_mut(index)
    }

    /// Adds number `n`, higher than any; what is missing before it was given up when it came, as `fate`. Into an empty run
    /// it goes alone.
    pub fn append(&mut self, n: u64, exchange: Exchange, fate: Fate) {
        if let (Some(last), Some(before)) = (self.last(), self.run.back().cloned()) {
            for missing in last + 1..n {
                let share = (missing - last) as f64 / (n - last) as f64;
                self.run
                    .push_back(between(&before, &exchange, share, exchange.at, fate));
            }
        } else {
            self.first = n;
        }
        self.run.push_back(exchange);
    }

    /// Adds number `n`, lower than any, whose line came late; what is missing behind it was lost.
    pub fn prepend(&mut self, n: u64, exchange: Exchange) {
        let first = self.first;
        if let Some(after) = self.run.front().cloned() {
            for missing in (n + 1..first).rev() {
                let share = (missing - n) as f64 / (first - n) as f64;
                self.run
                    .push_front(between(&exchange, &after, share, exchange.at, Fate::Missing));
            }
        }
        self.run.push_front(exchange);
        self.first = n;
    }

    /// Takes out all that lines told of, with their numbers.
    pub fn take_told(&mut self) -> impl Iterator<Item = (u64, Exchange)> + use<> {
        let Self { first, run } = std::mem::take(self);
        let told = |exchange: &Exchange| !matches!(exchange.fate, Fate::Missing | Fate::Unread);
        (first..).zip(run).filter(move |(_, exchange)| told(exchange))
    }
}

/// The exchange a share of the way from one to another, timed evenly between them.
fn between(before: &Exchange, after: &Exchange, share: f64, settled: Elapsed, fate: Fate) -> Exchange {
    let at = before.at.0 as f64 + share * (after.at.0 as f64 - before.at.0 as f64);
    let wall = before.wall.0 as f64 + share * (after.wall.0 - before.wall.0) as f64;
    Exchange {
        at: Elapsed(at.round() as u64),
        wall: UtcMs(wall.round() as i64),
        settled,
        line: None,
        fate,
        channel: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lost_at(seconds: f64) -> Exchange {
        Exchange {
            at: Elapsed::from_seconds(seconds),
            wall: UtcMs((seconds * 1000.0) as i64),
            settled: Elapsed::from_seconds(seconds),
            line: Some(1),
            fate: Fate::Lost,
            channel: None,
        }
    }

    #[test]
    fn what_is_missing_lies_evenly_between_its_neighbours() {
        let mut exchanges = Exchanges::default();
        exchanges.append(10, lost_at(1.0), Fate::Missing);
        exchanges.append(14, lost_at(3.0), Fate::Unread);
        exchanges.prepend(8, lost_at(4.0));
        let at = |n: u64| exchanges.get(n).map(|exchange| (exchange.at.seconds(), exchange.fate));
        assert_eq!(at(11), Some((1.5, Fate::Unread)));
        assert_eq!(at(13), Some((2.5, Fate::Unread)));
        assert_eq!(at(9), Some((2.5, Fate::Missing)));
        assert_eq!(exchanges.get(13).unwrap().settled, Elapsed::from_seconds(3.0));
        assert_eq!(
            (exchanges.get(7), exchanges.get(15), exchanges.last()),
            (None, None, Some(14))
        );
        let told: Vec<u64> = exchanges.take_told().map(|(n, _)| n).collect();
        assert_eq!(told, [8, 10, 14]);
        assert!(exchanges.is_empty());
    }
}
