//! The values of one record by their keys, whichever form of line they came from.

use std::borrow::Cow;
use std::ops::RangeInclusive;

use super::Malformed;

/// One value before anyone has asked what it should be.
#[derive(Clone, Debug, PartialEq)]
pub enum Value<'a> {
    /// Bytes as they stood on the line, or a JSON string or number; empty is absent.
    Text(Cow<'a, [u8]>),
    /// A JSON true or false.
    Bool(bool),
    /// A JSON array or object, as text: no key has such a value.
    Nested(String),
}

/// The pairs of a record, asked for key by key.
#[derive(Clone, Debug, PartialEq)]
pub struct Fields<'a> {
    record: &'static str,
    pairs: Vec<Pair<'a>>,
}

/// A key with its value, and whether anyone has asked for it.
#[derive(Clone, Debug, PartialEq)]
struct Pair<'a> {
    key: Cow<'a, [u8]>,
    value: Value<'a>,
    asked: bool,
}

impl<'a> Fields<'a> {
    /// No pair so far of a `record`.
    pub fn of(record: &'static str) -> Self {
        Self {
            record,
            // An echo tells of so much.
            pairs: Vec::with_capacity(6),
        }
    }

    /// Adds the next pair of the line.
    pub fn push(&mut self, key: impl Into<Cow<'a, [u8]>>, value: Value<'a>) {
        self.pairs.push(Pair {
            key: key.into(),
            value,
            asked: false,
        });
    }

    /// A non-negative whole number that fits a signed 64-bit integer.
    ///
    /// # Errors
    /// [`Malformed::Value`] when it is something else, [`Malformed::Twice`] when the key stands twice.
    pub fn whole(&mut self, key: &'static str) -> Result<Option<u64>, Malformed> {
        self.whole_from(key, 0)
    }

    /// A whole number from `least` up that fits a signed 64-bit integer.
    ///
    /// # Errors
    /// As [`Fields::whole`].
    pub fn whole_from(&mut self, key: &'static str, least: u64) -> Result<Option<u64>, Malformed> {
        self.parsed(key, |text| {
            text.parse()
                .ok()
                .filter(|&number| number >= least && i64::try_from(number).is_ok())
        })
    }

    /// A non-negative whole number of at most 32 bits.
    ///
    /// # Errors
    /// As [`Fields::whole`].
    pub fn small(&mut self, key: &'static str) -> Result<Option<u32>, Malformed> {
        self.parsed(key, |text| text.parse().ok())
    }

    /// A whole number of at least 1 and at most 32 bits.
    ///
    /// # Errors
    /// As [`Fields::whole`].
    pub fn count(&mut self, key: &'static str) -> Result<Option<u32>, Malformed> {
        self.parsed(key, |text| text.parse().ok().filter(|&number| number > 0))
    }

    /// A finite number within a range.
    ///
    /// # Errors
    /// As [`Fields::whole`].
    pub fn real(&mut self, key: &'static str, range: RangeInclusive<f64>) -> Result<Option<f64>, Malformed> {
        self.parsed(key, |text| text.parse().ok().filter(|number| range.contains(number)))
    }

    /// 0 or 1, or a JSON false or true.
    ///
    /// # Errors
    /// As [`Fields::whole`].
    pub fn flag(&mut self, key: &'static str) -> Result<Option<bool>, Malformed> {
        if let Some(Value::Bool(flag)) = self.only(key)? {
            return Ok(Some(*flag));
        }
        self.parsed(key, |text| match text {
            "0" => Some(false),
            "1" => Some(true),
            _ => None,
        })
    }

    /// Text, in which bytes that are no UTF-8 stand as `\xHH`.
    ///
    /// # Errors
    /// As [`Fields::whole`].
    pub fn text(&mut self, key: &'static str) -> Result<Option<String>, Malformed> {
        match self.only(key)? {
            None => Ok(None),
            Some(Value::Text(bytes)) => Ok(Some(text_of(bytes))),
            Some(other) => Err(unfit(key, other)),
        }
    }

    /// The value of a key that the record must have.
    ///
    /// # Errors
    /// [`Malformed::Missing`] when there is none.
    pub fn needed<T>(&self, key: &'static str, value: Option<T>) -> Result<T, Malformed> {
        value.ok_or(Malformed::Missing {
            record: self.record,
            key,
        })
    }

    /// The keys that nobody has asked for, in the order of the line.
    pub fn unknown_keys(&self) -> Vec<String> {
        self.pairs
            .iter()
            .filter(|pair| !pair.asked)
            .map(|pair| text_of(&pair.key))
            .collect()
    }

    fn parsed<T>(&mut self, key: &'static str, read: impl Fn(&str) -> Option<T>) -> Result<Option<T>, Malformed> {
        let Some(value) = self.only(key)? else { return Ok(None) };
        let read = match value {
            Value::Text(bytes) => std::str::from_utf8(bytes).ok().and_then(read),
            Value::Bool(_) | Value::Nested(_) => None,
        };
        read.map(Some).ok_or_else(|| unfit(key, value))
    }

    /// The one value of a key; `None` when absent or empty.
    fn only(&mut self, key: &'static str) -> Result<Option<&Value<'a>>, Malformed> {
        let mut found = None;
        // Keys differ in their first letters, nearly all: a call to compare them whole costs more.
        let is_asked = |pair: &&mut Pair<'a>| pair.key.len() == key.len() && pair.key.iter().eq(key.as_bytes());
        for pair in self.pairs.iter_mut().filter(is_asked) {
            pair.asked = true;
            if found.replace(&pair.value).is_some() {
                return Err(Malformed::Twice(key));
            }
        }
        Ok(found.filter(|value| !matches!(value, Value::Text(bytes) if bytes.is_empty())))
    }
}

/// Bytes as visible text: what a terminal would obey, and a backslash, stands escaped.
pub fn text_of(bytes: &[u8]) -> String {
    super::visible::escape(bytes)
}

fn unfit(key: &'static str, value: &Value<'_>) -> Malformed {
    let value = match value {
        Value::Text(bytes) => text_of(bytes),
        Value::Bool(flag) => flag.to_string(),
        Value::Nested(text) => text.clone(),
    };
    Malformed::Value { key, value }
}
