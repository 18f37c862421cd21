//! The second form of a node's record: a JSON object of one member, `{"echo":{"n":1041}}`.

use std::borrow::Cow;

use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};

use crate::wire::{
    Malformed,
    fields::{Fields, Value},
};

/// The record that a JSON line holds and its values; `None` when no member is a record that is known.
///
/// # Errors
/// [`Malformed::Json`], [`Malformed::SeveralRecords`], and [`Malformed::Value`] when the record is no object.
pub(super) fn fields(line: &[u8]) -> Result<Option<(&'static str, Fields<'static>)>, Malformed> {
    let Json::Object(members) = parse(line)? else {
        return Err(Malformed::Json);
    };
    let mut records = members
        .into_iter()
        .filter_map(|(name, inner)| super::read::known(name.as_bytes()).map(|record| (record, inner)));
    let Some((record, inner)) = records.next() else {
        return Ok(None);
    };
    if records.next().is_some() {
        return Err(Malformed::SeveralRecords);
    }
    match inner {
        Json::Object(pairs) => {
            let mut fields = Fields::of(record);
            for (key, value) in pairs {
                fields.push(key.into_bytes(), value.into_value());
            }
            Ok(Some((record, fields)))
        }
        other => Err(Malformed::Value {
            key: record,
            value: other.text(),
        }),
    }
}

/// A JSON text that keeps the order of its members and those that stand twice.
#[derive(Clone, Debug, PartialEq)]
enum Json {
    Null,
    Bool(bool),
    Number(String),
    Text(String),
    Array,
    Object(Vec<(String, Json)>),
}

fn parse(line: &[u8]) -> Result<Json, Malformed> {
    // A stray byte inside a string travels through the JSON reader as a stand-in character; anywhere else it makes the
    // line no JSON.
    let stray = line.utf8_chunks().any(|chunk| !chunk.invalid().is_empty());
    let parsed = if stray {
        let mut clean = String::with_capacity(line.len() + 16);
        for chunk in line.utf8_chunks() {
            clean.push_str(chunk.valid());
            clean.extend(
                chunk
                    .invalid()
                    .iter()
                    .filter_map(|byte| char::from_u32(STRAY + u32::from(*byte))),
            );
        }
        serde_json::from_str(&clean)
    } else {
        serde_json::from_slice(line)
    };
    parsed.map_err(|_| Malformed::Json)
}

/// The first of the characters (private use, plane 16) that stand in for stray bytes.
const STRAY: u32 = 0x10_FE00;

/// The bytes of a text, with stand-ins turned back into the bytes they stand for.
fn bytes_of(text: String) -> Vec<u8> {
    if !text.contains(|c| (STRAY..STRAY + 256).contains(&u32::from(c))) {
        return text.into_bytes();
    }
    let mut bytes = Vec::with_capacity(text.len());
    for c in text.chars() {
        match u32::from(c).checked_sub(STRAY).and_then(|byte| u8::try_from(byte).ok()) {
            Some(byte) => bytes.push(byte),
            None => bytes.extend_from_slice(c.encode_utf8(&mut [0; 4]).as_bytes()),
        }
    }
    bytes
}

impl Json {
    fn into_value(self) -> Value<'static> {
        match self {
            Self::Null => Value::Text(Cow::Borrowed(b"")),
            Self::Bool(flag) => Value::Bool(flag),
            Self::Number(text) | Self::Text(text) => Value::Text(Cow::Owned(bytes_of(text))),
            Self::Array | Self::Object(_) => Value::Nested(self.text()),
        }
    }

    /// As a message quotes it.
    fn text(&self) -> String {
        match self {
            Self::Null => "null".into(),
            Self::Bool(flag) => flag.to_string(),
            Self::Number(text) | Self::Text(text) => text.clone(),
            Self::Array => "[…]".into(),
            Self::Object(_) => "{…}".into(),
        }
    }
}

impl<'de> Deserialize<'de> for Json {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(JsonVisitor)
    }
}

struct JsonVisitor;

impl<'de> Visitor<'de> for JsonVisitor {
    type Value = Json;

    fn expecting(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str("JSON")
    }

    fn visit_unit<E>(self) -> Result<Json, E> {
        Ok(Json::Null)
    }

    fn visit_bool<E>(self, flag: bool) -> Result<Json, E> {
        Ok(Json::Bool(flag))
    }

    fn visit_u64<E>(self, number: u64) -> Result<Json, E> {
        Ok(Json::Number(number.to_string()))
    }

    fn visit_i64<E>(self, number: i64) -> Result<Json, E> {
        Ok(Json::Number(number.to_string()))
    }

    /// Anything written with a point or an exponent, or too large for 64 bits: it keeps its point, so that it is no
    /// whole number.
    fn visit_f64<E>(self, number: f64) -> Result<Json, E> {
        Ok(Json::Number(format!("{number:?}")))
    }

    fn visit_str<E>(self, text: &str) -> Result<Json, E> {
        Ok(Json::Text(text.to_owned()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Json, A::Error> {
        while items.next_element::<serde::de::IgnoredAny>()?.is_some() {}
        Ok(Json::Array)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Json, A::Error> {
        let mut members = Vec::new();
        while let Some(member) = map.next_entry()? {
            members.push(member);
        }
        Ok(Json::Object(members))
    }
}
