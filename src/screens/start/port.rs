//! What a port (or another address) is heard to say, in words.

use crate::wire::visible;

/// A place lines may come from, and what was heard there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Port {
    /// As it is written for a survey: `serial:/dev/ttyACM0`.
    pub address: String,
    /// What is behind it, as the device names itself, control characters made visible.
    pub device: Option<String>,
    /// What it says.
    pub says: Says,
}

/// What a port says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Says {
    /// It is being listened to.
    Listening,
    /// It says what a node or a receiver says, or both.
    Talks {
        /// What the node says of itself, where one speaks.
        node: Option<Voice>,
        /// What the receiver says of itself, where one speaks.
        gps: Option<Voice>,
        /// Bits a second, where it is a serial port.
        baud: Option<u32>,
    },
    /// It says something that is not understood: a first line of it.
    Unclear(Option<Vec<u8>>),
    /// Nothing comes.
    Silent,
    /// It was not listened to to the end.
    BrokenOff,
    /// This user may not open it: what to do.
    Denied(String),
    /// Another program has it: what to do.
    Busy(String),
    /// It cannot be read: why, and what to do.
    Failed(String),
}

/// Somebody who speaks, with what is known of them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Voice(pub Option<String>);

impl Port {
    /// Whether a node speaks there.
    pub fn is_node(&self) -> bool {
        matches!(self.says, Says::Talks { node: Some(_), .. })
    }

    /// Whether a receiver speaks there.
    pub fn is_gps(&self) -> bool {
        matches!(self.says, Says::Talks { gps: Some(_), .. })
    }
}

/// A text of a device or of a line, made fit to be seen.
pub fn seen(text: &[u8]) -> String {
    let text = visible::escape(text);
    let short: String = text.chars().take(60).collect();
    if short.len() < text.len() {
        format!("{short}…")
    } else {
        short
    }
}

impl Says {
    /// A sign that tells without colour: understood, not understood, silent, refused.
    pub fn sign(&self) -> &'static str {
        match self {
            Self::Listening => "…",
            Self::BrokenOff => "·",
            Self::Talks { .. } => "●",
            Self::Unclear(_) => "?",
            Self::Silent => "○",
            Self::Denied(_) | Self::Busy(_) | Self::Failed(_) => "✗",
        }
    }

    /// What it says, in a few words; what to do where it is refused.
    pub fn words(&self) -> String {
        match self {
            Self::Listening => "listening (some seconds)".to_owned(),
            Self::BrokenOff => "not listened to the end; r looks again".to_owned(),
            Self::Talks { node, gps, baud } => {
                let mut parts = Vec::new();
                if let Some(Voice(about)) = node {
                    parts.push(match about {
                        Some(about) => format!("node: {about}"),
                        None => "node: its name is not heard yet".to_owned(),
                    });
                }
                if let Some(Voice(about)) = gps {
                    parts.push(match about {
                        Some(about) => format!("GPS: {about}"),
                        None => "GPS".to_owned(),
                    });
                }
                // A board with USB of its own has no speed; the usual one is not worth saying.
                let speed = baud.filter(|baud| *baud != 115_200).map(|baud| format!(" (at {baud})"));
                format!("{}{}", parts.join(", "), speed.unwrap_or_default())
            }
            Self::Unclear(Some(example)) => format!("says something else: “{}”", seen(example)),
            Self::Unclear(None) => "says something that is no text at any usual speed".to_owned(),
            Self::Silent => "silent: press the board's reset button, or give the GPS a moment, then r".to_owned(),
            // These sentences say themselves what is the matter, and what to do.
            Self::Denied(why) | Self::Busy(why) | Self::Failed(why) => why.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn voices_are_named_and_unusual_speeds_said() {
        let both = Says::Talks {
            node: Some(Voice(Some("fern boot 7".to_owned()))),
            gps: Some(Voice(None)),
            baud: Some(9600),
        };
        assert_eq!(both.words(), "node: fern boot 7, GPS (at 9600)");
    }

    #[test]
    fn what_a_device_says_cannot_steer_the_terminal() {
        let says = Says::Unclear(Some(b"\x1b[31mred \xff".to_vec()));
        assert_eq!(says.words(), r"says something else: “\u{1B}[31mred \xFF”");
        assert_eq!(seen("é".repeat(100).as_bytes()).chars().count(), 61);
    }
}
