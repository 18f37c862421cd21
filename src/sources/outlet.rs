//! The way out of a reader thread: hands on what happens, and hears when it is to stop.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, TryRecvError, bounded, select};

use super::happening::{Happening, Role};

/// The reader is to stop, or nobody listens any more.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stopped;

/// The reader's end of the order to stop; the order is given by dropping [`StopOrder`].
#[derive(Clone, Debug)]
pub(super) struct Stop(Receiver<Infallible>);

/// Dropped, it orders every [`Stop`] made with it to stop.
#[derive(Debug)]
pub(super) struct StopOrder(#[expect(dead_code, reason = "held to be dropped")] Sender<Infallible>);

/// An order to stop and the ear for it.
pub(super) fn stop_order() -> (StopOrder, Stop) {
    let (order, ear) = bounded(0);
    (StopOrder(order), Stop(ear))
}

impl Stop {
    /// Fails once the order was given.
    pub fn check(&self) -> Result<(), Stopped> {
        match self.0.try_recv() {
            Err(TryRecvError::Empty) => Ok(()),
            Err(TryRecvError::Disconnected) => Err(Stopped),
        }
    }

    /// Waits, and fails at once when the order comes.
    pub fn pause(&self, time: Duration) -> Result<(), Stopped> {
        match self.0.recv_timeout(time) {
            Err(RecvTimeoutError::Timeout) => Ok(()),
            Err(RecvTimeoutError::Disconnected) => Err(Stopped),
        }
    }

    /// The ear itself, to wait for the order beside other things: it only ever tells by being disconnected.
    pub fn ear(&self) -> &Receiver<Infallible> {
        &self.0
    }

    /// Waits for the next of what a helper sends; `Ok(None)` when that helper is gone.
    pub fn wait_for<T>(&self, from: &Receiver<T>) -> Result<Option<T>, Stopped> {
        select! {
            recv(from) -> got => Ok(got.ok()),
            recv(self.0) -> _ => Err(Stopped),
        }
    }
}

/// Takes happenings whatever the caller's channel carries.
trait Sink: Send + Sync {
    fn send(&self, role: Role, what: Happening, stop: &Stop) -> Result<(), Stopped>;
    fn offer(&self, role: Role, what: Happening);
}

impl<T: From<(Role, Happening)> + Send> Sink for Sender<T> {
    fn send(&self, role: Role, what: Happening, stop: &Stop) -> Result<(), Stopped> {
        select! {
            send(self, T::from((role, what))) -> sent => sent.map_err(|_| Stopped),
            recv(stop.0) -> _ => Err(Stopped),
        }
    }

    fn offer(&self, role: Role, what: Happening) {
        // A channel without room has a reader busy with worse.
        let _ = self.try_send(T::from((role, what)));
    }
}

/// Hands on what happens to one source. A full channel holds the reader back, and the order to stop frees it.
#[derive(Clone)]
pub(super) struct Outlet {
    role: Role,
    sink: Arc<dyn Sink>,
    /// The order to stop.
    pub stop: Stop,
}

impl Outlet {
    /// An outlet into the caller's channel.
    pub fn new<T: From<(Role, Happening)> + Send + 'static>(role: Role, send: Sender<T>, stop: Stop) -> Self {
        Self {
            role,
            sink: Arc::new(send),
            stop,
        }
    }

    /// The same channel for another source.
    pub fn with_role(&self, role: Role) -> Self {
        Self { role, ..self.clone() }
    }

    /// The source's label.
    pub fn role(&self) -> Role {
        self.role
    }

    /// Hands on one thing, waiting until there is room for it.
    pub fn say(&self, what: Happening) -> Result<(), Stopped> {
        self.stop.check()?;
        self.sink.send(self.role, what, &self.stop)
    }

    /// Hands on one thing if there is room for it at once.
    pub fn offer(&self, what: Happening) {
        self.sink.offer(self.role, what);
    }
}

/// Says a trouble once, and again only when it has become another.
#[derive(Debug, Default)]
pub(super) struct SaidOnce(Option<String>);

impl SaidOnce {
    /// Says `why` unless it was the last thing said.
    pub fn trouble(&mut self, outlet: &Outlet, why: String) -> Result<(), Stopped> {
        if self.0.as_deref() == Some(why.as_str()) {
            return Ok(());
        }
        self.0 = Some(why.clone());
        outlet.say(Happening::Trouble { why })
    }

    /// Forgets what was said: the source works again.
    pub fn clear(&mut self) {
        self.0 = None;
    }
}
