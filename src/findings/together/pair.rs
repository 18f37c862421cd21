//! Two surveys place by place: what was delivered and heard on the squares of ground that both measured.

use super::compared::{Compared, Measured};
use super::member::Member;
use super::mind::{Mind, mind};
use super::squares::{Frame, Key, Squares, patch, squares};
use super::stops::{Namesake, StopPair, stops};
use super::strand::{Strand, strand};
use crate::findings::movement::path;
use crate::findings::reach::Reach;
use crate::findings::side::Side;
use crate::findings::stop::{CONFIDENCE, Gauge};
use crate::stats::burst::{BurstMemory, delivery};
use crate::stats::difference::{Average, Limited, NoAverage, average};
use crate::stats::level::{Level, MeanPower};
use crate::survey::sample::{Sample, Samples};

/// A square with fewer exchanges in one of the surveys is not compared.
pub const ENOUGH: u64 = 10;

/// Two surveys compared, each by one board.
#[derive(Clone, Debug)]
pub struct Pair {
    /// The first survey's place in the order given.
    pub first: usize,
    /// The second's; differences are the second less the first.
    pub second: usize,
    /// The board of each.
    pub boards: [String; 2],
    /// Where levels are compared, or why they are not.
    pub side: Result<Side, NoLevels>,
    /// Side of a square, metres; `None` where no position is known.
    pub side_m: Option<f64>,
    /// Squares both measured, the surest difference first.
    pub places: Vec<PlacePair>,
    /// Squares both went through and at least one with too few exchanges, metres east and north.
    pub thin: Vec<(f64, f64)>,
    /// Squares only the first, or only the second measured, metres east and north.
    pub alone: [Vec<(f64, f64)>; 2],
    /// Delivery on average over the places both measured, a share.
    pub delivery: Result<Average, NoAverage>,
    /// Level on average over the places both measured, dB; `None` where levels are not compared.
    pub level: Option<Result<Average, NoAverage>>,
    /// Points of both.
    pub stops: Vec<StopPair>,
    /// Points of one name that are not the same place.
    pub namesakes: Vec<Namesake>,
    /// Level and delivery by distance of each.
    pub strands: [Option<Strand>; 2],
    /// The stations, metres east and north of the origin.
    pub stations: [Option<(f64, f64)>; 2],
    /// What a reader must keep in mind.
    pub mind: Vec<Mind>,
}

/// Why levels are not compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoLevels {
    /// One of the surveys has none.
    NoneRead,
    /// The boards differ, and the station's readings of at least one are missing: boards' own meters do not compare.
    OwnMeters,
}

/// A square of ground both surveys measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlacePair {
    /// Metres east and north of the origin, its middle.
    pub at: (f64, f64),
    /// What both measured there.
    pub found: Compared,
    /// Which is better there, as sure as 95 % for all places together.
    pub better: Better,
    /// Whether that is told by the level alone: as many messages may arrive in both.
    pub by_level: bool,
}

/// Which survey is better at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Better {
    /// The second, for sure.
    Second,
    /// The first, for sure.
    First,
    /// They are not told apart.
    NotTold,
}

impl Pair {
    /// Places at which it is so.
    pub fn count(&self, better: Better) -> usize {
        self.places.iter().filter(|place| place.better == better).count()
    }
}

/// One side of a pair while it is worked out.
struct Half<'a> {
    member: Member<'a>,
    squares: Squares<'a>,
    memory: BurstMemory,
    gauge: Option<Gauge>,
}

