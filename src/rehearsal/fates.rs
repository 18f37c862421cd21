//! What truly became of each ping of a performance: the cause of a loss, which no gear can tell.

use super::air::Exchange;

/// A ping and what became of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fate {
    /// Which of the scenario's boards sent it.
    pub board: usize,
    /// That board's count of starts.
    pub boot: u64,
    /// The ping's number within the boot.
    pub n: u64,
    /// What became of it.
    pub exchange: Exchange,
    /// Whether the station was silent.
    pub silent: bool,
}

/// Why a ping was lost.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// The station was silent.
    Silence,
    /// The level alone would have lost it on one way or the other, whatever else befell it.
    Weakness,
    /// The levels were enough both ways: a burst of interference took it.
    Interference,
}

impl Fate {
    /// Why it was lost; `None` of one that was answered.
    pub const fn cause(&self) -> Option<Cause> {
        Some(match self.exchange {
            Exchange { echo_heard: true, .. } => return None,
            _ if self.silent => Cause::Silence,
            Exchange { enough: true, .. } => Cause::Interference,
            Exchange { enough: false, .. } => Cause::Weakness,
        })
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::rehearsal::{named, perform};

    #[test]
    fn each_loss_of_a_performance_has_its_cause_and_asking_changes_nothing() {
        let scenario = named("trouble").unwrap();
        let mut told = perform(scenario.clone(), 4).remembering();
        let items: Vec<_> = told.by_ref().collect();
        assert!(items.into_iter().eq(perform(scenario, 4)), "asking changed it");
        let mut causes: BTreeMap<&str, u32> = BTreeMap::new();
        for fate in told.fates() {
            assert_eq!(fate.cause().is_none(), fate.exchange.echo_heard);
            let cause = match fate.cause() {
                None => "none",
                Some(Cause::Silence) => "silence",
                Some(Cause::Weakness) => "weakness",
                Some(Cause::Interference) => "interference",
            };
            *causes.entry(cause).or_default() += 1;
        }
        assert!(causes.len() >= 3, "{causes:?}");
        let mut last = None;
        for fate in told.fates() {
            let follows = last.is_none_or(|(boot, n)| (fate.board, fate.boot) != boot || fate.n == n + 1);
            assert!(follows, "{fate:?}");
            last = Some(((fate.board, fate.boot), fate.n));
        }
    }
}
