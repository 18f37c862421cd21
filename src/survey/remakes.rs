//! How far back rows were made anew, so that whoever reads them needs to look only at those.

use std::collections::VecDeque;

/// So many remakes are told apart; older ones are taken together.
const TOLD_APART: usize = 64;

/// A count of remakes of a list, each of which kept a beginning of it.
#[derive(Clone, Debug, Default)]
pub struct Remakes {
    count: u64,
    /// Ordinals and what was kept, both rising: a remake that kept less makes those before it tell nothing more.
    kept: VecDeque<(u64, usize)>,
}

impl Remakes {
    /// How many there were.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Notes one that kept the first `keep`.
    pub(super) fn note(&mut self, keep: usize) {
        self.count += 1;
        while self.kept.back().is_some_and(|(_, kept)| *kept >= keep) {
            self.kept.pop_back();
        }
        self.kept.push_back((self.count, keep));
        if self.kept.len() > TOLD_APART
            && let Some((_, least)) = self.kept.pop_front()
            && let Some((_, kept)) = self.kept.front_mut()
        {
            *kept = least;
        }
    }

    /// How many from the beginning are as they were after remake `count`; fewer may be said where that is long ago.
    pub fn settled_since(&self, count: u64) -> usize {
        let later = self.kept.iter().find(|(remake, _)| *remake > count);
        later.map_or(usize::MAX, |(_, kept)| *kept)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_that_was_kept_since_then_is_settled() {
        let mut remakes = Remakes::default();
        let kept = [0, 10, 20, 15, 30, 12, 40, 41];
        for keep in kept {
            remakes.note(keep);
        }
        for since in 0..=kept.len() {
            let least = kept[since..].iter().min().copied().unwrap_or(usize::MAX);
            assert_eq!(remakes.settled_since(since as u64), least, "{since}");
        }
    }

    #[test]
    fn what_is_long_ago_is_never_taken_for_more_settled_than_it_is() {
        let mut remakes = Remakes::default();
        for keep in 0..1000 {
            remakes.note(keep);
        }
        for since in 0..1000 {
            assert!(remakes.settled_since(since) <= since as usize, "{since}");
        }
        assert_eq!(remakes.settled_since(990), 990);
        assert_eq!(remakes.settled_since(1000), usize::MAX);
    }
}
