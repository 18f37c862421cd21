//! `farpace` without a command: the menu, and where it leads, and back to the menu.

#![expect(
    clippy::disallowed_methods,
    reason = "the threads that look at disk and ports belong to `app`"
)]

use std::path::{Path, PathBuf};
use std::str::FromStr as _;
use std::sync::Arc;
use std::thread;

use crossbeam_channel::{Receiver, Sender, bounded, select, unbounded};
use crossterm::event::{Event as TerminalEvent, KeyCode, KeyEventKind};

use super::clock::{self, SurveyClock};
use super::event::Event;
use super::terminal::{self, Screen};
use super::walk::{self, Inputs, Plan};
use super::{ear, gear, home, known, rehearse, replay, saved, screen, signals};
use crate::cli::RehearseArgs;
use crate::findings::station;
use crate::rehearsal::scenario;
use crate::screens::start::opening::{Chosen, Opening, Scenery, Wish};
use crate::screens::start::port::{Port, Says};
use crate::screens::start::rehearsal_page::Story;
use crate::screens::start::setup_page::{Averaging, Fixing};
use crate::screens::start::survey_list::Saved;
use crate::screens::theme::Theme;
use crate::session::folder;
use crate::sources::probe::Order;
use crate::sources::{self, Address, Handle, Happening, Kit, Role, Until};
use crate::survey::Setup;
use crate::survey::fixes::Fixes;
use crate::units::{Elapsed, UtcMs};
use crate::wire::epoch::EpochReader;

/// What comes within so many seconds of the first line may have waited in the port, from before somebody stood there.
const WAITED_S: f64 = 1.0;

/// What was chosen in the menu.
#[derive(Debug)]
pub enum Choice {
    /// Begin a survey.
    Begin(Box<Plan>),
    /// Go on with the survey in a folder.
    GoOn(PathBuf),
    /// Replay the survey in a folder.
    Replay(PathBuf),
    /// Rehearse.
    Rehearse(RehearseArgs),
    /// Leave.
    Leave,
}

/// Shows the menu and does what is chosen there, until the person leaves or the system tells the program to end.
///
/// # Errors
/// When there is no terminal, or it is gone.
pub fn start(surveys: Option<&Path>, theme: Theme) -> anyhow::Result<()> {
    terminal::must_be_there("`farpace --help` names the commands that do without one")?;
    let surveys = home::surveys(surveys)?;
    // A signal that comes while a survey or a replay is open ends that, and then this, too.
    let (stopped, stops) = bounded(8);
    signals::watch(stopped)?;
    let (mut theme, mut word) = (theme, None);
    loop {
        let (choice, chosen_theme) = choose(&surveys, theme, word, &stops)?;
        theme = chosen_theme;
        let done = match choice {
            Choice::Leave => return Ok(()),
            Choice::Begin(plan) => field(&plan, theme),
            Choice::GoOn(folder) => plan_to_go_on(&folder).and_then(|plan| field(&plan, theme)),
            Choice::Replay(folder) => replay(&folder, theme),
            Choice::Rehearse(args) => rehearsal(&args, &surveys, theme),
        };
        word = done.unwrap_or_else(|error| Some(format!("Not done: {error:#}")));
        if !stops.is_empty() {
            return Ok(());
        }
    }
}

/// Makes a survey on the field screen; says where it is.
fn field(plan: &Plan, theme: Theme) -> anyhow::Result<Option<String>> {
    let (running, warnings) = walk::with_screen(plan)?;
    let folder = screen::field(running, theme, Some(known::load()?))?;
    let mut words = format!("The survey is in {}.", folder.display());
    for warning in warnings {
        words.push_str(&format!(" Note: {warning}."));
    }
    Ok(Some(words))
}

/// Rehearses on the field screen; says where the survey is.
fn rehearsal(args: &RehearseArgs, surveys: &Path, theme: Theme) -> anyhow::Result<Option<String>> {
    let plan = rehearse::plan(args, Some(surveys))?;
    let (running, stage) = rehearse::begin(&plan)?;
    let folder = screen::field(running, theme, None);
    stage.strike()?;
    Ok(Some(format!("The rehearsal is in {}.", folder?.display())))
}

