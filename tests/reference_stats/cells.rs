//! The cell likelihood against tables worked out apart from this program.
//!
//! `tests/reference/stats/cells_table.json`: computed with numpy and scipy from the same published densities (Rice 1945 and
//! the logistic and normal distribution functions), 7 digits.

use crate::{close, number, numbers, reference};
use farpace::stats::cells::{CellTable, Interference, MEAN_MIN_DBM, MEAN_STEP_DB, SCurve};

#[test]
fn tables_agree() {
    let reference = reference("cells_table");
    let tables = reference["tables"].as_array().unwrap();
    assert_eq!(tables.len(), 3);
    for entry in tables {
        let curve = SCurve::new(number(&entry["m"]), number(&entry["s"])).unwrap();
        let table = CellTable::new(curve, number(&entry["K"]), number(&entry["sw"]));
        let delivered = numbers(&entry["D"]);
        let readings = numbers(&entry["r"]);
        for (i, mu) in numbers(&entry["mu"]).into_iter().enumerate() {
            let j = ((mu - MEAN_MIN_DBM) / MEAN_STEP_DB) as usize;
            close(table.delivered()[j], delivered[i], "delivery");
            for (reading, wanted) in readings.iter().zip(numbers(&entry["g"][i])) {
                // The table keeps ln(g + 1e-9); below about 1e-9 only that floor is left to compare.
                let g = table.log_reading(*reading as i32).unwrap()[j].exp() - 1e-9;
                assert!(
                    (g - wanted).abs() <= 1e-6 * wanted + 1e-13,
                    "reading: {g} is not {wanted}"
                );
            }
        }
    }
}

#[test]
fn interference_nodes_agree() {
    let reference = &reference("cells_table")["f_nodes"];
    let got = Interference::varying(number(&reference["f"]));
    let wanted = numbers(&reference["nodes"]);
    assert_eq!(got.nodes().len(), wanted.len());
    for (got, wanted) in got.nodes().iter().zip(wanted) {
        close(*got, wanted, "node");
    }
}
