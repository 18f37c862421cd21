//! What stands for the need of a board whose need nobody knows.

use super::side::Side;
use crate::stats::places::may_be_outage;
use crate::stats::stop_curve::M_PRIOR;
use crate::survey::sample::{Activity, Sample, Samples};
use crate::units::Elapsed;

/// Stands for the level of half delivery of a board whose need nobody knows and that lost hardly anything, dBm: what
/// boards of this kind are sold with (common practice).
pub const FALLBACK_DBM: f64 = -95.0;

/// The highest level of half delivery that a board of this kind may have, dBm: 97.5 of 100 have a lower one by what is taken
/// beforehand wherever a need is learned, room for their meters included.
pub fn highest_half_dbm() -> f64 {
    let (mean, sd) = M_PRIOR;
    mean + 1.96 * sd
}

/// The level of half delivery of a board, dBm, that what is weak goes by where its need is not known: the weakest fiftieth of
/// its readings.
///
/// `None` where it lost fewer than ten messages, or one in a hundred: losses then say nothing of the level.
pub fn stand_in(samples: &Samples, board: &str, side: Side) -> Option<f64> {
    let mut lost = Lost::default();
    let mut levels = Vec::new();
    for row in samples.counted(board) {
        lost.add(row);
        levels.extend(side.level(row).map(f64::from));
    }
    let lost = lost.count();
    if levels.is_empty() || lost < 10 || lost * 100 < levels.len() {
        return None;
    }
    let rank = levels.len() / 50;
    Some(*levels.select_nth_unstable_by(rank, f64::total_cmp).1)
}

/// The weakest level heard, dBm, as a level of half delivery that a board of this kind may have.
pub fn as_usual(weakest_dbm: f64) -> f64 {
    weakest_dbm.clamp(FALLBACK_DBM, highest_half_dbm())
}

/// The level of half delivery that silences of the station are told by, dBm; `known` is the board's own, where it is known.
///
/// Else it is no higher than any board of this kind has it: readings that are all strong say nothing of a limit.
pub fn half_level(samples: &Samples, board: &str, side: Side, known: Option<f64>) -> f64 {
    let guess = || as_usual(stand_in(samples, board, side).unwrap_or(FALLBACK_DBM));
    known.unwrap_or_else(guess)
}

/// Losses that may be those of a weak level.
///
/// A board that stands does not walk out of reach and back: a long run lost in one place, with answers at either end, may be
/// a silence of the station and is not counted. A walker's may be the ground, and is.
#[derive(Default)]
struct Lost {
    counted: usize,
    run: usize,
    begin: Option<Elapsed>,
    /// Whether all of the run stood where the answer before it came from, and as it did.
    stood: bool,
    last: Option<(u32, Option<u32>)>,
}

impl Lost {
    fn add(&mut self, row: &Sample) {
        let step = match row.activity {
            Activity::Walk => None,
            Activity::Point(_) => Some(0),
            Activity::Sweep { step, .. } => Some(step),
        };
        let stop = (row.run, step);
        let same = self.last == Some(stop) && step.is_some();
        self.last = Some(stop);
        if row.delivered() {
            let seconds = self.begin.map_or(0.0, |begin| row.at.since(begin));
            if !(self.stood && same && may_be_outage(self.run, seconds)) {
                self.counted += self.run;
            }
            (self.run, self.begin) = (0, None);
            return;
        }
        self.stood = same && (self.run == 0 || self.stood);
        self.begin.get_or_insert(row.at);
        self.run += 1;
    }

    fn count(&self) -> usize {
        self.counted + self.run
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::exchange::Heard;
    use crate::survey::sample::BootName;
    use crate::units::UtcMs;

    /// Ten pings a second, all heard at one level but those that `lost` says.
    fn rows(activity: Activity, dbm: f32, lost: impl Fn(u32) -> bool) -> Samples {
        let row = |index: u32| Sample {
            utc: UtcMs(0),
            at: Elapsed(u64::from(index) * 100_000),
            boot: 0,
            run: 1,
            n: u64::from(index),
            echo: (!lost(index)).then_some(Heard {
                here: Some(dbm),
                ..Heard::default()
            }),
            channel: None,
            place: None,
            activity,
            excluded: None,
        };
        Samples {
            rows: (0..400).map(row).collect(),
            boots: vec![BootName {
                board: "yew".into(),
                boot: 1,
            }],
            ..Samples::default()
        }
    }

    #[test]
    fn strong_readings_are_no_limit() {
        let found = |samples: &Samples| half_level(samples, "yew", Side::Here, None);
        let scattered = |index: u32| index.is_multiple_of(9);
        assert_eq!(found(&rows(Activity::Walk, -61.0, scattered)), highest_half_dbm());
        assert_eq!(found(&rows(Activity::Walk, -90.0, scattered)), -90.0);
        assert_eq!(found(&rows(Activity::Walk, -61.0, |_| false)), FALLBACK_DBM);
    }

    #[test]
    fn a_long_silence_where_one_stands_is_no_weakness() {
        let silence = |index: u32| (100..220).contains(&index);
        let stood = rows(Activity::Point(0), -75.0, silence);
        assert_eq!(stand_in(&stood, "yew", Side::Here), None);
        assert_eq!(half_level(&stood, "yew", Side::Here, None), FALLBACK_DBM);
        // A walker may have been behind a wall; and what has no end was not seen through.
        let walked = rows(Activity::Walk, -75.0, silence);
        assert_eq!(half_level(&walked, "yew", Side::Here, None), highest_half_dbm());
        assert!(
            stand_in(
                &rows(Activity::Point(0), -75.0, |index| index >= 280),
                "yew",
                Side::Here
            )
            .is_some()
        );
        assert_eq!(half_level(&walked, "yew", Side::Here, Some(-97.0)), -97.0);
    }
}
