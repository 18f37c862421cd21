//! The level a place needs, as a survey's own fading, losses and receiver tell it: a spread of levels, not one.
//!
//! The plain threshold takes fading for Gaussian in decibels, the share lost at any level for known and the half-delivery
//! level for good to 1 dB. The real lower tail is a Rician one and far longer: at 3 % lost to interference a goal of 95 % asks
//! for the 2 % quantile, where a Rayleigh fade lies some 4 dB below what its own standard deviation would say. In 100 made
//! orchards the plain level was 2 dB too low on average and off by 2 to 3.5 dB besides, which made every middling chance too
//! high; this one is right on average and says how far it may be off.

use super::record::Record;
use super::site::Site;
use super::summary::{FADING, few_lost};
use crate::stats::cells::{SCurve, fade_masses, fades};
use crate::stats::special::beta_quantile;

/// Levels a need is told by, each as likely as another.
pub const RUNGS: usize = 15;
/// Independent fades from which a record tells the fading.
const FADES_ENOUGH: f64 = 15.0;
/// Variance in dB² of a reading: whole decibels (1/12) and a meter's own noise of 0.8 dB (common practice).
const READING: f64 = 1.0 / 12.0 + 0.64;
/// Standard deviation of K in dB as the readings' spread tells it, and where nothing told it: measured in 100 made orchards.
const K_DOUBT: (f64, f64) = (2.0, 4.0);
/// K in dB tried against the readings' spread: first, step, how many.
const K_RANGE: (f64, f64, usize) = (-15.0, 1.0, 31);
/// Fading alone loses less than this where a record is strong enough to show what is lost at any level.
const FADED: f64 = 0.005;
/// A record so many dB above half delivery is strong enough whatever the fading.
const STRONG_ENOUGH: f64 = 30.0;
/// How losses at any level bunch: so many count as one (a usual design effect of bursts under a second; common practice).
const BUNCH: f64 = 4.0;
/// Losses and deliveries believed in before any: a share of 2 %, hardly known.
const BEFORE: (f64, f64) = (0.7, 34.0);
/// Share of the records' weight that counts towards the half-delivery level: neighbours share their fate.
const TRUST: f64 = 0.3;
/// The least doubt about a half-delivery level that was learned, dB.
const LEARNED_DOUBT: f64 = 0.3;
/// Half-delivery levels weighed on either side of a guess, dB, and their step.
const GUESSES: (f64, f64) = (12.0, 0.5);
/// Quantiles that stand for a normal spread by three equal thirds.
const THIRDS: [f64; 3] = [-1.2247, 0.0, 1.2247];
/// Quantiles that stand for the share lost at any level.
const SHARES: usize = 7;

/// How well a receiver is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensitivity {
    /// The level of 50 % delivery, dBm: learned, or the best guess.
    pub half_level: f64,
    /// Standard deviation of that, dB.
    pub half_level_sd: f64,
    /// A level it surely does not stand above, dBm: what is so far above it that fading takes nothing counts as strong.
    pub cautious: f64,
    /// Logistic scale of delivery against level, dB, above zero.
    pub scale: f64,
    /// Whether it was learned; a guess is held against the records first.
    pub learned: bool,
    /// The share that is surely lost at any level, as whoever has looked at more than strong records knows it, 0 to 1; 0 where
    /// nobody does.
    pub least_lost: f64,
}

/// The local mean level (mean in dB over fading, no margin) that a share of deliveries needs, dBm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Need {
    /// The share it is for.
    pub(super) share: f64,
    /// Quantiles in ascending order, each as likely; infinite where no level is enough.
    pub(super) rungs: [f64; RUNGS],
    /// The share lost at any level, its median.
    pub(super) background: f64,
    /// Whether the half-delivery level was learned, not taken.
    pub(super) learned: bool,
}

