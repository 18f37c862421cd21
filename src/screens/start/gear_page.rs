//! The gear: each port, what is behind it, what it is heard to say.
//!
//! ```text
//!  The gear
//!
//!  ● serial:/dev/ttyACM0   yew
//!      node: fern boot 7
//!  ✗ serial:/dev/ttyUSB0
//!      may not be opened: … run `sudo usermod -aG dialout $USER` …
//! ```

use super::opening::Scenery;
use super::page::{Line, Page};
use super::port::{Port, Says};
use crate::screens::theme::Tone;

/// The page, read from a line on.
pub fn page(scenery: &Scenery, from: usize) -> Page {
    let mut page = Page::titled("The gear");
    lines(&scenery.ports, scenery.is_probing, &mut page);
    page.from = from.min(page.lines.len().saturating_sub(1));
    if scenery.is_probing {
        page.hint("Esc", "stop listening");
        page.hint("↑ ↓", "more");
        return page;
    }
    page.hint("Space", "look again");
    page.hint("↑ ↓", "more");
    page.hint("Esc", "back");
    page
}

/// A line for each port and what it says.
pub fn lines(ports: &[Port], is_probing: bool, page: &mut Page) {
    for port in ports {
        let device = port
            .device
            .as_ref()
            .map(|device| format!("  {device}"))
            .unwrap_or_default();
        page.push(
            Line::Words(format!("{} {}{device}", port.says.sign(), port.address), Tone::Strong),
            false,
        );
        page.push(Line::Under(port.says.words(), tone(&port.says)), false);
    }
    if ports.is_empty() {
        page.push(Line::words(no_port(is_probing)), false);
    }
}

/// What is said where no port is listed.
pub fn no_port(is_probing: bool) -> &'static str {
    if is_probing {
        "Looking for serial ports…"
    } else {
        "No serial port is plugged in. Plug the board and the GPS in and press r. A GPS may also come over the network: \
         tcp:HOST:PORT or udp:HOST:PORT from a phone, gpsd:HOST:PORT from a server; such an address is typed in the set-up."
    }
}

/// How what a port says looks.
pub fn tone(says: &Says) -> Tone {
    match says {
        Says::Talks { .. } => Tone::Good,
        Says::Listening | Says::Silent | Says::BrokenOff => Tone::Text,
        Says::Unclear(_) => Tone::Close,
        Says::Denied(_) | Says::Busy(_) | Says::Failed(_) => Tone::Bad,
    }
}
