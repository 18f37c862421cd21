//! A record of a node, written as the node would print it.

use serde_json::{Map, Value, json};

use crate::wire::{
    NodeRecord,
    pairs::{push_pair, with_checksum},
};

/// The line of a record in its first form, without line end; with ` *hh` when `checksum` is asked for.
///
/// `board` and `boot` of an echo or a lost ping are not written: only a pattern of the set-up can read them there.
pub fn line(record: &NodeRecord, checksum: bool) -> String {
    let mut line = word(record).to_owned();
    for (key, value) in pairs(record) {
        match value {
            Value::String(text) => push_pair(&mut line, key, &text),
            Value::Bool(flag) => push_pair(&mut line, key, if flag { "1" } else { "0" }),
            number => push_pair(&mut line, key, &plain(&number)),
        }
    }
    if checksum { with_checksum(&line) } else { line }
}

/// The same record as a JSON object on one line.
pub fn json_line(record: &NodeRecord, checksum: bool) -> String {
    let inner: Map<String, Value> = pairs(record)
        .into_iter()
        .map(|(key, value)| (key.to_owned(), value))
        .collect();
    let line = json!({ word(record): inner }).to_string();
    if checksum { with_checksum(&line) } else { line }
}

fn word(record: &NodeRecord) -> &'static str {
    match record {
        NodeRecord::Hello(_) => "hello",
        NodeRecord::Echo(_) => "echo",
        NodeRecord::Lost(_) => "lost",
        NodeRecord::Note { .. } => "note",
    }
}

/// The keys that have a value, in the order of the format's table.
fn pairs(record: &NodeRecord) -> Vec<(&'static str, Value)> {
    let pairs = match record {
        NodeRecord::Hello(hello) => vec![
            ("board", Some(hello.board.clone().into())),
            ("boot", hello.boot.map(Value::from)),
            ("fw", hello.fw.clone().map(Value::from)),
            ("radio", hello.radio.clone().map(Value::from)),
            ("chan", hello.chan.map(Value::from)),
            ("mhz", hello.mhz.map(|mhz| number(mhz.0))),
            ("tx_dbm", hello.tx.map(|level| number(level.0))),
            ("rate", hello.rate.map(number)),
            ("wrap", hello.wrap.map(Value::from)),
            ("ref", hello.reference.map(Value::from)),
        ],
        NodeRecord::Echo(echo) => vec![
            ("n", Some(echo.n.into())),
            ("here", echo.here.map(|level| number(level.0))),
            ("there", echo.there.map(|level| number(level.0))),
            ("rtt_us", echo.rtt_us.map(Value::from)),
            ("heard", echo.heard.map(Value::from)),
            ("chan", echo.chan.map(Value::from)),
            ("snr", echo.snr.map(|ratio| number(ratio.0))),
            ("noise", echo.noise.map(|level| number(level.0))),
            ("tries", echo.tries.map(Value::from)),
        ],
        NodeRecord::Lost(lost) => vec![("n", Some(lost.n.into())), ("chan", lost.chan.map(Value::from))],
        NodeRecord::Note { text } => vec![("text", Some(text.clone().into()))],
    };
    pairs
        .into_iter()
        .filter_map(|(key, value)| Some((key, value?)))
        .collect()
}

/// A JSON number, whole where it is whole: `-71`, not `-71.0`.
fn number(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 1e15 {
        Value::from(value as i64)
    } else {
        Value::from(value)
    }
}

