//! Opens a source: starts its reader thread.

use std::convert::Infallible;
use std::io;
use std::thread::{self, JoinHandle};

use crossbeam_channel::Sender;

use super::address::Address;
use super::happening::{Happening, Role};
use super::kit::Kit;
use super::outlet::{Outlet, StopOrder, Stopped, stop_order};
use super::{auto, file, gpsd, serial, tcp, udp};

/// A running source; dropped or told to, it stops its reader at once (within a fifth of a second) and waits for it.
#[derive(Debug)]
pub struct Handle {
    order: Option<StopOrder>,
    reader: Option<JoinHandle<()>>,
}

impl Handle {
    /// Stops the reader and waits until it is gone, its port closed.
    pub fn stop(self) {
        drop(self);
    }

    /// Whether the reader is gone by itself: its file is at its end, or nobody listens any more.
    pub fn is_over(&self) -> bool {
        self.reader.as_ref().is_none_or(JoinHandle::is_finished)
    }
}

impl Drop for Handle {
    fn drop(&mut self) {
        drop(self.order.take());
        if let Some(reader) = self.reader.take() {
            // A reader that panicked has nothing to say here; it has been said where panics are.
            let _ = reader.join();
        }
    }
}

/// Opens the source at `address` and hands on what happens to it, labelled with `role`.
///
/// A bounded channel holds the reader back when it is full: a file waits, a port's lines wait in the system's buffer for
/// as long as that has room. Lines of a role at [`Address::Auto`] come labelled with that role; see [`super::open_auto`]
/// for two roles together.
pub fn open<T>(address: &Address, role: Role, kit: &Kit, send: Sender<T>) -> Handle
where
    T: From<(Role, Happening)> + Send + 'static,
{
    let address = address.clone();
    let kit = kit.clone();
    start(role, send, move |outlet| {
        let clock = &kit.clock;
        let ending: Result<Infallible, Stopped> = match &address {
            Address::Serial { path, baud } => serial::run(path, *baud, &kit, &outlet),
            Address::Tcp(host_port) => tcp::run(host_port, &**clock, &outlet),
            Address::Udp(host_port) => udp::run(host_port, &**clock, &outlet),
            Address::Gpsd(host_port) => gpsd::run(host_port, gpsd::PATIENCE, &**clock, &outlet),
            Address::Auto => auto::run(&[role], &[], &kit, &outlet),
            Address::File(path) => return file::run_file(path, clock, &outlet),
            Address::Stdin => return file::run_stdin(clock, &outlet),
        };
        ending.map(|never| match never {})
    })
}

/// Starts a reader thread.
pub(super) fn start<T>(
    role: Role,
    send: Sender<T>,
    read: impl FnOnce(Outlet) -> Result<(), Stopped> + Send + 'static,
) -> Handle
where
    T: From<(Role, Happening)> + Send + 'static,
{
    let (order, stop) = stop_order();
    let outlet = Outlet::new(role, send, stop);
    let spare = outlet.clone();
    let started = thread::Builder::new().name("source".to_owned()).spawn(move || {
        // Being stopped is the way a reader ends.
        let _ = read(outlet);
    });
    let reader = match started {
        Ok(reader) => Some(reader),
        Err(error) => {
            spare.offer(Happening::Trouble { why: no_thread(&error) });
            None
        }
    };
    Handle {
        order: Some(order),
        reader,
    }
}

fn no_thread(error: &io::Error) -> String {
    format!("the system starts no further thread to read with: {error}; close other programs")
}
