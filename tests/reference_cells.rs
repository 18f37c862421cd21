//! The cell likelihood against tables worked out apart from this program.
//!
//! `tests/reference/stats/cells_table.json`: computed with numpy and scipy from the same published densities (Rice 1945 and
//! the logistic and normal distribution functions), 7 digits.

use farpace::stats::cells::{CellTable, Interference, MEAN_MIN_DBM, MEAN_STEP_DB, SCurve};
use serde_json::Value;

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn close(got: f64, wanted: f64, absolute: f64, what: &str) {
    assert!(
        (got - wanted).abs() <= 1e-6 * wanted.abs() + absolute,
        "{what}: {got} is not {wanted}"
    );
}

fn reference() -> Value {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/stats/cells_table.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn tables_agree() {
    let reference = reference();
    let tables = reference["tables"].as_array().unwrap();
    assert_eq!(tables.len(), 3);
    for entry in tables {
        let number = |key: &str| entry[key].as_f64().unwrap();
        let curve = SCurve::new(number("m"), number("s")).unwrap();
        let table = CellTable::new(curve, number("K"), number("sw"));
        let delivered = numbers(&entry["D"]);
        let readings = numbers(&entry["r"]);
        for (i, mu) in numbers(&entry["mu"]).into_iter().enumerate() {
            let j = ((mu - MEAN_MIN_DBM) / MEAN_STEP_DB) as usize;
            close(table.delivered()[j], delivered[i], 0.0, "delivery");
            for (reading, wanted) in readings.iter().zip(numbers(&entry["g"][i])) {
                // The table keeps ln(g + 1e-9); below about 1e-9 only that floor is left to compare.
                let g = table.log_reading(*reading as i32).unwrap()[j].exp() - 1e-9;
                close(g, wanted, 1e-13, "reading");
            }
        }
    }
}

#[test]
fn interference_nodes_agree() {
    let reference = &reference()["f_nodes"];
    let got = Interference::varying(reference["f"].as_f64().unwrap());
    let wanted = numbers(&reference["nodes"]);
    assert_eq!(got.nodes().len(), wanted.len());
    for (got, wanted) in got.nodes().iter().zip(wanted) {
        close(*got, wanted, 0.0, "node");
    }
}
