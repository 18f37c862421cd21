//! How far a board moved, as far as a receiver's speed can tell.
//!
//! A receiver's own speed is noise below some decimetres a second, just where somebody at a point moves. The readings are no
//! help: taking scattered ones for a board that moves made the levels of walkers who stood too narrow (83 of 100 held).

use crate::survey::sample::{Sample, Samples};

/// Below this speed, metres a second, what a receiver says is noise.
pub const MOVING_MPS: f64 = 0.3;
/// A pause in a walk begins when the walker has stood this long, seconds.
const PAUSE_S: f64 = 2.0;

/// Metres moved over a stretch of rows, in order: what is slower than the receiver's noise counts as standing. `None` without
/// speeds.
pub fn path(samples: &Samples, rows: &[&Sample]) -> Option<f64> {
    let mut metres = None;
    for pair in rows.windows(2) {
        let Some(speed) = pair[0].place.and_then(|place| samples.facts(&place).speed_mps) else {
            continue;
        };
        let seconds = pair[1].at.since(pair[0].at).clamp(0.0, 1.0);
        let moved = if speed >= MOVING_MPS { speed * seconds } else { 0.0 };
        *metres.get_or_insert(0.0) += moved;
    }
    metres
}

/// Leaves out of a walk's rows those of its pauses but for their beginning: standing in one fade, a thousand messages say
/// no more of the place than the first few, and the walk's fit takes every message for a fade of its own.
///
/// Where the receiver tells no speed, or calls most of the walk standing (its speed is not to be believed), all stay.
pub fn without_pauses<'a>(samples: &Samples, rows: Vec<&'a Sample>) -> Vec<&'a Sample> {
    let speed = |row: &Sample| row.place.and_then(|place| samples.facts(&place).speed_mps);
    let stands = |row: &Sample| speed(row).is_some_and(|speed| speed < MOVING_MPS);
    if 2 * rows.iter().filter(|row| stands(row)).count() > rows.len() {
        return rows;
    }
    let mut stood_since = None;
    let mut kept = rows;
    kept.retain(|row| {
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
    use crate::survey::sample::{Activity, Place};
    use crate::units::{Degrees, Elapsed, UtcMs};

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
        let kept = without_pauses(&samples, samples.rows.iter().collect());
        // Of the 20 s, the first 2 s with both ends.
        assert_eq!(kept.len(), 400 + 21);
        for speed in [None, Some(0.0)] {
            let samples = rows(&[speed; 100]);
            assert_eq!(without_pauses(&samples, samples.rows.iter().collect()).len(), 100);
        }
    }
}
