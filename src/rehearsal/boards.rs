//! The boards of the rehearsal, named for plants; none is anybody's product.

use super::pattern::{Pattern, Pose, Shape};

/// One piece of invented hardware.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// Its name.
    pub name: &'static str,
    /// Whether it is the one others are compared with.
    pub reference: bool,
    /// What its maker would say of it.
    pub note: &'static str,
    /// Transmit power, dBm.
    pub tx: f64,
    /// Gain by turn, for each of [`Pose::ALL`].
    pub patterns: [Pattern; 3],
    /// How weak a message it still understands.
    pub sensitivity: Sensitivity,
    /// What its meter reads too much, dB.
    pub meter_offset: f64,
    /// How often it has started before this survey.
    pub boots: u64,
    /// How it writes its lines.
    pub firmware: Firmware,
}

/// The chance to understand a message by its level: `1 / (1 + exp(-(level - half) / scale))`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensitivity {
    /// Level at which every second message is understood, dBm.
    pub half: f64,
    /// Scale of the logistic curve, dB; positive.
    pub scale: f64,
}

/// How a board writes its lines.
#[derive(Clone, Debug, PartialEq)]
pub struct Firmware {
    /// Its version.
    pub version: &'static str,
    /// Text or JSON.
    pub form: Form,
    /// Whether lines end in a checksum.
    pub checksum: bool,
    /// Whether it prints `lost` lines; else a loss shows as a gap.
    pub says_lost: bool,
    /// Modulus of the ping's number.
    pub wrap: Option<u64>,
}

/// The form of the lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// A record word and pairs.
    Text,
    /// A JSON object.
    Json,
}

impl Board {
    /// Gain towards the station, dBi, at a turn in degrees.
    pub fn gain(&self, pose: Pose, turn: f64) -> f64 {
        self.pattern(pose).gain(turn)
    }

    /// The pattern in a pose.
    pub const fn pattern(&self, pose: Pose) -> &Pattern {
        let [flat, upright, edge] = &self.patterns;
        match pose {
            Pose::Flat => flat,
            Pose::Upright => upright,
            Pose::Edge => edge,
        }
    }
}

impl Sensitivity {
    /// The chance that a message of a level in dBm is understood, 0 to 1.
    pub fn understands(&self, level: f64) -> f64 {
        1.0 / (1.0 + (-(level - self.half) / self.scale).exp())
    }

    /// The level in dBm at which a share of messages is understood; share strictly between 0 and 1.
    pub fn level_for(&self, share: f64) -> f64 {
        self.half + self.scale * (share / (1.0 - share)).ln()
    }
}

const CHECKED: Firmware = Firmware {
    version: "1.4",
    form: Form::Text,
    checksum: true,
    says_lost: true,
    wrap: None,
};

/// The reference: a whip a quarter wave long, nearly round, a good receiver.
pub fn yew() -> Board {
    Board {
        name: "yew",
        reference: true,
        note: "reference: quarter-wave whip on its own ground plane",
        tx: 14.0,
        patterns: [
            Pattern {
                peak: -2.0,
                towards: 30.0,
                shape: Shape::TwoLobes { depth: 5.0 },
            },
            Pattern {
                peak: 1.8,
                towards: 10.0,
                shape: Shape::OneLobe { depth: 1.2 },
            },
            Pattern {
                peak: -1.0,
                towards: 90.0,
                shape: Shape::TwoLobes { depth: 6.0 },
            },
        ],
        sensitivity: Sensitivity {
            half: -93.5,
            scale: 0.9,
        },
        meter_offset: 0.4,
        boots: 31,
        firmware: CHECKED,
    }
}

/// A chip aerial at one corner, weak to send: its pings die before the echoes do.
pub fn fern() -> Board {
    Board {
        name: "fern",
        reference: false,
        note: "chip aerial, feed at the left",
        tx: 8.0,
        patterns: [
            Pattern {
                peak: -1.0,
                towards: 320.0,
                shape: Shape::OneLobe { depth: 11.0 },
            },
            Pattern {
                peak: -1.5,
                towards: 300.0,
                shape: Shape::OneLobe { depth: 8.0 },
            },
            Pattern {
                peak: -3.0,
                towards: 45.0,
                shape: Shape::Harmonics(vec![(2.0, 20.0), (3.0, 140.0)]),
            },
        ],
        sensitivity: Sensitivity {
            half: -91.5,
            scale: 1.2,
        },
        meter_offset: -2.2,
        boots: 6,
        firmware: Firmware {
            version: "0.3",
            ..CHECKED
        },
    }
}

