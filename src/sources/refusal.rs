//! Opens a serial port raw and for itself alone, or says why not and what to do.

use std::path::Path;

use serialport::{DataBits, FlowControl, Parity, SerialPort, StopBits};

use super::reading::READ_WAIT;

/// Why a port could not be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Refusal {
    /// There is no such port now.
    Missing,
    /// This user may not open it.
    Denied,
    /// Another program has it.
    Busy,
    /// The system lists it, but nothing is connected to it inside the computer.
    NoHardware,
    /// It is a plain file.
    PlainFile,
    /// Anything else, in the system's words.
    Other(String),
}

/// Opens the port at `path`: 8 data bits, no parity, 1 stop bit, raw, for itself alone. What waits in it already is kept.
pub(super) fn open_port(path: &str, baud: u32) -> Result<Box<dyn SerialPort>, Refusal> {
    let build = |baud| {
        serialport::new(path, baud)
            .data_bits(DataBits::Eight)
            .parity(Parity::None)
            .stop_bits(StopBits::One)
            .flow_control(FlowControl::None)
            .timeout(READ_WAIT)
            // A board with USB of its own speaks only while this line is raised; not every system raises it by itself.
            .dtr_on_open(true)
            .open()
    };
    // A pseudo-terminal of macOS has no speed to set; the library leaves it alone when told 0.
    let is_mac_pty = cfg!(target_os = "macos") && path.starts_with("/dev/ttys");
    build(if is_mac_pty { 0 } else { baud }).map_err(|error| refusal(path, &error))
}

fn refusal(path: &str, error: &serialport::Error) -> Refusal {
    use serialport::ErrorKind as Kind;
    use std::io::ErrorKind as Io;

    let said = error.description.to_lowercase();
    match error.kind {
        Kind::Io(Io::NotFound) => Refusal::Missing,
        Kind::Io(Io::PermissionDenied) => Refusal::Denied,
        // Windows says "no device" of a port that is not there, and "access is denied" of one in use.
        Kind::NoDevice if cfg!(windows) && said.contains("denied") => Refusal::Busy,
        Kind::NoDevice if cfg!(windows) => Refusal::Missing,
        Kind::NoDevice => Refusal::Busy,
        // ENXIO and ENODEV: the name is still there, the device is not.
        _ if said.contains("no such device") => Refusal::Missing,
        _ if Path::new(path).is_file() => Refusal::PlainFile,
        _ if said.contains("i/o error") || said.contains("input/output error") => Refusal::NoHardware,
        _ => Refusal::Other(error.description.clone()),
    }
}

impl Refusal {
    /// A sentence for the surveyor: what is wrong with `path`, and what to do.
    pub fn words(&self, path: &str) -> String {
        match self {
            Self::Missing => format!("{path} is not there: plug it in, it is taken as soon as it comes"),
            Self::Denied => denied_words(path),
            Self::Busy => format!(
                "{path} is in use by another program (a serial monitor, a gpsd or ModemManager, this program in another \
                 window): close that one; `fuser -v {path}` names it"
            ),
            Self::NoHardware => format!("{path} has no hardware behind its name: choose another port"),
            Self::PlainFile => format!("{path} is a plain file, no serial port: write file:{path} to read it"),
            Self::Other(why) => format!("{path} cannot be opened: {why}"),
        }
    }
}

#[cfg(unix)]
fn denied_words(path: &str) -> String {
    use std::os::unix::fs::MetadataExt;

    let group = std::fs::metadata(path)
        .ok()
        .filter(|file| file.mode() & 0o060 == 0o060 && file.gid() != 0)
        .and_then(|file| group_name(&std::fs::read_to_string("/etc/group").ok()?, file.gid()));
    match group {
        Some(group) => format!(
            "{path} may not be opened by this user, only by the group {group}: run `sudo usermod -aG {group} $USER`, \
             then log out and in again"
        ),
        None => format!(
            "{path} may not be opened by this user: ports belong to the group dialout on most systems (uucp on some): \
             run `sudo usermod -aG dialout $USER`, then log out and in again"
        ),
    }
}

#[cfg(not(unix))]
fn denied_words(path: &str) -> String {
    format!("{path} may not be opened by this user: close other programs that use it, or ask for the right to")
}

/// The name of group `gid` in the text of a group file (`name:password:number:members`).
#[cfg(unix)]
fn group_name(groups: &str, gid: u32) -> Option<String> {
    groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        let number: u32 = fields.nth(1)?.parse().ok()?;
        (number == gid && !name.is_empty()).then(|| name.to_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_port_and_a_plain_file_are_told_apart() {
        let missing = open_port("/dev/no-such-port-here", 115_200).err();
        assert_eq!(missing, Some(Refusal::Missing));
        let file = tempfile::NamedTempFile::new().unwrap();
        let path = file.path().to_str().unwrap();
        let refused = open_port(path, 115_200).err();
        assert_eq!(refused, Some(Refusal::PlainFile));
        assert!(Refusal::PlainFile.words(path).contains(&format!("file:{path}")));
    }

    #[test]
    fn every_refusal_names_the_port_and_a_remedy() {
        for (refusal, remedy) in [
            (Refusal::Missing, "plug it in"),
            (Refusal::Denied, "log out and in"),
            (Refusal::Busy, "fuser -v /dev/ttyX0"),
            (Refusal::NoHardware, "another port"),
        ] {
            let words = refusal.words("/dev/ttyX0");
            assert!(words.starts_with("/dev/ttyX0 "), "{words}");
            assert!(words.contains(remedy), "{words}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn the_group_of_a_port_is_found_by_its_number() {
        let groups = "root:x:0:\ndialout:x:20:fern\nbroken\nodd:x:\nuucp:x:986:\n";
        assert_eq!(group_name(groups, 20).as_deref(), Some("dialout"));
        assert_eq!(group_name(groups, 986).as_deref(), Some("uucp"));
        assert_eq!(group_name(groups, 5), None);
    }
}
