//! `farpace rehearse`: invented gear, wired up through real pseudo-terminals and the ordinary serial code.

#![expect(
    clippy::disallowed_methods,
    reason = "the player's thread and its waiting belong to `app`"
)]

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use anyhow::Context as _;
use crossbeam_channel::{Sender, bounded};

use super::clock::{self, SurveyClock};
use super::event::Event;
use super::recorder::Recorder;
use super::say::say;
use super::walk::{self, Inputs, Reading, Running};
use super::{home, signals};
use crate::cli::RehearseArgs;
use crate::rehearsal::boards::Board;
use crate::rehearsal::orchard::CARRIED_HEIGHT;
use crate::rehearsal::{Item, Scenario, What, perform, scenario};
use crate::session::folder;
use crate::sources::Address;
use crate::sources::pty::{PtyPair, Written};
use crate::survey::Setup;
use crate::survey::setup::{BoardNote, Station};
use crate::units::{Dbm, Elapsed, Metres};
use crate::wire::GearSource;

/// The gear is plugged in so long after the survey began.
const PLUGGED_IN_AFTER: Elapsed = Elapsed(200_000);
/// A wait is cut into pieces so that the player notices when it is to stop.
const PIECE: Duration = Duration::from_millis(50);

/// A rehearsal to be played.
#[derive(Debug)]
pub struct Plan {
    scenario: Scenario,
    seed: u64,
    speed: f64,
    folder: PathBuf,
}

/// Understands the words of the command line.
///
/// # Errors
/// When there is no such scenario, or the speed is none: in words.
pub fn plan(args: &RehearseArgs, surveys: Option<&Path>) -> anyhow::Result<Plan> {
    let scenario = scenario::named(&args.scenario)
        .with_context(|| format!("there is no scenario `{}`; there are:\n{}", args.scenario, stories()))?;
    anyhow::ensure!(
        (0.1..=500.0).contains(&args.speed),
        "--speed {} is not between 0.1 and 500",
        args.speed
    );
    let folder = if let Some(folder) = &args.out {
        folder.clone()
    } else {
        let title = format!("rehearsal {}", scenario.name);
        folder::free(&home::surveys(surveys)?, &folder::name(&clock::local_minute(), &title))
    };
    Ok(Plan {
        scenario,
        seed: args.seed,
        speed: args.speed,
        folder,
    })
}

/// Lists the scenarios with their stories.
///
/// # Errors
/// When standard output is closed.
pub fn list() -> anyhow::Result<()> {
    use std::io::Write as _;
    writeln!(std::io::stdout(), "{}", stories())?;
    Ok(())
}

fn stories() -> String {
    let story = |one: Scenario| format!("  {:<11} {}", one.name, one.story);
    scenario::all().map(story).collect::<Vec<_>>().join("\n")
}

/// Invented gear, plugged in and playing.
#[derive(Debug)]
pub struct Stage {
    stop: Arc<AtomicBool>,
    player: Option<JoinHandle<anyhow::Result<()>>>,
    /// Holds the links of the ports; goes when the stage is struck.
    _ports: tempfile::TempDir,
}

impl Stage {
    /// Stops the player and takes the gear away.
    ///
    /// # Errors
    /// When a pseudo-terminal failed.
    pub fn strike(mut self) -> anyhow::Result<()> {
        self.stop.store(true, Ordering::Relaxed);
        match self.player.take().map(JoinHandle::join) {
            Some(Ok(result)) => result,
            Some(Err(_)) => anyhow::bail!("the rehearsal's player broke down"),
            None => Ok(()),
        }
    }
}

/// Plays a rehearsal without a screen, to its end.
///
/// # Errors
/// When the survey cannot be begun or kept, or the system gives no pseudo-terminal.
pub fn without_screen(plan: &Plan) -> anyhow::Result<PathBuf> {
    let (mut running, stage) = begin(plan)?;
    say(format!(
        "rehearsing {} (seed {}) in {}",
        plan.scenario.name,
        plan.seed,
        plan.folder.display()
    ));
    walk::log(&mut running.recorder, &running.inputs, &running.come);
    let folder = walk::end(running.recorder, running.reading, &running.come)?;
    stage.strike()?;
    Ok(folder)
}

