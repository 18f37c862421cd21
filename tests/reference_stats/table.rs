//! Rows of a table of published values: `id, quantity, inputs, expected, unit, tolerance, source, how_obtained, crosscheck`.

use std::collections::HashMap;

/// One row; its source stands in the file.
pub struct Row {
    pub id: String,
    pub quantity: String,
    pub expected: String,
    /// Absolute; 0 for `exact`.
    pub tolerance: f64,
    inputs: HashMap<String, String>,
}

impl Row {
    fn input(&self, key: &str) -> &str {
        self.inputs.get(key).unwrap_or_else(|| panic!("{}: no {key}", self.id))
    }

    pub fn number(&self, key: &str) -> f64 {
        self.input(key).parse().unwrap()
    }

    /// A count; `None` below zero.
    pub fn count(&self, key: &str) -> Option<u64> {
        let value = self.number(key);
        (value >= 0.0).then_some(value as u64)
    }

    pub fn list(&self, key: &str) -> Vec<f64> {
        self.input(key).split('|').map(|v| v.parse().unwrap()).collect()
    }
}

/// Reads `tests/reference/NAME`.
pub fn rows(name: &str) -> Vec<Row> {
    let path = format!("{}/tests/reference/{name}", env!("CARGO_MANIFEST_DIR"));
    csv::Reader::from_path(path)
        .unwrap()
        .records()
        .map(|record| {
            let record = record.unwrap();
            Row {
                id: record[0].to_owned(),
                quantity: record[1].to_owned(),
                expected: record[3].to_owned(),
                tolerance: if &record[5] == "exact" {
                    0.0
                } else {
                    record[5].parse().unwrap()
                },
                inputs: record[2]
                    .split("; ")
                    .filter_map(|pair| pair.split_once('='))
                    .map(|(key, value)| (key.to_owned(), value.to_owned()))
                    .collect(),
            }
        })
        .collect()
}
