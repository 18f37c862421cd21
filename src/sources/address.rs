//! Where lines come from, as a person writes it.

use std::fmt;
use std::path::PathBuf;
use std::str::FromStr;

/// The port a gpsd server listens on when none is named (registered with IANA as `gpsd`).
const GPSD_PORT: u16 = 2947;

/// Where lines come from.
///
/// Written `serial:/dev/ttyACM0`, `serial:/dev/ttyUSB0@9600`, `tcp:127.0.0.1:10110`, `udp:127.0.0.1:10110`,
/// `gpsd:127.0.0.1:2947`, `file:walk.nmea`, `-` (standard input) or `auto`; [`fmt::Display`] writes the same form.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Address {
    /// A serial port, a USB one or a pseudo-terminal.
    Serial {
        /// The device, as the system names it.
        path: String,
        /// Bits a second; unsaid: 115200 for a node, found by trying for a GPS.
        baud: Option<u32>,
    },
    /// A stream to connect to, `host:port`.
    Tcp(String),
    /// A local address to listen on for datagrams, `host:port`.
    Udp(String),
    /// A gpsd server, `host:port`.
    Gpsd(String),
    /// A file, read to its end.
    File(PathBuf),
    /// Standard input.
    Stdin,
    /// Every serial port is looked at, and the one that speaks as wanted is taken.
    Auto,
}

/// What is wrong with an address.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AddressError {
    /// Its first word is none of the known ones.
    #[error(
        "address \"{0}\" is none that is known; write serial:/dev/ttyACM0, serial:/dev/ttyUSB0@9600, \
         tcp:127.0.0.1:10110, udp:127.0.0.1:10110, gpsd:127.0.0.1:2947, file:walk.nmea, - or auto"
    )]
    Unknown(String),
    /// It looks like a path and does not say of what kind.
    #[error("address \"{0}\" does not say what it is; write serial:{0} for a port or file:{0} for a file")]
    BarePath(String),
    /// Nothing stands after the colon.
    #[error("address \"{given}\" names nothing after the colon; write for example {example}")]
    Empty {
        /// The address as given.
        given: String,
        /// One that would do.
        example: &'static str,
    },
    /// The speed of a serial port is no number of bits a second.
    #[error(
        "speed \"{speed}\" in \"{given}\" is no number of bits a second; write for example serial:/dev/ttyUSB0@9600"
    )]
    Speed {
        /// The address as given.
        given: String,
        /// What stands after the `@`.
        speed: String,
    },
    /// Host or port number is missing or wrong.
    #[error("address \"{given}\" needs a host and a port number from 1 to 65535; write for example {example}")]
    HostPort {
        /// The address as given.
        given: String,
        /// One that would do.
        example: &'static str,
    },
}

impl FromStr for Address {
    type Err = AddressError;

    fn from_str(given: &str) -> Result<Self, AddressError> {
        match given {
            "-" => return Ok(Self::Stdin),
            "auto" => return Ok(Self::Auto),
            _ => {}
        }
        let bare = || {
            if given.starts_with(['/', '.', '~']) {
                AddressError::BarePath(given.to_owned())
            } else {
                AddressError::Unknown(given.to_owned())
            }
        };
        let (kind, rest) = given.split_once(':').ok_or_else(bare)?;
        match kind {
            "serial" => serial(given, rest),
            "tcp" => host_port(given, rest, None, "tcp:127.0.0.1:10110").map(Self::Tcp),
            "udp" => host_port(given, rest, None, "udp:127.0.0.1:10110").map(Self::Udp),
            "gpsd" => host_port(given, rest, Some(GPSD_PORT), "gpsd:127.0.0.1:2947").map(Self::Gpsd),
            "file" if rest.is_empty() => Err(AddressError::Empty {
                given: given.to_owned(),
                example: "file:walk.nmea",
            }),
            "file" => Ok(Self::File(PathBuf::from(rest))),
            _ => Err(bare()),
        }
    }
}

fn serial(given: &str, rest: &str) -> Result<Address, AddressError> {
    let (path, baud) = match rest.rsplit_once('@') {
        // A path may hold an `@` in one of its folders; a speed never holds a slash.
        Some((path, speed)) if !speed.contains('/') => {
            let digits_only = speed.bytes().all(|byte| byte.is_ascii_digit());
            match speed.parse::<u32>() {
                Ok(baud) if baud > 0 && digits_only => (path, Some(baud)),
                _ => {
                    return Err(AddressError::Speed {
                        given: given.to_owned(),
                        speed: speed.to_owned(),
                    });
                }
            }
        }
        _ => (rest, None),
    };
    if path.is_empty() {
        return Err(AddressError::Empty {
            given: given.to_owned(),
            example: "serial:/dev/ttyACM0",
        });
    }
    Ok(Address::Serial {
        path: path.to_owned(),
        baud,
    })
}