/// Replays a survey, at life's own speed to begin with; back in the menu there is nothing to say of it.
fn replay(folder: &Path, theme: Theme) -> anyhow::Result<Option<String>> {
    replay::replay(&[folder.to_owned()], 1.0, theme)?;
    Ok(None)
}

/// What a survey is gone on with: its own set-up, and the gear it names.
///
/// # Errors
/// When its set-up cannot be used.
pub fn plan_to_go_on(at: &Path) -> anyhow::Result<Plan> {
    let setup = walk::own_setup(at)?;
    let mut inputs = inputs(&setup)?;
    inputs.look_if_none();
    Ok(Plan {
        folder: at.to_owned(),
        setup,
        inputs,
        go_on: true,
    })
}

/// What a survey is begun with, in a new folder.
fn plan_to_begin(setup: Setup, surveys: &Path) -> anyhow::Result<Plan> {
    let title = if setup.title.is_empty() { "survey" } else { &setup.title };
    let folder = folder::free(surveys, &folder::name(&clock::local_minute(), title));
    Ok(Plan {
        inputs: inputs(&setup)?,
        folder,
        setup,
        go_on: false,
    })
}

fn inputs(setup: &Setup) -> anyhow::Result<Inputs> {
    let address = |text: &Option<String>| text.as_deref().map(Address::from_str).transpose();
    Ok(Inputs {
        node: address(&setup.sources.node)?,
        gps: address(&setup.sources.gps)?,
        surveyor: None,
    })
}

/// Shows the pages before a survey until something is chosen.
///
/// # Errors
/// When the terminal is gone.
pub fn choose(
    surveys: &Path,
    theme: Theme,
    word: Option<String>,
    stops: &Receiver<Event>,
) -> anyhow::Result<(Choice, Theme)> {
    let (send, come) = bounded(walk::WAITING);
    let (tell, told) = unbounded();
    look_at_surveys(surveys, &tell);
    let scenery = Scenery {
        surveys: Vec::new(),
        is_looking: true,
        kept_in: surveys.display().to_string(),
        ports: Vec::new(),
        is_probing: false,
        stories: stories(),
        check_address: gear::check_address,
    };
    let mut opening = Opening::new(scenery, theme);
    opening.word = word;
    let mut lobby = Lobby {
        opening,
        listening: 0,
        order: None,
        averager: None,
        waiting: None,
        wanted: None,
        send,
        tell,
    };
    let mut screen = Screen::set_up()?;
    terminal::read_keys(lobby.send.clone());
    loop {
        screen.draw(|buffer, area| {
            lobby.opening.render(buffer, area);
            false
        })?;
        let chosen = select! {
            recv(come) -> event => match event? {
                Event::Terminal(TerminalEvent::Key(key)) if key.kind == KeyEventKind::Press => lobby.press(key),
                Event::Source(_, happening) => lobby.hear(happening),
                Event::TerminalLost(why) => anyhow::bail!("the terminal is gone: {why}"),
                _ => None,
            },
            recv(told) -> found => lobby.take(found?),
            recv(stops) -> _ => Some(Chosen::Leave),
        };
        let Some(chosen) = chosen else { continue };
        drop(lobby.averager.take());
        let theme = lobby.opening.theme;
        return Ok((
            match chosen {
                Chosen::Begin(setup) => match plan_to_begin(*setup, surveys) {
                    Ok(plan) => Choice::Begin(Box::new(plan)),
                    Err(error) => {
                        lobby.opening.word = Some(format!("Not done: {error:#}"));
                        continue;
                    }
                },
                Chosen::GoOn(folder) => Choice::GoOn(folder),
                Chosen::Replay(folder) => Choice::Replay(folder),
                Chosen::Rehearse { scenario, seed, speed } => Choice::Rehearse(RehearseArgs {
                    scenario,
                    seed,
                    speed,
                    no_screen: false,
                    out: None,
                }),
                Chosen::Leave => Choice::Leave,
            },
            theme,
        ));
    }
}

fn stories() -> Vec<Story> {
    scenario::all()
        .map(|scenario| Story {
            name: scenario.name.to_owned(),
            line: scenario.story.to_owned(),
            seconds: scenario.script.seconds().round() as u32,
        })
        .collect()
}

