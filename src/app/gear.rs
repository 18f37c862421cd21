//! `farpace gear`: what each port is and says; the same listening serves the set-up.

#![expect(clippy::disallowed_methods, reason = "the listening threads belong to `app`")]

use std::io::Write as _;
use std::path::Path;
use std::str::FromStr as _;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use crossbeam_channel::{RecvTimeoutError, bounded, unbounded};
use serde::Serialize;

use super::clock::{self, SurveyClock};
use super::ear;
use super::say::say;
use crate::cli::GearArgs;
use crate::screens::start::port::{Port, Says, Voice, seen};
use crate::sources::{
    self, Address, AddressError, FoundPort, Happening, Heard, Kit, PortReport, PortState, Role, Spoken, Until,
    UsbDevice,
};
use crate::units::Elapsed;
use crate::wire::epoch::EpochReader;
use crate::wire::{Epoch, visible};

/// What is said where no port is found, with what to do.
const NOTHING: &str = "No serial port is plugged in.\n    \
    Plug the board or the GPS in with a cable that carries data, and ask again.\n    \
    A GPS may also come over the network: `farpace walk --gps ADDR` with\n    \
    tcp:HOST:PORT, udp:HOST:PORT or gpsd:HOST:PORT.\n    \
    Without any gear, `farpace rehearse` plays the whole instrument on invented\n    \
    gear.";

/// How long an address that is no serial port is listened to before it is called silent.
const LISTEN: Duration = Duration::from_secs(5);

/// Lists the ports and what each says.
///
/// # Errors
/// When standard output takes nothing.
pub fn gear(args: &GearArgs) -> anyhow::Result<()> {
    let ports = sources::list_ports();
    if !ports.is_empty() {
        say("listening at every port, for three to ten seconds");
    }
    let (send, come) = unbounded();
    for port in &ports {
        let (port, send) = (port.clone(), send.clone());
        thread::spawn(move || {
            let (_order, until) = sources::probe::order();
            for report in probe(&port, &until) {
                // Nobody waits any more when the program ends.
                let _ = send.send(report);
            }
        });
    }
    drop(send);
    let mut reports: Vec<PortReport> = come.iter().collect();
    reports.sort_by_key(|report| ports.iter().position(|port| port.path == report.path));
    let text = if args.json {
        let ports: Vec<JsonPort> = reports.iter().map(JsonPort::of).collect();
        format!(
            "{}\n",
            serde_json::to_string_pretty(&serde_json::json!({ "ports": ports }))?
        )
    } else {
        table(&reports)
    };
    let text = if args.json {
        visible::shown_json(&text)
    } else {
        visible::shown(&text)
    };
    std::io::stdout().write_all(text.as_bytes())?;
    Ok(())
}

/// What one port says; none where it is a name without hardware.
pub fn probe(port: &FoundPort, until: &Until) -> Vec<PortReport> {
    let port = port.clone();
    let mut kit = Kit::new(Arc::new(SurveyClock::starting_at(Elapsed(0))), voices());
    kit.ports = Arc::new(move || vec![port.clone()]);
    sources::probe_until(&kit, until)
}

/// Listens at an address of any kind for some seconds, or until nobody wants to know any more.
pub fn listen(address: &Address, until: &Until) -> Says {
    if let Address::Serial { path, .. } = address {
        let found = FoundPort {
            path: path.clone(),
            usb: None,
        };
        return probe(&found, until).first().map_or_else(
            || Says::Failed(format!("{path} has no hardware behind its name: choose another port")),
            |report| says(&report.state),
        );
    }
    let hear = voices();
    let (send, come) = bounded::<(Role, Happening)>(64);
    let kit = Kit::new(Arc::new(SurveyClock::starting_at(Elapsed(0))), ear::hear);
    let handle = sources::open(address, Role::Gps, &kit, send);
    let over = crossbeam_channel::after(LISTEN);
    let (mut node, mut gps, mut example, mut trouble) = (None, None, None, None);
    while over.is_empty() && !until.is_over() {
        let happening = match come.recv_timeout(Duration::from_millis(100)) {
            Ok((_, happening)) => happening,
            Err(RecvTimeoutError::Timeout) => continue,
            Err(RecvTimeoutError::Disconnected) => break,
        };
        match happening {
            Happening::Line(line) => match hear(&line.bytes) {
                Heard::Node(about) => node = Some(Voice(about.or(node.and_then(|Voice(about)| about)))),
                Heard::Position(about) => gps = Some(Voice(about.or(gps.and_then(|Voice(about)| about)))),
                Heard::Nothing => example = example.or(Some(line.bytes)),
            },
            Happening::Trouble { why } => trouble = Some(why),
            Happening::Ended => break,
            Happening::Up { .. } | Happening::Down { .. } => {}
        }
    }
    handle.stop();
    match (node.is_some() || gps.is_some(), trouble, example) {
        (true, ..) => Says::Talks { node, gps, baud: None },
        (_, Some(why), _) => Says::Failed(why),
        (_, _, Some(example)) => Says::Unclear(Some(example)),
        _ => Says::Silent,
    }
}

