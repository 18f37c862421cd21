//! The one reducer: a line goes in, the survey is further along. Live, replay, rebuild and tests all use it.

use super::activity::{Activities, Change, Doing, Mark};
use super::event::{JournalLine, Source};
use super::fixes::{Fixes, Verdict};
use super::node_stream::{Boot, Effect, Moment, NodeStream, written_ms};
use super::notice::{Notice, Noticed};
use super::remakes::Remakes;
use super::rows::{Makings, Rows};
use super::sample::Samples;
use super::says::{LineReader, Says};
use super::setup::Setup;
use crate::units::{Elapsed, UtcMs};
use crate::wire::epoch::EpochReader;
use crate::wire::gear::GearLine;
use crate::wire::node::NodePattern;
use crate::wire::surveyor::SurveyorLine;
use crate::wire::{Epoch, GearRecord, GearSource, Malformed, NodeLine, NodeRecord, SurveyorRecord, gear, surveyor};

/// How many notices are kept; the counts go on.
const NOTICES_KEPT: usize = 10_000;

/// A survey as far as its lines tell.
#[derive(Debug)]
pub struct Survey {
    setup: Setup,
    reader: LineReader,
    stream: NodeStream,
    epochs: EpochReader,
    fixes: Fixes,
    activities: Activities,
    rows: Rows,
    dirty_ms: Option<u64>,
    counts: Counts,
    notices: Vec<Noticed>,
    gear: Gear,
    now: Elapsed,
    wall: UtcMs,
    lines: u32,
}

/// How many lines there were, and what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Lines of the node, all.
    pub node_lines: u64,
    /// Of them: with a record word that is not known, or blank.
    pub node_ignored: u64,
    /// Of them: malformed.
    pub node_malformed: u64,
    /// Lines of the node since the last one that was used: malformed, not known or blank.
    pub node_unused: u64,
    /// Lines too long to use, of any source.
    pub too_long: u64,
    /// Second lines for the same ping.
    pub duplicates: u64,
    /// Echoes that came too late to count.
    pub too_late: u64,
    /// Echoes that came late and corrected a loss.
    pub corrected: u64,
    /// Lines of the receiver, all.
    pub gps_lines: u64,
}

/// Which sources can be read, as far as the journal says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Gear {
    /// The node.
    pub node: Line,
    /// The receiver.
    pub gps: Line,
}

/// What is known of one source.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Line {
    /// Up, down, or nothing said yet.
    pub state: LineState,
    /// When its last line came.
    pub last: Option<Elapsed>,
}

/// Whether a source can be read.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum LineState {
    /// Nothing said yet.
    #[default]
    Unknown,
    /// It can be read, at this address.
    Up(Option<String>),
    /// It cannot be read since then, and why.
    Down(Elapsed, Option<String>),
}

impl Survey {
    /// A survey of which nothing has been heard yet.
    ///
    /// `pattern` reads the lines of firmware that prints something else.
    pub fn new(setup: Setup, pattern: Option<NodePattern>) -> Self {
        Self {
            setup,
            reader: LineReader::new(pattern),
            stream: NodeStream::default(),
            epochs: EpochReader::new(),
            fixes: Fixes::default(),
            activities: Activities::default(),
            rows: Rows::default(),
            dirty_ms: None,
            counts: Counts::default(),
            notices: Vec::new(),
            gear: Gear::default(),
            now: Elapsed::default(),
            wall: UtcMs::default(),
            lines: 0,
        }
    }

    /// What reads its lines, for whoever reads them ahead.
    pub fn reader(&self) -> &LineReader {
        &self.reader
    }

    /// Takes one line.
    pub fn apply(&mut self, line: &JournalLine) {
        let says = self.reader.read(line);
        self.apply_read(line, says);
    }

    /// Takes one line that its [`Self::reader`] has read; of [`Says::Record`] alone the bytes are looked at again.
    pub fn apply_read(&mut self, line: &JournalLine, says: Says) {
        self.lines = self.lines.saturating_add(1);
        self.now = self.now.max(line.at);
        self.wall = line.wall;
        if line.left_out > 0 {
            self.counts.too_long += 1;
            self.notice(
                line.at,
                Notice::TooLong {
                    left_out: line.left_out,
                },
            );
        }
        match line.source {
            Source::Node => {
                self.counts.node_lines += 1;
                self.gear.node.last = Some(line.at);
                self.stream.line_came(line.at);
            }
            Source::Gps => {
                self.counts.gps_lines += 1;
                self.gear.gps.last = Some(line.at);
            }
            Source::Surveyor | Source::Gear => {}
        }
        match says {
            Says::Node(read) => self.node_line(read, line),
            Says::Gps(position) => {
                for epoch in self.epochs.take(position, line.at, line.wall) {
                    self.epoch(&epoch);
                }
            }
            Says::Record => self.record(line),
            Says::TooLong => {}
        }
        if let Some(ms) = self.stream.take_dirty() {
            self.touch(ms);
        }
    }

