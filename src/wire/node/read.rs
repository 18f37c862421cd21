//! A line of a node, read.

use super::json;
use crate::{
    units::{Db, Dbm, Megahertz},
    wire::{Echo, Hello, Lost, Malformed, NodeLine, NodeRecord, fields::Fields, pairs::Line},
};

/// Levels, gains and noise lie within this many decibels of zero; anything beyond is damage.
pub(super) const DECIBELS: std::ops::RangeInclusive<f64> = -200.0..=200.0;

/// Pings a second that a node can claim: above zero, at most this.
const MOST_PINGS: f64 = 100_000.0;

/// Centre frequencies, in megahertz: above zero, up to a terahertz.
const MOST_MEGAHERTZ: f64 = 1e6;

/// Reads a line of a node, with or without its line end.
///
/// A record word that is not known makes the line [`NodeLine::Unknown`], whatever else stands there: firmware prints
/// what it likes between records. Keys that are not known are passed over; an empty value, or a JSON null, is absent.
///
/// # Errors
/// When a checksum does not match, or a line of a known record cannot be used.
pub fn read(line: &[u8]) -> Result<NodeLine, Malformed> {
    Ok(match split(line)? {
        Split::Blank => NodeLine::Blank,
        Split::Unknown => NodeLine::Unknown,
        Split::Record(record, mut fields, checksummed) => NodeLine::Record {
            record: record_of(record, &mut fields)?,
            checksummed,
        },
    })
}

/// Reads a line of a node as [`read`] does, and gives the keys that were passed over, in the order of the line.
///
/// # Errors
/// As [`read`].
pub fn read_with_unknown_keys(line: &[u8]) -> Result<(NodeLine, Vec<String>), Malformed> {
    Ok(match split(line)? {
        Split::Blank => (NodeLine::Blank, Vec::new()),
        Split::Unknown => (NodeLine::Unknown, Vec::new()),
        Split::Record(record, mut fields, checksummed) => {
            let record = record_of(record, &mut fields)?;
            (NodeLine::Record { record, checksummed }, fields.unknown_keys())
        }
    })
}

/// A line as far as its pairs.
enum Split<'a> {
    Blank,
    Unknown,
    /// The record word, its pairs, and whether the line carried a checksum.
    Record(&'static str, Fields<'a>, bool),
}

fn split(line: &[u8]) -> Result<Split<'_>, Malformed> {
    let line = Line::split(line)?;
    if line.word.is_empty() {
        return Ok(Split::Blank);
    }
    let fields = if line.word.starts_with(b"{") {
        json::fields(line.body)?
    } else if let Some(record) = known(line.word) {
        Some((record, line.fields(record)?))
    } else {
        None
    };
    Ok(fields.map_or(Split::Unknown, |(record, fields)| {
        Split::Record(record, fields, line.checksummed)
    }))
}

/// The record words, as their own constants.
pub(super) fn known(word: &[u8]) -> Option<&'static str> {
    match word {
        b"hello" => Some("hello"),
        b"echo" => Some("echo"),
        b"lost" => Some("lost"),
        b"note" => Some("note"),
        _ => None,
    }
}

fn record_of(record: &'static str, fields: &mut Fields<'_>) -> Result<NodeRecord, Malformed> {
    Ok(match record {
        "hello" => NodeRecord::Hello(hello(fields)?),
        "echo" => NodeRecord::Echo(echo(fields)?),
        "lost" => NodeRecord::Lost(Lost {
            n: number(fields)?,
            chan: fields.small("chan")?,
            ..Lost::default()
        }),
        _ => {
            let text = fields.text("text")?;
            NodeRecord::Note {
                text: fields.needed("text", text)?,
            }
        }
    })
}

fn hello(fields: &mut Fields<'_>) -> Result<Hello, Malformed> {
    let board = fields.text("board")?;
    Ok(Hello {
        board: fields.needed("board", board)?,
        boot: fields.whole("boot")?,
        fw: fields.text("fw")?,
        radio: fields.text("radio")?,
        chan: fields.small("chan")?,
        mhz: fields.real("mhz", f64::MIN_POSITIVE..=MOST_MEGAHERTZ)?.map(Megahertz),
        tx: fields.real("tx_dbm", DECIBELS)?.map(Dbm),
        rate: fields.real("rate", f64::MIN_POSITIVE..=MOST_PINGS)?,
        wrap: fields.whole_from("wrap", 2)?,
        reference: fields.flag("ref")?,
    })
}

fn echo(fields: &mut Fields<'_>) -> Result<Echo, Malformed> {
    Ok(Echo {
        n: number(fields)?,
        here: fields.real("here", DECIBELS)?.map(Dbm),
        there: fields.real("there", DECIBELS)?.map(Dbm),
        rtt_us: fields.whole("rtt_us")?,
        heard: fields.whole("heard")?,
        chan: fields.small("chan")?,
        snr: fields.real("snr", DECIBELS)?.map(Db),
        noise: fields.real("noise", DECIBELS)?.map(Dbm),
        tries: fields.small("tries")?,
        board: None,
        boot: None,
    })
}

