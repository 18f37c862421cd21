//! Looks at every serial port and says what is behind it and what it says.

use std::thread;
use std::time::Duration;

use serialport::SerialPort;

use super::happening::RawLine;
use super::hearing::{Lost, Window, hear};
use super::kit::{Heard, Kit};
use super::lines::{LINE_CAP, LineCutter};
use super::outlet::{Stop, StopOrder, stop_order};
use super::ports::{FoundPort, UsbDevice};
use super::refusal::{Refusal, open_port};
use super::serial::NODE_BAUD;

/// How long a port is listened to before it is called silent: a board may need that long to start.
const LISTEN: Duration = Duration::from_secs(3);

/// How long one speed is listened at while what is heard is rubbish.
const WINDOW: Duration = Duration::from_millis(1300);

/// Speeds tried, bits a second; the node's once more at the end, for the noise a board makes while it starts.
const SPEEDS: [u32; 6] = [NODE_BAUD, 9600, 38_400, 57_600, 4800, NODE_BAUD];

/// A serial port, and what was found at it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PortReport {
    /// The device, as the system names it.
    pub path: String,
    /// What is behind it, where that is a USB device.
    pub usb: Option<UsbDevice>,
    /// What it says, or why that cannot be told.
    pub state: PortState,
}

/// What a port says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PortState {
    /// It says what a node or a positioning receiver says, or both.
    Talks {
        /// The speed at which it is understood, bits a second; any speed does for a board with USB of its own.
        baud: u32,
        /// Lines of a node, if any.
        node: Option<Spoken>,
        /// Lines of a positioning receiver, if any.
        gps: Option<Spoken>,
    },
    /// It says something, and at no usual speed is it understood.
    Unclear {
        /// Bytes heard.
        bytes: usize,
        /// The first line that reads like text, if any: its first bytes, as they came.
        example: Option<Vec<u8>>,
    },
    /// It is open and says nothing.
    Silent,
    /// This user may not open it.
    Denied {
        /// A sentence with what to do.
        why: String,
    },
    /// Another program has it.
    Busy {
        /// A sentence with what to do.
        why: String,
    },
    /// It cannot be opened, or broke while it was listened to.
    Failed {
        /// A sentence with what to do.
        why: String,
    },
}

/// Lines of one kind that were heard.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Spoken {
    /// How many.
    pub lines: usize,
    /// What the latest that did so says of who is speaking, in the classifier's words.
    pub about: Option<String>,
}

/// Looks at all ports at once, for about three seconds (up to ten where one speaks at an unusual speed).
///
/// A port another source of this program has open is reported as busy; one with no hardware behind its name, as most
/// computers list some, is left out. Opening a port restarts many boards.
pub fn probe(kit: &Kit) -> Vec<PortReport> {
    // Nobody gives the order: a probe ends by itself.
    let (_order, until) = order();
    probe_until(kit, &until)
}

