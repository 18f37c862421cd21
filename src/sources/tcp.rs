//! A stream to connect to; connected anew when it drops.

use std::convert::Infallible;
use std::io::{self, ErrorKind};
use std::net::{TcpStream, ToSocketAddrs};
use std::thread;
use std::time::Duration;

use crossbeam_channel::bounded;

use super::address::Address;
use super::happening::{Clock, Happening};
use super::lines::{LINE_CAP, LineCutter};
use super::outlet::{Outlet, SaidOnce, Stop, Stopped};
use super::reading::{Broke, READ_WAIT, read_lines};

/// How long the other end may take to accept.
const CONNECT_WAIT: Duration = Duration::from_secs(5);

/// Pause before connecting again: doubled each time it was in vain, from the first up to the last.
const FIRST_PAUSE: Duration = Duration::from_millis(500);
const LAST_PAUSE: Duration = Duration::from_secs(5);

/// Follows the stream of lines at `host_port`.
pub(super) fn run(host_port: &str, clock: &dyn Clock, outlet: &Outlet) -> Result<Infallible, Stopped> {
    follow(&Address::Tcp(host_port.to_owned()), host_port, outlet, |stream| {
        let broke = read_lines(stream, &mut LineCutter::new(LINE_CAP), clock, outlet)?;
        Ok(Ending {
            why: why_broken(&broke),
            useful: broke.lines > 0,
        })
    })
}

/// How a conversation ended.
pub(super) struct Ending {
    /// In a few words.
    pub why: String,
    /// Whether anything came of it; a connection that brought nothing is retried ever more slowly.
    pub useful: bool,
}

/// Connects, lets `converse`, and does so again for as long as it may.
pub(super) fn follow(
    address: &Address,
    host_port: &str,
    outlet: &Outlet,
    mut converse: impl FnMut(&mut TcpStream) -> Result<Ending, Stopped>,
) -> Result<Infallible, Stopped> {
    let mut said = SaidOnce::default();
    let mut pause = FIRST_PAUSE;
    loop {
        match connect(host_port, &outlet.stop)? {
            Ok(mut stream) => {
                said.clear();
                outlet.say(Happening::Up {
                    address: address.to_string(),
                })?;
                let ending = converse(&mut stream)?;
                outlet.say(Happening::Down { why: ending.why })?;
                if ending.useful {
                    pause = FIRST_PAUSE;
                }
            }
            Err(error) => said.trouble(outlet, refusal(host_port, &error))?,
        }
        outlet.stop.pause(pause)?;
        pause = (pause * 2).min(LAST_PAUSE);
    }
}

/// What to call the end of a stream.
pub(super) fn why_broken(broke: &Broke) -> String {
    match &broke.error {
        None => "closed by the other end".to_owned(),
        Some(error) if error.kind() == ErrorKind::ConnectionReset => "closed by the other end".to_owned(),
        Some(error) => format!("connection lost: {error}"),
    }
}

/// Connects in a thread of its own: looking up a name and waiting for an answer cannot be interrupted otherwise.
fn connect(host_port: &str, stop: &Stop) -> Result<io::Result<TcpStream>, Stopped> {
    let (send, connected) = bounded(1);
    let host_port = host_port.to_owned();
    let started = thread::Builder::new().name("source connect".to_owned()).spawn(move || {
        // Nobody waiting any more is the only way to fail.
        let _ = send.send(connect_now(&host_port));
    });
    if let Err(error) = started {
        return Ok(Err(error));
    }
    let gone = || io::Error::other("the attempt broke off");
    Ok(stop.wait_for(&connected)?.unwrap_or_else(|| Err(gone())))
}

fn connect_now(host_port: &str) -> io::Result<TcpStream> {
    let mut last = io::Error::new(ErrorKind::NotFound, "the name leads to no address");
    let addresses = host_port
        .to_socket_addrs()
        .map_err(|error| io::Error::new(ErrorKind::NotFound, error.to_string()))?;
    for address in addresses {
        match TcpStream::connect_timeout(&address, CONNECT_WAIT) {
            Ok(stream) => {
                stream.set_read_timeout(Some(READ_WAIT))?;
                stream.set_write_timeout(Some(READ_WAIT))?;
                return Ok(stream);
            }
            Err(error) => last = error,
        }
    }
    Err(last)
}

fn refusal(host_port: &str, error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::ConnectionRefused => {
            format!("nothing listens at {host_port}: start what serves it there; it is tried again by itself")
        }
        ErrorKind::TimedOut => format!("no answer from {host_port}: check the address and the network"),
        ErrorKind::NotFound => format!("{host_port} cannot be looked up: check the name ({error})"),
        _ => format!("{host_port} cannot be reached: {error}"),
    }
}