impl Need {
    /// Works it out for a `share` of deliveries between 0 and 1 from what `records` show; `levels` is what each and its
    /// surroundings together say of its level.
    ///
    /// Three things are unknown and spread: K (from the readings' spread within a cell, Rician fading after Rice 1945), the
    /// share lost at any level (a Beta posterior of strong records' losses beyond what fading takes), and the half-delivery
    /// level (learned, or a guess weighed by what arrived and what was lost). `None` for a share or a receiver that is none.
    pub(super) fn of(share: f64, records: &[Record], levels: &[Site], receiver: &Sensitivity) -> Option<Self> {
        let sound = share > 0.0 && share < 1.0 && receiver.half_level_sd >= 0.0 && receiver.cautious.is_finite();
        let curve = SCurve::new(receiver.half_level, receiver.scale).filter(|_| sound)?;
        let (k, k_sd) = fading(records);
        let middle = Delivery::new(k, curve.s_db());
        let lead = middle.needs(1.0 - FADED).unwrap_or(STRONG_ENOUGH).min(STRONG_ENOUGH);
        let (lost, through) = background(records, receiver.cautious, lead, &middle);
        let half_levels = if receiver.learned {
            let sd = receiver.half_level_sd.hypot(LEARNED_DOUBT);
            THIRDS.map(|z| (receiver.half_level + sd * z, 1.0)).to_vec()
        } else {
            weighed(records, levels, receiver, lost / (lost + through), &middle)
        };
        // Few records are strong enough to tell; a walk fitted as a whole may know that more is lost than they show.
        let least = receiver.least_lost.clamp(0.0, 1.0 - 1e-9);
        let mut levels: Vec<(f64, f64)> = Vec::new();
        for k in THIRDS.map(|z| k + k_sd * z) {
            let delivery = Delivery::new(k, curve.s_db());
            for index in 0..SHARES {
                let quantile = (index as f64 + 0.5) / SHARES as f64;
                let f = beta_quantile(lost, through, quantile)?.x.max(least);
                let offset = delivery.needs(share / (1.0 - f)).unwrap_or(f64::INFINITY);
                levels.extend(half_levels.iter().map(|(half, weight)| (half + offset, *weight)));
            }
        }
        Some(Self {
            share,
            rungs: rungs(levels),
            background: beta_quantile(lost, through, 0.5)?.x.max(least),
            learned: receiver.learned,
        })
    }
}

/// Equally likely quantiles of weighed levels.
fn rungs(mut levels: Vec<(f64, f64)>) -> [f64; RUNGS] {
    levels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = levels.iter().map(|(_, weight)| weight).sum();
    let mut told = [f64::INFINITY; RUNGS];
    let (mut sum, mut at) = (0.0, 0);
    for (level, weight) in levels {
        sum += weight;
        while at < RUNGS && sum >= total * (at as f64 + 0.5) / RUNGS as f64 {
            told[at] = level;
            at += 1;
        }
    }
    told
}

/// K in dB and its standard deviation, from the spread of readings within records of few losses.
fn fading(records: &[Record]) -> (f64, f64) {
    let (mut squares, mut freedom) = (0.0, 0.0);
    for record in records.iter().filter(|record| few_lost(record)) {
        if record.weight * f64::from(record.sent) >= FADES_ENOUGH {
            let more = f64::from(record.received - 1);
            squares += record.variance * more;
            freedom += more;
        }
    }
    let (variance, doubt) = if freedom > 0.0 {
        (squares / freedom, K_DOUBT.0)
    } else {
        (FADING * FADING, K_DOUBT.1)
    };
    (k_of_spread((variance - READING).max(0.1).sqrt()), doubt)
}

/// The K in dB whose fades spread by so many dB; the ends of the range for a spread beyond it.
fn k_of_spread(sd: f64) -> f64 {
    let (first, step, count) = K_RANGE;
    let spread = |index: usize| Delivery::fades(first + step * index as f64).2;
    // The spread falls as K grows.
    let mut before = spread(0);
    if sd >= before {
        return first;
    }
    for index in 1..count {
        let now = spread(index);
        if sd >= now {
            return first + step * (index as f64 - (sd - now) / (before - now));
        }
        before = now;
    }
    first + step * (count - 1) as f64
}

/// The Beta posterior of the share lost at any level: losses and deliveries, bunches counted once.
fn background(records: &[Record], half_level: f64, lead: f64, delivery: &Delivery) -> (f64, f64) {
    let (mut lost, mut sent, mut faded) = (0.0, 0.0, 0.0);
    for record in records {
        let Some(level) = record.level.filter(|level| *level >= half_level + lead) else {
            continue;
        };
        lost += f64::from(record.lost());
        sent += f64::from(record.sent);
        faded += f64::from(record.sent) * (1.0 - delivery.at(level - half_level));
    }
    (
        BEFORE.0 + (lost - faded).max(0.0) / BUNCH,
        BEFORE.1 + (sent - lost) / BUNCH,
    )
}