/// Compares two surveys, each by one board.
pub fn pair(members: &[Member<'_>], (first, second): (usize, usize), boards: [&str; 2]) -> Option<Pair> {
    let both = [*members.get(first)?, *members.get(second)?];
    let side = side(both, boards);
    let sigmas = [0, 1].map(|index| both[index].sigma_m(boards[index]));
    let mut made = Pair {
        first,
        second,
        boards: boards.map(str::to_owned),
        side,
        side_m: None,
        places: Vec::new(),
        thin: Vec::new(),
        alone: [Vec::new(), Vec::new()],
        delivery: Err(NoAverage::FewPatches(0)),
        level: None,
        stops: Vec::new(),
        namesakes: Vec::new(),
        strands: [0, 1].map(|index| strand(both[index], boards[index], side.ok())),
        stations: [None, None],
        mind: Vec::new(),
    };
    let mut gauges = [0, 1].map(|index| gauge(both[index], boards[index], side.ok()));
    let frame = Frame::of(&both, sigmas);
    let memories = both.map(Member::bursts);
    if let Some(frame) = frame {
        let mut halves = [0, 1].map(|index| Half {
            member: both[index],
            squares: squares(both[index], boards[index], &frame),
            memory: memories[index].clone(),
            gauge: gauges[index].take(),
        });
        made.side_m = Some(frame.side_m);
        made.stations = both.map(|member| member.setup.station.position.map(|place| frame.at(place)));
        made.compare(&halves, &frame);
        gauges = [0, 1].map(|index| halves[index].gauge.take());
    }
    (made.stops, made.namesakes) = stops(both, boards, frame.as_ref(), &gauges, &memories);
    made.mind = mind(both, &made, sigmas);
    Some(made)
}

impl Pair {
    fn compare(&mut self, halves: &[Half<'_>; 2], frame: &Frame) {
        let [a, b] = halves;
        let mut shared: Vec<Key> = Vec::new();
        for (key, rows) in &a.squares {
            match b.squares.get(key) {
                None => self.alone[0].push(frame.middle(*key)),
                Some(others) if (rows.len().min(others.len()) as u64) < ENOUGH => self.thin.push(frame.middle(*key)),
                Some(_) => shared.push(*key),
            }
        }
        let only = b.squares.keys().filter(|key| !a.squares.contains_key(key));
        self.alone[1].extend(only.map(|key| frame.middle(*key)));
        // Both measures at all places together: each is held to its part of the error allowed (Bonferroni).
        let strict = 1.0 - (1.0 - CONFIDENCE) / (2.0 * shared.len().max(1) as f64);
        let mut deliveries = Vec::new();
        let mut levels = Vec::new();
        for key in shared {
            let place = place(halves, key, frame, strict);
            if let (Some(value), Some(limits)) = (place.found.delivery.value, place.found.delivery.interval()) {
                deliveries.push((patch(key), value, limits));
            }
            if let (Some(value), Some(limits)) = (place.found.level.value, place.found.level.interval()) {
                levels.push((patch(key), value, limits));
            }
            self.places.push(place);
        }
        self.delivery = average(&deliveries, CONFIDENCE);
        self.level = self.side.is_ok().then(|| average(&levels, CONFIDENCE));
        let size = |place: &PlacePair| {
            let level = place.found.level.value.map_or(0.0, |db| db.abs() / 20.0);
            place.found.delivery.value.map_or(0.0, f64::abs).max(level)
        };
        self.places.sort_by(|one, other| {
            let surer = (one.better == Better::NotTold).cmp(&(other.better == Better::NotTold));
            surer.then(size(other).total_cmp(&size(one)))
        });
    }
}

fn place(halves: &[Half<'_>; 2], key: Key, frame: &Frame, strict: f64) -> PlacePair {
    let none: Vec<&Sample> = Vec::new();
    let rows = [0, 1].map(|index| halves[index].squares.get(&key).unwrap_or(&none));
    let measured = |confidence: f64| {
        [0, 1].map(|index| {
            let (half, rows) = (&halves[index], rows[index]);
            let (sent, delivered) = (
                rows.len() as u64,
                rows.iter().filter(|row| row.delivered()).count() as u64,
            );
            Measured {
                sent,
                delivered,
                rate: rate(delivered, sent, &half.memory, confidence),
                level: level(half.gauge.as_ref(), half.member.samples, rows, confidence),
            }
        })
    };
    let surely = Compared::new(measured(strict));
    PlacePair {
        at: frame.middle(key),
        found: Compared::new(measured(CONFIDENCE)),
        by_level: surely.delivery.sign().is_none() && surely.level.sign().is_some(),
        better: match surely.delivery.sign().or_else(|| surely.level.sign()) {
            Some(true) => Better::Second,
            Some(false) => Better::First,
            None => Better::NotTold,
        },
    }
}

/// A delivery rate with its limits.
pub fn rate(delivered: u64, sent: u64, memory: &BurstMemory, confidence: f64) -> Limited {
    let found = delivery(delivered, sent, memory, confidence);
    found.map_or(Limited::default(), |found| Limited {
        value: found.rate,
        low: Some(found.interval.low),
        high: Some(found.interval.high),
    })
}

/// The local mean level of rows with its limits, dBm.
pub fn level(gauge: Option<&Gauge>, samples: &Samples, rows: &[&Sample], confidence: f64) -> Limited {
    let found = gauge.and_then(|gauge| gauge.level(rows, path(samples, rows), confidence));
    found.as_ref().map_or(Limited::default(), limits_of)
}

/// A level as limits, dBm.
pub fn limits_of(level: &Level) -> Limited {
    match level.mean_power {
        MeanPower::Between { median_dbm, interval } => Limited {
            value: Some(median_dbm),
            low: Some(interval.low),
            high: Some(interval.high),
        },
        MeanPower::AtMost { high_dbm } => Limited {
            high: Some(high_dbm),
            ..Limited::default()
        },
        MeanPower::AtLeast { low_dbm } => Limited {
            low: Some(low_dbm),
            ..Limited::default()
        },
        MeanPower::Open => Limited::default(),
    }
}

/// The end at which levels of both can be compared: the one station's receiver, or the meter of one and the same board.
fn side(members: [Member<'_>; 2], boards: [&str; 2]) -> Result<Side, NoLevels> {
    let read = |side: Side| {
        [0, 1].map(|index| {
            let member: Member<'_> = members[index];
            member.placed(boards[index]).any(|row| side.level(row).is_some())
        })
    };
    let (there, here) = (read(Side::There), read(Side::Here));
    if there == [true, true] {
        Ok(Side::There)
    } else if boards[0] == boards[1] && here == [true, true] {
        Ok(Side::Here)
    } else if [0, 1].iter().all(|index| there[*index] || here[*index]) {
        Err(NoLevels::OwnMeters)
    } else {
        Err(NoLevels::NoneRead)
    }
}

fn gauge(member: Member<'_>, board: &str, side: Option<Side>) -> Option<Gauge> {
    let side = side?;
    let figures = member.estimates.boards.iter().find(|figures| figures.name == board)?;
    let reach = figures.reach.as_ref();
    let need = reach.filter(|reach| reach.side == side).and_then(|reach| reach.need);
    Gauge::new(member.samples, board, side, need, reach.and_then(Reach::interference))
}
