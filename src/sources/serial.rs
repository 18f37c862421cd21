//! A serial port: opened, read, and opened again whenever it comes back.

use std::convert::Infallible;
use std::time::Duration;

use serialport::SerialPort;

use super::address::Address;
use super::happening::{Clock, Happening, RawLine, Role};
use super::hearing::Lost;
use super::kit::Kit;
use super::lines::{LINE_CAP, LineCutter};
use super::outlet::{Outlet, SaidOnce, Stopped};
use super::ports::{FoundPort, UsbDevice, places_to_look, usb_behind};
use super::reading::read_lines;
use super::refusal::{Refusal, open_port};
use super::speed::{FoundSpeed, GPS_SPEEDS, find_speed};

/// The speed of a board unless another is named, bits a second.
pub(super) const NODE_BAUD: u32 = 115_200;

/// Pause before a port is looked for again.
pub(super) const RETRY: Duration = Duration::from_millis(500);

/// Refusals in a row before one is said of a port that was there before: rights come a moment after the device.
const PATIENCE: u32 = 4;

/// Follows the port at `path`, at `baud` or, for a GPS whose speed is not named, at the one that is found by trying.
pub(super) fn run(path: &str, baud: Option<u32>, kit: &Kit, outlet: &Outlet) -> Result<Infallible, Stopped> {
    let mut port_memory = Memory::default();
    let is_to_be_found = outlet.role() == Role::Gps && baud.is_none();
    let usual = if is_to_be_found { GPS_SPEEDS[0] } else { NODE_BAUD };
    loop {
        let ports = (kit.ports)();
        let opening_baud = baud.or(port_memory.found_baud).unwrap_or(usual);
        match open_somewhere(path, opening_baud, &port_memory, &ports) {
            Ok((port, place)) => {
                port_memory.device = usb_behind(&place, &ports).or(port_memory.device);
                port_memory.refusals = 0;
                port_memory.said = None;
                let first = is_to_be_found.then_some(opening_baud);
                attend(port, place, baud, first, kit, outlet, &mut port_memory)?;
            }
            Err(refusal) => {
                let patience = if port_memory.was_up { PATIENCE } else { 1 };
                port_memory.refusals += 1;
                // That a port is gone was said when it went.
                let is_news = port_memory.said.as_ref() != Some(&refusal)
                    && !(port_memory.was_up && refusal == Refusal::Missing)
                    && port_memory.refusals >= patience;
                if is_news {
                    outlet.say(Happening::Trouble {
                        why: with_ports_there(refusal.words(path), &refusal, &ports),
                    })?;
                    port_memory.said = Some(refusal);
                }
            }
        }
        outlet.stop.pause(RETRY)?;
    }
}

/// What is remembered of a port from one opening to the next.
#[derive(Debug, Default)]
struct Memory {
    was_up: bool,
    device: Option<UsbDevice>,
    found_baud: Option<u32>,
    refusals: u32,
    said: Option<Refusal>,
    in_vain: SaidOnce,
}

fn open_somewhere(
    path: &str,
    baud: u32,
    memory: &Memory,
    ports: &[FoundPort],
) -> Result<(Box<dyn SerialPort>, String), Refusal> {
    let mut refusal = Refusal::Missing;
    for place in places_to_look(path, memory.device.as_ref(), ports) {
        match open_port(&place, baud) {
            Ok(port) => return Ok((port, place)),
            Err(refused) => refusal = refused,
        }
    }
    Err(refusal)
}

/// Reads an open port until it breaks; `first` is the speed it was opened at where the right one is still to be found.
fn attend(
    mut port: Box<dyn SerialPort>,
    place: String,
    baud: Option<u32>,
    first: Option<u32>,
    kit: &Kit,
    outlet: &Outlet,
    memory: &mut Memory,
) -> Result<(), Stopped> {
    let mut cutter = LineCutter::new(LINE_CAP);
    let mut lines = Vec::new();
    let mut named_baud = baud;
    if let Some(first) = first {
        let in_vain = &mut memory.in_vain;
        let found = find_speed(
            port.as_mut(),
            first,
            &mut cutter,
            &*kit.clock,
            &outlet.stop,
            &mut |vain| Ok(in_vain.trouble(outlet, vain.words(&place))?),
        );
        match found {
            Ok(FoundSpeed { baud, lines: heard }) => {
                memory.found_baud = Some(baud);
                named_baud = Some(baud);
                lines = heard;
            }
            Err(Lost::Broken) => return Ok(()),
            Err(Lost::Stopped) => return Err(Stopped),
        }
    }
    memory.was_up = true;
    memory.in_vain.clear();
    let address = Address::Serial {
        path: place,
        baud: named_baud,
    };
    hand_on(port.as_mut(), &address, lines, cutter, &*kit.clock, outlet)
}

/// Says that the port is up, hands on the lines heard already and all that come, and says when it is down.
pub(super) fn hand_on(
    port: &mut dyn SerialPort,
    address: &Address,
    heard: Vec<RawLine>,
    mut cutter: LineCutter,
    clock: &dyn Clock,
    outlet: &Outlet,
) -> Result<(), Stopped> {
    outlet.say(Happening::Up {
        address: address.to_string(),
    })?;
    for line in heard {
        outlet.say(Happening::Line(line))?;
    }
    // Whatever way a port breaks, hang-up, end or error, the surveyor's word for it is the same.
    let _ = read_lines(port, &mut cutter, clock, outlet)?;
    outlet.say(Happening::Down {
        why: "unplugged".to_owned(),
    })
}

/// Adds which ports there are, where the one asked for is not.
fn with_ports_there(words: String, refusal: &Refusal, ports: &[FoundPort]) -> String {
    if *refusal != Refusal::Missing || ports.is_empty() {
        return words;
    }
    let mut names: Vec<&str> = ports.iter().map(|port| port.path.as_str()).take(4).collect();
    if ports.len() > names.len() {
        names.push("others");
    }
    format!("{words}; there now: {}", names.join(", "))
}