    /// Takes a record of the surveyor or the gear.
    fn record(&mut self, line: &JournalLine) {
        match line.source {
            Source::Surveyor => match surveyor::read(&line.bytes) {
                Ok(SurveyorLine::Record { record, .. }) => self.surveyor(record, line.at),
                Ok(SurveyorLine::Unknown { word }) => self.notice(line.at, Notice::UnknownWord(word)),
                Ok(SurveyorLine::Blank) => {}
                Err(why) => self.notice(line.at, Notice::UnknownRecord(why)),
            },
            Source::Gear => match gear::read(&line.bytes) {
                Ok(GearLine::Record { record, .. }) => self.gear(record, line.at),
                Ok(GearLine::Unknown { word }) => self.notice(line.at, Notice::UnknownWord(word)),
                Ok(GearLine::Blank) => {}
                Err(why) => self.notice(line.at, Notice::UnknownRecord(why)),
            },
            Source::Node | Source::Gps => {}
        }
    }

    /// Ends the reading: the last epoch of the receiver counts although no other followed it.
    pub fn settle(&mut self) {
        if let Some(epoch) = self.epochs.finish() {
            self.epoch(&epoch);
        }
    }

    /// Brings the rows up to date and shows them.
    pub fn samples(&mut self) -> &Samples {
        if let Some(from) = self.dirty_ms.take() {
            let makings = Makings {
                stream: &self.stream,
                fixes: &self.fixes,
                activities: &self.activities,
                setup: &self.setup,
            };
            self.rows.remake(makings, from);
        }
        self.rows.samples()
    }

    /// The rows as they were last brought up to date.
    pub fn samples_as_made(&self) -> &Samples {
        self.rows.samples()
    }

    /// How often rows were made anew, and how far back.
    pub fn remakes(&self) -> &Remakes {
        self.rows.remakes()
    }

    /// How many rows from the index `from` on count, and how many of these were delivered; as last brought up to date.
    pub fn tally_since(&self, from: usize) -> (u64, u64) {
        self.rows.tally_since(from)
    }

    /// Gives the rows away as they were last brought up to date.
    pub fn into_samples(self) -> Samples {
        self.rows.into_samples()
    }

    /// The set-up.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// Puts another set-up in its place: every row is made anew.
    pub fn set_up(&mut self, setup: Setup) {
        self.setup = setup;
        self.touch(0);
    }

    /// What was going on.
    pub fn activities(&self) -> &Activities {
        &self.activities
    }

    /// The fixes.
    pub fn fixes(&self) -> &Fixes {
        &self.fixes
    }

    /// The epoch that is still being read, for a screen that cannot wait for its end.
    pub fn open_epoch(&self) -> Option<Epoch> {
        self.epochs.open()
    }

    /// The boots and exchanges.
    pub fn stream(&self) -> &NodeStream {
        &self.stream
    }

    /// The boot whose lines come now.
    pub fn boot(&self) -> Option<&Boot> {
        self.stream.current()
    }

    /// How many lines there were.
    pub fn counts(&self) -> &Counts {
        &self.counts
    }

    /// Lines of the receiver, and what became of them.
    pub fn position_counts(&self) -> crate::wire::epoch::PositionCounts {
        self.epochs.counts()
    }

    /// What a person should know.
    pub fn notices(&self) -> &[Noticed] {
        &self.notices
    }

    /// Which sources can be read.
    pub fn sources(&self) -> &Gear {
        &self.gear
    }

    /// The moment of the last line.
    pub fn now(&self) -> Elapsed {
        self.now
    }

    /// The computer's clock at the last line.
    pub fn wall(&self) -> UtcMs {
        self.wall
    }

    fn node_line(&mut self, read: Result<NodeLine, Malformed>, line: &JournalLine) {
        match read {
            Ok(NodeLine::Record { record, checksummed }) => self.node_record(record, checksummed, line),
            Ok(NodeLine::Unknown | NodeLine::Blank) => {
                self.counts.node_ignored += 1;
                self.counts.node_unused += 1;
            }
            Err(why) => self.malformed(line.at, Notice::Malformed(why)),
        }
    }

