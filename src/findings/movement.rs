//! How far a board moved, as far as a receiver's speed can tell.
//!
//! A receiver's own speed is noise below some decimetres a second, just where somebody at a point moves. The readings are no
//! help: taking scattered ones for a board that moves made the levels of walkers who stood too narrow (83 of 100 held).

use super::points::MeanPosition;
use crate::ground::separation;
use crate::survey::sample::{Place, Sample, Samples};
use crate::units::Elapsed;

/// Below this speed, metres a second, what a receiver says is noise.
pub const MOVING_MPS: f64 = 0.3;
/// A pause in a walk begins when the walker has stood this long, seconds.
const PAUSE_S: f64 = 2.0;

/// Somebody at a point has left it when this far from where it began, metres; without a receiver that tells its speed, which
/// a wandering fix cannot be told from, half as far again.
const STRAYED_M: f64 = 15.0;
/// And farther than so many sigmas of both positions.
const STRAYED_SIGMAS: f64 = 3.0;
/// Where the point began is the mean of the positions of so many seconds.
const BEGIN_S: f64 = 3.0;

/// Follows how far a board has been carried off from where a point began.
#[derive(Clone, Debug, Default)]
pub struct Departure {
    begun: Option<(Elapsed, Place)>,
    origin: MeanPosition,
    /// The row before and what its receiver said of speed; metres moved so far.
    before: Option<(Elapsed, Option<f64>)>,
    path_m: Option<f64>,
}

impl Departure {
    /// Takes the next row of the point: how far the board has surely been carried off by then, metres; `None` where it has
    /// not been, or the row has no place.
    ///
    /// What a receiver calls moved must come to half of that distance: a fix that wanders off while its speed says standing is
    /// no walk.
    pub fn see(&mut self, samples: &Samples, row: &Sample) -> Option<f64> {
        if let Some((at, Some(speed))) = self.before {
            *self.path_m.get_or_insert(0.0) += moved(speed, row.at.since(at));
        }
        let speed = row.place.and_then(|place| samples.facts(&place).speed_mps);
        self.before = Some((row.at, speed));
        let place = row.place?;
        // A point begins with the first row that counts: while paused, one may walk to it.
        if self.begun.is_none() && !row.counts() {
            return None;
        }
        let (begun, first) = *self.begun.get_or_insert((row.at, place));
        if row.at.since(begun) <= BEGIN_S {
            self.origin.push(place.position);
        }
        let sigma = |place: &Place| samples.facts(place).sigma.map_or(0.0, |(sigma, _)| sigma);
        let away = separation(self.origin.mean()?, place.position).distance.0;
        if away < STRAYED_M || away < STRAYED_SIGMAS * sigma(&first).hypot(sigma(&place)) {
            return None;
        }
        let left = match self.path_m {
            Some(walked) => walked >= 0.5 * away,
            None => away >= 1.5 * STRAYED_M,
        };
        left.then_some(away)
    }
}

/// Metres moved at a speed until the next row, so many seconds later: what is slower than the receiver's noise is standing.
fn moved(speed_mps: f64, seconds: f64) -> f64 {
    if speed_mps >= MOVING_MPS {
        speed_mps * seconds.clamp(0.0, 1.0)
    } else {
        0.0
    }
}

/// Metres moved over a stretch of rows, in order: what is slower than the receiver's noise counts as standing. `None` without
/// speeds.
pub fn path(samples: &Samples, rows: &[&Sample]) -> Option<f64> {
    let mut metres = None;
    for pair in rows.windows(2) {
        let Some(speed) = pair[0].place.and_then(|place| samples.facts(&place).speed_mps) else {
            continue;
        };
        *metres.get_or_insert(0.0) += moved(speed, pair[1].at.since(pair[0].at));
    }
    metres
}

