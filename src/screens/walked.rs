//! What the map and the plot of level by distance draw of each row: kept small and brought up to date, so that a page of a
//! million exchanges is drawn as quickly as one of a thousand.

use std::cell::RefCell;

use super::ground::Plane;
use super::scene::Subject;
use super::{distance, ground};
use crate::survey::Sample;
use crate::units::Metres;

/// Bounds are kept for so many spots together.
const BLOCK: usize = 1024;

/// The last spots, which are often made anew.
const MAY_CHANGE: usize = 256;

/// Every row that has a place.
#[derive(Clone, Debug, Default)]
pub struct Walked {
    plane: Option<Plane>,
    spots: Vec<Spot>,
    /// The bounds of every [`BLOCK`] spots.
    blocks: Vec<Bounds>,
    /// Rows before this one are dealt with.
    seen: usize,
    /// The map as it was last drawn.
    pub(super) map: Kept<ground::Frame, ground::Track>,
    /// The plot of level by distance as it was last drawn.
    pub(super) plot: Kept<distance::Axes, distance::Plot>,
}

/// A picture of all spots but the last ones, kept from page to page while what it depends on stays the same.
#[derive(Clone, Debug)]
pub(super) struct Kept<K, P>(RefCell<Option<(K, usize, P)>>);

impl<K, P> Default for Kept<K, P> {
    fn default() -> Self {
        Self(RefCell::new(None))
    }
}

impl<K: PartialEq, P: Clone> Kept<K, P> {
    /// The picture of all `spots` for `key`: `more` draws further ones upon what is there.
    pub(super) fn picture(
        &self,
        key: K,
        spots: &[Spot],
        blank: impl FnOnce() -> P,
        more: impl Fn(&mut P, &[Spot]),
    ) -> P {
        let mut kept = self.0.borrow_mut();
        let (upto, mut picture) = match kept.take() {
            Some((known, upto, picture)) if known == key => (upto, picture),
            _ => (0, blank()),
        };
        let settled = spots.len().saturating_sub(MAY_CHANGE).max(upto);
        more(&mut picture, &spots[upto..settled]);
        let mut whole = picture.clone();
        more(&mut whole, &spots[settled..]);
        *kept = Some((key, settled, picture));
        whole
    }

    /// Forgets a picture that shows more than the first `spots`.
    fn forget_beyond(&mut self, spots: usize) {
        let kept = self.0.get_mut();
        if kept.as_ref().is_some_and(|(_, upto, _)| *upto > spots) {
            *kept = None;
        }
    }
}

/// What is drawn of a row.
#[derive(Clone, Copy, Debug)]
pub struct Spot {
    /// Its index among all rows.
    pub row: u32,
    /// Metres east and north of the plane's origin.
    pub offset: (f32, f32),
    /// Metres to the station.
    pub distance: Option<f32>,
    /// The station as the board heard it, dBm.
    pub here: Option<f32>,
    /// The board as the station heard it, dBm.
    pub there: Option<f32>,
    /// Whether it counts.
    pub counts: bool,
    /// Whether the ping was answered.
    pub delivered: bool,
}

/// How far spots reach; each pair is the least and the most, `None` of none.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Bounds {
    /// Metres east of the origin, of all.
    pub east: Option<(f32, f32)>,
    /// Metres north of the origin, of all.
    pub north: Option<(f32, f32)>,
    /// Metres to the station, of those that count.
    pub distance: Option<(f32, f32)>,
    /// Levels as the board hears the station, of those that count and have a distance.
    pub here: Option<(f32, f32)>,
    /// Levels as the station hears the board, of the same.
    pub there: Option<(f32, f32)>,
}

impl Spot {
    /// The place on the plane.
    pub fn place(&self) -> (f64, f64) {
        (f64::from(self.offset.0), f64::from(self.offset.1))
    }
}

impl Bounds {
    /// The south-western and north-eastern corners, metres; `None` of no spot.
    pub fn corners(&self) -> Option<[(f64, f64); 2]> {
        let ((west, east), (south, north)) = self.east.zip(self.north)?;
        Some([(west, south), (east, north)].map(|(east, north)| (f64::from(east), f64::from(north))))
    }

    fn take(&mut self, spot: &Spot) {
        stretch(&mut self.east, Some(spot.offset.0));
        stretch(&mut self.north, Some(spot.offset.1));
        if spot.counts && spot.distance.is_some() {
            stretch(&mut self.distance, spot.distance);
            stretch(&mut self.here, spot.here);
            stretch(&mut self.there, spot.there);
        }
    }

    fn join(mut self, other: &Self) -> Self {
        let both = [
            (&mut self.east, other.east),
            (&mut self.north, other.north),
            (&mut self.distance, other.distance),
            (&mut self.here, other.here),
            (&mut self.there, other.there),
        ];
        for (own, others) in both {
            stretch(own, others.map(|(least, _)| least));
            stretch(own, others.map(|(_, most)| most));
        }
        self
    }
}

fn stretch(pair: &mut Option<(f32, f32)>, number: Option<f32>) {
    let Some(number) = number.filter(|number| number.is_finite()) else {
        return;
    };
    let (least, most) = pair.get_or_insert((number, number));
    *least = least.min(number);
    *most = most.max(number);
}

impl Walked {
    /// The plane the spots lie on, about the station or else the first place; `None` where neither is known.
    pub(super) fn plane(&self) -> Option<&Plane> {
        self.plane.as_ref()
    }

    /// The spots, in order of their rows.
    pub fn spots(&self) -> &[Spot] {
        &self.spots
    }

