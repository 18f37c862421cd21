//! What became of a source, as lines of the journal.

use super::{
    GearRecord, GearSource, Malformed,
    pairs::{Line, push_pair, push_quoted},
};

/// A line of the gear, after reading.
#[derive(Clone, Debug, PartialEq)]
pub enum GearLine {
    /// A record, with the keys on its line that are not known, for a notice.
    Record {
        /// What became of the source.
        record: GearRecord,
        /// Keys that were passed over, in the order of the line.
        unknown_keys: Vec<String>,
    },
    /// A record word that is not known, for a notice.
    Unknown {
        /// The word.
        word: String,
    },
    /// Nothing but white space.
    Blank,
}

/// Reads a line of the gear, with or without its line end.
///
/// # Errors
/// When a checksum does not match, or a line of a known record cannot be used.
pub fn read(line: &[u8]) -> Result<GearLine, Malformed> {
    let line = Line::split(line)?;
    let word = match line.word {
        b"" => return Ok(GearLine::Blank),
        b"up" => "up",
        b"down" => "down",
        other => {
            return Ok(GearLine::Unknown {
                word: super::fields::text_of(other),
            });
        }
    };
    let mut fields = line.fields(word)?;
    let source = fields.text("source")?;
    let source = match fields.needed("source", source)? {
        word if word == "node" => GearSource::Node,
        word if word == "gps" => GearSource::Gps,
        value => return Err(Malformed::Value { key: "source", value }),
    };
    let record = if word == "up" {
        GearRecord::Up {
            source,
            address: fields.text("address")?,
        }
    } else {
        GearRecord::Down {
            source,
            why: fields.text("why")?,
        }
    };
    Ok(GearLine::Record {
        record,
        unknown_keys: fields.unknown_keys(),
    })
}

/// The line of a record, without line end; the text value is always in quotes, as the format's examples have it.
pub fn line(record: &GearRecord) -> String {
    let (word, source, text) = match record {
        GearRecord::Up { source, address } => ("up", source, ("address", address)),
        GearRecord::Down { source, why } => ("down", source, ("why", why)),
    };
    let mut line = word.to_owned();
    push_pair(&mut line, "source", source.word());
    if let (key, Some(value)) = text {
        push_quoted(&mut line, key, value);
    }
    line
}

impl GearSource {
    /// The word in `gear` lines and in the `source` column of the journal.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Node => "node",
            Self::Gps => "gps",
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::{option, prelude::*};

    use super::*;

    #[test]
    fn the_examples_of_the_format_both_ways() {
        for (text, record) in [
            (
                r#"up source=node address="serial:/dev/ttyACM0""#,
                GearRecord::Up {
                    source: GearSource::Node,
                    address: Some("serial:/dev/ttyACM0".into()),
                },
            ),
            (
                r#"down source=node why="unplugged""#,
                GearRecord::Down {
                    source: GearSource::Node,
                    why: Some("unplugged".into()),
                },
            ),
            (
                "down source=gps",
                GearRecord::Down {
                    source: GearSource::Gps,
                    why: None,
                },
            ),
        ] {
            assert_eq!(line(&record), text);
            assert_eq!(
                read(text.as_bytes()),
                Ok(GearLine::Record {
                    record,
                    unknown_keys: Vec::new()
                })
            );
        }
    }

    #[test]
    fn what_is_not_known_is_told_and_what_is_wrong_refused() {
        assert_eq!(
            read(b"sideways source=gps"),
            Ok(GearLine::Unknown {
                word: "sideways".into()
            })
        );
        assert_eq!(
            read(b"up"),
            Err(Malformed::Missing {
                record: "up",
                key: "source"
            })
        );
        assert_eq!(
            read(b"up source=kite"),
            Err(Malformed::Value {
                key: "source",
                value: "kite".into()
            })
        );
        let Ok(GearLine::Record { unknown_keys, .. }) = read(b"up source=gps speed=9600") else {
            panic!()
        };
        assert_eq!(unknown_keys, ["speed"]);
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back(up: bool, node: bool, text in option::of("[ -\\[\\]-~]{1,40}")) {
            let source = if node { GearSource::Node } else { GearSource::Gps };
            let record =
                if up { GearRecord::Up { source, address: text } } else { GearRecord::Down { source, why: text } };
            let expected = GearLine::Record { record: record.clone(), unknown_keys: Vec::new() };
            prop_assert_eq!(read(line(&record).as_bytes()), Ok(expected));
        }

        #[test]
        fn any_bytes_are_read_or_refused(line in any::<Vec<u8>>()) {
            let _ = read(&line);
        }
    }
}