/// Begins a rehearsal: the gear is wired up and the walker sets off.
///
/// # Errors
/// When the survey cannot be begun, or the system gives no pseudo-terminal.
pub fn begin(plan: &Plan) -> anyhow::Result<(Running, Stage)> {
    let (send, come) = bounded(walk::WAITING);
    signals::watch(send.clone())?;
    let ports = tempfile::Builder::new().prefix("farpace-gear-").tempdir()?;
    let cable = |name: &str| ports.path().join(name);
    let inputs = Inputs {
        node: Some(Address::Serial {
            path: cable("node").to_string_lossy().into_owned(),
            baud: None,
        }),
        gps: Some(Address::Serial {
            path: cable("gps").to_string_lossy().into_owned(),
            baud: None,
        }),
        surveyor: None,
    };
    let setup = setup_of(&plan.scenario, plan.seed);
    let clock = SurveyClock::rehearsing(plan.speed, plan.scenario.begins);
    let recorder = Recorder::begin(&plan.folder, &setup, inputs.wiring(), clock, send.clone())?;
    let player = Player {
        node: Some(PtyPair::with_link(cable("node"))?),
        gps: Some(PtyPair::with_link(cable("gps"))?),
        node_link: cable("node"),
        gps_link: cable("gps"),
        clock: recorder.clock(),
        stop: Arc::new(AtomicBool::new(false)),
        tell: send.clone(),
    };
    let stop = Arc::clone(&player.stop);
    let reading = Reading::open(&inputs, &recorder, &send);
    let (scenario, seed) = (plan.scenario.clone(), plan.seed);
    let player = thread::spawn(move || player.play(perform(scenario, seed)));
    let stage = Stage {
        stop,
        player: Some(player),
        _ports: ports,
    };
    Ok((
        Running {
            recorder,
            reading,
            inputs,
            come,
            send,
        },
        stage,
    ))
}

/// Words in the note of every rehearsal's set-up.
const INVENTED: &str = "Invented: rehearsal";

/// Whether a survey was made on invented gear, by its set-up: it must not go on with real gear.
pub fn is_rehearsed(setup: &Setup) -> bool {
    setup.note.as_ref().is_some_and(|note| note.contains(INVENTED))
}

/// The set-up a surveyor would have written for a scenario.
pub fn setup_of(scenario: &Scenario, seed: u64) -> Setup {
    let site = &scenario.site;
    let board = |board: &Board| BoardNote {
        name: board.name.to_owned(),
        reference: board.reference,
        height: Some(Metres(CARRIED_HEIGHT)),
        tx: Some(Dbm(board.tx)),
        note: Some(board.note.to_owned()),
    };
    Setup {
        title: format!("{} ({})", site.title, scenario.name),
        note: Some(format!("{}. {INVENTED} `{}`, seed {seed}.", site.note, scenario.name)),
        station: Station {
            name: Some(site.station.to_owned()),
            position: Some(site.position),
            height: Some(site.height),
            sigma: Some(site.sigma),
        },
        boards: scenario.boards.iter().map(board).collect(),
        ..Setup::default()
    }
}

struct Player {
    node: Option<PtyPair>,
    gps: Option<PtyPair>,
    node_link: PathBuf,
    gps_link: PathBuf,
    clock: Arc<SurveyClock>,
    stop: Arc<AtomicBool>,
    tell: Sender<Event>,
}

impl Player {
    fn play(mut self, items: impl Iterator<Item = Item>) -> anyhow::Result<()> {
        for item in items {
            if !self.wait_until(Elapsed(item.at.0 + PLUGGED_IN_AFTER.0)) {
                return Ok(());
            }
            match item.what {
                What::NodeBytes(bytes) => self.write(GearSource::Node, &bytes)?,
                What::GpsBytes(bytes) => self.write(GearSource::Gps, &bytes)?,
                What::Surveyor(record) => {
                    // Nobody listens any more when the survey has ended.
                    let _ = self.tell.send(Event::Rehearsed(record));
                }
                What::Unplug(source) => drop(self.cable(source).take()),
                What::Replug(source) => {
                    let link = if source == GearSource::Node {
                        &self.node_link
                    } else {
                        &self.gps_link
                    };
                    let pair = PtyPair::with_link(link.clone())?;
                    *self.cable(source) = Some(pair);
                }
            }
        }
        // The last lines have their way through the pseudo-terminal before the end is told.
        thread::sleep(Duration::from_millis(200));
        let _ = self.tell.send(Event::RehearsalOver);
        while !self.stop.load(Ordering::Relaxed) {
            thread::sleep(PIECE);
        }
        Ok(())
    }

    fn cable(&mut self, source: GearSource) -> &mut Option<PtyPair> {
        match source {
            GearSource::Node => &mut self.node,
            GearSource::Gps => &mut self.gps,
        }
    }

    /// Waits; false when the player is to stop.
    fn wait_until(&self, at: Elapsed) -> bool {
        loop {
            if self.stop.load(Ordering::Relaxed) {
                return false;
            }
            let wait = self.clock.wait_until(at);
            if wait.is_zero() {
                return true;
            }
            thread::sleep(wait.min(PIECE));
        }
    }

    /// Writes as gear does that never waits for long: what finds no room for a second is gone.
    fn write(&mut self, source: GearSource, bytes: &[u8]) -> anyhow::Result<()> {
        let stop = Arc::clone(&self.stop);
        let Some(pair) = self.cable(source) else { return Ok(()) };
        let mut rest = bytes;
        for _ in 0..20 {
            match pair.write(rest)? {
                Written::All => return Ok(()),
                Written::Partly(_) if stop.load(Ordering::Relaxed) => return Ok(()),
                Written::Partly(count) => rest = &rest[count..],
            }
        }
        Ok(())
    }
}
