//! Where a source's lines come from: a port with what it is heard to say, any port, none, or an address typed.
//!
//! ```text
//!  Where do the node's lines come from?
//!
//!  ▸ serial:/dev/ttyACM0
//!      ● node: fern boot 7
//!    Find it by listening when the survey begins
//!    None
//!    Type an address
//! ```

use super::gear_page::tone;
use super::opening::Scenery;
use super::page::{Line, Page};
use crate::screens::theme::Tone;

/// Which of the two sources.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// The node.
    Node,
    /// The receiver.
    Gps,
}

/// What can be chosen for a source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Offer {
    /// This address.
    Address(String),
    /// Whatever port speaks so.
    Auto,
    /// Nothing is read.
    Without,
    /// Another address, typed.
    Type,
}

/// What is offered, in order: the ports, then the rest.
pub fn offers(scenery: &Scenery) -> Vec<Offer> {
    let ports = scenery.ports.iter().map(|port| Offer::Address(port.address.clone()));
    ports.chain([Offer::Auto, Offer::Type, Offer::Without]).collect()
}

/// The page.
pub fn page(which: Which, scenery: &Scenery, chosen: usize) -> Page {
    let mut page = Page::titled(match which {
        Which::Node => "Where do the node's lines come from?",
        Which::Gps => "Where do the positions come from?",
    });
    for (index, offer) in offers(scenery).into_iter().enumerate() {
        let (label, words, tone) = match &offer {
            Offer::Address(address) => match scenery.port(address) {
                Some(port) => {
                    let device = port
                        .device
                        .as_ref()
                        .map(|device| format!("{device}. "))
                        .unwrap_or_default();
                    let words = format!("{} {device}{}", port.says.sign(), port.says.words());
                    (address.clone(), words, tone(&port.says))
                }
                None => (address.clone(), String::new(), Tone::Text),
            },
            Offer::Auto => (
                "Find it by listening".to_owned(),
                "Every serial port is listened to when the survey begins, and the one that speaks so is taken."
                    .to_owned(),
                Tone::Text,
            ),
            Offer::Type => (
                "Type an address".to_owned(),
                match which {
                    Which::Node => "serial:PATH, serial:PATH@9600, tcp:HOST:PORT, udp:HOST:PORT".to_owned(),
                    Which::Gps => {
                        "serial:PATH, tcp:HOST:PORT, udp:HOST:PORT (a phone that sends NMEA), gpsd:HOST:PORT".to_owned()
                    }
                },
                Tone::Text,
            ),
            Offer::Without => (
                "None".to_owned(),
                match which {
                    Which::Node => "Only the way walked is recorded.".to_owned(),
                    Which::Gps => "Exchanges have no position then.".to_owned(),
                },
                Tone::Text,
            ),
        };
        page.push(Line::choice(label, ""), index == chosen);
        page.push(Line::Under(words, tone), false);
    }
    if scenery.is_probing {
        page.push(
            Line::Words(
                "Listening: what the ports say comes in some seconds.".to_owned(),
                Tone::Quiet,
            ),
            false,
        );
    }
    page.hint("Space", "take it");
    page.hint("↑ ↓", "choose");
    page.hint("r", "look again");
    page.hint("Esc", "back");
    page
}
