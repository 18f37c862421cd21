//! Where a sweep was done, and whether its positions say that it stayed there.

use super::words;
use crate::ground::{LocalPlane, Offset, Position, separation};
use crate::survey::sample::{Activity, Sample, Samples};
use crate::units::Metres;

/// A step whose mean position is farther than this from the sweep's, in metres, is farther than a receiver in the open
/// wanders in some minutes (common practice: two to five metres, more under trees).
const WANDERS_M: f64 = 10.0;
/// Two sweeps farther apart than this, in metres, are not said to have been done at the same spot.
const SAME_SPOT_M: f64 = 10.0;
/// The receiver's own doubt, in sigmas, is allowed for there.
const SIGMAS: f64 = 3.0;

/// Where the exchanges of a sweep were that count.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Whereabouts {
    /// Mean position; `None` without any.
    pub position: Option<Position>,
    /// Mean of the receiver's one-sigma errors, metres; `None` where it told none.
    pub sigma_m: Option<f64>,
    /// Exchanges that count.
    pub exchanges: usize,
    /// Of them those with a position.
    pub placed: usize,
    /// Farthest that a step's mean position is from the mean of all, metres; `None` without any.
    pub farthest_step_m: Option<f64>,
}

impl Whereabouts {
    /// Looks at the rows of a sweep; those that do not count are passed over.
    pub fn of(samples: &Samples, rows: &[Sample]) -> Self {
        let counted = || rows.iter().filter(|row| row.counts());
        let placed: Vec<(u32, Position)> = counted()
            .filter_map(|row| match row.activity {
                Activity::Sweep { step, .. } => Some((step, row.place?.position)),
                Activity::Walk | Activity::Point(_) => None,
            })
            .collect();
        let sigmas = counted().filter_map(|row| samples.facts(&row.place?).sigma.map(|(sigma, _)| sigma));
        let mut found = Self {
            sigma_m: super::points::mean(sigmas),
            exchanges: counted().count(),
            placed: placed.len(),
            ..Self::default()
        };
        let Some((_, first)) = placed.first() else {
            return found;
        };
        let plane = LocalPlane::about(*first);
        let offsets: Vec<(u32, Offset)> = placed
            .iter()
            .map(|(step, position)| (*step, plane.offset(*position)))
            .collect();
        let centre = middle(&offsets);
        found.position = plane.position(centre);
        let steps = offsets.chunk_by(|one, next| one.0 == next.0);
        let far = steps.map(middle).map(|step| {
            let (east, north) = (step.east.0 - centre.east.0, step.north.0 - centre.north.0);
            east.hypot(north)
        });
        found.farthest_step_m = far.max_by(f64::total_cmp);
        found
    }

    /// Whether its positions move more than a receiver lying still would.
    pub fn wanders(&self) -> bool {
        self.farthest_step_m.is_some_and(|far| far > WANDERS_M)
    }

    /// What a reader has to know of the place; `None` where there is nothing to say.
    pub fn caution(&self) -> Option<String> {
        if self.placed == 0 {
            return Some(
                "Where it was done is not known, for no exchange has a position; the pattern needs none.".to_owned(),
            );
        }
        if let Some(far) = self.farthest_step_m.filter(|_| self.wanders()) {
            return Some(format!(
                "Its positions wander by up to {}: the place is known no better. The pattern needs none; but if the board \
                 was carried about meanwhile, its turns do not compare: measure it again.",
                words::metres(far)
            ));
        }
        (2 * self.placed < self.exchanges).then(|| {
            format!(
                "Only {} of its {} exchanges have a position; the pattern needs none.",
                words::count(self.placed as u64),
                words::count(self.exchanges as u64)
            )
        })
    }

    /// How far another sweep was from this one, metres, where that is farther than the receiver's doubt; `None` where they
    /// may have been at the same spot, or where nobody knows.
    pub fn apart_m(&self, other: &Self) -> Option<f64> {
        let apart = separation(self.position?, other.position?).distance.0;
        let doubt = self.sigma_m.unwrap_or(0.0).hypot(other.sigma_m.unwrap_or(0.0));
        let wander = [self, other]
            .into_iter()
            .filter(|place| place.wanders())
            .filter_map(|place| place.farthest_step_m)
            .fold(0.0, f64::max);
        (apart > SAME_SPOT_M.max(SIGMAS * doubt).max(wander)).then_some(apart)
    }
}

fn middle(offsets: &[(u32, Offset)]) -> Offset {
    let count = offsets.len().max(1) as f64;
    Offset {
        east: Metres(offsets.iter().map(|(_, offset)| offset.east.0).sum::<f64>() / count),
        north: Metres(offsets.iter().map(|(_, offset)| offset.north.0).sum::<f64>() / count),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Degrees;

    fn at(lon: f64, farthest: f64) -> Whereabouts {
        Whereabouts {
            position: Position::new(Degrees(52.1), Degrees(lon)).ok(),
            sigma_m: Some(2.5),
            exchanges: 400,
            placed: 400,
            farthest_step_m: Some(farthest),
        }
    }

    #[test]
    fn a_place_that_stays_needs_no_words() {
        assert_eq!(at(-2.9, 4.0).caution(), None);
        assert!(at(-2.9, 28.0).caution().unwrap().contains("wander by up to 28 m"));
        let half = Whereabouts {
            placed: 100,
            ..at(-2.9, 4.0)
        };
        assert!(half.caution().unwrap().starts_with("Only 100 of its 400"));
        assert!(
            Whereabouts::default()
                .caution()
                .unwrap()
                .starts_with("Where it was done is not known")
        );
    }

    #[test]
    fn sweeps_at_one_spot_are_not_called_apart() {
        // A thousandth of a degree of longitude is 68.6 m here.
        let (here, near, far) = (at(-2.9, 2.0), at(-2.900_1, 2.0), at(-2.901, 2.0));
        assert_eq!(here.apart_m(&near), None);
        assert!((here.apart_m(&far).unwrap() - 68.6).abs() < 0.3);
        // Positions that wander as far say nothing of it, and no position neither.
        assert_eq!(here.apart_m(&at(-2.901, 80.0)), None);
        assert_eq!(here.apart_m(&Whereabouts::default()), None);
    }
}