/// A printed inverted F: two lobes; old firmware without checksums.
pub fn hazel() -> Board {
    Board {
        name: "hazel",
        reference: false,
        note: "printed inverted-F aerial, no shield",
        tx: 14.0,
        patterns: [
            Pattern {
                peak: 0.5,
                towards: 75.0,
                shape: Shape::TwoLobes { depth: 9.0 },
            },
            Pattern {
                peak: 0.0,
                towards: 60.0,
                shape: Shape::TwoLobes { depth: 6.0 },
            },
            Pattern {
                peak: -0.5,
                towards: 0.0,
                shape: Shape::SharpNulls { depth: 20.0 },
            },
        ],
        sensitivity: Sensitivity {
            half: -92.5,
            scale: 1.0,
        },
        meter_offset: 1.6,
        boots: 112,
        firmware: Firmware {
            version: "2.0",
            checksum: false,
            ..CHECKED
        },
    }
}

/// A helix under a lid: weak all round, a deaf receiver; writes JSON.
pub fn sorrel() -> Board {
    Board {
        name: "sorrel",
        reference: false,
        note: "helix under the lid, waxed against rain",
        tx: 12.0,
        patterns: [
            Pattern {
                peak: -4.0,
                towards: 180.0,
                shape: Shape::OneLobe { depth: 4.0 },
            },
            Pattern {
                peak: -3.5,
                towards: 170.0,
                shape: Shape::OneLobe { depth: 3.0 },
            },
            Pattern::round(-5.0),
        ],
        sensitivity: Sensitivity {
            half: -89.0,
            scale: 1.5,
        },
        meter_offset: -0.7,
        boots: 2,
        firmware: Firmware {
            version: "5.1-rc2",
            form: Form::Json,
            checksum: false,
            says_lost: true,
            wrap: None,
        },
    }
}

/// A slotted patch with a strong front and a short counter; says nothing of what is lost.
pub fn thistle() -> Board {
    Board {
        name: "thistle",
        reference: false,
        note: "slot in the front panel; face it to the station",
        tx: 14.0,
        patterns: [
            Pattern {
                peak: 1.0,
                towards: 0.0,
                shape: Shape::Harmonics(vec![(4.0, 0.0), (1.5, 0.0), (1.0, 60.0)]),
            },
            Pattern {
                peak: 4.0,
                towards: 0.0,
                shape: Shape::OneLobe { depth: 14.0 },
            },
            Pattern {
                peak: 2.0,
                towards: 20.0,
                shape: Shape::SharpNulls { depth: 16.0 },
            },
        ],
        sensitivity: Sensitivity {
            half: -93.0,
            scale: 1.0,
        },
        meter_offset: 0.9,
        boots: 17,
        firmware: Firmware {
            version: "0.9",
            says_lost: false,
            wrap: Some(4096),
            ..CHECKED
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curve_passes_through_its_landmarks() {
        let curve = Sensitivity {
            half: -92.0,
            scale: 1.1,
        };
        assert_eq!(curve.understands(-92.0), 0.5);
        assert!((curve.level_for(0.9) - (-92.0 + 1.1 * 9f64.ln())).abs() < 1e-12);
        assert!((curve.understands(curve.level_for(0.9)) - 0.9).abs() < 1e-12);
        assert_eq!(curve.understands(-1e6), 0.0);
    }

    #[test]
    fn there_is_one_reference_and_every_firmware_writes_otherwise() {
        let boards = [yew(), fern(), hazel(), sorrel(), thistle()];
        assert_eq!(boards.iter().filter(|board| board.reference).count(), 1);
        assert!(
            boards
                .iter()
                .any(|board| !board.firmware.checksum && board.firmware.form == Form::Text)
        );
        assert!(boards.iter().any(|board| board.firmware.form == Form::Json));
        assert!(boards.iter().any(|board| !board.firmware.says_lost));
    }
}