/// Checks `host:port`; an IPv6 host stands in brackets, so that its colons are not taken for the port's.
fn host_port(given: &str, rest: &str, default: Option<u16>, example: &'static str) -> Result<String, AddressError> {
    let wrong = || AddressError::HostPort {
        given: given.to_owned(),
        example,
    };
    let bracketed_alone = rest.starts_with('[') && rest.ends_with(']');
    let (host, port) = match rest.rsplit_once(':') {
        Some((host, port)) if !bracketed_alone => (host, Some(port)),
        _ => (rest, None),
    };
    let bracketed = host.starts_with('[') && host.ends_with(']') && host.len() > 2;
    if host.is_empty() || host.contains(char::is_whitespace) || (host.contains([':', '[', ']']) && !bracketed) {
        return Err(wrong());
    }
    let port = match (port, default) {
        (Some(text), _) if text.bytes().all(|byte| byte.is_ascii_digit()) => text.parse().map_err(|_| wrong())?,
        (None, Some(default)) => default,
        _ => return Err(wrong()),
    };
    if port == 0 {
        return Err(wrong());
    }
    Ok(format!("{host}:{port}"))
}

impl fmt::Display for Address {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Serial { path, baud: None } => write!(out, "serial:{path}"),
            Self::Serial { path, baud: Some(baud) } => write!(out, "serial:{path}@{baud}"),
            Self::Tcp(host_port) => write!(out, "tcp:{host_port}"),
            Self::Udp(host_port) => write!(out, "udp:{host_port}"),
            Self::Gpsd(host_port) => write!(out, "gpsd:{host_port}"),
            Self::File(path) => write!(out, "file:{}", path.display()),
            Self::Stdin => write!(out, "-"),
            Self::Auto => write!(out, "auto"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_is_read_and_written_back() {
        for form in [
            "serial:/dev/ttyACM0",
            "serial:/dev/ttyUSB0@9600",
            "serial:COM7",
            "tcp:127.0.0.1:10110",
            "tcp:[::1]:10110",
            "udp:0.0.0.0:10110",
            "gpsd:127.0.0.1:2947",
            "file:walk.nmea",
            "file:/tmp/a:b@c.nmea",
            "-",
            "auto",
        ] {
            assert_eq!(form.parse::<Address>().unwrap().to_string(), form);
        }
        assert_eq!(
            "serial:/dev/ttyUSB0@9600".parse(),
            Ok(Address::Serial {
                path: "/dev/ttyUSB0".to_owned(),
                baud: Some(9600)
            })
        );
        assert_eq!(
            "serial:/run/orchard@home/gps0".parse(),
            Ok(Address::Serial {
                path: "/run/orchard@home/gps0".to_owned(),
                baud: None
            })
        );
    }

    #[test]
    fn gpsd_needs_no_port_number() {
        assert_eq!("gpsd:localhost".parse(), Ok(Address::Gpsd("localhost:2947".to_owned())));
        assert_eq!("gpsd:[::1]".parse(), Ok(Address::Gpsd("[::1]:2947".to_owned())));
    }

    #[test]
    fn refusals_quote_the_input_and_give_an_example() {
        for (given, said) in [
            ("", "none that is known"),
            ("ttyACM0", "none that is known"),
            ("usb:1", "none that is known"),
            ("/dev/ttyACM0", "write serial:/dev/ttyACM0"),
            ("./x:y", "file:./x:y"),
            ("serial:", "serial:/dev/ttyACM0"),
            ("serial:@9600", "serial:/dev/ttyACM0"),
            ("serial:/dev/ttyUSB0@fast", "\"fast\""),
            ("serial:/dev/ttyUSB0@", "no number"),
            ("serial:/dev/ttyUSB0@0", "no number"),
            ("serial:/dev/ttyUSB0@+9600", "no number"),
            ("serial:/dev/ttyUSB0@99999999999", "no number"),
            ("file:", "file:walk.nmea"),
            ("tcp:127.0.0.1", "tcp:127.0.0.1:10110"),
            ("tcp:host:+80", "from 1 to 65535"),
            ("tcp:host:", "from 1 to 65535"),
            ("tcp::80", "host"),
            ("tcp:::1:80", "host"),
            ("tcp:[]:80", "host"),
            ("udp:0.0.0.0:0", "from 1 to 65535"),
            ("udp:0.0.0.0:65536", "from 1 to 65535"),
            ("gpsd:", "gpsd:127.0.0.1:2947"),
        ] {
            let error = given.parse::<Address>().unwrap_err().to_string();
            assert!(error.contains(said), "{given:?} said: {error}");
            assert!(error.contains(given), "{given:?} is not quoted: {error}");
        }
    }
}
