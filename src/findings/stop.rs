//! What a stop says about level and margin, and why its messages were lost.

use super::movement::path;
use super::side::Side;
use super::silences::Silences;
use super::usual_board::{highest_half_dbm, stand_in};
use crate::stats::burst::{BurstMemory, INTERVAL_PRIOR, Outcomes};
use crate::stats::cells::{Heard, SCurve};
use crate::stats::independence::independent_fades;
use crate::stats::level::{Level, LevelModel, MeanPower};
use crate::stats::losses::{Basis, Explained, LossReasons, Stretch, explain};
use crate::stats::margin::{Margin, margin};
use crate::stats::proportions::Interval;
use crate::stats::walk::scurve::MeasuredSCurve;
use crate::survey::sample::{Excluded, Sample, Samples};

/// The confidence of every interval here.
pub const CONFIDENCE: f64 = 0.95;
/// The share lost at any level taken where no walk tells: the fit's own prior (logit -4).
pub const USUAL_INTERFERENCE: f64 = 0.018;
/// Stands for the need of a board that lost hardly anything, dBm: below all that is heard.
const FAR_BELOW_DBM: f64 = -120.0;
/// Fading taken where the readings tell none, K in dB: usual outdoors (common practice).
pub const USUAL_K_DB: f64 = 4.0;
/// The way through fading that a surveyor at a point is asked for, metres: some sixty independent fades at 2.4 GHz, and
/// still one place.
pub const ASKED_PATH_M: f64 = 5.0;
/// Moving is asked for where it leaves less than this share of a level's width, and takes off so many dB of it.
const WORTH_MOVING: (f64, f64) = (0.7, 3.0);

/// What one board needs, ready to weigh stops with.
#[derive(Clone, Debug)]
pub struct Gauge {
    /// Where its levels were read.
    pub side: Side,
    /// Its need, where it is known.
    pub need: Option<MeasuredSCurve>,
    model: LevelModel,
    struck_at_most: Option<f64>,
    silences: Silences,
}

/// What a stop says.
#[derive(Clone, Debug, Default)]
pub struct StopFigures {
    /// The local mean power, with losses counted.
    pub level: Option<Level>,
    /// How far that stands above what the board needs for 90 %; `None` where the need is not known.
    pub margin: Option<Margin>,
    /// Why messages were lost.
    pub losses: Option<LossReasons>,
    /// Metres moved during the stop, as the receiver's speed tells; `None` without one.
    pub path_m: Option<f64>,
    /// What would make the level much surer than it is; `None` where it is sure enough, or nothing simple would.
    pub surer: Option<Surer>,
}

/// What would make the level of a stop much surer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Surer {
    /// Moving on slowly through [`ASKED_PATH_M`]: the messages so far saw few fades.
    Move {
        /// How wide the level's interval is, dB.
        width_db: f64,
        /// How wide the same messages would leave it had they been taken along that way, dB.
        moved_width_db: f64,
    },
    /// The same, but no receiver tells the speed: moving cannot be seen, so standing is taken.
    SpeedUnknown,
}

impl Gauge {
    /// A gauge for a board.
    ///
    /// Where its need is not known and it lost messages, [`stand_in`] stands for it: enough to weigh losses as "weak", not
    /// enough to print a margin. Where it lost hardly any, losses say nothing of the level.
    pub fn new(
        samples: &Samples,
        board: &str,
        side: Side,
        need: Option<MeasuredSCurve>,
        interference: Option<f64>,
    ) -> Option<Self> {
        let curve = match need {
            Some(need) => need.curve,
            None => SCurve::new(stand_in(samples, board, side).unwrap_or(FAR_BELOW_DBM), 1.0)?,
        };
        let interference = interference.unwrap_or(USUAL_INTERFERENCE);
        Some(Self {
            side,
            need,
            model: LevelModel::new(curve, interference.clamp(1e-4, 0.95)),
            struck_at_most: None,
            silences: Silences::of(samples, board, side, need.map(|need| need.curve.m_dbm())),
        })
    }

    /// The same, knowing what share is lost at any level at most, as a walk tells.
    pub fn struck_at_most(self, share: Option<f64>) -> Self {
        Self {
            struck_at_most: share,
            ..self
        }
    }

    /// The tables, for comparisons that weigh cells themselves.
    pub fn model(&self) -> &LevelModel {
        &self.model
    }

