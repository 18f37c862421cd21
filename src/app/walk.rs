//! `farpace walk`: a survey of real gear, with the screen or without.

use std::path::{Path, PathBuf};
use std::str::FromStr as _;
use std::time::Duration;

use anyhow::Context as _;
use crossbeam_channel::{Receiver, Sender, bounded};

use super::bar::Bar;
use super::clock::SurveyClock;
use super::event::Event;
use super::recorder::{Recorder, Wiring};
use super::say::say;
use super::{clock, ear, file_clock, home, signals};
use crate::cli::WalkArgs;
use crate::ground::Position;
use crate::session::{folder, format, setup_file};
use crate::sources::{self, Address, Handle, Kit, Role};
use crate::survey::Setup;
use crate::units::{Degrees, Elapsed};

/// How many happenings may wait; a file's reader is held back beyond that.
pub const WAITING: usize = 4096;

/// What a survey is begun with, once the words of the command line are understood.
#[derive(Debug)]
pub struct Plan {
    /// The survey's folder.
    pub folder: PathBuf,
    /// Its set-up.
    pub setup: Setup,
    /// Where the lines come from.
    pub inputs: Inputs,
    /// Whether the folder holds a survey to go on with.
    pub go_on: bool,
}

/// Where the lines come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Inputs {
    /// The node.
    pub node: Option<Address>,
    /// The receiver.
    pub gps: Option<Address>,
    /// The surveyor's records, as lines.
    pub surveyor: Option<Address>,
}

impl Inputs {
    /// Where neither node nor receiver is named, both are looked for.
    pub fn look_if_none(&mut self) {
        if self.node.is_none() && self.gps.is_none() {
            (self.node, self.gps) = (Some(Address::Auto), Some(Address::Auto));
        }
    }

    /// How lines are told apart.
    pub fn wiring(&self) -> Wiring {
        let shared = self.node.is_some() && self.node == self.gps;
        Wiring {
            gps_apart: self.gps.is_some() && self.node.is_some() && !shared,
            shared,
        }
    }
}

/// The set-up of a survey that goes on, which names its gear; an empty one where none was written.
///
/// # Errors
/// When it cannot be used.
pub fn own_setup(folder: &Path) -> anyhow::Result<Setup> {
    let path = folder.join(format::SETUP);
    if !path.exists() {
        return Ok(Setup::default());
    }
    let text = fs_err::read_to_string(&path)?;
    let read = setup_file::read(&text).with_context(|| path.display().to_string())?;
    Ok(read.setup)
}

/// Understands the words of the command line.
///
/// # Errors
/// When an address, the station or the set-up cannot be used: in words that say what to write instead.
pub fn plan(args: &WalkArgs, surveys: Option<&Path>) -> anyhow::Result<Plan> {
    let mut setup = match (&args.set_up, &args.out) {
        (Some(path), _) => {
            let text = fs_err::read_to_string(path)?;
            let read = setup_file::read(&text).with_context(|| path.display().to_string())?;
            for key in read.unknown {
                say(format!("{}: `{key}` is not known and has no effect", path.display()));
            }
            read.setup
        }
        // What it does not understand of its own set-up is said where the survey is read.
        (None, Some(folder)) if args.go_on => own_setup(folder)?,
        (None, _) => Setup::default(),
    };
    if let Some(title) = &args.title {
        setup.title.clone_from(title);
    }
    if let Some(station) = &args.station {
        setup.station.position = Some(position(station)?);
    }
    let address = |word: &Option<String>, known: &Option<String>| -> anyhow::Result<Option<Address>> {
        match word.as_ref().or(known.as_ref()) {
            Some(text) => Ok(Some(Address::from_str(text)?)),
            None => Ok(None),
        }
    };
    let mut inputs = Inputs {
        node: address(&args.node, &setup.sources.node)?,
        gps: address(&args.gps, &setup.sources.gps)?,
        surveyor: address(&args.surveyor, &None)?,
    };
    inputs.look_if_none();
    setup.sources.node = inputs.node.as_ref().map(ToString::to_string);
    setup.sources.gps = inputs.gps.as_ref().map(ToString::to_string);
    let folder = if let Some(folder) = &args.out {
        folder.clone()
    } else {
        let title = if setup.title.is_empty() { "survey" } else { &setup.title };
        folder::free(&home::surveys(surveys)?, &folder::name(&clock::local_minute(), title))
    };
    Ok(Plan {
        folder,
        setup,
        inputs,
        go_on: args.go_on,
    })
}

