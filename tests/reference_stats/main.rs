//! The statistics against values worked out by others, apart from this program, or against simulated truth: a file a
//! subject, each value's source beside it.
#![expect(clippy::unwrap_used, reason = "a reference that cannot be read is a failed test")]

mod boards;
mod cells;
mod delivery;
mod fading;
mod isotonic;
mod level;
mod proportions;
mod simulated;
mod table;

use serde_json::Value;

/// Reads `tests/reference/stats/NAME.json`.
fn reference(name: &str) -> Value {
    let path = format!("{}/tests/reference/stats/{name}.json", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// The number of a field; `"inf"` and `"-inf"` are infinite.
fn number(value: &Value) -> f64 {
    match value.as_str() {
        Some("inf") => f64::INFINITY,
        Some("-inf") => f64::NEG_INFINITY,
        Some(other) => panic!("{other} is no number"),
        None => value.as_f64().unwrap(),
    }
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

/// Asserts agreement to one part in a million, below 1e-15 to that: references carry seven digits.
#[track_caller]
fn close(got: f64, wanted: f64, what: &str) {
    let agrees = got == wanted || (got - wanted).abs() <= 1e-6 * wanted.abs() + 1e-15;
    assert!(agrees, "{what}: {got} is not {wanted}");
}
