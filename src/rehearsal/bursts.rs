//! Interference: somebody else's traffic, in bursts.

use rand::RngExt;
use rand_pcg::Pcg64Mcg;

use super::seeds::{Purpose, stream};

/// A two-state process in time, quiet and busy (Gilbert 1960, Elliott 1963, BSTJ), with times of stay in seconds.
///
/// Must be asked in order of time: it draws its stays as they are reached.
#[derive(Clone, Debug)]
pub struct Bursts {
    params: BurstParams,
    random: Pcg64Mcg,
    busy: bool,
    until_s: f64,
}

/// How interference comes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BurstParams {
    /// Share of the time that is busy, 0 to 0.9; 0 for none.
    pub busy: f64,
    /// Mean length of a burst, seconds; positive.
    pub mean_s: f64,
    /// Chance that a message within a burst is lost, 0 to 1.
    pub hit: f64,
    /// How the lengths of bursts spread.
    pub tail: Tail,
}

/// How the lengths of bursts spread about their mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tail {
    /// Without memory.
    Exponential,
    /// Now and then very long: Pareto with shape 1.6, cut at fifty times the shortest.
    Heavy,
}

impl BurstParams {
    /// No interference at all.
    pub const NONE: Self = Self {
        busy: 0.0,
        mean_s: 1.0,
        hit: 0.0,
        tail: Tail::Exponential,
    };

    /// Share of all messages lost to it, in the long run.
    pub fn loss(&self) -> f64 {
        self.busy.clamp(0.0, 0.9) * self.hit.clamp(0.0, 1.0)
    }
}

impl Bursts {
    /// The process that belongs to a seed and a purpose; at time 0 it is busy with its long-run share.
    pub fn new(params: BurstParams, seed: u64, purpose: Purpose) -> Self {
        let mut random = stream(seed, purpose);
        let busy = random.random::<f64>() < params.busy.clamp(0.0, 0.9);
        let mut process = Self {
            params,
            random,
            busy,
            until_s: 0.0,
        };
        process.until_s = process.stay();
        process
    }

    /// Whether it is busy at a time in seconds, not before the last one asked for.
    pub fn busy_at(&mut self, at_s: f64) -> bool {
        if self.params.busy <= 0.0 {
            return false;
        }
        while at_s >= self.until_s {
            self.busy = !self.busy;
            let stay = self.stay();
            self.until_s += stay;
        }
        self.busy
    }

    fn stay(&mut self) -> f64 {
        let share = self.params.busy.clamp(1e-9, 0.9);
        let on = self.params.mean_s.max(1e-3);
        let uniform: f64 = 1.0 - self.random.random::<f64>();
        if self.busy && self.params.tail == Tail::Heavy {
            return on / HEAVY_MEAN * bounded_pareto(uniform);
        }
        let mean = if self.busy { on } else { on * (1.0 - share) / share };
        // A stay of no length would never end the loop above.
        (-mean * uniform.ln()).max(1e-4)
    }
}

const SHAPE: f64 = 1.6;
const CUT: f64 = 50.0;
/// Mean of [`bounded_pareto`]: `shape/(shape-1) (1 - cut^(1-shape)) / (1 - cut^-shape)`.
const HEAVY_MEAN: f64 = 2.416_260_93;

/// The quantile of a Pareto distribution from 1 to [`CUT`].
fn bounded_pareto(uniform: f64) -> f64 {
    (1.0 - uniform * (1.0 - CUT.powf(-SHAPE))).powf(-1.0 / SHAPE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn share_and_length_of_bursts_are_those_asked_for() {
        for tail in [Tail::Exponential, Tail::Heavy] {
            let params = BurstParams {
                busy: 0.06,
                mean_s: 0.8,
                hit: 0.9,
                tail,
            };
            let mut process = Bursts::new(params, 11, Purpose::StationBursts);
            let (mut busy, mut begun, mut was) = (0_u32, 0_u32, false);
            let steps = 2_000_000;
            for step in 0..steps {
                let now = process.busy_at(f64::from(step) * 0.02);
                busy += u32::from(now);
                begun += u32::from(now && !was);
                was = now;
            }
            let share = f64::from(busy) / f64::from(steps);
            let length = f64::from(busy) * 0.02 / f64::from(begun);
            assert!((share - 0.06).abs() < 0.006, "{tail:?} {share}");
            assert!((length - 0.8).abs() < 0.08, "{tail:?} {length}");
        }
    }

    #[test]
    fn the_heavy_tail_has_its_mean() {
        let closed = SHAPE / (SHAPE - 1.0) * (1.0 - CUT.powf(1.0 - SHAPE)) / (1.0 - CUT.powf(-SHAPE));
        assert!((closed - HEAVY_MEAN).abs() < 1e-6, "{closed}");
        assert!(!Bursts::new(BurstParams::NONE, 1, Purpose::BoardBursts).busy_at(1e9));
    }
}