/// A number as a line of pairs has it.
fn plain(number: &Value) -> String {
    match number.as_f64() {
        Some(real) if number.is_f64() => real.to_string(),
        _ => number.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use proptest::{option, prelude::*};

    use super::*;
    use crate::{
        units::{Db, Dbm, Megahertz},
        wire::{Echo, Hello, Lost, NodeLine, node::read},
    };

    #[test]
    fn a_line_looks_as_the_format_says() {
        let hello = NodeRecord::Hello(Hello {
            board: "fern leaf".into(),
            boot: Some(7),
            rate: Some(12.5),
            reference: Some(false),
            ..Hello::default()
        });
        assert_eq!(line(&hello, false), "hello board=\"fern leaf\" boot=7 rate=12.5 ref=0");
        let lost = NodeRecord::Lost(Lost {
            n: 1042,
            ..Lost::default()
        });
        assert_eq!(json_line(&lost, false), r#"{"lost":{"n":1042}}"#);
        let level = NodeRecord::Echo(Echo {
            n: 1,
            here: Some(Dbm(-71.0)),
            ..Echo::default()
        });
        assert_eq!(line(&level, false), "echo n=1 here=-71");
    }

    /// Text without what a line's reader makes visible: that is text already.
    fn plain() -> impl Strategy<Value = String> {
        any::<String>().prop_map(|text| text.replace(|c| c == '\\' || crate::wire::visible::is_hidden(c), "x"))
    }

    fn text() -> impl Strategy<Value = String> {
        plain().prop_filter("an empty value is absent", |text| !text.is_empty())
    }

    fn whole() -> impl Strategy<Value = u64> {
        0..=i64::MAX as u64
    }

    /// Numbers of as many digits as gear prints: the JSON reader is exact up to 15 of them.
    fn hundredths(range: std::ops::RangeInclusive<i32>) -> impl Strategy<Value = f64> {
        range.prop_map(|hundredths| f64::from(hundredths) / 100.0)
    }

    fn decibels() -> impl Strategy<Value = f64> {
        prop_oneof![hundredths(-20_000..=20_000), (-200..=200).prop_map(f64::from)]
    }

    fn hello() -> impl Strategy<Value = NodeRecord> {
        (
            (
                text(),
                option::of(whole()),
                option::of(text()),
                option::of(text()),
                option::of(any::<u32>()),
            ),
            option::of(hundredths(1..=100_000_000)),
            option::of(decibels()),
            option::of(hundredths(1..=10_000_000)),
            option::of(2..=i64::MAX as u64),
            option::of(any::<bool>()),
        )
            .prop_map(|((board, boot, fw, radio, chan), mhz, tx, rate, wrap, reference)| {
                NodeRecord::Hello(Hello {
                    board,
                    boot,
                    fw,
                    radio,
                    chan,
                    mhz: mhz.map(Megahertz),
                    tx: tx.map(Dbm),
                    rate,
                    wrap,
                    reference,
                })
            })
    }

    fn echo() -> impl Strategy<Value = NodeRecord> {
        (
            whole(),
            (
                option::of(decibels()),
                option::of(decibels()),
                option::of(decibels()),
                option::of(decibels()),
            ),
            (
                option::of(whole()),
                option::of(whole()),
                option::of(any::<u32>()),
                option::of(any::<u32>()),
            ),
        )
            .prop_map(|(n, (here, there, snr, noise), (rtt_us, heard, chan, tries))| {
                NodeRecord::Echo(Echo {
                    n,
                    here: here.map(Dbm),
                    there: there.map(Dbm),
                    rtt_us,
                    heard,
                    chan,
                    snr: snr.map(Db),
                    noise: noise.map(Dbm),
                    tries,
                    board: None,
                    boot: None,
                })
            })
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back(
            record in prop_oneof![
                hello(),
                echo(),
                (whole(), option::of(any::<u32>()))
                    .prop_map(|(n, chan)| NodeRecord::Lost(Lost { n, chan, ..Lost::default() })),
                text().prop_map(|text| NodeRecord::Note { text }),
            ],
            checksummed in any::<bool>(),
        ) {
            let expected = Ok(NodeLine::Record { record: record.clone(), checksummed });
            prop_assert_eq!(read(line(&record, checksummed).as_bytes()), expected.clone());
            prop_assert_eq!(read(json_line(&record, checksummed).as_bytes()), expected);
        }
    }
}