    /// The local mean level of rows that count, wherever they stand among others, silences of the station left out; `path_m`:
    /// metres moved between them.
    pub fn level(&self, rows: &[&Sample], path_m: Option<f64>, confidence: f64) -> Option<Level> {
        let heard: Vec<Heard> = rows
            .iter()
            .filter(|row| !self.silences.took(row))
            .map(|row| self.side.heard(row))
            .collect();
        self.model.estimate(&heard, Some(path_m.unwrap_or(0.0)), confidence)
    }

    /// Weighs a stop. `rows` are all rows of it; those that do not count are passed over, and the unread counted.
    pub fn weigh(&self, samples: &Samples, rows: &[Sample], memory: &BurstMemory) -> StopFigures {
        let counted: Vec<&Sample> = rows.iter().filter(|row| row.counts()).collect();
        // What a silent station took says nothing of the level.
        let heard: Vec<Heard> = counted
            .iter()
            .filter(|row| !self.silences.took(row))
            .map(|row| self.side.heard(row))
            .collect();
        let path_m = path(samples, &counted);
        let level = self.model.estimate(&heard, Some(path_m.unwrap_or(0.0)), CONFIDENCE);
        let margin = match (&level, self.need) {
            (Some(level), Some(need)) => margin(level, need.curve, need.level90_sd_db()),
            _ => None,
        };
        let surer = level.as_ref().and_then(|level| self.surer(level, &heard, path_m));
        let unread = rows.iter().filter(|row| row.excluded == Some(Excluded::Unread)).count() as u64;
        let outcomes: Outcomes = counted.iter().map(|row| row.delivered()).collect();
        let explained = level.as_ref().and_then(|level| self.explained(level));
        let stretch = Stretch {
            exchanges: outcomes.exchanges(),
            lost: outcomes.lost(),
            lost_in_silence: (counted.len() - heard.len()) as u64,
            silence_lasted: self.silences.lasted(counted.iter().copied()),
            unread,
            inflation: memory.with(&outcomes).inflation(INTERVAL_PRIOR),
            explained,
            struck_at_most: self.struck_at_most,
            directions: self.silences.directions(counted.iter().copied()),
        };
        StopFigures {
            losses: explain(&stretch, CONFIDENCE),
            level,
            margin,
            path_m,
            surer,
        }
    }

    /// Whether moving would make a level much surer: what the same readings would say had they been taken along the way
    /// that is asked for.
    fn surer(&self, level: &Level, heard: &[Heard], path_m: Option<f64>) -> Option<Surer> {
        let width_db = width(level)?;
        let path = path_m.unwrap_or(0.0);
        if path >= ASKED_PATH_M || independent_fades(heard, None) < 1.5 * level.effective {
            return None;
        }
        let moved_width_db = width(&self.model.estimate(heard, Some(ASKED_PATH_M), CONFIDENCE)?)?;
        let (share, db) = WORTH_MOVING;
        if moved_width_db > share * width_db || moved_width_db > width_db - db {
            return None;
        }
        Some(match path_m {
            Some(_) => Surer::Move {
                width_db,
                moved_width_db,
            },
            None => Surer::SpeedUnknown,
        })
    }

    /// The delivery that a level explains, at its median and its limits; of a level open on one side, at its limit. Where the
    /// board's need is not known, what a board would deliver that needs as much as any of this kind.
    fn explained(&self, level: &Level) -> Option<Explained> {
        let k_db = level.k_db.unwrap_or(USUAL_K_DB);
        let (by, shift_db) = if self.need.is_some() {
            (Basis::Need, 0.0)
        } else {
            let half_dbm = highest_half_dbm();
            (Basis::AnyBoard { half_dbm }, self.model.curve().m_dbm() - half_dbm)
        };
        let at = |dbm: f64| self.model.delivery_at(dbm + shift_db, k_db);
        let (rate, low, high) = match level.mean_power {
            MeanPower::Between { median_dbm, interval } => (at(median_dbm)?, at(interval.low)?, at(interval.high)?),
            MeanPower::AtMost { high_dbm } => {
                let high = at(high_dbm)?;
                (high, 0.0, high)
            }
            MeanPower::AtLeast { low_dbm } => {
                let low = at(low_dbm)?;
                (low, low, 1.0)
            }
            MeanPower::Open => return None,
        };
        Some(Explained {
            rate,
            interval: Interval { low, high },
            by,
        })
    }
}