/// What the threads that look round have found.
#[derive(Debug)]
enum Found {
    Survey(Box<Saved>),
    AllSurveys,
    Port(Port),
    /// A name without hardware.
    NoPort(String),
    Heard(String, Says),
    /// It was not listened to to the end.
    BrokenOff(String),
}

/// The pages with what is going on behind them.
struct Lobby {
    opening: Opening,
    /// How many ports are being listened to.
    listening: usize,
    /// Dropped, it has all of them let go.
    order: Option<(Order, Until)>,
    averager: Option<Averager>,
    /// What was chosen, and waits until the ports are let go.
    waiting: Option<Chosen>,
    /// The receiver that is wanted, and waits for the same.
    wanted: Option<String>,
    send: Sender<Event>,
    tell: Sender<Found>,
}

impl Lobby {
    fn press(&mut self, key: crossterm::event::KeyEvent) -> Option<Chosen> {
        if self.waiting.is_some() {
            if key.code == KeyCode::Esc {
                self.waiting = None;
                self.opening.word = None;
            }
            return None;
        }
        for wish in self.opening.press(key) {
            match wish {
                Wish::LookAtPorts => self.look_at_ports(),
                Wish::StopListening => self.order = None,
                Wish::Listen(address) => self.listen(address),
                Wish::Average(address) if self.listening > 0 => self.wanted = Some(address),
                Wish::Average(address) => self.average(&address),
                Wish::StopAveraging => (self.averager, self.wanted) = (None, None),
                Wish::Choose(chosen @ (Chosen::Begin(_) | Chosen::GoOn(_))) if self.listening > 0 => {
                    // A port that is still being listened to would be busy for the survey, which listens for itself.
                    self.waiting = Some(chosen);
                    self.order = None;
                    self.opening.word = Some("As soon as the ports are let go. Esc: not yet.".to_owned());
                }
                Wish::Choose(chosen) => return Some(chosen),
            }
        }
        None
    }

    fn take(&mut self, found: Found) -> Option<Chosen> {
        match found {
            Found::Survey(saved) => self.opening.found_survey(*saved),
            Found::AllSurveys => self.opening.scenery.is_looking = false,
            Found::Port(port) => {
                self.opening.found_port(port);
                self.heard_one();
            }
            Found::NoPort(address) => {
                self.opening.scenery.ports.retain(|port| port.address != address);
                self.heard_one();
            }
            Found::Heard(address, says) => {
                self.opening.found_port(Port {
                    address,
                    device: None,
                    says,
                });
                self.heard_one();
            }
            Found::BrokenOff(address) => {
                let known = self.opening.scenery.port(&address).and_then(|port| port.device.clone());
                self.opening.found_port(Port {
                    address,
                    device: known,
                    says: Says::BrokenOff,
                });
                self.heard_one();
            }
        }
        if self.listening > 0 {
            return None;
        }
        if let Some(address) = self.wanted.take() {
            self.average(&address);
        }
        self.waiting.take()
    }

    fn heard_one(&mut self) {
        self.listening = self.listening.saturating_sub(1);
        self.opening.scenery.is_probing = self.listening > 0;
    }

    /// Until when ports are listened to: to the end, or until the order is dropped.
    fn until(&mut self) -> Until {
        self.order.get_or_insert_with(sources::probe::order).1.clone()
    }

    fn look_at_ports(&mut self) {
        let ports = sources::list_ports();
        let listed = |address: &str| ports.iter().any(|port| gear::listening(port).address == address);
        // Of what was known, typed addresses are listened to anew; ports that are unplugged go.
        let typed: Vec<Port> = std::mem::take(&mut self.opening.scenery.ports)
            .into_iter()
            .filter(|port| !listed(&port.address) && !is_unplugged(&port.address))
            .collect();
        for port in ports {
            self.listening += 1;
            self.opening.found_port(gear::listening(&port));
            let (tell, until) = (self.tell.clone(), self.until());
            thread::spawn(move || {
                let found = match gear::probe(&port, &until).first() {
                    Some(report) => Found::Port(gear::shown(report)),
                    None if until.is_over() => Found::BrokenOff(gear::listening(&port).address),
                    None => Found::NoPort(gear::listening(&port).address),
                };
                let _ = tell.send(found);
            });
        }
        for port in typed {
            self.listen(port.address);
        }
        self.opening.scenery.is_probing = self.listening > 0;
    }