/// An ear that also hears whether a receiver has a fix, which takes several of its lines.
fn voices() -> impl Fn(&[u8]) -> Heard + Send + Sync + 'static {
    let receiver = Mutex::new(EpochReader::new());
    move |line| {
        let is_report = line.starts_with(b"{\"class\"");
        match ear::hear(line) {
            Heard::Nothing if !is_report => Heard::Nothing,
            Heard::Node(about) => Heard::Node(about),
            Heard::Position(_) | Heard::Nothing => {
                let mut receiver = receiver.lock().unwrap_or_else(PoisonError::into_inner);
                receiver.feed(line, Elapsed(0), clock::wall());
                Heard::Position(receiver.open().map(|epoch| fix_words(&epoch)))
            }
        }
    }
}

/// What a receiver's epoch says, in a few words.
fn fix_words(epoch: &Epoch) -> String {
    let Some(fix) = &epoch.fix else {
        return "no fix yet".to_owned();
    };
    match (fix.sats, fix.sigma) {
        (Some(1), _) => "fix, 1 satellite".to_owned(),
        (Some(sats), _) => format!("fix, {sats} satellites"),
        (None, Some((sigma, _))) => format!("fix, ±{sigma:.1} m"),
        (None, None) => "fix".to_owned(),
    }
}

/// A port as the pages show it.
pub fn shown(report: &PortReport) -> Port {
    Port {
        address: address_of(report),
        device: report.usb.as_ref().and_then(device_words),
        says: says(&report.state),
    }
}

/// A port that is being listened to.
pub fn listening(port: &FoundPort) -> Port {
    Port {
        address: Address::Serial {
            path: port.path.clone(),
            baud: None,
        }
        .to_string(),
        device: port.usb.as_ref().and_then(device_words),
        says: Says::Listening,
    }
}

/// Understands an address typed, and writes it as it should be.
///
/// # Errors
/// In words: what to write instead.
pub fn check_address(text: &str) -> Result<String, String> {
    match Address::from_str(text) {
        Ok(Address::Stdin | Address::File(_)) => {
            Err("files are read by `farpace walk --no-screen`: here lines come as they are spoken".to_owned())
        }
        Ok(address) => Ok(address.to_string()),
        // A path alone can only be a port here.
        Err(AddressError::BarePath(path)) if path.starts_with('/') && !Path::new(&path).is_file() => {
            Ok(Address::Serial { path, baud: None }.to_string())
        }
        Err(wrong) => Err(wrong.to_string()),
    }
}

/// Where a survey finds the port. The speed is left to be found again: it belongs to the device, not to the port.
fn address_of(report: &PortReport) -> String {
    Address::Serial {
        path: report.path.clone(),
        baud: None,
    }
    .to_string()
}

fn device_words(usb: &UsbDevice) -> Option<String> {
    let text = usb.product_text.as_ref().or(usb.maker_text.as_ref())?;
    Some(seen(text.as_bytes()))
}

fn voice(spoken: Option<&Spoken>) -> Option<Voice> {
    spoken.map(|spoken| Voice(spoken.about.clone()))
}

fn says(state: &PortState) -> Says {
    match state {
        PortState::Talks { baud, node, gps } => Says::Talks {
            node: voice(node.as_ref()),
            gps: voice(gps.as_ref()),
            baud: Some(*baud),
        },
        PortState::Unclear { example, .. } => Says::Unclear(example.clone()),
        PortState::Silent => Says::Silent,
        PortState::Denied { why } => Says::Denied(why.clone()),
        PortState::Busy { why } => Says::Busy(why.clone()),
        PortState::Failed { why } => Says::Failed(why.clone()),
    }
}

fn table(reports: &[PortReport]) -> String {
    if reports.is_empty() {
        return format!("{NOTHING}\n");
    }
    let mut text = String::new();
    for report in reports {
        let port = shown(report);
        let device = port.device.map(|device| format!("  {device}")).unwrap_or_default();
        text.push_str(&format!(
            "{} {}{device}\n    {}\n",
            port.says.sign(),
            port.address,
            port.says.words()
        ));
    }
    text
}

/// A port in JSON. Every key is always there; what is not known is null.
#[derive(Serialize)]
struct JsonPort {
    address: String,
    path: String,
    usb: Option<JsonUsb>,
    state: &'static str,
    baud: Option<u32>,
    node: Option<JsonVoice>,
    gps: Option<JsonVoice>,
    bytes: Option<usize>,
    example: Option<String>,
    why: Option<String>,
}

#[derive(Serialize)]
struct JsonUsb {
    vendor: String,
    product: String,
    serial: Option<String>,
    interface: Option<u8>,
    maker_text: Option<String>,
    product_text: Option<String>,
}

