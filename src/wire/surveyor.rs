//! What the person does, as lines of the journal: so a survey replays from its journal alone.

use super::{
    Malformed, SurveyorRecord,
    pairs::{Line, push_pair},
};
use crate::units::Degrees;

/// A line of the surveyor, after reading.
#[derive(Clone, Debug, PartialEq)]
pub enum SurveyorLine {
    /// A record, with the keys on its line that are not known, for a notice.
    Record {
        /// What was done.
        record: SurveyorRecord,
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

/// Reads a line of the surveyor, with or without its line end.
///
/// A turn of 360 degrees is one of 0. A mark without text is a mark all the same: its place and time are what counts.
///
/// # Errors
/// When a checksum does not match, or a line of a known record cannot be used.
pub fn read(line: &[u8]) -> Result<SurveyorLine, Malformed> {
    let line = Line::split(line)?;
    if line.word.is_empty() {
        return Ok(SurveyorLine::Blank);
    }
    let Some(word) = WORDS.into_iter().find(|word| word.as_bytes() == line.word) else {
        return Ok(SurveyorLine::Unknown {
            word: super::fields::text_of(line.word),
        });
    };
    let mut fields = line.fields(word)?;
    let record = match word {
        "walk" => SurveyorRecord::Walk,
        "point" => SurveyorRecord::Point {
            name: fields.text("name")?,
            messages: fields.count("messages")?,
        },
        "sweep" => SurveyorRecord::Sweep {
            name: fields.text("name")?,
            pose: fields.text("pose")?,
            steps: fields.count("steps")?,
            messages: fields.count("messages")?,
        },
        "turn" => {
            let deg = fields.real("deg", 0.0..=360.0)?;
            let deg = fields.needed("deg", deg)?;
            SurveyorRecord::Turn {
                deg: Degrees(if deg >= 360.0 { 0.0 } else { deg }),
            }
        }
        "turning" => SurveyorRecord::Turning,
        "board" => {
            let name = fields.text("name")?;
            SurveyorRecord::Board {
                name: fields.needed("name", name)?,
                reference: fields.flag("ref")?,
            }
        }
        "mark" => SurveyorRecord::Mark {
            text: fields.text("text")?.unwrap_or_default(),
        },
        "pause" => SurveyorRecord::Pause,
        "resume" => SurveyorRecord::Resume,
        "again" => SurveyorRecord::Again,
        _ => SurveyorRecord::Finish,
    };
    Ok(SurveyorLine::Record {
        record,
        unknown_keys: fields.unknown_keys(),
    })
}

/// The line of a record, without line end.
pub fn line(record: &SurveyorRecord) -> String {
    let mut line = word(record).to_owned();
    let mut push = |key: &str, value: Option<String>| {
        if let Some(value) = value {
            push_pair(&mut line, key, &value);
        }
    };
    match record {
        SurveyorRecord::Point { name, messages } => {
            push("name", name.clone());
            push("messages", messages.map(|count| count.to_string()));
        }
        SurveyorRecord::Sweep {
            name,
            pose,
            steps,
            messages,
        } => {
            push("name", name.clone());
            push("pose", pose.clone());
            push("steps", steps.map(|count| count.to_string()));
            push("messages", messages.map(|count| count.to_string()));
        }
        SurveyorRecord::Turn { deg } => push("deg", Some(deg.0.to_string())),
        SurveyorRecord::Board { name, reference } => {
            push("name", Some(name.clone()));
            push("ref", reference.map(|flag| if flag { "1" } else { "0" }.to_owned()));
        }
        SurveyorRecord::Mark { text } => push("text", Some(text.clone()).filter(|text| !text.is_empty())),
        SurveyorRecord::Walk
        | SurveyorRecord::Turning
        | SurveyorRecord::Pause
        | SurveyorRecord::Resume
        | SurveyorRecord::Again
        | SurveyorRecord::Finish => {}
    }
    line
}

const WORDS: [&str; 11] = [
    "walk", "point", "sweep", "turn", "turning", "board", "mark", "pause", "resume", "again", "finish",
];

fn word(record: &SurveyorRecord) -> &'static str {
    match record {
        SurveyorRecord::Walk => "walk",
        SurveyorRecord::Point { .. } => "point",
        SurveyorRecord::Sweep { .. } => "sweep",
        SurveyorRecord::Turn { .. } => "turn",
        SurveyorRecord::Turning => "turning",
        SurveyorRecord::Board { .. } => "board",
        SurveyorRecord::Mark { .. } => "mark",
        SurveyorRecord::Pause => "pause",
        SurveyorRecord::Resume => "resume",
        SurveyorRecord::Again => "again",
        SurveyorRecord::Finish => "finish",
    }
}

#[cfg(test)]
mod tests {
    use proptest::{option, prelude::*};

    use super::*;

