//! What the caller lends to the sources.

use std::fmt;
use std::sync::Arc;

use super::happening::Clock;
use super::ports::{FoundPort, list_ports};

/// What a line sounds like, by the caller's judgement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Heard {
    /// A line of a node, with what it says of itself (`fern boot 7`) where it does.
    Node(Option<String>),
    /// A line of a positioning receiver, with what it says of itself (`no fix yet`) where it does.
    Position(Option<String>),
    /// Neither: boot noise, rubbish, another language.
    Nothing,
}

/// Says what a line sounds like.
pub type Classify = dyn Fn(&[u8]) -> Heard + Send + Sync;

/// Lists the serial ports there are.
pub type ListPorts = dyn Fn() -> Vec<FoundPort> + Send + Sync;

/// What the caller lends to the sources: a clock, an ear for lines, and the list of ports.
#[derive(Clone)]
pub struct Kit {
    /// Stamps every line.
    pub clock: Arc<dyn Clock>,
    /// Says what a line sounds like; asked only where it is to be found out which port is which.
    pub classify: Arc<Classify>,
    /// Lists the serial ports there are.
    pub ports: Arc<ListPorts>,
}

impl Kit {
    /// A kit that looks at this computer's ports.
    pub fn new(clock: Arc<dyn Clock>, classify: impl Fn(&[u8]) -> Heard + Send + Sync + 'static) -> Self {
        Self {
            clock,
            classify: Arc::new(classify),
            ports: Arc::new(list_ports),
        }
    }
}

impl fmt::Debug for Kit {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.debug_struct("Kit").finish_non_exhaustive()
    }
}
