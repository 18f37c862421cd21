//! The map's check of itself: tiles of ground left out and told from the rest.

use super::kriging::{Field, NEIGHBOURS};
use super::nearest::Nearest;
use super::record::Record;
use super::site::Site;
use super::tails::STUDENT4_90;

/// Side of a tile left out, in metres.
const TILE: f64 = 40.0;
/// Records checked must be expected this many dB above the half-delivery level.
const LEAD: f64 = 6.0;
/// Fewest independent fades of a record that is checked.
const FADES: f64 = 4.0;
/// Fewest records a verdict is drawn from.
const FEWEST: usize = 30;
/// The most the intervals are widened by.
const WIDEST: f64 = 2.5;

/// How the left-out records fell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HoldOut {
    /// Records that were told from other tiles only.
    pub checked: usize,
    /// Share of them inside their 90 % interval, 0 to 1; `None` with fewer than 30.
    pub inside: Option<f64>,
    /// What standard deviations are multiplied by for it, 1 to 2.5.
    pub widening: f64,
}

impl HoldOut {
    /// Nothing checked, nothing widened.
    pub const NONE: Self = Self {
        checked: 0,
        inside: None,
        widening: 1.0,
    };
}

/// Tells each record from the 24 nearest of other 40 m tiles.
///
/// Records are chosen by what is expected of them, never by what came: otherwise the lost ones would not be missed. It
/// cannot see an error that all tiles share, such as a wrong carrying direction.
pub(super) fn hold_out(
    records: &[Record],
    sites: &[Site],
    extra: &[f64],
    field: &Field<'_>,
    nearest: &Nearest,
    rows: &[[f64; 4]],
    levels: (f64, f64, f64),
) -> HoldOut {
    let (half_level, fading_sd, nugget) = levels;
    let tiles: Vec<(i64, i64)> = records
        .iter()
        .map(|record| ((record.x / TILE).floor() as i64, (record.y / TILE).floor() as i64))
        .collect();
    let mut off: Vec<f64> = Vec::new();
    for (i, record) in records.iter().enumerate() {
        let fades = record.weight * f64::from(record.sent);
        if fades < FADES {
            continue;
        }
        let near = nearest.nearest(record.x, record.y, NEIGHBOURS, |other| tiles[other] != tiles[i]);
        let told = field.level(&rows[i], &near, 0.0);
        if told.mean < half_level + LEAD {
            continue;
        }
        let site = if f64::from(record.lost()) > 0.5 * f64::from(record.sent) {
            Site {
                level: sites[i].level.min(half_level),
                variance: fading_sd * fading_sd / fades.max(1.0),
            }
        } else {
            sites[i]
        };
        let spread = (told.variance + nugget + extra[i] + site.variance).sqrt();
        off.push(((site.level - told.mean) / spread).abs());
    }
    let checked = off.len();
    if checked < FEWEST {
        return HoldOut {
            checked,
            ..HoldOut::NONE
        };
    }
    let inside = off.iter().filter(|z| **z < STUDENT4_90).count() as f64 / checked as f64;
    off.sort_by(f64::total_cmp);
    let ninth = off[(0.9 * (checked - 1) as f64) as usize];
    HoldOut {
        checked,
        inside: Some(inside),
        widening: (ninth / STUDENT4_90).clamp(1.0, WIDEST),
    }
}