/// Five half-delivery levels with their weights, from a guess and what arrived and was lost around it.
///
/// Told so, a receiver that was not learned does nearly as well as one known exactly: of chances said 45 in 100, 65 came true against
/// 62, Brier 0.065 against 0.062 (48 made worlds with buildings and woods); by the levels delivered alone 85 did, Brier 0.086.
/// Levels are those of site and surroundings: the mean of what was delivered is too high where much was lost.
fn weighed(
    records: &[Record],
    levels: &[Site],
    receiver: &Sensitivity,
    background: f64,
    delivery: &Delivery,
) -> Vec<(f64, f64)> {
    const QUANTILES: [(f64, f64); 5] = [(0.05, 0.1), (0.275, 0.2), (0.5, 0.4), (0.725, 0.2), (0.95, 0.1)];
    let steps = (2.0 * GUESSES.0 / GUESSES.1) as usize;
    let tried: Vec<(f64, f64)> = (0..=steps)
        .map(|step| {
            let half = receiver.half_level - GUESSES.0 + GUESSES.1 * step as f64;
            let z = (half - receiver.half_level) / receiver.half_level_sd.max(LEARNED_DOUBT);
            let told: f64 = records
                .iter()
                .zip(levels)
                .map(|(record, site)| {
                    let sd = site.variance.sqrt();
                    let through = THIRDS.map(|z| delivery.at(site.level + sd * z - half));
                    let p = ((1.0 - background) * through.iter().sum::<f64>() / 3.0).clamp(1e-9, 1.0 - 1e-9);
                    record.lost_weight() * (-p).ln_1p() + record.received_weight() * p.ln()
                })
                .sum();
            (half, -0.5 * z * z + TRUST * told)
        })
        .collect();
    let top = tried.iter().map(|one| one.1).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = tried.iter().map(|one| (one.1 - top).exp()).sum();
    QUANTILES
        .iter()
        .map(|(quantile, weight)| {
            let (mut sum, mut level) = (0.0, receiver.half_level);
            for (half, log) in &tried {
                let mass = (log - top).exp() / total;
                if sum + mass >= *quantile {
                    // A mass is spread evenly over its step.
                    level = half + GUESSES.1 * ((quantile - sum) / mass - 0.5);
                    break;
                }
                sum += mass;
            }
            (level, *weight)
        })
        .collect()
}

/// Delivery over Rician fading against the local mean level in dB above half delivery.
struct Delivery {
    shares: Vec<f64>,
}

impl Delivery {
    /// Levels tabulated: first, step, how many.
    const TABLE: (f64, f64, usize) = (-30.0, 0.25, 401);

    fn new(k_db: f64, scale: f64) -> Self {
        let (masses, mean, _) = Self::fades(k_db);
        let steady = SCurve::new(0.0, scale);
        let (first, step, count) = Self::TABLE;
        let shares = (0..count)
            .map(|index| {
                let level = first + step * index as f64 - mean;
                let over = masses.iter().enumerate().map(|(i, mass)| {
                    let fade = fades::FADE_MIN_DB + fades::LEVEL_STEP_DB * i as f64;
                    mass * steady.map_or(0.0, |curve| curve.delivery(level + fade))
                });
                over.sum()
            })
            .collect();
        Self { shares }
    }

    /// Masses of the fades, their mean in dB, and their standard deviation in dB.
    fn fades(k_db: f64) -> (Vec<f64>, f64, f64) {
        let masses = fade_masses(k_db, 0.0);
        let fade = |i: usize| fades::FADE_MIN_DB + fades::LEVEL_STEP_DB * i as f64;
        let mean: f64 = masses.iter().enumerate().map(|(i, mass)| mass * fade(i)).sum();
        let square: f64 = masses
            .iter()
            .enumerate()
            .map(|(i, mass)| mass * (fade(i) - mean).powi(2))
            .sum();
        (masses, mean, square.sqrt())
    }

    /// The share delivered at so many dB above half delivery.
    fn at(&self, level: f64) -> f64 {
        let (first, step, count) = Self::TABLE;
        let place = ((level - first) / step).clamp(0.0, (count - 1) as f64);
        let below = (place.floor() as usize).min(count - 2);
        let part = place - below as f64;
        (1.0 - part) * self.shares[below] + part * self.shares[below + 1]
    }

