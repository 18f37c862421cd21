//! Rows of check values: `id,quantity,inputs,expected,unit,tolerance,source,how_obtained`.

use std::collections::BTreeMap;

use serde::Deserialize;

/// One check value.
#[derive(Debug, Deserialize)]
pub struct Check {
    pub id: String,
    pub quantity: String,
    pub inputs: String,
    pub expected: String,
    tolerance: String,
}

/// What the program makes of a row.
pub enum Outcome {
    Number(Option<f64>),
    Word(String),
}

impl Check {
    /// A `key=value` input as a number.
    pub fn input(&self, key: &str) -> f64 {
        self.word(key)
            .parse()
            .unwrap_or_else(|_| panic!("{}: {key} is no number in {}", self.id, self.inputs))
    }

    /// A `key=value` input as text.
    pub fn word(&self, key: &str) -> &str {
        self.inputs
            .split("; ")
            .find_map(|pair| pair.strip_prefix(key)?.strip_prefix('='))
            .unwrap_or_else(|| panic!("{}: no {key} in {}", self.id, self.inputs))
    }

    fn verify(&self, outcome: &Outcome) {
        match outcome {
            Outcome::Word(word) => assert_eq!(word, &self.expected, "{} {}", self.id, self.inputs),
            Outcome::Number(None) => assert_eq!("error", self.expected, "{} {}", self.id, self.inputs),
            Outcome::Number(Some(value)) => {
                let expected: f64 = self
                    .expected
                    .parse()
                    .unwrap_or_else(|_| panic!("{}: {value} where {} was expected", self.id, self.expected));
                let tolerance = match self.tolerance.as_str() {
                    "exact" => 0.0,
                    other => match other.strip_suffix(" rel") {
                        Some(relative) => relative.parse::<f64>().unwrap() * expected.abs(),
                        None => other.parse().unwrap(),
                    },
                };
                assert!(
                    (value - expected).abs() <= tolerance,
                    "{} {} {}: {value} where {expected} ± {tolerance} was expected",
                    self.id,
                    self.quantity,
                    self.inputs
                );
            }
        }
    }
}

/// Runs `answer` over the rows of a file and compares; every row must be answered. Returns how many rows each quantity had.
pub fn run(table: &str, mut answer: impl FnMut(&Check) -> Outcome) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for row in csv::Reader::from_reader(table.as_bytes()).deserialize() {
        let check: Check = row.unwrap();
        check.verify(&answer(&check));
        *counts.entry(check.quantity).or_insert(0) += 1;
    }
    counts
}