    /// How far all of them reach.
    pub fn bounds(&self) -> Bounds {
        self.blocks.iter().fold(Bounds::default(), Bounds::join)
    }

    /// Takes the rows as they are now, of which the first `settled` are as they were the last time.
    pub fn bring_up_to_date(&mut self, subject: Subject<'_>, settled: usize) {
        let rows = &subject.samples().rows;
        let known = self.plane.map(|plane| plane.origin);
        let origin = subject.setup().station.position.or_else(|| {
            let begin = if known.is_some() { 0 } else { self.seen.min(settled) };
            let mut places = rows.iter().skip(begin);
            places.find_map(|row| row.place.map(|place| place.position))
        });
        if origin != known {
            *self = Self {
                plane: origin.and_then(Plane::about),
                ..Self::default()
            };
        }
        self.seen = self.seen.min(settled).min(rows.len());
        let keep = self.spots.partition_point(|spot| (spot.row as usize) < self.seen);
        self.truncate(keep);
        let Some(plane) = self.plane else {
            self.seen = rows.len();
            return;
        };
        for (row, sample) in rows.iter().enumerate().skip(self.seen) {
            if let Some(spot) = spot(&plane, row, sample) {
                self.push(spot);
            }
        }
        self.seen = rows.len();
    }

    fn truncate(&mut self, keep: usize) {
        if keep == self.spots.len() {
            return;
        }
        self.map.forget_beyond(keep);
        self.plot.forget_beyond(keep);
        self.spots.truncate(keep);
        self.blocks.truncate(keep.div_ceil(BLOCK));
        if let Some(last) = self.blocks.len().checked_sub(1) {
            self.blocks[last] = Bounds::default();
            for spot in &self.spots[last * BLOCK..] {
                self.blocks[last].take(spot);
            }
        }
    }

    fn push(&mut self, spot: Spot) {
        if self.spots.len().is_multiple_of(BLOCK) {
            self.blocks.push(Bounds::default());
        }
        if let Some(block) = self.blocks.last_mut() {
            block.take(&spot);
        }
        self.spots.push(spot);
    }
}

fn spot(plane: &Plane, row: usize, sample: &Sample) -> Option<Spot> {
    let place = sample.place?;
    let (east, north) = plane.offset(place.position);
    Some(Spot {
        row: row as u32,
        offset: (east as f32, north as f32),
        distance: place.distance.map(|Metres(metres)| metres as f32),
        here: sample.here(),
        there: sample.there(),
        counts: sample.counts(),
        delivered: sample.delivered(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ground::Position;
    use crate::survey::exchange::Heard;
    use crate::survey::sample::{Activity, Place};
    use crate::survey::{Samples, Setup};
    use crate::units::{Degrees, Elapsed, UtcMs};

    fn row(index: u32) -> Sample {
        let east = f64::from(index % 700) * 1e-5;
        let position = Position::new(Degrees(52.0), Degrees(-3.0 + east)).unwrap();
        Sample {
            utc: UtcMs(0),
            at: Elapsed(u64::from(index)),
            boot: 0,
            run: 1,
            n: u64::from(index),
            echo: Some(Heard {
                here: Some(-50.0 - (index % 40) as f32),
                ..Heard::default()
            }),
            channel: None,
            place: (!index.is_multiple_of(5)).then_some(Place {
                position,
                facts: 0,
                distance: Some(Metres(east * 68_000.0)),
                bearing: None,
            }),
            activity: Activity::Walk,
            excluded: None,
        }
    }

    #[test]
    fn a_kept_picture_is_that_of_all_spots() {
        let plane = Plane::about(Position::new(Degrees(52.0), Degrees(-3.0)).unwrap()).unwrap();
        let spots: Vec<Spot> = (0..4000)
            .filter_map(|index| spot(&plane, index, &row(index as u32)))
            .collect();
        let mut kept: Kept<u32, Vec<u32>> = Kept::default();
        let lengths = [10, 300, 900, 890, 3000, 2900, 3200, 100, 3200];
        for (key, length) in lengths.into_iter().enumerate() {
            kept.forget_beyond(length);
            let all: Vec<u32> = spots[..length].iter().map(|spot| spot.row).collect();
            let more = |picture: &mut Vec<u32>, spots: &[Spot]| picture.extend(spots.iter().map(|spot| spot.row));
            for key in [key as u32 / 3, key as u32 / 3] {
                assert_eq!(kept.picture(key, &spots[..length], Vec::new, more), all, "{length}");
            }
        }
    }

    #[test]
    fn going_on_gives_what_beginning_anew_gives() {
        let setup = Setup::default();
        let mut walked = Walked::default();
        let mut known: usize = 0;
        for length in [0, 3, 40, 1500, 1490, 2600, 2599, 1024, 5000, 1, 4000_usize] {
            let samples = Samples {
                rows: (0..length as u32).map(row).collect(),
                ..Samples::default()
            };
            let subject = Subject::Rows(&samples, &setup);
            walked.bring_up_to_date(subject, known.saturating_sub(length % 7));
            let mut anew = Walked::default();
            anew.bring_up_to_date(subject, 0);
            assert_eq!(walked.spots.len(), anew.spots.len(), "{length}");
            assert_eq!((walked.bounds(), walked.plane), (anew.bounds(), anew.plane), "{length}");
            known = length;
        }
        let bounds = walked.bounds();
        assert_eq!(bounds.here, Some((-89.0, -51.0)));
        assert_eq!(bounds.there, None);
    }
}
