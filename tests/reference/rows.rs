//! Reads the tables of published values beside it, for tests anywhere in the project.

use std::collections::HashMap;

/// One published value.
pub(crate) struct Row {
    pub(crate) id: String,
    pub(crate) quantity: String,
    inputs: HashMap<String, String>,
    pub(crate) expected: String,
    tolerance: String,
}

/// The rows of a table, in its order.
pub(crate) fn rows(table: &str) -> Vec<Row> {
    csv::Reader::from_reader(table.as_bytes())
        .records()
        .map(|record| {
            let record = record.unwrap();
            Row {
                id: record[0].to_owned(),
                quantity: record[1].to_owned(),
                inputs: record[2]
                    .split("; ")
                    .filter_map(|pair| pair.split_once('='))
                    .map(|(key, value)| (key.to_owned(), value.to_owned()))
                    .collect(),
                expected: record[3].to_owned(),
                tolerance: record[5].to_owned(),
            }
        })
        .collect()
}

impl Row {
    pub(crate) fn text(&self, key: &str) -> &str {
        self.inputs
            .get(key)
            .unwrap_or_else(|| panic!("{}: no input {key}", self.id))
    }

    pub(crate) fn number(&self, key: &str) -> f64 {
        self.text(key).parse().unwrap()
    }

    pub(crate) fn list(&self, key: &str) -> Vec<f64> {
        self.text(key)
            .split('|')
            .map(|number| number.parse().unwrap())
            .collect()
    }

    pub(crate) fn expected_list(&self) -> Vec<f64> {
        self.expected.split('|').map(|number| number.parse().unwrap()).collect()
    }

    /// Allowed distance from an expected number: absolute, or a share of it where the table says `rel`.
    pub(crate) fn allowed(&self, expected: f64) -> f64 {
        match self.tolerance.strip_suffix(" rel") {
            Some(share) => share.parse::<f64>().unwrap() * expected.abs(),
            None if self.tolerance == "exact" => 0.0,
            None => self.tolerance.parse().unwrap(),
        }
    }

    pub(crate) fn assert_near(&self, got: f64) {
        let expected: f64 = self.expected.parse().unwrap();
        assert!(
            got == expected || (got - expected).abs() <= self.allowed(expected),
            "{} {}: {got} for {expected}",
            self.id,
            self.quantity
        );
    }

    pub(crate) fn assert_all_near(&self, got: &[f64]) {
        let expected = self.expected_list();
        assert_eq!(got.len(), expected.len(), "{}", self.id);
        for (got, expected) in got.iter().zip(expected) {
            assert!(
                (got - expected).abs() <= self.allowed(expected),
                "{}: {got} for {expected}",
                self.id
            );
        }
    }
}

/// The turns (degrees) and levels (dB) of a sampled curve kept beside the tables: its first two columns.
pub(crate) fn sampled_curve(file: &str) -> (Vec<f64>, Vec<f64>) {
    let path = format!("{}/tests/reference/pattern/{file}", env!("CARGO_MANIFEST_DIR"));
    csv::Reader::from_path(path)
        .unwrap()
        .records()
        .map(|record| {
            let record = record.unwrap();
            (record[0].parse::<f64>().unwrap(), record[1].parse::<f64>().unwrap())
        })
        .unzip()
}