fn number(fields: &mut Fields<'_>) -> Result<u64, Malformed> {
    let n = fields.whole("n")?;
    fields.needed("n", n)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::wire::pairs::with_checksum;

    fn record(line: &str) -> NodeRecord {
        match read(line.as_bytes()) {
            Ok(NodeLine::Record { record, .. }) => record,
            other => panic!("{line}: {other:?}"),
        }
    }

    fn refused(line: &str) -> Malformed {
        read(line.as_bytes()).unwrap_err()
    }

    #[test]
    fn both_forms_say_the_same() {
        let echo = NodeRecord::Echo(Echo {
            n: 1041,
            here: Some(Dbm(-71.0)),
            there: Some(Dbm(-74.5)),
            rtt_us: Some(3120),
            heard: Some(1022),
            ..Echo::default()
        });
        assert_eq!(record("echo n=1041 here=-71 there=-74.5 rtt_us=3120 heard=1022"), echo);
        assert_eq!(
            record("\techo  heard=1022\trtt_us=3120 there=-74.5 here=-71 n=1041 \r\n"),
            echo
        );
        assert_eq!(
            record(r#"{"echo":{"n":1041,"here":-71,"there":-74.5,"rtt_us":"3120","heard":1022,"snr":null}}"#),
            echo
        );
        let hello = NodeRecord::Hello(Hello {
            board: "fern".into(),
            boot: Some(7),
            fw: Some("0.3".into()),
            radio: Some("802.11".into()),
            chan: Some(6),
            mhz: Some(Megahertz(2437.0)),
            tx: Some(Dbm(15.0)),
            rate: Some(10.0),
            wrap: Some(65536),
            reference: Some(true),
        });
        assert_eq!(
            record("hello board=fern boot=7 fw=0.3 radio=802.11 chan=6 mhz=2437 tx_dbm=15 rate=10 wrap=65536 ref=1"),
            hello
        );
        assert_eq!(
            record(
                r#"{"hello":{"board":"fern","boot":7,"fw":0.3,"radio":"802.11","chan":6,"mhz":2437,"tx_dbm":15,"rate":10,"wrap":65536,"ref":true}}"#
            ),
            hello
        );
        assert_eq!(record("lost n=1042 chan=6"), record(r#"{"lost":{"chan":6,"n":1042}}"#));
        assert_eq!(
            record("note text=\"by the gate\""),
            record(r#"{"note":{"text":"by the gate"}}"#)
        );
    }

    #[test]
    fn a_checksum_is_said_to_be_there() {
        for line in ["lost n=3", r#"{"lost":{"n":3}}"#] {
            let Ok(NodeLine::Record { checksummed: true, .. }) = read(with_checksum(line).as_bytes()) else {
                panic!("{line}")
            };
            let Ok(NodeLine::Record { checksummed: false, .. }) = read(line.as_bytes()) else {
                panic!("{line}")
            };
            assert!(matches!(
                refused(&format!("{line} *FF")),
                Malformed::Checksum { given: 0xFF, .. }
            ));
        }
        assert!(matches!(refused("ets Jul 29 2019 *FF"), Malformed::Checksum { .. }));
        assert_eq!(read(with_checksum("rebooting now").as_bytes()), Ok(NodeLine::Unknown));
    }

    #[test]
    fn noise_is_unknown_not_wrong() {
        for line in [
            &b"ets Jul 29 2019 12:21:46"[..],
            b"rst:0x1 (POWERON_RESET),boot:0x13",
            b"\xff\xfe\x00",
            b"ECHO n=5",
            b"hello: board is up",
            b"echo=5",
            b"\"hello\" board=fern",
            br#"{"beacon":{"n":1}}"#,
            b"{}",
        ] {
            assert_eq!(read(line), Ok(NodeLine::Unknown), "{}", line.escape_ascii());
        }
        assert_eq!(read(b" \t\r\n"), Ok(NodeLine::Blank));
    }

    #[test]
    fn a_value_that_its_key_cannot_have_is_named() {
        for (line, key) in [
            ("echo n=-1", "n"),
            ("echo n=1.0", "n"),
            ("echo n=9223372036854775808", "n"),
            ("echo n=0x10", "n"),
            ("echo n=1 here=loud", "here"),
            ("echo n=1 here=nan", "here"),
            ("echo n=1 here=-200.5", "here"),
            ("echo n=1 there=inf", "there"),
            ("echo n=1 noise=1e300", "noise"),
            ("echo n=1 rtt_us=-5", "rtt_us"),
            ("echo n=1 tries=4294967296", "tries"),
            ("hello board=fern rate=0", "rate"),
            ("hello board=fern rate=100001", "rate"),
            ("hello board=fern wrap=1", "wrap"),
            ("hello board=fern ref=yes", "ref"),
            ("hello board=fern ref=true", "ref"),
            ("hello board=fern mhz=0", "mhz"),
            ("hello board=fern mhz=-2437", "mhz"),
            (r#"{"echo":{"n":1.5}}"#, "n"),
            (r#"{"echo":{"n":true}}"#, "n"),
            (r#"{"echo":{"n":[1]}}"#, "n"),
            (r#"{"echo":5}"#, "echo"),
            (r#"{"hello":{"board":{"name":"fern"}}}"#, "board"),
        ] {
            assert!(
                matches!(refused(line), Malformed::Value { key: found, .. } if found == key),
                "{line}"
            );
        }
        assert_eq!(
            refused("echo n=1 here=loud").to_string(),
            "`here=loud` is not a value that here can have"
        );
        assert_eq!(
            record("echo n=9223372036854775807"),
            NodeRecord::Echo(Echo {
                n: i64::MAX as u64,
                ..Echo::default()
            })
        );
    }

    #[test]
    fn missing_empty_and_doubled_keys() {
        assert_eq!(
            refused("echo here=-71"),
            Malformed::Missing {
                record: "echo",
                key: "n"
            }
        );
        assert_eq!(
            refused("echo n="),
            Malformed::Missing {
                record: "echo",
                key: "n"
            }
        );
        assert_eq!(
            refused("hello board=\"\""),
            Malformed::Missing {
                record: "hello",
                key: "board"
            }
        );
        assert_eq!(
            refused("note"),
            Malformed::Missing {
                record: "note",
                key: "text"
            }
        );
        assert_eq!(
            refused(r#"{"lost":{"n":null}}"#),
            Malformed::Missing {
                record: "lost",
                key: "n"
            }
        );
        assert_eq!(refused("echo n=1 n=1"), Malformed::Twice("n"));
        assert_eq!(refused(r#"{"echo":{"n":1,"n":2}}"#), Malformed::Twice("n"));
        assert_eq!(
            record("echo n=1 here= there=-70 mood=good mood=bad"),
            record("echo n=1 there=-70")
        );
        assert_eq!(refused("echo n=1 loud"), Malformed::BareToken("loud".into()));
    }

    #[test]
    fn keys_that_are_not_known_are_told() {
        let unknown = |line: &str| read_with_unknown_keys(line.as_bytes()).unwrap().1;
        assert_eq!(
            unknown("echo n=1 mood=good here=-71 mood=bad x="),
            ["mood", "mood", "x"]
        );
        assert_eq!(unknown(r#"{"lost":{"n":1,"mood":[1]}}"#), ["mood"]);
        assert_eq!(unknown("echo n=1"), Vec::<String>::new());
        assert_eq!(unknown("sing mood=good"), Vec::<String>::new());
    }

    #[test]
    fn json_that_is_none_is_malformed() {
        for line in [
            "{",
            "{echo}",
            r#"{"echo":{"n":1}"#,
            r#"{"echo":{"n":1}} trailing"#,
            r#"{"echo":{"n":NaN}}"#,
        ] {
            assert_eq!(refused(line), Malformed::Json, "{line}");
        }
        assert_eq!(refused(r#"{"echo":{"n":1},"lost":{"n":2}}"#), Malformed::SeveralRecords);
        assert_eq!(refused(r#"{"echo":{"n":1},"echo":{"n":2}}"#), Malformed::SeveralRecords);
        assert_eq!(record(r#"{"millis":77,"echo":{"n":1}}"#), record("echo n=1"));
        let deep = format!("{{\"x\":{}", "[".repeat(400));
        assert_eq!(refused(&deep), Malformed::Json);
    }

    #[test]
    fn bytes_that_are_no_text_survive_in_text_alone() {
        let note = NodeRecord::Note { text: "a\\xFFb".into() };
        for line in [&b"note text=a\xffb"[..], b"{\"note\":{\"text\":\"a\xffb\"}}"] {
            assert_eq!(
                read(line),
                Ok(NodeLine::Record {
                    record: note.clone(),
                    checksummed: false
                })
            );
        }
        assert!(matches!(read(b"echo n=1\xff"), Err(Malformed::Value { key: "n", .. })));
        assert_eq!(read(b"{\"note\":\xff}"), Err(Malformed::Json));
        assert_eq!(read(b"echo n=1 \xff=2"), read(b"echo n=1"));
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_or_refused(line in any::<Vec<u8>>()) {
            let _ = read(&line);
        }

        #[test]
        fn near_lines_are_read_or_refused(line in r#"(hello|echo|lost|note|\{"echo":)[ \t{}"=\\a-z0-9:,.*-]{0,60}"#) {
            let _ = read(line.as_bytes());
        }
    }
}
