//! One board's exchanges gathered by distance: for the scatter of levels, and for delivery in rings about the station.

use std::collections::BTreeMap;

use super::side::Side;
use crate::stats::burst::{BurstMemory, Outcomes, delivery};
use crate::stats::proportions::{Interval, wilson};
use crate::survey::sample::Samples;

/// Steps of the scatter in a decade of distance.
const SCATTER_STEPS: f64 = 110.0;
/// Rings in a decade of distance.
const RINGS: f64 = 14.0;
/// A ring with fewer exchanges is not drawn.
const RING_LEAST: u64 = 10;

/// What one board showed by distance.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ByDistance {
    /// Levels: distance in metres, dBm, how many exchanges fell there.
    pub levels: Vec<(f64, f64, u64)>,
    /// Rings, outward.
    pub rings: Vec<Ring>,
    /// Nearest and farthest exchange, metres.
    pub span: Option<(f64, f64)>,
    /// Exchanges with a distance.
    pub exchanges: u64,
    /// Of them lost.
    pub lost: u64,
}

/// A ring about the station.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ring {
    /// Its inner edge, metres.
    pub from_m: f64,
    /// Its outer edge, metres.
    pub to_m: f64,
    /// Mean distance of its exchanges, metres.
    pub mean_m: f64,
    /// Exchanges.
    pub sent: u64,
    /// Of them delivered.
    pub delivered: u64,
    /// Mean of the dBm figures read; `None` where none was.
    pub mean_dbm: Option<f64>,
    /// The 95 % interval of the delivery rate, bursts of losses allowed for as the survey shows them in one ring at a time.
    pub interval: Interval,
    /// Wilson's plain 95 % interval, exchanges taken as independent.
    pub plain: Interval,
}

/// Gathers a board's exchanges that count, sweeps left out (there the board was held otherwise).
pub fn by_distance(samples: &Samples, board: &str, side: Side) -> ByDistance {
    #[derive(Default)]
    struct Sum {
        sent: u64,
        delivered: u64,
        metres: f64,
        dbm: f64,
        read: u64,
    }
    let mut scatter: BTreeMap<(i32, i32), u64> = BTreeMap::new();
    let mut rings: BTreeMap<i32, Sum> = BTreeMap::new();
    let mut found = ByDistance::default();
    let (mut memory, mut stretch, mut stretch_of) = (BurstMemory::default(), Outcomes::default(), None);
    let own: Vec<bool> = samples.boots.iter().map(|boot| boot.board == board).collect();
    for row in &samples.rows {
        let usable = row.counts() && row.activity.word() != "sweep";
        let distance = row.distance().map(|distance| distance.0);
        let distance = distance.filter(|metres| usable && *metres >= 0.5);
        // Bursts belong to the air and the station, so all boards tell of them; what changes from ring to ring is no burst.
        let now = distance.map(|distance| (row.boot, (distance.log10() * RINGS).floor() as i32));
        if now != stretch_of {
            memory.add(&std::mem::take(&mut stretch));
            stretch_of = now;
        }
        let Some(distance) = distance else { continue };
        stretch.push(row.delivered());
        if !own[row.boot as usize] {
            continue;
        }
        found.exchanges += 1;
        found.lost += u64::from(!row.delivered());
        let span = found.span.get_or_insert((distance, distance));
        *span = (span.0.min(distance), span.1.max(distance));
        let decade = distance.log10();
        let level = side.level(row).map(f64::from);
        let ring = rings.entry((decade * RINGS).floor() as i32).or_default();
        ring.sent += 1;
        ring.delivered += u64::from(row.delivered());
        ring.metres += distance;
        if let Some(dbm) = level {
            ring.dbm += dbm;
            ring.read += 1;
            *scatter
                .entry(((decade * SCATTER_STEPS).round() as i32, dbm.round() as i32))
                .or_default() += 1;
        }
    }
    memory.add(&stretch);
    found.levels = scatter
        .into_iter()
        .map(|((decade, dbm), count)| (10_f64.powf(f64::from(decade) / SCATTER_STEPS), f64::from(dbm), count))
        .collect();
    found.rings = rings
        .into_iter()
        .filter(|(_, ring)| ring.sent >= RING_LEAST)
        .filter_map(|(index, ring)| {
            Some(Ring {
                from_m: 10_f64.powf(f64::from(index) / RINGS),
                to_m: 10_f64.powf(f64::from(index + 1) / RINGS),
                mean_m: ring.metres / ring.sent as f64,
                sent: ring.sent,
                delivered: ring.delivered,
                mean_dbm: (ring.read > 0).then(|| ring.dbm / ring.read as f64),
                interval: delivery(ring.delivered, ring.sent, &memory, 0.95)?.interval,
                plain: wilson(ring.delivered, ring.sent, 0.95)?,
            })
        })
        .collect();
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::Position;
    use crate::survey::exchange::Heard;
    use crate::survey::fixes::Facts;
    use crate::survey::sample::{Activity, BootName, Place, Sample};
    use crate::units::{Degrees, Elapsed, Metres, UtcMs};

    #[test]
    fn bars_allow_for_bursts_and_are_never_narrower_than_plain_ones() {
        let mut samples = Samples::default();
        samples.boots.push(BootName {
            board: "hazel".into(),
            boot: 1,
        });
        samples.facts.push(Facts::default());
        for n in 0..200_u64 {
            // Losses ten in a row, twice.
            let delivered = n % 100 >= 10;
            samples.rows.push(Sample {
                utc: UtcMs(0),
                at: Elapsed(n * 100_000),
                boot: 0,
                run: 1,
                n,
                echo: delivered.then(Heard::default),
                channel: None,
                place: Some(Place {
                    position: Position::new(Degrees(52.0), Degrees(-3.0)).unwrap(),
                    distance: Some(Metres(50.0)),
                    bearing: None,
                    facts: 0,
                }),
                activity: Activity::Walk,
                excluded: None,
            });
        }
        let found = by_distance(&samples, "hazel", Side::There);
        assert_eq!(found.rings.len(), 1);
        let ring = found.rings[0];
        assert_eq!((ring.sent, ring.delivered), (200, 180));
        let width = |interval: Interval| interval.high - interval.low;
        assert!(width(ring.interval) > 1.8 * width(ring.plain), "{ring:?}");
        // With nothing lost, four messages are taken to be worth one, as at points.
        for row in &mut samples.rows {
            row.echo = Some(Heard::default());
        }
        let whole = by_distance(&samples, "hazel", Side::There).rings[0];
        assert!((whole.plain.low - 0.981).abs() < 0.002, "{whole:?}");
        assert!((0.89..0.93).contains(&whole.interval.low), "{whole:?}");
    }
}
