//! Larkfield orchard: an invented place, its packing shed and its trees.

use super::law::{Law, Orchard, Rows};
use crate::ground::{Position, geodesy};
use crate::units::{Degrees, Megahertz, Metres};

/// Where a rehearsal takes place, as its surveyor would write it down.
#[derive(Clone, Debug, PartialEq)]
pub struct Site {
    /// The survey's title.
    pub title: &'static str,
    /// The survey's note.
    pub note: &'static str,
    /// The station's name.
    pub station: &'static str,
    /// Where the surveyor says the station is.
    pub entered: Position,
    /// Where it truly is.
    pub position: Position,
    /// The station's aerial above the ground.
    pub height: Metres,
    /// One sigma per axis of the position the surveyor entered.
    pub sigma: Metres,
    /// Height of the ground above mean sea level.
    pub ground: Metres,
    /// The radio's kind, as in a `hello`.
    pub radio: &'static str,
    /// Its channel.
    pub channel: u32,
    /// The channel's centre.
    pub frequency: Megahertz,
}

/// Centre of the channel, MHz; the wavelength follows from it.
const MHZ: f64 = 2437.0;

/// Speed of light over frequency, metres.
pub const WAVELENGTH: f64 = 299.792_458 / MHZ;

/// How high the boards are carried above the ground, metres.
pub const CARRIED_HEIGHT: f64 = 1.2;

/// Larkfield orchard with its packing shed.
///
/// # Panics
/// Never: the constants are a place on the globe, and a test reads them.
pub fn larkfield() -> Site {
    #[expect(clippy::expect_used, reason = "both constants lie within the limits of a position")]
    let entered = Position::new(Degrees(52.1), Degrees(-2.9)).expect("a place on the globe");
    // Nobody enters a position without error: this one is off by less than the sigma entered with it.
    let position = geodesy::destination(entered, Degrees(215.0), Metres(1.3)).unwrap_or(entered);
    Site {
        title: "Larkfield orchard, east side",
        note: "dry, light wind, trees in leaf",
        station: "packing shed",
        entered,
        position,
        height: Metres(6.0),
        sigma: Metres(1.5),
        ground: Metres(74.0),
        radio: "802.11",
        channel: 6,
        frequency: Megahertz(MHZ),
    }
}

/// What distance and trees take at Larkfield.
///
/// The station stands 6 m up at the shed's gable, boards are carried at 1.2 m; the ground is medium-dry soil
/// (permittivity 15, conductivity 0.1 S/m: the order of Rec. ITU-R P.527 at 2.4 GHz, from memory) under grass. Apple
/// trees on a 6 m row spacing, 3.4 m high, 2.4 m wide (common practice for half-standards), from 15 m to 330 m east of
/// the shed; the alley that begins at the shed's door is clear.
pub fn larkfield_law() -> Law {
    Law::Orchard(Orchard {
        wavelength: WAVELENGTH,
        station_height: 6.0,
        board_height: CARRIED_HEIGHT,
        permittivity: 15.0,
        conductivity: 0.1,
        roughness: 0.07,
        rows: Rows {
            anchor: 3.0,
            spacing: 6.0,
            width: 2.4,
            height: 3.4,
            from_east: 15.0,
            to_east: 330.0,
            density: 0.8,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shed_stands_where_the_survey_says() {
        let site = larkfield();
        assert_eq!((site.entered.lat().0, site.entered.lon().0), (52.1, -2.9));
        let off = geodesy::separation(site.entered, site.position).distance;
        assert!((off.0 - 1.3).abs() < 1e-6 && off < site.sigma);
        assert!((WAVELENGTH - 0.123_017).abs() < 1e-6);
    }
}
