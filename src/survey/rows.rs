//! Makes the rows: puts exchanges, fixes and activities together, and makes anew only what may have changed.

use super::activity::{Activities, Doing, Part};
use super::exchange::Fate;
use super::fixes::Fixes;
use super::node_stream::{Identity, Key, NodeStream, written_ms};
use super::remakes::Remakes;
use super::sample::{Activity, BootName, Excluded, Place, Sample, Samples};
use super::setup::Setup;
use super::to_station::to_station;
use crate::ground::Vantage;
use crate::units::{Degrees, UtcMs};

/// The rows made so far, and what is needed to go on from the middle.
#[derive(Clone, Debug, Default)]
pub struct Rows {
    samples: Samples,
    /// For each row the segment it lies in, beside the samples.
    segments: Vec<u32>,
    /// For each row how many rows so far count, and how many of these were delivered.
    tallies: Vec<(u32, u32)>,
    /// For each of the samples' facts the first row that uses it.
    first_uses: Vec<usize>,
    /// Where the station is.
    station: Option<Vantage>,
    remakes: Remakes,
    /// How many fixes lie at or before the row made last.
    after_fix: usize,
}

/// All that the rows are made from.
#[derive(Clone, Copy)]
pub struct Makings<'a> {
    /// The exchanges.
    pub stream: &'a NodeStream,
    /// The fixes.
    pub fixes: &'a Fixes,
    /// What was going on.
    pub activities: &'a Activities,
    /// The set-up.
    pub setup: &'a Setup,
}

impl Rows {
    /// The rows made so far.
    pub fn samples(&self) -> &Samples {
        &self.samples
    }

    /// How many rows from the index `from` on count, and how many of these were delivered.
    pub fn tally_since(&self, from: usize) -> (u64, u64) {
        let so_far = |rows: usize| rows.checked_sub(1).and_then(|last| self.tallies.get(last));
        let (counted, delivered) = so_far(self.tallies.len()).copied().unwrap_or_default();
        let before = so_far(from.min(self.tallies.len())).copied().unwrap_or_default();
        (u64::from(counted - before.0), u64::from(delivered - before.1))
    }

    /// How often rows were made anew, for readers that keep up with them.
    pub fn remakes(&self) -> &Remakes {
        &self.remakes
    }

    /// Gives the rows away.
    pub fn into_samples(self) -> Samples {
        self.samples
    }

    /// Makes anew every row written as `from_ms` or later.
    pub fn remake(&mut self, makings: Makings<'_>, from_ms: u64) {
        let keep = self.samples.rows.partition_point(|row| written_ms(row.at) < from_ms);
        self.remakes.note(keep);
        self.samples.rows.truncate(keep);
        self.segments.truncate(keep);
        self.tallies.truncate(keep);
        self.first_uses
            .truncate(self.first_uses.partition_point(|row| *row < keep));
        self.samples.facts.truncate(self.first_uses.len());
        self.name_boots(makings.stream);
        self.station = makings.setup.station.position.map(Vantage::at);
        let mut step = self.open_step(makings.activities);
        let order = makings.stream.order();
        let begin = order.partition_point(|key| key.ms < from_ms);
        self.samples.rows.reserve(order.len() - begin);
        for key in &order[begin..] {
            self.make(makings, *key, &mut step);
        }
    }

    /// Names the boots, and counts from 1 the starts of boards that do not count them themselves.
    fn name_boots(&mut self, stream: &NodeStream) {
        let mut names: Vec<BootName> = Vec::with_capacity(stream.boots().len());
        let void = |index: usize| stream.boots()[index].is_void();
        for (index, boot) in stream.boots().iter().enumerate() {
            let board = boot.identity.board();
            let told = match &boot.identity {
                Identity::Told { boot, .. } => *boot,
                Identity::Taken { .. } => None,
            };
            let counted = |earlier: &usize| {
                let other = &stream.boots()[*earlier];
                let uncounted = !matches!(other.identity, Identity::Told { boot: Some(_), .. });
                other.identity.board() == board && uncounted && !void(*earlier)
            };
            let number = told.unwrap_or_else(|| (0..index).filter(counted).count() as u64 + 1);
            names.push(BootName {
                board: board.to_owned(),
                boot: number,
            });
        }
        self.samples.boots = names;
    }

    /// How many exchanges the step open at the end of the rows has had; what is no step has no end to count to.
    fn open_step(&self, activities: &Activities) -> (u32, u32) {
        let Some(last) = self.segments.last().copied() else {
            return (u32::MAX, 0);
        };
        let part = activities.segments().get(last as usize).map(|segment| segment.part);
        if !matches!(part, Some(Part::Step { .. })) {
            return (last, 0);
        }
        let had = self.segments.iter().zip(&self.samples.rows).rev();
        let had = had.take_while(|(segment, _)| **segment == last);
        let had = had.filter(|(_, row)| !matches!(row.excluded, Some(Excluded::Unread | Excluded::Paused)));
        (last, had.count() as u32)
    }

