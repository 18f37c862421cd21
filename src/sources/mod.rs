//! Serial ports, sockets and files: bytes to lines, reconnecting by themselves.
//!
//! Knows nothing of the rest of the crate: what a line means is the caller's, and so is the clock. In reading order:

pub mod address;
pub mod happening;
pub mod kit;

pub mod lines;
mod outlet;

mod file;
mod gpsd;
mod reading;
mod tcp;
mod udp;

mod refusal;

pub mod ports;

mod serial;
mod speed;

mod hearing;

pub mod auto;
pub mod probe;

pub mod open;

#[cfg(unix)]
pub mod pty;

pub use address::{Address, AddressError};
pub use auto::open_auto;
pub use happening::{Clock, Happening, RawLine, Role, Stamp};
pub use kit::{Classify, Heard, Kit, ListPorts};
pub use open::{Handle, open};
pub use ports::{FoundPort, UsbDevice, list_ports};
pub use probe::{PortReport, PortState, Spoken, Until, probe, probe_until};