/// Reads `LAT,LON` in decimal degrees.
///
/// # Errors
/// When it is none: in words.
pub fn position(text: &str) -> anyhow::Result<Position> {
    let help = "give the station as LAT,LON in decimal degrees, south and west negative, such as 52.10000,-2.90000";
    let (lat, lon) = text.split_once(',').context(help)?;
    let degrees = |text: &str| text.trim().parse::<f64>().map(Degrees).context(help);
    Ok(Position::new(degrees(lat)?, degrees(lon)?)?)
}

/// The sources of a survey, being read.
#[derive(Debug)]
pub struct Reading {
    handles: Vec<Handle>,
}

impl Reading {
    /// Opens every source.
    pub fn open(inputs: &Inputs, recorder: &Recorder, send: &Sender<Event>) -> Self {
        let kit = Kit::new(recorder.clock(), ear::hear);
        let mut handles = Vec::new();
        let auto: Vec<Role> = [(Role::Node, &inputs.node), (Role::Gps, &inputs.gps)]
            .into_iter()
            .filter(|(_, address)| **address == Some(Address::Auto))
            .map(|(role, _)| role)
            .collect();
        let taken: Vec<String> = [&inputs.node, &inputs.gps, &inputs.surveyor]
            .into_iter()
            .filter_map(|address| match address {
                Some(Address::Serial { path, .. }) => Some(path.clone()),
                _ => None,
            })
            .collect();
        if !auto.is_empty() {
            handles.push(sources::open_auto(&auto, &taken, &kit, send.clone()));
        }
        let shared = inputs.wiring().shared;
        for (role, address) in [
            (Role::Node, &inputs.node),
            (Role::Gps, &inputs.gps),
            (Role::Surveyor, &inputs.surveyor),
        ] {
            match address {
                Some(Address::Auto) | None => {}
                Some(_) if role == Role::Gps && shared => {}
                Some(address) => handles.push(sources::open(address, role, &kit, send.clone())),
            }
        }
        Self { handles }
    }

    /// Stops every reader.
    pub fn stop(self) {
        for handle in self.handles {
            handle.stop();
        }
    }
}

/// The recorder of a survey that begins, or goes on; what was found when it goes on is said.
fn recorder(plan: &Plan, send: &Sender<Event>) -> anyhow::Result<(Recorder, Vec<String>)> {
    let wiring = plan.inputs.wiring();
    if plan.go_on {
        let mut bar = Bar::new("reading the survey so far, per cent", 100);
        let gone_on = Recorder::go_on(&plan.folder, wiring, send.clone(), |share| {
            bar.at((share * 100.0) as usize);
        });
        bar.end();
        return gone_on;
    }
    let clock = SurveyClock::starting_at(Elapsed(0));
    let recorder = Recorder::begin(&plan.folder, &plan.setup, wiring, clock, send.clone())?;
    Ok((recorder, Vec::new()))
}

/// Makes a survey without a screen, until the sources end or a signal says stop.
///
/// # Errors
/// When the survey cannot be begun or kept.
pub fn without_screen(plan: &Plan) -> anyhow::Result<PathBuf> {
    let (send, come) = bounded(WAITING);
    signals::watch(send.clone())?;
    let (mut recorder, warnings) = recorder(plan, &send)?;
    for warning in warnings {
        say(warning);
    }
    say(format!("logging to {}", plan.folder.display()));
    if file_clock::applies(&plan.inputs) {
        file_clock::read_all(&plan.inputs, &mut recorder)?;
        return recorder.finish();
    }
    let reading = Reading::open(&plan.inputs, &recorder, &send);
    drop(send);
    log(&mut recorder, &plan.inputs, &come);
    end(recorder, reading, &come)
}

