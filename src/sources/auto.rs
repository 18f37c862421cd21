//! Finds by listening which port is the node and which the GPS, and finds them again when they were unplugged.
//!
//! Ports in question are held open while they are listened to: opening one restarts many boards, and a board that is
//! restarted every few seconds never speaks.

use std::collections::{BTreeMap, BTreeSet};
use std::convert::Infallible;
use std::thread::{self, Scope};
use std::time::Duration;

use crossbeam_channel::{Receiver, Sender, after, select, unbounded};
use serialport::SerialPort;

use super::address::Address;
use super::happening::{Happening, Role};
use super::hearing::Lost;
use super::kit::Kit;
use super::lines::{LINE_CAP, LineCutter};
use super::open::{Handle, start};
use super::outlet::{Outlet, SaidOnce, Stop, StopOrder, Stopped, stop_order};
use super::ports::FoundPort;
use super::probe::{Opinion, form_opinion};
use super::refusal::{Refusal, open_port};
use super::serial::{NODE_BAUD, RETRY, hand_on};

/// Pause before a port that could not be opened is tried again.
const REFUSED_PAUSE: Duration = Duration::from_secs(2);

/// Finds the ports for `roles` among all serial ports but those of `avoid` (paths other sources have), and hands on what
/// happens at each, labelled with its role.
///
/// A port that says both what a node and what a GPS says serves both, labelled [`Role::Node`], unless another port
/// is a GPS alone. Surveyor's records are not found so.
pub fn open_auto<T>(roles: &[Role], avoid: &[String], kit: &Kit, send: Sender<T>) -> Handle
where
    T: From<(Role, Happening)> + Send + 'static,
{
    let (roles, avoid, kit) = (roles.to_vec(), avoid.to_vec(), kit.clone());
    let label = roles.first().copied().unwrap_or(Role::Node);
    start(label, send, move |outlet| {
        run(&roles, &avoid, &kit, &outlet).map(|never| match never {})
    })
}

/// Finds and reads the ports for `roles`.
pub(super) fn run(roles: &[Role], avoid: &[String], kit: &Kit, outlet: &Outlet) -> Result<Infallible, Stopped> {
    if roles.contains(&Role::Surveyor) {
        outlet.with_role(Role::Surveyor).say(Happening::Trouble {
            why: "auto finds nodes and GPS receivers only: name the address of the surveyor's records".to_owned(),
        })?;
    }
    let (tell, news) = unbounded();
    thread::scope(|scope| {
        let mut search = Search {
            roles: roles.iter().copied().filter(|role| *role != Role::Surveyor).collect(),
            avoid,
            kit,
            outlet,
            scope,
            tell,
            ears: BTreeMap::new(),
            seats: BTreeMap::new(),
            passed_over: BTreeMap::new(),
            undecided: Vec::new(),
            said: BTreeMap::new(),
        };
        search.go_on(&news)
    })
}

/// What the threads tell the search.
enum News {
    /// A port says something that is understood.
    Understood(Box<Candidate>),
    /// A port was looked at in vain.
    InVain { path: String, finding: Option<String> },
    /// A port is gone while it was listened to.
    Gone { path: String },
    /// A port that was read broke.
    Broke { path: String },
}

/// A port that is understood, still open.
struct Candidate {
    path: String,
    port: Box<dyn SerialPort>,
    cutter: LineCutter,
    opinion: Opinion,
}

impl Candidate {
    fn speaks(&self, role: Role) -> bool {
        match role {
            Role::Node => self.opinion.node.is_some(),
            Role::Gps => self.opinion.gps.is_some(),
            Role::Surveyor => false,
        }
    }
}

/// A thread that listens at a port not yet understood.
struct Ear {
    /// Dropped, it ends the thread.
    _order: StopOrder,
    /// Whether it has looked yet.
    looked: bool,
    /// What it found in vain, in words, where that is worth saying.
    finding: Option<String>,
}