    /// The dB above half delivery that a share needs; `None` where no level of the table gives it.
    fn needs(&self, share: f64) -> Option<f64> {
        let (first, step, _) = Self::TABLE;
        let above = self.shares.partition_point(|delivered| *delivered < share);
        let (high, low) = (*self.shares.get(above)?, *self.shares.get(above.checked_sub(1)?)?);
        Some(first + step * (above as f64 - (high - share) / (high - low)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(level: f64, sent: u32, received: u32, variance: f64) -> Record {
        Record {
            x: 0.0,
            y: 0.0,
            facing: 0.0,
            unknown: 0.0,
            sent,
            received,
            level: Some(level),
            variance,
            weight: 1.0,
        }
    }

    fn told(share: f64, records: &[Record], receiver: &Sensitivity) -> Option<Need> {
        let sites: Vec<Site> = records
            .iter()
            .map(|record| Site {
                level: record.level.unwrap(),
                variance: 1.0,
            })
            .collect();
        Need::of(share, records, &sites, receiver)
    }

    const RECEIVER: Sensitivity = Sensitivity {
        half_level: -92.0,
        half_level_sd: 0.2,
        cautious: -92.0,
        scale: 1.0,
        learned: true,
        least_lost: 0.0,
    };

    #[test]
    fn rayleigh_fades_need_their_own_tail() {
        // Power below x of its mean has probability 1 - exp(-x): for a sharp receiver 95 % needs a mean power 12.90 dB above
        // half delivery, and the mean in dB lies 2.5068 dB below that of power.
        let delivery = Delivery::new(-20.0, 0.05);
        let exact = -10.0 * (-(0.95_f64.ln())).log10() - 2.5068;
        assert!((delivery.needs(0.95).unwrap() - exact).abs() < 0.1, "{exact}");
        assert!((delivery.at(exact) - 0.95).abs() < 2e-3);
        assert_eq!(delivery.needs(1.0), None);
        assert_eq!(delivery.needs(1.2), None);
    }

    #[test]
    fn the_spread_of_readings_tells_k() {
        for k in [-5.0, 2.0, 8.0] {
            let sd = Delivery::fades(k).2;
            assert!((k_of_spread(sd) - k).abs() < 0.05, "{k}");
        }
        assert_eq!((k_of_spread(9.0), k_of_spread(0.1)), (-15.0, 15.0));
    }

    #[test]
    fn more_lost_at_any_level_needs_more_until_none_is_enough() {
        let quiet: Vec<Record> = (0..40).map(|_| record(-60.0, 50, 50, 12.0)).collect();
        let busy: Vec<Record> = (0..40).map(|_| record(-60.0, 50, 48, 12.0)).collect();
        let broken: Vec<Record> = (0..40).map(|_| record(-60.0, 50, 44, 12.0)).collect();
        let of = |records: &[Record]| told(0.95, records, &RECEIVER).unwrap();
        let (quiet, busy, broken) = (of(&quiet), of(&busy), of(&broken));
        assert!(quiet.rungs.iter().all(|level| level.is_finite()));
        assert!(busy.rungs[RUNGS / 2] > quiet.rungs[RUNGS / 2] + 1.0);
        assert!(broken.rungs.iter().filter(|level| level.is_finite()).count() < RUNGS / 3);
        assert!(quiet.rungs.windows(2).all(|pair| pair[0] <= pair[1]));
        assert!((busy.background - 0.04).abs() < 0.005, "{}", busy.background);
    }

    #[test]
    fn what_the_walk_surely_lost_at_any_level_is_no_less_at_a_place() {
        // A few strong records: what they lost says little by itself.
        let few: Vec<Record> = (0..3).map(|_| record(-60.0, 20, 19, 12.0)).collect();
        let open = told(0.95, &few, &RECEIVER).unwrap();
        assert!(open.rungs[0].is_finite());
        let receiver = Sensitivity {
            least_lost: 0.06,
            ..RECEIVER
        };
        let sure = told(0.95, &few, &receiver).unwrap();
        assert!(sure.rungs.iter().all(|level| level.is_infinite()), "{sure:?}");
        assert!(sure.background >= 0.06);
        // A goal that such a loss leaves room for still has its level.
        assert!(told(0.9, &few, &receiver).unwrap().rungs[0].is_finite());
    }

    #[test]
    fn a_guess_gives_way_to_what_was_lost() {
        let guess = Sensitivity {
            half_level: -95.0,
            half_level_sd: 3.0,
            learned: false,
            ..RECEIVER
        };
        let mut records: Vec<Record> = (0..40).map(|_| record(-60.0, 50, 50, 12.0)).collect();
        let open = told(0.95, &records, &guess).unwrap();
        // Half of all lost at -88 dBm: half delivery lies there, not at -95.
        records.extend((0..20).map(|_| record(-88.0, 50, 25, 8.0)));
        let shown = told(0.95, &records, &guess).unwrap();
        let spread = |need: &Need| need.rungs[RUNGS - 2] - need.rungs[1];
        assert!(shown.rungs[RUNGS / 2] > open.rungs[RUNGS / 2] + 3.0);
        assert!(spread(&shown) < spread(&open));
    }

    #[test]
    fn senseless_receivers_have_no_need() {
        assert_eq!(told(1.0, &[], &RECEIVER), None);
        assert_eq!(told(0.9, &[], &Sensitivity { scale: 0.0, ..RECEIVER }), None);
        assert_eq!(
            told(
                0.9,
                &[],
                &Sensitivity {
                    half_level: f64::NAN,
                    ..RECEIVER
                }
            ),
            None
        );
        assert!(told(0.9, &[], &RECEIVER).is_some());
    }
}