/// How wide a level's interval is, dB; `None` of a level open on one side.
fn width(level: &Level) -> Option<f64> {
    match level.mean_power {
        MeanPower::Between { interval, .. } => Some(interval.width()),
        MeanPower::AtMost { .. } | MeanPower::AtLeast { .. } | MeanPower::Open => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::losses::{Reason, Unclear};
    use crate::survey::exchange;
    use crate::survey::sample::{Activity, BootName};
    use crate::units::{Elapsed, UtcMs};

    /// A stop of `count` pings at one level; `fate` says of each whether it is answered and whether the station heard it.
    fn stop(count: u32, dbm: f32, fate: impl Fn(u32) -> (bool, bool)) -> Samples {
        let mut heard = 0;
        let row = |index: u32| {
            let (answered, reached) = fate(index);
            heard += u64::from(reached);
            Sample {
                utc: UtcMs(0),
                at: Elapsed(u64::from(index) * 100_000),
                boot: 0,
                run: 1,
                n: u64::from(index),
                echo: answered.then_some(exchange::Heard {
                    here: Some(dbm + (index % 5) as f32 - 2.0),
                    heard: Some(heard),
                    ..exchange::Heard::default()
                }),
                channel: None,
                place: None,
                activity: Activity::Point(0),
                excluded: None,
            }
        };
        Samples {
            rows: (0..count).map(row).collect(),
            boots: vec![BootName {
                board: "yew".into(),
                boot: 1,
            }],
            points: vec!["P1".into()],
            ..Samples::default()
        }
    }

    /// Why a board whose need nobody knows lost messages there.
    fn reasons(samples: &Samples) -> Vec<Reason> {
        let gauge = Gauge::new(samples, "yew", Side::Here, None, None).unwrap();
        let figures = gauge.weigh(samples, &samples.rows, &BurstMemory::default());
        figures.losses.unwrap().reasons
    }

    const SILENT: Reason = Reason::StationSilent {
        lost: 120,
        of: 400,
        lasted: true,
    };

    #[test]
    fn a_short_silence_may_have_been_a_burst() {
        let found = reasons(&stop(400, -60.0, |index| {
            let answered = !(150..190).contains(&index);
            (answered, answered)
        }));
        let short = Reason::StationSilent {
            lost: 40,
            of: 400,
            lasted: false,
        };
        assert_eq!(found, [short]);
    }

    #[test]
    fn a_station_silent_at_a_point_is_told_where_no_need_is_known() {
        let silent = |index: u32| (150..270).contains(&index);
        for dbm in [-60.0, -75.0] {
            let found = reasons(&stop(400, dbm, |index| (!silent(index), !silent(index))));
            assert_eq!(found, [SILENT], "{dbm} dBm");
        }
        // Others lost here and there, at a level strong for any board, do not hide it.
        let found = reasons(&stop(400, -60.0, |index| {
            (!silent(index) && index % 20 != 7, !silent(index))
        }));
        assert!(found[0] == SILENT, "{found:?}");
    }

    #[test]
    fn a_level_that_is_enough_for_any_board_tells_interference_before_the_need_is_known() {
        let every_eleventh = |index: u32| index % 11 != 3;
        // Every other one on its way out, and every other on its way back.
        let reached = |index: u32| index % 22 != 3;
        let strong = |dbm| reasons(&stop(600, dbm, |index| (every_eleventh(index), reached(index))));
        assert!(
            matches!(
                strong(-61.0)[..],
                [Reason::Interference {
                    lost: 55.0,
                    of: 600,
                    strong: true,
                    explained: Explained {
                        by: Basis::AnyBoard { .. },
                        ..
                    },
                    ..
                }]
            ),
            "{:?}",
            strong(-61.0)
        );
        assert_eq!(
            strong(-88.0),
            [Reason::NotKnown {
                lost: 55,
                of: 600,
                why: Unclear::NeedUnknown
            }]
        );
        let few = reasons(&stop(600, -61.0, |index| (index % 250 != 3, index % 250 != 3)));
        assert!(
            matches!(few[..], [Reason::NotKnown { lost: 3, of: 600, .. }]),
            "{few:?}"
        );
    }

    #[test]
    fn one_way_leaves_no_loss_without_a_reason() {
        let found = reasons(&stop(400, -88.0, |index| (index % 13 > 2, true)));
        assert!(matches!(found[..], [Reason::OneWay { .. }]), "{found:?}");
    }
}