    fn listen(&mut self, written: String) {
        let Ok(address) = Address::from_str(&written) else {
            return;
        };
        self.listening += 1;
        self.opening.scenery.is_probing = true;
        self.opening.found_port(Port {
            address: written.clone(),
            device: None,
            says: Says::Listening,
        });
        let (tell, until) = (self.tell.clone(), self.until());
        thread::spawn(move || {
            let says = gear::listen(&address, &until);
            let found = if until.is_over() {
                Found::BrokenOff(written)
            } else {
                Found::Heard(written, says)
            };
            let _ = tell.send(found);
        });
    }

    fn average(&mut self, address: &str) {
        match Address::from_str(address) {
            Ok(address) => self.averager = Some(Averager::open(&address, self.send.clone())),
            Err(wrong) => self.opening.word = Some(wrong.to_string()),
        }
    }

    /// Something came from the receiver whose fixes are averaged.
    fn hear(&mut self, happening: Happening) -> Option<Chosen> {
        if let Some(averager) = &mut self.averager
            && averager.take(happening)
        {
            self.opening.averaged(averager.shown());
        }
        None
    }
}

/// Whether an address is a serial port that is not there.
fn is_unplugged(address: &str) -> bool {
    matches!(Address::from_str(address), Ok(Address::Serial { path, .. }) if !Path::new(&path).exists())
}

fn look_at_surveys(surveys: &Path, tell: &Sender<Found>) {
    let (surveys, tell) = (surveys.to_owned(), tell.clone());
    thread::spawn(move || {
        for at in folder::list(&surveys) {
            // Nobody listens any more when something was chosen meanwhile.
            if tell.send(Found::Survey(Box::new(saved::look(&at)))).is_err() {
                return;
            }
        }
        let _ = tell.send(Found::AllSurveys);
    });
}

/// Takes the fixes of a receiver for the station's position.
struct Averager {
    _handle: Handle,
    receiver: EpochReader,
    fixes: Fixes,
    trouble: Option<String>,
    /// When the first line came since the receiver is being read.
    since: Option<Elapsed>,
}

impl Averager {
    fn open(address: &Address, send: Sender<Event>) -> Self {
        let kit = Kit::new(Arc::new(SurveyClock::starting_at(Elapsed(0))), ear::hear);
        Self {
            _handle: sources::open(address, Role::Gps, &kit, send),
            receiver: EpochReader::new(),
            fixes: Fixes::default(),
            trouble: None,
            since: None,
        }
    }

    /// Takes what came; says whether it changes what is shown.
    fn take(&mut self, happening: Happening) -> bool {
        match happening {
            Happening::Line(line) if line.left_out == 0 => {
                let at = Elapsed(line.stamp.elapsed_us);
                if at.since(*self.since.get_or_insert(at)) < WAITED_S {
                    return false;
                }
                let epochs = self.receiver.feed(&line.bytes, at, UtcMs(line.stamp.utc_ms));
                for epoch in &epochs {
                    self.fixes.take(epoch);
                }
                return !epochs.is_empty();
            }
            Happening::Line(_) => return false,
            Happening::Up { .. } => (self.trouble, self.since) = (None, None),
            Happening::Down { why } => self.trouble = Some(format!("the GPS is not being read: {why}")),
            Happening::Trouble { why } => self.trouble = Some(why),
            Happening::Ended => {}
        }
        true
    }

    fn shown(&self) -> Averaging {
        let fixing = match &self.trouble {
            Some(why) => Fixing::Trouble(why.clone()),
            None if self.fixes.is_fixed() => Fixing::Fixed,
            None if self.fixes.last_epoch().is_some() => Fixing::NoFix,
            None => Fixing::Waiting,
        };
        Averaging {
            fixing,
            mean: station::average(self.fixes.good()),
        }
    }
}
