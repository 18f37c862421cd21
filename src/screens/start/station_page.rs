//! Where the station is: taken from the GPS by averaging, typed, or reused.
//!
//! ```text
//!  The station, from the GPS
//!
//!  Stand at the station, the receiver where its aerial is.
//!    Fixes      64 in 63 s
//!    Mean       52.10000112, -2.90000087
//!    Spread     ±0.6 m east, ±0.9 m north
//!    Known to   ±2.4 m, one sigma per axis
//!  Longer helps slowly: …
//! ```

use super::opening::Scenery;
use super::page::{Line, Page};
use super::setup_page::{Averaging, Fixing};
use super::typed;
use crate::screens::theme::Tone;

/// How the station's position can be come by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// The mean of fixes taken there.
    FromGps,
    /// Typed.
    Type,
    /// That of the last survey.
    Reuse,
    /// Not known.
    Without,
}

/// What is offered, in order.
pub fn ways(scenery: &Scenery) -> Vec<Way> {
    let last = scenery.last().and_then(|last| last.setup.as_ref()?.station.position);
    match last {
        Some(_) => vec![Way::FromGps, Way::Type, Way::Reuse, Way::Without],
        None => vec![Way::FromGps, Way::Type, Way::Without],
    }
}

/// The page that asks for the way.
pub fn choice(scenery: &Scenery, chosen: usize) -> Page {
    let mut page = Page::titled("Where is the station?");
    for (index, way) in ways(scenery).into_iter().enumerate() {
        let (label, words) = match way {
            Way::FromGps => (
                "Take it from the GPS",
                "Stand at the station for a minute or more: the fixes are averaged, and you see how far they spread."
                    .to_owned(),
            ),
            Way::Type => (
                "Type it",
                "Latitude, longitude in decimal degrees: 52.10000, -2.90000.".to_owned(),
            ),
            Way::Reuse => ("As in the last survey", reuse_words(scenery)),
            Way::Without => (
                "Begin without",
                "Distances and bearings stay empty until survey.toml is edited and the survey rebuilt.".to_owned(),
            ),
        };
        page.push(Line::choice(label, ""), index == chosen);
        page.push(Line::under(words), false);
    }
    page.hint("Space", "this");
    page.hint("↑ ↓", "choose");
    page.hint("Esc", "back");
    page
}

fn reuse_words(scenery: &Scenery) -> String {
    let Some((last, setup)) = scenery.last().and_then(|last| Some((last, last.setup.as_ref()?))) else {
        return String::new();
    };
    let station = &setup.station;
    let position = station.position.map(typed::position_text).unwrap_or_default();
    let name = station
        .name
        .as_ref()
        .map(|name| format!("{name}, "))
        .unwrap_or_default();
    let sigma = station
        .sigma
        .map(|sigma| format!(" ±{:.1} m", sigma.0))
        .unwrap_or_default();
    format!("{name}{position}{sigma}, from “{}”, {}.", last.title, last.when)
}

/// The page while fixes are being averaged.
pub fn averaging(at: &Averaging, address: &str) -> Page {
    let mut page = Page::titled("The station, from the GPS");
    page.push(
        Line::words("Stand at the station and hold the receiver where its aerial is."),
        false,
    );
    page.push(Line::Gap, false);
    match &at.fixing {
        Fixing::Waiting => page.push(Line::words(format!("Waiting for the GPS at {address}…")), false),
        Fixing::NoFix => {
            let words = "! The GPS speaks and has no fix yet: give it a clear view of the sky.";
            page.push(Line::Words(words.to_owned(), Tone::Close), false);
        }
        Fixing::Trouble(why) => page.push(Line::Words(format!("✗ {why}"), Tone::Bad), false),
        Fixing::Fixed => {}
    }
    let Some(mean) = &at.mean else {
        page.hint("Esc", "back without");
        return page;
    };
    let mut show = |label: &str, value: String| {
        page.push(
            Line::Choice {
                label: label.to_owned(),
                value,
                tone: Tone::Strong,
            },
            false,
        );
    };
    let fixes = if mean.count == 1 {
        "1 fix".to_owned()
    } else {
        format!("{} in {:.0} s", mean.count, mean.time.0)
    };
    show("Fixes", fixes);
    show("Mean", typed::position_text(mean.position));
    let spread = mean.spread.map_or_else(
        || "– (takes two fixes)".to_owned(),
        |(east, north)| format!("±{:.1} m east, ±{:.1} m north", east.0, north.0),
    );
    show("Spread", spread);
    let says = mean
        .own_sigma
        .map_or_else(|| "–".to_owned(), |sigma| format!("±{:.1} m", sigma.0));
    show("GPS says", says);
    let known = mean
        .sigma
        .map_or_else(|| "–".to_owned(), |sigma| format!("±{:.1} m", sigma.0));
    show("Known to", format!("{known} (one sigma per axis)"));
    page.push(Line::Gap, false);
    if mean.wanders {
        let words = "! The fixes spread wider than the GPS says: stand still, away from walls and metal. Their spread is \
                     taken as the error.";
        page.push(Line::Words(words.to_owned(), Tone::Close), false);
    }
    let words = match mean.sigma {
        Some(_) => {
            "A minute does. The error of a GPS changes over many minutes, so a thousand fixes in a row are hardly better \
             than one: after ten minutes it is 14 % less, after half an hour a third. The spread does not show it."
        }
        None => {
            "This GPS does not say how good its fixes are, and their spread does not show the error they share: how well \
             the station is known stays empty."
        }
    };
    page.push(Line::words(words), false);
    page.hint("Space", "take the mean");
    page.hint("Esc", "back without");
    page
}
