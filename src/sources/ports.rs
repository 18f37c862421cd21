//! The serial ports there are, and which device is behind each.

use std::path::Path;

use serialport::{SerialPortType, UsbPortInfo};

/// A USB device behind a serial port, as it names itself.
///
/// The texts are the device's own and may hold any character: whoever shows them makes control characters visible.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UsbDevice {
    /// Vendor number.
    pub vendor: u16,
    /// Product number.
    pub product: u16,
    /// Serial number; cheap converters have none, or all the same one.
    pub serial: Option<String>,
    /// Which of the device's interfaces the port is; a board may have two.
    pub interface: Option<u8>,
    /// The maker's name.
    pub maker_text: Option<String>,
    /// The product's name.
    pub product_text: Option<String>,
}

/// A serial port the system lists.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FoundPort {
    /// The device, as the system names it.
    pub path: String,
    /// What is behind it, where that is a USB device.
    pub usb: Option<UsbDevice>,
}

impl UsbDevice {
    /// Whether the other is this very device, as far as it can be told.
    fn is_same(&self, other: &Self) -> bool {
        self.vendor == other.vendor
            && self.product == other.product
            && self.serial == other.serial
            && self.interface == other.interface
    }
}

/// Lists this computer's serial ports by path; none where the system has no list.
///
/// A port the system itself talks on (its console) is left out: listening there would disturb it.
pub fn list_ports() -> Vec<FoundPort> {
    // Without this folder (a container, a pared-down system) the library's listing would panic.
    if cfg!(target_os = "linux") && std::fs::read_dir("/sys/class/tty").is_err() {
        return Vec::new();
    }
    let consoles = std::fs::read_to_string("/sys/class/tty/console/active").unwrap_or_default();
    let mut ports: Vec<FoundPort> = serialport::available_ports()
        .unwrap_or_default()
        .into_iter()
        // macOS lists every port twice; `tty.` waits for a modem's carrier, `cu.` does not.
        .filter(|port| !port.port_name.starts_with("/dev/tty."))
        .filter(|port| !is_console(&port.port_name, &consoles))
        .map(|port| FoundPort {
            path: port.port_name,
            usb: match port.port_type {
                SerialPortType::UsbPort(info) => Some(usb_device(info)),
                _ => None,
            },
        })
        .collect();
    ports.sort_by(|a, b| order_of(&a.path).cmp(&order_of(&b.path)));
    ports
}

/// Whether `path` is among the names, parted by spaces, of the system's consoles.
fn is_console(path: &str, consoles: &str) -> bool {
    consoles
        .split_whitespace()
        .any(|name| path.strip_prefix("/dev/") == Some(name))
}

/// Sorts by name, then by number, so that `ttyUSB10` comes after `ttyUSB9`.
fn order_of(path: &str) -> (&str, u64, &str) {
    let name = path.trim_end_matches(|c: char| c.is_ascii_digit());
    (name, path[name.len()..].parse().unwrap_or(u64::MAX), path)
}

fn usb_device(info: UsbPortInfo) -> UsbDevice {
    let said = |text: Option<String>| text.filter(|text| !text.is_empty());
    UsbDevice {
        vendor: info.vid,
        product: info.pid,
        serial: said(info.serial_number),
        interface: info.interface,
        maker_text: said(info.manufacturer),
        product_text: said(info.product),
    }
}

/// Where to look for a port, first to last: the device last seen at `wanted` may be under another path by now.
///
/// A `wanted` that is a symbolic link was made to follow the device, so it is the only place. A device that cannot be told
/// from a second one like it is not followed.
pub(super) fn places_to_look(wanted: &str, last_seen: Option<&UsbDevice>, ports: &[FoundPort]) -> Vec<String> {
    let is_link = std::fs::symlink_metadata(Path::new(wanted)).is_ok_and(|file| file.is_symlink());
    let Some(device) = last_seen.filter(|_| !is_link) else {
        return vec![wanted.to_owned()];
    };
    let mut same = ports
        .iter()
        .filter(|port| port.usb.as_ref().is_some_and(|usb| usb.is_same(device)));
    match (same.next(), same.next()) {
        (Some(only), None) if only.path != wanted => vec![only.path.clone(), wanted.to_owned()],
        _ => vec![wanted.to_owned()],
    }
}

/// The USB device behind `path`, links followed.
pub(super) fn usb_behind(path: &str, ports: &[FoundPort]) -> Option<UsbDevice> {
    let real = std::fs::canonicalize(path).ok();
    let real = real.as_deref().unwrap_or(Path::new(path));
    ports
        .iter()
        .find(|port| port.path == path || Path::new(&port.path) == real)
        .and_then(|port| port.usb.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn device(serial: Option<&str>) -> UsbDevice {
        UsbDevice {
            vendor: 0x1209,
            product: 0x0001,
            serial: serial.map(str::to_owned),
            interface: Some(0),
            maker_text: None,
            product_text: Some("yew".to_owned()),
        }
    }

    fn port(path: &str, serial: Option<&str>) -> FoundPort {
        FoundPort {
            path: path.to_owned(),
            usb: Some(device(serial)),
        }
    }

    #[test]
    fn listing_ports_never_panics_and_is_in_order() {
        let ports = list_ports();
        assert!(
            ports
                .windows(2)
                .all(|pair| order_of(&pair[0].path) <= order_of(&pair[1].path))
        );
        assert!(order_of("/dev/ttyUSB9") < order_of("/dev/ttyUSB10"));
    }

    #[test]
    fn the_console_is_no_port_to_listen_at() {
        assert!(is_console("/dev/ttyS0", "tty0 ttyS0\n"));
        assert!(!is_console("/dev/ttyS1", "tty0 ttyS0\n"));
        assert!(!is_console("/dev/ttyS0", ""));
    }

    #[test]
    fn a_device_is_followed_to_its_new_path() {
        let ports = [port("/dev/ttyACM1", Some("A7")), port("/dev/ttyACM2", Some("B2"))];
        let look = |serial| places_to_look("/dev/ttyACM0", Some(&device(serial)), &ports);
        assert_eq!(look(Some("A7")), ["/dev/ttyACM1", "/dev/ttyACM0"]);
        assert_eq!(look(Some("C9")), ["/dev/ttyACM0"]);
        assert_eq!(look(None), ["/dev/ttyACM0"]);
        assert_eq!(places_to_look("/dev/ttyACM0", None, &ports), ["/dev/ttyACM0"]);
    }

    #[test]
    fn another_board_put_on_the_same_cable_is_taken_at_the_same_path() {
        let ports = [port("/dev/ttyACM0", Some("B2"))];
        let places = places_to_look("/dev/ttyACM0", Some(&device(Some("A7"))), &ports);
        assert_eq!(places, ["/dev/ttyACM0"]);
    }

    #[test]
    fn one_of_two_alike_is_not_followed() {
        let ports = [port("/dev/ttyUSB1", None), port("/dev/ttyUSB2", None)];
        let places = places_to_look("/dev/ttyUSB0", Some(&device(None)), &ports);
        assert_eq!(places, ["/dev/ttyUSB0"]);
    }

    #[test]
    fn the_device_behind_a_path_is_found() {
        let ports = [port("/dev/ttyACM1", Some("A7"))];
        assert_eq!(usb_behind("/dev/ttyACM1", &ports), Some(device(Some("A7"))));
        assert_eq!(usb_behind("/dev/ttyACM0", &ports), None);
    }
}
