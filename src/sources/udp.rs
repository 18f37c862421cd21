//! Datagrams received on a local address.

use std::convert::Infallible;
use std::io::{self, ErrorKind};
use std::net::UdpSocket;
use std::time::Duration;

use super::address::Address;
use super::happening::{Clock, Happening};
use super::lines::{LINE_CAP, LineCutter};
use super::outlet::{Outlet, SaidOnce, Stopped};
use super::reading::READ_WAIT;

/// Pause before an address that was refused is tried again.
const PAUSE: Duration = Duration::from_secs(1);

/// The largest a datagram can be.
const DATAGRAM: usize = 65_536;

/// Listens on `host_port`; each datagram holds whole lines, its last one with LF or without.
pub(super) fn run(host_port: &str, clock: &dyn Clock, outlet: &Outlet) -> Result<Infallible, Stopped> {
    let mut said = SaidOnce::default();
    let mut chunk = vec![0; DATAGRAM];
    loop {
        match bind(host_port) {
            Ok(socket) => {
                said.clear();
                outlet.say(Happening::Up {
                    address: Address::Udp(host_port.to_owned()).to_string(),
                })?;
                let error = listen(&socket, &mut chunk, clock, outlet)?;
                outlet.say(Happening::Down {
                    why: format!("listening failed: {error}"),
                })?;
            }
            Err(error) => said.trouble(outlet, refusal(host_port, &error))?,
        }
        outlet.stop.pause(PAUSE)?;
    }
}

fn bind(host_port: &str) -> io::Result<UdpSocket> {
    let socket = UdpSocket::bind(host_port)?;
    socket.set_read_timeout(Some(READ_WAIT))?;
    Ok(socket)
}

fn listen(socket: &UdpSocket, chunk: &mut [u8], clock: &dyn Clock, outlet: &Outlet) -> Result<io::Error, Stopped> {
    loop {
        outlet.stop.check()?;
        match socket.recv(chunk) {
            Ok(count) => {
                let stamp = clock.now();
                let mut cutter = LineCutter::new(LINE_CAP);
                let mut lines = cutter.feed(&chunk[..count], stamp);
                lines.extend(cutter.finish(stamp));
                for line in lines {
                    outlet.say(Happening::Line(line))?;
                }
            }
            Err(error) => match error.kind() {
                // Some systems report here that a datagram of ours found no taker; we sent none that matters.
                ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted | ErrorKind::ConnectionReset => {}
                _ => return Ok(error),
            },
        }
    }
}

fn refusal(host_port: &str, error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::AddrInUse => {
            format!("another program listens on {host_port} already: close it or take another port number")
        }
        ErrorKind::AddrNotAvailable => {
            format!("{host_port} is no address of this computer: 0.0.0.0 in place of the host listens on all of them")
        }
        ErrorKind::PermissionDenied => {
            format!("{host_port} may not be listened on by this user: take a port number from 1024 up")
        }
        _ => format!("{host_port} cannot be listened on: {error}"),
    }
}