/// Dropped, it has every probe made with its [`Until`] let its ports go at once.
#[derive(Debug)]
pub struct Order(#[expect(dead_code, reason = "held to be dropped")] StopOrder);

/// Until when a probe listens: to its end, or until its [`Order`] is dropped.
#[derive(Clone, Debug)]
pub struct Until(Stop);

impl Until {
    /// Whether the order was given.
    pub fn is_over(&self) -> bool {
        self.0.check().is_err()
    }
}

/// An order to end probes before their time, and the ear for it.
pub fn order() -> (Order, Until) {
    let (order, stop) = stop_order();
    (Order(order), Until(stop))
}

/// The same, broken off when the order is given: ports not heard to the end are left out then.
pub fn probe_until(kit: &Kit, until: &Until) -> Vec<PortReport> {
    let stop = &until.0;
    thread::scope(|scope| {
        let listening: Vec<_> = (kit.ports)()
            .into_iter()
            .map(|port| {
                let path = port.path.clone();
                let stop = stop.clone();
                let ear = move || state_of(&path, kit, &stop);
                (
                    port,
                    thread::Builder::new()
                        .name("source probe".to_owned())
                        .spawn_scoped(scope, ear),
                )
            })
            .collect();
        listening
            .into_iter()
            .filter_map(|(FoundPort { path, usb }, ear)| {
                let state = match ear.map(thread::ScopedJoinHandle::join) {
                    Ok(Ok(state)) => state?,
                    Ok(Err(_)) | Err(_) => PortState::Failed {
                        why: format!("{path} could not be listened to: the system starts no further thread"),
                    },
                };
                Some(PortReport { path, usb, state })
            })
            .collect()
    })
}

/// `None` where the port is a name without hardware, or nobody waits for it any more.
fn state_of(path: &str, kit: &Kit, stop: &Stop) -> Option<PortState> {
    let mut port = match open_port(path, NODE_BAUD) {
        Ok(port) => port,
        Err(refusal) => {
            let why = refusal.words(path);
            return match refusal {
                Refusal::NoHardware => None,
                Refusal::Denied => Some(PortState::Denied { why }),
                Refusal::Busy => Some(PortState::Busy { why }),
                Refusal::Missing | Refusal::PlainFile | Refusal::Other(_) => Some(PortState::Failed { why }),
            };
        }
    };
    let both = |opinion: &Opinion| opinion.node.is_some() && opinion.gps.is_some();
    let opinion = form_opinion(port.as_mut(), &mut LineCutter::new(LINE_CAP), kit, stop, &both);
    if stop.check().is_err() {
        return None;
    }
    Some(opinion.map_or_else(
        |_| PortState::Failed {
            why: format!("{path} was unplugged while it was listened to"),
        },
        Opinion::into_state,
    ))
}

/// What was made of a port.
#[derive(Debug, Default)]
pub(super) struct Opinion {
    /// The speed listened at last, bits a second.
    pub baud: u32,
    /// Lines of a node, if any.
    pub node: Option<Spoken>,
    /// Lines of a positioning receiver, if any.
    pub gps: Option<Spoken>,
    /// Every line heard at that speed.
    pub lines: Vec<RawLine>,
    bytes: usize,
    example: Option<Vec<u8>>,
}

impl Opinion {
    /// Whether anything was understood.
    pub fn is_clear(&self) -> bool {
        self.node.is_some() || self.gps.is_some()
    }

    /// Whether not a byte was heard.
    pub fn is_silence(&self) -> bool {
        self.bytes == 0
    }

    fn take(&mut self, line: &[u8], kit: &Kit) {
        let (spoken, about) = match (kit.classify)(line) {
            Heard::Node(about) => (&mut self.node, about),
            Heard::Position(about) => (&mut self.gps, about),
            Heard::Nothing => return,
        };
        let spoken = spoken.get_or_insert_default();
        spoken.lines += 1;
        if about.is_some() {
            spoken.about = about;
        }
    }

    fn add(&mut self, window: Window) {
        self.bytes += window.bytes;
        if self.example.is_none() && window.is_text() {
            let worth_showing = |line: &&RawLine| !line.bytes.trim_ascii().is_empty();
            self.example = window.lines.iter().find(worth_showing).map(|line| line.bytes.clone());
        }
        self.lines.extend(window.lines);
    }

    fn into_state(self) -> PortState {
        if self.is_clear() {
            PortState::Talks {
                baud: self.baud,
                node: self.node,
                gps: self.gps,
            }
        } else if self.is_silence() {
            PortState::Silent
        } else {
            PortState::Unclear {
                bytes: self.bytes,
                example: self.example,
            }
        }
    }
}

/// Listens at an open port, at one speed after another, until something is understood, and then on for the rest of the
/// time or until it is `enough`.
pub(super) fn form_opinion(
    port: &mut dyn SerialPort,
    cutter: &mut LineCutter,
    kit: &Kit,
    stop: &Stop,
    enough: &dyn Fn(&Opinion) -> bool,
) -> Result<Opinion, Lost> {
    let mut opinion = Opinion::default();
    let mut baud_now = None;
    for baud in SPEEDS {
        if baud_now != Some(baud) {
            // A port that refuses this speed may know the next.
            if port.set_baud_rate(baud).is_err() {
                continue;
            }
            cutter.discard();
            opinion.lines.clear();
        }
        baud_now = Some(baud);
        opinion.baud = baud;
        let window = listen(port, cutter, kit, stop, WINDOW, &mut opinion, &Opinion::is_clear)?;
        let (is_text, is_silent) = (window.is_text(), window.bytes == 0);
        opinion.add(window);
        if !opinion.is_clear() && (is_text || (is_silent && opinion.is_silence())) {
            // Silence is the same at any speed, and text is text: a board that starts may need a while to speak.
            let more = listen(port, cutter, kit, stop, LISTEN, &mut opinion, &Opinion::is_clear)?;
            opinion.add(more);
            if opinion.is_silence() {
                return Ok(opinion);
            }
        }
        if opinion.is_clear() {
            if !enough(&opinion) {
                let rest = listen(port, cutter, kit, stop, LISTEN, &mut opinion, enough)?;
                opinion.add(rest);
            }
            return Ok(opinion);
        }
    }
    Ok(opinion)
}

fn listen(
    port: &mut dyn SerialPort,
    cutter: &mut LineCutter,
    kit: &Kit,
    stop: &Stop,
    length: Duration,
    opinion: &mut Opinion,
    enough: &dyn Fn(&Opinion) -> bool,
) -> Result<Window, Lost> {
    hear(port, cutter, &*kit.clock, stop, length, &mut |line| {
        opinion.take(&line.bytes, kit);
        enough(opinion)
    })
}