/// Ends a survey: stops its readers, keeps what they had handed over, finishes its files.
///
/// # Errors
/// When the disk does not take them.
pub fn end(mut recorder: Recorder, reading: Reading, come: &Receiver<Event>) -> anyhow::Result<PathBuf> {
    reading.stop();
    // What the readers handed over before they stopped was received, and is kept.
    while let Ok(event) = come.try_recv() {
        if let Event::Source(role, happening) = event {
            recorder.take(role, happening);
        }
    }
    recorder.finish()
}

/// Takes what comes until it is over.
pub fn log(recorder: &mut Recorder, inputs: &Inputs, come: &Receiver<Event>) {
    loop {
        match come.recv_timeout(Duration::from_secs(3600)) {
            Ok(Event::Source(role, happening)) => {
                if let sources::Happening::Trouble { why } = &happening {
                    say(why);
                }
                recorder.take(role, happening);
                if recorder.survey().activities().finished().is_some() || is_over(inputs, recorder) {
                    return;
                }
            }
            Ok(Event::Rehearsed(record)) => recorder.say(&record),
            Ok(Event::Stop(_) | Event::RehearsalOver) | Err(crossbeam_channel::RecvTimeoutError::Disconnected) => {
                return;
            }
            Ok(Event::Disk(Err(why))) => say(why),
            Ok(Event::Disk(Ok(()))) => say("the disk takes the journal again"),
            Ok(_) | Err(crossbeam_channel::RecvTimeoutError::Timeout) => {}
        }
    }
}

/// Whether nothing more can come: every source that ends has ended, and no node is left to hear.
fn is_over(inputs: &Inputs, recorder: &Recorder) -> bool {
    let over = |role: Role, address: &Option<Address>| match address {
        None => true,
        Some(Address::File(_) | Address::Stdin) => recorder.ended().contains(&role),
        Some(_) => false,
    };
    let gps_over = inputs.wiring().shared || over(Role::Gps, &inputs.gps);
    let gps_ends = matches!(inputs.gps, Some(Address::File(_) | Address::Stdin));
    let node_over = over(Role::Node, &inputs.node);
    match &inputs.node {
        Some(_) => node_over && (gps_over || !gps_ends),
        None => gps_over,
    }
}

/// Keeps the parts of a running survey alive together.
#[derive(Debug)]
pub struct Running {
    /// The survey.
    pub recorder: Recorder,
    /// Its sources.
    pub reading: Reading,
    /// Where they are.
    pub inputs: Inputs,
    /// What comes.
    pub come: Receiver<Event>,
    /// Where more may be sent.
    pub send: Sender<Event>,
}

/// Begins (or goes on with) a survey for the full screen.
///
/// # Errors
/// When it cannot be begun or kept.
pub fn with_screen(plan: &Plan) -> anyhow::Result<(Running, Vec<String>)> {
    let (send, come) = bounded(WAITING);
    signals::watch(send.clone())?;
    let (recorder, warnings) = recorder(plan, &send)?;
    let reading = Reading::open(&plan.inputs, &recorder, &send);
    Ok((
        Running {
            recorder,
            reading,
            inputs: plan.inputs.clone(),
            come,
            send,
        },
        warnings,
    ))
}

#[cfg(test)]
mod tests {
    use clap::Parser as _;

    use super::*;
    use crate::cli::{Cli, Command};

    #[test]
    fn a_survey_goes_on_with_the_gear_it_names() {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path().to_str().unwrap();
        let planned = |more: &[&str]| {
            let words = ["farpace", "walk", "--go-on", "--out", at];
            let cli = Cli::parse_from(words.iter().chain(more));
            let Some(Command::Walk(args)) = cli.command else {
                panic!("no walk")
            };
            plan(&args, None).unwrap().inputs
        };
        let address = |text: &str| Some(Address::from_str(text).unwrap());
        assert_eq!(planned(&[]).node, address("auto"), "nothing is named yet");
        let named = "[sources]\nnode = \"tcp:127.0.0.1:7101\"\n";
        std::fs::write(folder.path().join(format::SETUP), named).unwrap();
        assert_eq!(
            (planned(&[]).node, planned(&[]).gps),
            (address("tcp:127.0.0.1:7101"), None)
        );
        assert_eq!(planned(&["--node", "udp:127.0.0.1:9"]).node, address("udp:127.0.0.1:9"));
    }
}