struct Search<'scope, 'env> {
    roles: Vec<Role>,
    avoid: &'env [String],
    kit: &'env Kit,
    outlet: &'env Outlet,
    scope: &'scope Scope<'scope, 'env>,
    tell: Sender<News>,
    ears: BTreeMap<String, Ear>,
    /// The port of each role that has one.
    seats: BTreeMap<Role, String>,
    /// Ports understood and not needed, with the roles they could fill.
    passed_over: BTreeMap<String, Vec<Role>>,
    /// Ports that could fill two roles, kept until it is known whether another fills one of them.
    undecided: Vec<Candidate>,
    said: BTreeMap<Role, SaidOnce>,
}

impl Search<'_, '_> {
    fn go_on(&mut self, news: &Receiver<News>) -> Result<Infallible, Stopped> {
        loop {
            self.outlet.stop.check()?;
            self.look_around();
            self.decide()?;
            self.complain()?;
            let pause = after(RETRY);
            select! {
                recv(news) -> piece => if let Ok(piece) = piece {
                    self.hear_of(piece)?;
                },
                recv(pause) -> _ => {}
                recv(self.outlet.stop.ear()) -> _ => return Err(Stopped),
            }
        }
    }

    fn missing(&self) -> Vec<Role> {
        let missing = |role: &&Role| !self.seats.contains_key(role);
        self.roles.iter().filter(missing).copied().collect()
    }

    /// Listens at every port that may have what is missing, and at no other.
    fn look_around(&mut self) {
        let missing = self.missing();
        if missing.is_empty() {
            self.ears.clear();
            self.undecided.clear();
            return;
        }
        let there: BTreeSet<String> = (self.kit.ports)()
            .into_iter()
            .map(|FoundPort { path, .. }| path)
            .collect();
        self.passed_over
            .retain(|path, could| there.contains(path) && !could.iter().any(|role| missing.contains(role)));
        self.ears.retain(|path, _| there.contains(path));
        for path in there {
            let is_taken = self.seats.values().any(|seat| *seat == path)
                || self.undecided.iter().any(|candidate| candidate.path == path)
                || self.passed_over.contains_key(&path)
                || self.avoid.iter().any(|avoided| is_same_place(avoided, &path));
            if is_taken || self.ears.contains_key(&path) {
                continue;
            }
            let (order, stop) = stop_order();
            let (kit, tell, wanted, at) = (self.kit, self.tell.clone(), missing.clone(), path.clone());
            let ear = move || listen_at(&at, kit, &stop, &wanted, &tell);
            let started = thread::Builder::new()
                .name("source ear".to_owned())
                .spawn_scoped(self.scope, ear);
            let finding = started
                .err()
                .map(|error| format!("{path} cannot be listened to: {error}"));
            let looked = finding.is_some();
            self.ears.insert(
                path,
                Ear {
                    _order: order,
                    looked,
                    finding,
                },
            );
        }
    }

    fn hear_of(&mut self, news: News) -> Result<(), Stopped> {
        match news {
            News::Understood(candidate) => {
                self.ears.remove(&candidate.path);
                let missing = self.missing();
                let fills: Vec<Role> = missing.into_iter().filter(|role| candidate.speaks(*role)).collect();
                match fills[..] {
                    [] => {
                        let all = [Role::Node, Role::Gps];
                        let could = all.into_iter().filter(|role| candidate.speaks(*role)).collect();
                        self.passed_over.insert(candidate.path, could);
                    }
                    [role] => self.seat(&[role], *candidate)?,
                    _ => self.undecided.push(*candidate),
                }
            }
            News::InVain { path, finding } => {
                if let Some(ear) = self.ears.get_mut(&path) {
                    ear.looked = true;
                    ear.finding = finding;
                }
            }
            News::Gone { path } => {
                self.ears.remove(&path);
            }
            News::Broke { path } => self.seats.retain(|_, seat| *seat != path),
        }
        Ok(())
    }

    /// Seats a port that fills two roles once every other port was listened to.
    fn decide(&mut self) -> Result<(), Stopped> {
        if self.undecided.is_empty() || self.ears.values().any(|ear| !ear.looked) {
            return Ok(());
        }
        let candidate = self.undecided.remove(0);
        let mut fills = self.missing();
        fills.retain(|role| candidate.speaks(*role));
        if fills.is_empty() {
            return Ok(());
        }
        self.seat(&fills, candidate)
    }

