//! Firmware that prints something else, read through a regular expression of the set-up.

use regex::bytes::{Captures, Regex, RegexBuilder};
use thiserror::Error;

use crate::{
    units::Dbm,
    wire::{
        Echo, Lost, Malformed, NodeLine, NodeRecord,
        fields::{Fields, Value},
    },
};

/// The groups a pattern may name.
const GROUPS: [&str; 7] = ["n", "here", "there", "rtt_us", "board", "boot", "lost"];

/// Largest compiled pattern, in bytes: a line has 512, so an honest pattern stays far below.
const MOST_BYTES: usize = 1 << 20;

/// A regular expression that finds the values of an exchange in a line of firmware that speaks its own way.
#[derive(Clone, Debug)]
pub struct NodePattern {
    regex: Regex,
}

/// Why a pattern cannot be used.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PatternError {
    /// It is no regular expression, or one too large.
    #[error("node_pattern is not usable as a regular expression: {0}")]
    Regex(String),
    /// It finds no ping number.
    #[error("node_pattern has no group (?P<n>...): name the group that holds the number of the ping")]
    NoNumber,
    /// It names a group that means nothing here.
    #[error(
        "node_pattern names a group `{0}`, which means nothing here: use n, here, there, rtt_us, board, boot or lost, \
         or leave the group unnamed"
    )]
    Group(String),
}

impl NodePattern {
    /// Compiles a pattern with the named groups `n` (needed), `here`, `there`, `rtt_us`, `board`, `boot`, `lost`.
    ///
    /// # Errors
    /// When it is no regular expression, too large, lacks `n`, or names another group.
    pub fn new(regex: &str) -> Result<Self, PatternError> {
        let regex = RegexBuilder::new(regex)
            .size_limit(MOST_BYTES)
            .dfa_size_limit(MOST_BYTES)
            .build()
            .map_err(|error| PatternError::Regex(error.to_string()))?;
        if let Some(other) = regex.capture_names().flatten().find(|name| !GROUPS.contains(name)) {
            return Err(PatternError::Group(other.to_owned()));
        }
        if !regex.capture_names().flatten().any(|name| name == "n") {
            return Err(PatternError::NoNumber);
        }
        Ok(Self { regex })
    }

    /// The pattern as it was given.
    pub fn as_str(&self) -> &str {
        self.regex.as_str()
    }

    /// Reads a line, with or without its line end, through the pattern.
    ///
    /// A line that does not match is [`NodeLine::Unknown`]; one on which `lost` matched something is a lost ping. An
    /// empty group is absent. Numbers are held to the same ranges as on a node's own lines.
    ///
    /// # Errors
    /// When a group holds what its key cannot have, or `n` is empty.
    pub fn read(&self, line: &[u8]) -> Result<NodeLine, Malformed> {
        let line = line.trim_ascii_end();
        if line.is_empty() {
            return Ok(NodeLine::Blank);
        }
        let Some(groups) = self.regex.captures(line) else {
            return Ok(NodeLine::Unknown);
        };
        let fields = &mut fields(&groups);
        let n = fields.whole("n")?;
        let n = fields.needed("n", n)?;
        let board = fields.text("board")?;
        let boot = fields.whole("boot")?;
        let record = if fields.text("lost")?.is_some() {
            NodeRecord::Lost(Lost {
                n,
                chan: None,
                board,
                boot,
            })
        } else {
            NodeRecord::Echo(Echo {
                n,
                here: fields.real("here", super::read::DECIBELS)?.map(Dbm),
                there: fields.real("there", super::read::DECIBELS)?.map(Dbm),
                rtt_us: fields.whole("rtt_us")?,
                board,
                boot,
                ..Echo::default()
            })
        };
        Ok(NodeLine::Record {
            record,
            checksummed: false,
        })
    }
}

fn fields<'a>(groups: &Captures<'a>) -> Fields<'a> {
    let mut fields = Fields::of("node_pattern");
    for name in GROUPS {
        if let Some(group) = groups.name(name) {
            fields.push(name.as_bytes(), Value::Text(group.as_bytes().into()));
        }
    }
    fields
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn echo(n: u64, here: Option<f64>, there: Option<f64>) -> NodeLine {
        let record = NodeRecord::Echo(Echo {
            n,
            here: here.map(Dbm),
            there: there.map(Dbm),
            ..Echo::default()
        });
        NodeLine::Record {
            record,
            checksummed: false,
        }
    }

    #[test]
    fn the_pattern_of_the_format_reads_its_lines() {
        let pattern = NodePattern::new(r"^(?P<n>\d+),(?P<here>-?\d*),(?P<there>-?\d*)$").unwrap();
        assert_eq!(
            pattern.read(b"1041,-71,-74\r\n"),
            Ok(echo(1041, Some(-71.0), Some(-74.0)))
        );
        assert_eq!(pattern.read(b"1042,,-74"), Ok(echo(1042, None, Some(-74.0))));
        assert_eq!(pattern.read(b"booting"), Ok(NodeLine::Unknown));
        assert_eq!(pattern.read(b"\xff\xfe"), Ok(NodeLine::Unknown));
        assert_eq!(pattern.read(b" "), Ok(NodeLine::Blank));
        assert!(matches!(
            pattern.read(b"1,-,-"),
            Err(Malformed::Value { key: "here", .. })
        ));
        assert!(matches!(
            pattern.read(b"1,-999,"),
            Err(Malformed::Value { key: "here", .. })
        ));
        assert!(matches!(
            pattern.read(b"99999999999999999999,,"),
            Err(Malformed::Value { key: "n", .. })
        ));
    }

    #[test]
    fn lost_board_and_boot_come_from_their_groups() {
        let pattern =
            NodePattern::new(r"^(?P<board>\w+)/(?P<boot>\d+) #(?P<n>\d*) (?:(?P<lost>timeout)|ok (?P<rtt_us>\d+))")
                .unwrap();
        assert_eq!(
            pattern.read(b"fern/7 #12 timeout"),
            Ok(NodeLine::Record {
                record: NodeRecord::Lost(Lost {
                    n: 12,
                    chan: None,
                    board: Some("fern".into()),
                    boot: Some(7)
                }),
                checksummed: false
            })
        );
        assert_eq!(
            pattern.read(b"fern/7 #13 ok 3120"),
            Ok(NodeLine::Record {
                record: NodeRecord::Echo(Echo {
                    n: 13,
                    rtt_us: Some(3120),
                    board: Some("fern".into()),
                    boot: Some(7),
                    ..Echo::default()
                }),
                checksummed: false
            })
        );
        assert_eq!(
            pattern.read(b"fern/7 # ok 3120"),
            Err(Malformed::Missing {
                record: "node_pattern",
                key: "n"
            })
        );
    }

    #[test]
    fn a_pattern_that_cannot_serve_says_what_to_do() {
        assert!(matches!(NodePattern::new("("), Err(PatternError::Regex(_))));
        assert!(matches!(
            NodePattern::new(r"(?P<n>\w{1000}{1000})"),
            Err(PatternError::Regex(_))
        ));
        assert_eq!(NodePattern::new(r"^\d+$").unwrap_err(), PatternError::NoNumber);
        assert_eq!(
            NodePattern::new(r"(?P<n>\d+) (?P<rssi>\d+)").unwrap_err(),
            PatternError::Group("rssi".into())
        );
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_or_refused(line in any::<Vec<u8>>()) {
            let pattern = NodePattern::new(r"(?P<n>\d*)(?P<here>.*)").unwrap();
            let _ = pattern.read(&line);
        }
    }
}
