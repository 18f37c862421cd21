//! A survey being made: whatever comes is journalled, then understood.

use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::Context as _;
use crossbeam_channel::Sender;

use super::clock::SurveyClock;
use super::event::Event;
use super::keeper::Keeper;
use super::tables;
use super::whole::{self, Content};
use crate::session::folder;
use crate::session::{format, journal, setup_file};
use crate::sources::{Clock as _, Happening, RawLine, Role, Stamp};
use crate::survey::{JournalLine, Setup, Source, Survey};
use crate::units::{Elapsed, UtcMs};
use crate::wire::node::NodePattern;
use crate::wire::{GearRecord, GearSource, SurveyorRecord, gear, surveyor};

/// A survey being made.
#[derive(Debug)]
pub struct Recorder {
    survey: Survey,
    keeper: Keeper,
    clock: Arc<SurveyClock>,
    folder: PathBuf,
    /// Whether a receiver has an address of its own: then free words from there are not the node's.
    gps_apart: bool,
    /// Whether node and receiver share one address.
    shared: bool,
    last: Elapsed,
    /// Roles whose file is at its end.
    ended: HashSet<Role>,
    /// What stands in the way of a source, until it is up.
    trouble: Vec<(Role, String)>,
}

/// Where lines come from, as far as telling them apart needs it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wiring {
    /// A receiver has an address of its own.
    pub gps_apart: bool,
    /// Node and receiver share one address.
    pub shared: bool,
}

impl Recorder {
    /// Begins a survey in a new folder.
    ///
    /// # Errors
    /// When the folder holds one already, or the disk does not take it.
    pub fn begin(
        folder: &Path,
        setup: &Setup,
        wiring: Wiring,
        clock: SurveyClock,
        tell: Sender<Event>,
    ) -> anyhow::Result<Self> {
        pattern_of(setup)?;
        folder::begin(folder, setup)?;
        // What counts is what stands in the file: a rebuild knows nothing else, to the last digit.
        let text = fs_err::read_to_string(folder.join(format::SETUP))?;
        let setup = setup_file::read(&text)?.setup;
        let pattern = pattern_of(&setup)?;
        let (writer, _) = journal::JournalWriter::open(folder)?;
        Ok(Self {
            survey: Survey::new(setup, pattern),
            keeper: Keeper::start(writer, tell),
            clock: Arc::new(clock),
            folder: folder.to_owned(),
            gps_apart: wiring.gps_apart,
            shared: wiring.shared,
            last: Elapsed(0),
            ended: HashSet::new(),
            trouble: Vec::new(),
        })
    }

    /// Goes on with a survey that was broken off or finished earlier. Says what was set aside; `step` is told which share of
    /// it has been read.
    ///
    /// # Errors
    /// When it is no survey, another program writes it, or the disk does not take it.
    pub fn go_on(
        folder: &Path,
        wiring: Wiring,
        tell: Sender<Event>,
        step: impl FnMut(f64),
    ) -> anyhow::Result<(Self, Vec<String>)> {
        let mut warnings = Vec::new();
        let (writer, torn) = journal::JournalWriter::open(folder)?;
        if let Some(bytes) = torn {
            warnings.push(format!(
                "the last record of the journal was cut off: its {bytes} bytes are set aside in {}",
                format::TORN
            ));
        }
        let (whole, held) = whole::read_beside_table(folder, step)?;
        warnings.extend(whole.warnings);
        let Content::Survey(survey, _) = whole.content else {
            anyhow::bail!(
                "{} holds no journal: it can be replayed, but not gone on with",
                folder.display()
            );
        };
        warnings.extend(tables::more_than_journal(
            folder,
            held,
            survey.samples_as_made().rows.len(),
        ));
        let last = survey.now();
        // Between two sittings the survey's clock runs on with the computer's, where that makes sense.
        let away_ms = (super::clock::wall().0 - survey.wall().0).clamp(1_000, 366 * UtcMs::DAY) as u64;
        let begun_at = Elapsed(last.0 + away_ms * 1000);
        let mut recorder = Self {
            survey: *survey,
            keeper: Keeper::start(writer, tell),
            clock: Arc::new(SurveyClock::starting_at(begun_at)),
            folder: folder.to_owned(),
            gps_apart: wiring.gps_apart,
            shared: wiring.shared,
            last,
            ended: HashSet::new(),
            trouble: Vec::new(),
        };
        let why = Some("the program was not running".to_owned());
        for source in [GearSource::Node, GearSource::Gps] {
            let stamp = recorder.clock.now();
            recorder.gear(
                &GearRecord::Down {
                    source,
                    why: why.clone(),
                },
                stamp,
            );
        }
        Ok((recorder, warnings))
    }

    /// The survey so far.
    pub fn survey(&self) -> &Survey {
        &self.survey
    }

    /// The survey so far, to bring its rows up to date.
    pub fn survey_mut(&mut self) -> &mut Survey {
        &mut self.survey
    }