    /// Reads `candidate` from now on, for `roles`, labelled with the first.
    fn seat(&mut self, roles: &[Role], candidate: Candidate) -> Result<(), Stopped> {
        let Some(label) = roles.first() else {
            return Ok(());
        };
        for role in roles {
            self.seats.insert(*role, candidate.path.clone());
            self.said.remove(role);
        }
        let outlet = self.outlet.with_role(*label);
        let (kit, tell, path) = (self.kit, self.tell.clone(), candidate.path.clone());
        let read = move || {
            let Candidate {
                path,
                mut port,
                cutter,
                opinion,
            } = candidate;
            let address = Address::Serial {
                path: path.clone(),
                baud: (opinion.baud != NODE_BAUD).then_some(opinion.baud),
            };
            let ended = hand_on(port.as_mut(), &address, opinion.lines, cutter, &*kit.clock, &outlet);
            drop(port);
            if ended.is_ok() {
                // A search that is over needs no news.
                let _ = tell.send(News::Broke { path });
            }
        };
        if let Err(error) = thread::Builder::new()
            .name("source".to_owned())
            .spawn_scoped(self.scope, read)
        {
            self.seats.retain(|_, seat| *seat != path);
            self.outlet.with_role(*label).say(Happening::Trouble {
                why: format!("the system starts no further thread to read {path} with: {error}; close other programs"),
            })?;
        }
        Ok(())
    }

    /// Says what is missing, once every port was looked at in vain.
    fn complain(&mut self) -> Result<(), Stopped> {
        if self.ears.values().any(|ear| !ear.looked) || !self.undecided.is_empty() {
            return Ok(());
        }
        let findings: Vec<&str> = self.ears.values().filter_map(|ear| ear.finding.as_deref()).collect();
        for role in self.missing() {
            let wanted = if role == Role::Gps { "GPS" } else { "node" };
            let why = if findings.is_empty() {
                format!(
                    "no serial port is there that could be the {wanted}: plug it in, it is taken as soon as it speaks"
                )
            } else {
                format!("no port speaks like a {wanted} yet: {}", findings.join("; "))
            };
            self.said
                .entry(role)
                .or_default()
                .trouble(&self.outlet.with_role(role), why)?;
        }
        Ok(())
    }
}

/// Listens at the port until it is understood, gone, or no longer of interest.
fn listen_at(path: &str, kit: &Kit, stop: &Stop, wanted: &[Role], tell: &Sender<News>) {
    // The search outlives its ears; should it not, there is nobody to tell.
    let in_vain = |finding: Option<String>| {
        let _ = tell.send(News::InVain {
            path: path.to_owned(),
            finding,
        });
    };
    let gone = || {
        let _ = tell.send(News::Gone { path: path.to_owned() });
    };
    let mut port = loop {
        match open_port(path, NODE_BAUD) {
            Ok(port) => break port,
            Err(Refusal::Missing) => return gone(),
            // Most computers list ports they do not have; that is no news.
            Err(Refusal::NoHardware) => in_vain(None),
            Err(refusal) => in_vain(Some(refusal.words(path))),
        }
        if stop.pause(REFUSED_PAUSE).is_err() {
            return;
        }
    };
    let mut cutter = LineCutter::new(LINE_CAP);
    let enough = |opinion: &Opinion| {
        (opinion.node.is_some() || !wanted.contains(&Role::Node))
            && (opinion.gps.is_some() || !wanted.contains(&Role::Gps))
    };
    loop {
        match form_opinion(port.as_mut(), &mut cutter, kit, stop, &enough) {
            Ok(opinion) if opinion.is_clear() => {
                let _ = tell.send(News::Understood(Box::new(Candidate {
                    path: path.to_owned(),
                    port,
                    cutter,
                    opinion,
                })));
                return;
            }
            Ok(opinion) if opinion.is_silence() => in_vain(Some(format!("{path} is silent"))),
            Ok(_) => in_vain(Some(format!("{path} says nothing that is understood"))),
            Err(Lost::Broken) => return gone(),
            Err(Lost::Stopped) => return,
        }
    }
}

fn is_same_place(a: &str, b: &str) -> bool {
    a == b
        || std::fs::canonicalize(a)
            .ok()
            .zip(std::fs::canonicalize(b).ok())
            .is_some_and(|(a, b)| a == b)
}
