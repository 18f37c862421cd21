//! One board's exchanges gathered by distance: for the scatter of levels, and for delivery in rings about the station.

use std::collections::BTreeMap;

use super::side::Side;
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
    /// Wilson's 95 % interval of the delivery rate, exchanges taken as independent.
    pub interval: Interval,
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
    let own: Vec<bool> = samples.boots.iter().map(|boot| boot.board == board).collect();
    for row in &samples.rows {
        if !row.counts() || !own[row.boot as usize] || row.activity.word() == "sweep" {
            continue;
        }
        let Some(distance) = row
            .distance()
            .map(|distance| distance.0)
            .filter(|metres| *metres >= 0.5)
        else {
            continue;
        };
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
                interval: wilson(ring.delivered, ring.sent, 0.95)?,
            })
        })
        .collect();
    found
}