    fn node_record(&mut self, record: NodeRecord, checksummed: bool, line: &JournalLine) {
        let hello = if let NodeRecord::Hello(hello) = &record {
            Some(hello)
        } else {
            None
        };
        if !checksummed && self.stream.wants_checksum(hello) {
            self.malformed(line.at, Notice::Unchecked);
            return;
        }
        self.counts.node_unused = 0;
        let moment = Moment {
            at: line.at,
            wall: line.wall,
            line: self.lines,
        };
        let boots = self.stream.boots().len();
        let effect = match record {
            NodeRecord::Hello(hello) => {
                self.stream.hello(hello, line.at);
                None
            }
            NodeRecord::Note { text } => {
                self.notice(line.at, Notice::NodeNote(text));
                None
            }
            NodeRecord::Echo(echo) => Some(self.stream.tell(echo.into(), moment, checksummed)),
            NodeRecord::Lost(lost) => Some(self.stream.tell(lost.into(), moment, checksummed)),
        };
        if self.stream.boots().len() > boots
            && let Some(boot) = self.stream.current()
        {
            let board = boot.identity.board().to_owned();
            self.notice(line.at, Notice::BootBegan { board });
        }
        match effect {
            None if checksummed => self.stream.count_checksum(),
            None | Some(Effect::Exchange | Effect::Waiting) => {}
            Some(Effect::Corrected) => self.counts.corrected += 1,
            Some(Effect::Duplicate) => self.counts.duplicates += 1,
            Some(Effect::TooLate) => self.counts.too_late += 1,
            Some(Effect::Malformed) => self.malformed(line.at, Notice::OutOfPlace),
        }
    }

    fn malformed(&mut self, at: Elapsed, notice: Notice) {
        self.counts.node_malformed += 1;
        self.counts.node_unused += 1;
        self.notice(at, notice);
    }

    fn epoch(&mut self, epoch: &Epoch) {
        let (verdict, from) = self.fixes.take(epoch);
        if verdict == Verdict::SetAside && !self.fixes.good().is_empty() {
            self.notice(epoch.arrival, Notice::FixSetAside);
        }
        if let Some(from) = from {
            let all = self.fixes.good().len() <= 2;
            self.touch(if all { 0 } else { written_ms(from) });
        }
    }

    fn surveyor(&mut self, record: SurveyorRecord, at: Elapsed) {
        if let SurveyorRecord::Board { name, reference } = &record {
            self.stream.name_board(name.clone(), *reference);
        }
        let rate = self.stream.current().map_or(10.0, |boot| boot.pace.rate());
        let mark = Mark { at, line: self.lines };
        match self.activities.take(record, mark, self.setup.goal.messages, rate) {
            Change::Since(since) => self.touch(written_ms(since)),
            Change::Nothing => {}
            Change::Refused(why) => self.notice(at, Notice::Refused(why)),
        }
    }

    fn gear(&mut self, record: GearRecord, at: Elapsed) {
        match record {
            GearRecord::Up { source, address } => {
                self.line_mut(source).state = LineState::Up(address);
                self.notice(at, Notice::GearUp(source));
            }
            GearRecord::Down { source, why } => {
                if source == GearSource::Node {
                    self.stream.source_down(at);
                }
                self.line_mut(source).state = LineState::Down(at, why.clone());
                self.notice(at, Notice::GearDown(source, why));
            }
        }
    }

    fn line_mut(&mut self, source: GearSource) -> &mut Line {
        match source {
            GearSource::Node => &mut self.gear.node,
            GearSource::Gps => &mut self.gear.gps,
        }
    }

    fn notice(&mut self, at: Elapsed, notice: Notice) {
        if self.notices.len() < NOTICES_KEPT {
            self.notices.push(Noticed { at, notice });
        }
    }

    fn touch(&mut self, ms: u64) {
        self.dirty_ms = Some(self.dirty_ms.map_or(ms, |dirty| dirty.min(ms)));
    }
}

/// What the surveyor is doing, as a short text for notices and titles.
pub fn describe(doing: &Doing) -> String {
    match doing {
        Doing::Walk => "walking".to_owned(),
        Doing::Point { name, .. } => format!("at {name}"),
        Doing::Sweep {
            name, pose: Some(pose), ..
        } => format!("sweep {name}, {pose}"),
        Doing::Sweep { name, pose: None, .. } => format!("sweep {name}"),
    }
}