/// Leaves out of a walk's rows those of its pauses but for their beginning: standing in one fade, a thousand messages say
/// no more of the place than the first few, and the walk's fit takes every message for a fade of its own.
///
/// Where the receiver tells no speed, or calls most of the walk standing (its speed is not to be believed), all stay.
///
/// With each row comes what belongs to it.
pub fn without_pauses<'a, T>(samples: &Samples, rows: Vec<(&'a Sample, T)>) -> Vec<(&'a Sample, T)> {
    let speed = |row: &Sample| row.place.and_then(|place| samples.facts(&place).speed_mps);
    let stands = |row: &Sample| speed(row).is_some_and(|speed| speed < MOVING_MPS);
    if 2 * rows.iter().filter(|(row, _)| stands(row)).count() > rows.len() {
        return rows;
    }
    let mut stood_since = None;
    let mut kept = rows;
    kept.retain(|(row, _)| {
        if !stands(row) {
            stood_since = None;
            return true;
        }
        let since = *stood_since.get_or_insert(row.at);
        row.at.since(since) <= PAUSE_S
    });
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::Position;
    use crate::survey::fixes::Facts;
    use crate::survey::sample::Activity;
    use crate::units::{Degrees, UtcMs};
    use crate::wire::record::SigmaFrom;

    fn rows(speeds: &[Option<f64>]) -> Samples {
        let position = Position::new(Degrees(52.0), Degrees(-3.0)).unwrap();
        let mut samples = Samples::default();
        for (index, speed) in speeds.iter().enumerate() {
            samples.facts.push(Facts {
                speed_mps: *speed,
                ..Facts::default()
            });
            samples.rows.push(Sample {
                utc: UtcMs(0),
                at: Elapsed(index as u64 * 100_000),
                boot: 0,
                run: 1,
                n: index as u64,
                echo: None,
                channel: None,
                place: Some(Place {
                    position,
                    facts: index as u32,
                    distance: None,
                    bearing: None,
                }),
                activity: Activity::Walk,
                excluded: None,
            });
        }
        samples
    }

    #[test]
    fn a_pause_leaves_its_beginning_only() {
        let speeds: Vec<Option<f64>> = (0..600)
            .map(|index| Some(if (200..400).contains(&index) { 0.05 } else { 1.2 }))
            .collect();
        let samples = rows(&speeds);
        let kept = without_pauses(&samples, samples.rows.iter().zip(0..).collect());
        // Of the 20 s, the first 2 s with both ends.
        assert_eq!(kept.len(), 400 + 21);
        assert!(
            kept.iter().all(|(row, index)| row.n == *index),
            "each keeps what belongs to it"
        );
        for speed in [None, Some(0.0)] {
            let samples = rows(&[speed; 100]);
            assert_eq!(
                without_pauses(&samples, samples.rows.iter().zip(0..).collect()).len(),
                100
            );
        }
    }

    /// Rows that go north at a pace, metres a second, the receiver saying another one.
    fn going(pace: f64, said: Option<f64>) -> Samples {
        let mut samples = rows(&[said; 300]);
        for (index, row) in samples.rows.iter_mut().enumerate() {
            let north = pace * index as f64 * 0.1 / 111_200.0;
            let position = Position::new(Degrees(52.0 + north), Degrees(-3.0)).unwrap();
            row.place = row.place.map(|place| Place { position, ..place });
        }
        samples
    }

    fn carried(samples: &Samples) -> Option<f64> {
        let mut departure = Departure::default();
        samples.rows.iter().fold(None, |_, row| departure.see(samples, row))
    }

    #[test]
    fn who_walks_off_a_point_has_left_it_and_who_stands_has_not() {
        let away = |pace, said| {
            let samples = going(pace, said);
            carried(&samples)
        };
        let left = away(1.2, Some(1.2)).unwrap();
        assert!((30.0..36.0).contains(&left), "{left}");
        assert!(away(1.2, None).is_some(), "no speed, but far");
        assert_eq!(away(0.6, None), None, "17 m may be a wandering fix");
        assert_eq!(away(1.2, Some(0.1)), None, "the receiver says it stands");
        assert_eq!(away(0.17, Some(0.17)), None, "the five metres one is asked for");
        let mut vague = going(1.2, Some(1.2));
        for facts in &mut vague.facts {
            facts.sigma = Some((12.0, SigmaFrom::Gst));
        }
        assert_eq!(carried(&vague), None);
    }
}