    /// The folder it is kept in.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Its clock, to stamp lines with.
    pub fn clock(&self) -> Arc<SurveyClock> {
        Arc::clone(&self.clock)
    }

    /// The moment now.
    pub fn now(&self) -> Elapsed {
        self.clock.elapsed()
    }

    /// Roles whose file is at its end.
    pub fn ended(&self) -> &HashSet<Role> {
        &self.ended
    }

    /// What stands in the way of a source, if anything does.
    pub fn trouble(&self, role: Role) -> Option<&str> {
        self.trouble
            .iter()
            .rev()
            .find(|(of, _)| *of == role)
            .map(|(_, why)| why.as_str())
    }

    /// Takes what a source told.
    pub fn take(&mut self, role: Role, happening: Happening) {
        match happening {
            Happening::Line(line) => self.line(role, line),
            Happening::Up { address } => {
                self.trouble.retain(|(of, _)| *of != role);
                let stamp = self.clock.now();
                for source in self.gear_of(role) {
                    self.gear(
                        &GearRecord::Up {
                            source,
                            address: Some(address.clone()),
                        },
                        stamp,
                    );
                }
            }
            Happening::Down { why } => {
                let stamp = self.clock.now();
                for source in self.gear_of(role) {
                    self.gear(
                        &GearRecord::Down {
                            source,
                            why: Some(why.clone()),
                        },
                        stamp,
                    );
                }
            }
            Happening::Ended => {
                self.ended.insert(role);
            }
            Happening::Trouble { why } => {
                self.trouble.retain(|(of, _)| *of != role);
                self.trouble.push((role, why));
            }
        }
    }

    /// Journals what the surveyor did, and acts on it.
    pub fn say(&mut self, record: &SurveyorRecord) {
        let stamp = self.clock.now();
        self.keep(Source::Surveyor, surveyor::line(record).into_bytes(), 0, stamp);
    }

    /// Takes a line with a stamp of its own, as read from a file.
    pub fn line(&mut self, role: Role, line: RawLine) {
        let source = self.source_of(role, &line.bytes);
        self.keep(source, line.bytes, line.left_out, line.stamp);
    }

    /// Changes the set-up, in the file too.
    ///
    /// # Errors
    /// When the file cannot be read, understood or written.
    pub fn change_setup(
        &mut self,
        change: impl FnOnce(&str) -> Result<String, setup_file::SetupError>,
    ) -> anyhow::Result<()> {
        let path = self.folder.join(format::SETUP);
        let text = fs_err::read_to_string(&path)?;
        let changed = change(&text)?;
        let setup = setup_file::read(&changed)?.setup;
        folder::write_whole(&path, changed.as_bytes())?;
        self.survey.set_up(setup);
        Ok(())
    }

    /// Ends the survey: everything on the disk, the tables written.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn finish(mut self) -> anyhow::Result<PathBuf> {
        let kept = self.keeper.finish();
        self.survey.settle();
        tables::write(&self.folder, &mut self.survey).context("the survey's tables could not be written")?;
        kept.map_err(anyhow::Error::msg)?;
        Ok(self.folder)
    }

    fn gear_of(&self, role: Role) -> Vec<GearSource> {
        match role {
            Role::Node if self.shared => vec![GearSource::Node, GearSource::Gps],
            Role::Node => vec![GearSource::Node],
            Role::Gps => vec![GearSource::Gps],
            Role::Surveyor => Vec::new(),
        }
    }

    fn gear(&mut self, record: &GearRecord, stamp: Stamp) {
        self.keep(Source::Gear, gear::line(record).into_bytes(), 0, stamp);
    }

    /// Whose line it is: a position line begins with `$` or `!`, wherever it comes from.
    fn source_of(&self, role: Role, bytes: &[u8]) -> Source {
        match role {
            Role::Surveyor => Source::Surveyor,
            _ if matches!(bytes.first(), Some(b'$' | b'!')) => Source::Gps,
            Role::Gps if self.gps_apart => Source::Gps,
            Role::Gps | Role::Node => Source::Node,
        }
    }

    fn keep(&mut self, source: Source, bytes: Vec<u8>, left_out: usize, stamp: Stamp) {
        let at = Elapsed(stamp.elapsed_us).max(self.last);
        self.last = at;
        let line = JournalLine {
            at,
            wall: UtcMs(stamp.utc_ms),
            source,
            bytes,
            left_out,
        };
        self.keeper.append(&line);
        self.survey.apply(&line);
    }
}

/// The reader for firmware that prints something else.
fn pattern_of(setup: &Setup) -> anyhow::Result<Option<NodePattern>> {
    match &setup.sources.node_pattern {
        Some(text) => Ok(Some(
            NodePattern::new(text).context("sources.node_pattern of the set-up")?,
        )),
        None => Ok(None),
    }
}