    fn record(line: &str) -> SurveyorRecord {
        match read(line.as_bytes()) {
            Ok(SurveyorLine::Record { record, unknown_keys }) if unknown_keys.is_empty() => record,
            other => panic!("{line}: {other:?}"),
        }
    }

    #[test]
    fn every_record_of_the_format_is_read() {
        assert_eq!(
            record("point name=\"by the gate\" messages=100"),
            SurveyorRecord::Point {
                name: Some("by the gate".into()),
                messages: Some(100)
            }
        );
        assert_eq!(
            record("point"),
            SurveyorRecord::Point {
                name: None,
                messages: None
            }
        );
        assert_eq!(
            record("sweep name=S1 pose=upright steps=8 messages=40"),
            SurveyorRecord::Sweep {
                name: Some("S1".into()),
                pose: Some("upright".into()),
                steps: Some(8),
                messages: Some(40)
            }
        );
        assert_eq!(record("turn deg=292.5"), SurveyorRecord::Turn { deg: Degrees(292.5) });
        assert_eq!(record("turn deg=360"), SurveyorRecord::Turn { deg: Degrees(0.0) });
        assert_eq!(
            record("board name=yew ref=1"),
            SurveyorRecord::Board {
                name: "yew".into(),
                reference: Some(true)
            }
        );
        assert_eq!(record("mark"), SurveyorRecord::Mark { text: String::new() });
        for (line, expected) in [
            ("walk", SurveyorRecord::Walk),
            ("turning", SurveyorRecord::Turning),
            ("pause", SurveyorRecord::Pause),
            ("resume", SurveyorRecord::Resume),
            ("again\r\n", SurveyorRecord::Again),
            ("finish", SurveyorRecord::Finish),
        ] {
            assert_eq!(record(line), expected);
        }
    }

    #[test]
    fn what_is_not_known_is_told_not_refused() {
        assert_eq!(read(b"sing loudly"), Ok(SurveyorLine::Unknown { word: "sing".into() }));
        assert_eq!(
            read(b"turn deg=45 mood=good"),
            Ok(SurveyorLine::Record {
                record: SurveyorRecord::Turn { deg: Degrees(45.0) },
                unknown_keys: vec!["mood".into()]
            })
        );
        assert_eq!(read(b""), Ok(SurveyorLine::Blank));
    }

    #[test]
    fn what_cannot_be_done_is_refused() {
        assert_eq!(
            read(b"turn"),
            Err(Malformed::Missing {
                record: "turn",
                key: "deg"
            })
        );
        assert_eq!(
            read(b"board ref=1"),
            Err(Malformed::Missing {
                record: "board",
                key: "name"
            })
        );
        for line in ["turn deg=361", "turn deg=-1", "turn deg=north"] {
            assert!(
                matches!(read(line.as_bytes()), Err(Malformed::Value { key: "deg", .. })),
                "{line}"
            );
        }
        assert!(matches!(
            read(b"point messages=0"),
            Err(Malformed::Value { key: "messages", .. })
        ));
        assert!(matches!(
            read(b"sweep steps=-8"),
            Err(Malformed::Value { key: "steps", .. })
        ));
        assert_eq!(read(b"point name=a name=b"), Err(Malformed::Twice("name")));
        assert_eq!(read(b"mark here we are"), Err(Malformed::BareToken("here".into())));
    }

    /// Text without what a line's reader makes visible: that is text already.
    fn plain() -> impl Strategy<Value = String> {
        any::<String>().prop_map(|text| text.replace(|c| c == '\\' || crate::wire::visible::is_hidden(c), "x"))
    }

    fn text() -> impl Strategy<Value = String> {
        plain().prop_filter("an empty value is absent", |text| !text.is_empty())
    }

    fn records() -> impl Strategy<Value = SurveyorRecord> {
        let count = || option::of(1..=u32::MAX);
        prop_oneof![
            Just(SurveyorRecord::Walk),
            Just(SurveyorRecord::Finish),
            (option::of(text()), count()).prop_map(|(name, messages)| SurveyorRecord::Point { name, messages }),
            (option::of(text()), option::of(text()), count(), count()).prop_map(|(name, pose, steps, messages)| {
                SurveyorRecord::Sweep {
                    name,
                    pose,
                    steps,
                    messages,
                }
            }),
            (0.0..360.0).prop_map(|deg| SurveyorRecord::Turn { deg: Degrees(deg) }),
            (text(), option::of(any::<bool>())).prop_map(|(name, reference)| SurveyorRecord::Board { name, reference }),
            plain().prop_map(|text| SurveyorRecord::Mark { text }),
        ]
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back(record in records()) {
            let expected = SurveyorLine::Record { record: record.clone(), unknown_keys: Vec::new() };
            prop_assert_eq!(read(line(&record).as_bytes()), Ok(expected));
        }

        #[test]
        fn any_bytes_are_read_or_refused(line in any::<Vec<u8>>()) {
            let _ = read(&line);
        }
    }
}