    fn make(&mut self, makings: Makings<'_>, key: Key, step: &mut (u32, u32)) {
        let Makings {
            stream,
            fixes,
            activities,
            setup,
        } = makings;
        let boot = &stream.boots()[key.boot];
        let Some(exchange) = boot.exchange(key.n) else { return };
        let segment_index = activities.segment_at(exchange.at, exchange.line);
        let segment = &activities.segments()[segment_index];
        if step.0 != segment_index as u32 {
            *step = (segment_index as u32, 0);
        }
        let unread = match exchange.fate {
            Fate::Unread => true,
            Fate::Missing => boot.tells_losses(),
            Fate::Echo(_) | Fate::Lost => false,
        };
        let paused = activities.paused_at(exchange.at, exchange.line);
        let (turning, turn) = match segment.part {
            Part::Counting => (false, None),
            Part::Turning => (true, None),
            Part::Step { deg, messages, until } => {
                let over = step.1 >= messages || exchange.at > until;
                (over, (!over).then_some(Degrees(deg)))
            }
        };
        step.1 += u32::from(!unread && !paused);
        let left_out = || setup.leave_out.iter().any(|stretch| stretch.holds(key.ms));
        let excluded = if unread {
            Some(Excluded::Unread)
        } else if paused {
            Some(Excluded::Paused)
        } else if turning {
            Some(Excluded::Turning)
        } else if segment.again {
            Some(Excluded::Again)
        } else {
            left_out().then_some(Excluded::LeftOut)
        };
        let activity = match &activities.stretches()[segment.stretch].doing {
            Doing::Walk => Activity::Walk,
            Doing::Point { name, .. } => Activity::Point(Samples::intern(&mut self.samples.points, name)),
            Doing::Sweep { name, pose, .. } => Activity::Sweep {
                point: Samples::intern(&mut self.samples.points, name),
                pose: pose.as_ref().map(|pose| Samples::intern(&mut self.samples.poses, pose)),
                turn,
                step: if turn.is_some() { segment_index as u32 } else { 0 },
            },
        };
        self.after_fix = fixes.after(exchange.at, self.after_fix);
        let mut sample = Sample {
            utc: UtcMs((fixes.utc_us(self.after_fix, exchange.at, exchange.wall) + 500).div_euclid(1000)),
            at: exchange.at,
            boot: key.boot as u32,
            run: 1,
            n: key.n,
            echo: match exchange.fate {
                Fate::Echo(heard) => Some(heard),
                Fate::Lost | Fate::Missing | Fate::Unread => None,
            },
            channel: boot.channel(key.n),
            place: self.place(makings, exchange.at),
            activity,
            excluded,
        };
        if let (Some(before), Some(last)) = (self.samples.rows.last(), self.segments.last()) {
            let begins = activities.segments()[*last as usize].stretch != segment.stretch;
            sample.utc = sample.utc.max(before.utc);
            sample.run = before.run + u32::from(begins || self.differs(before, &sample));
        }
        let (counted, delivered) = self.tallies.last().copied().unwrap_or_default();
        let counts = sample.counts();
        self.tallies.push((
            counted + u32::from(counts),
            delivered + u32::from(counts && sample.delivered()),
        ));
        self.segments.push(segment_index as u32);
        self.samples.rows.push(sample);
    }

    /// Whether a row begins a new run by what it is.
    fn differs(&self, before: &Sample, sample: &Sample) -> bool {
        let boots = &self.samples.boots;
        // Nearly always it is one boot: its name need not be compared with itself.
        let boot = before.boot != sample.boot && boots[before.boot as usize] != boots[sample.boot as usize];
        boot || before.channel != sample.channel
    }

    fn place(&mut self, makings: Makings<'_>, at: crate::units::Elapsed) -> Option<Place> {
        let located = makings.fixes.locate_by(self.after_fix, at)?;
        let good = makings.fixes.good();
        let facts = good[located.fix].facts;
        if self.samples.facts.last() != Some(&facts) {
            self.samples.facts.push(facts);
            self.first_uses.push(self.samples.rows.len());
        }
        let way = self.station.map(|station| to_station(&station, located.position));
        Some(Place {
            position: located.position,
            facts: self.samples.facts.len() as u32 - 1,
            distance: way.map(|way| way.distance),
            bearing: way.and_then(|way| way.bearing),
        })
    }
}