#[derive(Serialize)]
struct JsonVoice {
    lines: usize,
    about: Option<String>,
}

impl JsonPort {
    fn of(report: &PortReport) -> Self {
        let text = |text: &Option<String>| text.as_ref().map(|text| visible::escape(text.as_bytes()));
        let usb = report.usb.as_ref().map(|usb| JsonUsb {
            vendor: format!("{:04x}", usb.vendor),
            product: format!("{:04x}", usb.product),
            serial: text(&usb.serial),
            interface: usb.interface,
            maker_text: text(&usb.maker_text),
            product_text: text(&usb.product_text),
        });
        let empty = Self {
            address: address_of(report),
            path: report.path.clone(),
            usb,
            state: "silent",
            baud: None,
            node: None,
            gps: None,
            bytes: None,
            example: None,
            why: None,
        };
        let voice = |spoken: Option<&Spoken>| {
            spoken.map(|spoken| JsonVoice {
                lines: spoken.lines,
                about: spoken.about.clone(),
            })
        };
        let refused = |state, why: &String, empty| Self {
            state,
            why: Some(why.clone()),
            ..empty
        };
        match &report.state {
            PortState::Talks { baud, node, gps } => Self {
                state: "talks",
                baud: Some(*baud),
                node: voice(node.as_ref()),
                gps: voice(gps.as_ref()),
                ..empty
            },
            PortState::Unclear { bytes, example } => Self {
                state: "unclear",
                bytes: Some(*bytes),
                example: example.as_ref().map(|line| visible::escape(line)),
                ..empty
            },
            PortState::Silent => empty,
            PortState::Denied { why } => refused("denied", why, empty),
            PortState::Busy { why } => refused("busy", why, empty),
            PortState::Failed { why } => refused("failed", why, empty),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report(state: PortState) -> PortReport {
        let usb = UsbDevice {
            vendor: 0x1209,
            product: 1,
            serial: None,
            interface: Some(0),
            maker_text: None,
            product_text: Some("yew\u{1b}[2J".to_owned()),
        };
        PortReport {
            path: "/dev/ttyACM0".to_owned(),
            usb: Some(usb),
            state,
        }
    }

    #[test]
    fn the_keys_of_a_port_are_always_the_same() {
        let keys = |state| {
            let value = serde_json::to_value(JsonPort::of(&report(state))).unwrap();
            value.as_object().unwrap().keys().cloned().collect::<Vec<_>>()
        };
        let wanted = [
            "address", "path", "usb", "state", "baud", "node", "gps", "bytes", "example", "why",
        ]
        .map(str::to_owned);
        assert_eq!(keys(PortState::Silent), wanted);
        assert_eq!(keys(PortState::Denied { why: "no".to_owned() }), wanted);
        assert_eq!(
            keys(PortState::Unclear {
                bytes: 3,
                example: None
            }),
            wanted
        );
    }

    #[test]
    fn a_refusal_says_what_to_do_and_names_cannot_steer_the_terminal() {
        let denied = report(PortState::Denied {
            why: "it may not be opened: run `sudo usermod -aG dialout $USER`".to_owned(),
        });
        let text = table(std::slice::from_ref(&denied));
        assert_eq!(
            text,
            "✗ serial:/dev/ttyACM0  yew\\u{1B}[2J\n    it may not be opened: run `sudo usermod -aG dialout $USER`\n"
        );
        let json = serde_json::to_string(&JsonPort::of(&denied)).unwrap();
        assert!(
            json.contains(r#""state":"denied""#) && !json.contains("u001b"),
            "{json}"
        );
    }

    #[test]
    fn a_receiver_is_heard_to_have_a_fix() {
        let hear = voices();
        let line = b"$GPGGA,120000.00,5206.0000,N,00254.0000,W,1,09,0.9,60.0,M,48.0,M,,*4E";
        let sum = line[1..line.len() - 3].iter().fold(0, |sum, byte| sum ^ byte);
        let line = format!("{}*{sum:02X}", String::from_utf8_lossy(&line[..line.len() - 3]));
        assert_eq!(
            hear(line.as_bytes()),
            Heard::Position(Some("fix, 9 satellites".to_owned()))
        );
        assert_eq!(
            hear(b"hello board=fern boot=7"),
            Heard::Node(Some("fern boot 7".to_owned()))
        );
        assert_eq!(hear(b"ets boot noise"), Heard::Nothing);
    }

    #[test]
    fn typed_addresses_are_written_as_they_should_be() {
        assert_eq!(check_address("gpsd:127.0.0.1"), Ok("gpsd:127.0.0.1:2947".to_owned()));
        assert_eq!(check_address("/dev/ttyACM0"), Ok("serial:/dev/ttyACM0".to_owned()));
        assert!(check_address("ttyACM0").unwrap_err().contains("serial:/dev/ttyACM0"));
        assert!(check_address("-").is_err());
    }
}
