//! Intervals for proportions against published tables and other people's programs.
//!
//! Each row of `tests/reference/proportions.csv` and `proportions_grid_n100.csv` names its source beside its value: Newcombe
//! 1998 (recalled, and recomputed to the printed digit), the NIST/SEMATECH e-Handbook, statsmodels 0.15.0, R 4.2.2.

use crate::table::{Row, rows};
use farpace::stats::proportions::{
    Interval, agresti_coull, clopper_pearson, effective_count, jeffreys, newcombe_difference, wilson,
};
type Method = fn(u64, u64, f64) -> Option<Interval>;

fn evaluate(row: &Row) -> Option<f64> {
    let (name, upper) = match row.quantity.rsplit_once('_') {
        Some((name, "lower")) => (name, false),
        Some((name, "upper")) => (name, true),
        _ => (row.quantity.as_str(), false),
    };
    let side = |interval: Interval| if upper { interval.high } else { interval.low };
    let method: Method = match name {
        "wilson" => wilson,
        "clopper_pearson" => clopper_pearson,
        "jeffreys" => jeffreys,
        "agresti_coull" => agresti_coull,
        "interval_error" => return wilson(row.count("k")?, row.count("n")?, 0.95).map(|i| i.low),
        "wilson_upper_k0_closed_form" => return wilson(row.count("k")?, row.count("n")?, 0.95).map(|i| i.high),
        // One-sided 95 % is the upper limit of the two-sided 90 % interval.
        "rule_of_three_exact_upper95_one_sided" => {
            return clopper_pearson(row.count("k")?, row.count("n")?, 0.90).map(|i| i.high);
        }
        "newcombe_difference" => {
            let pair = |k: &str, n: &str| Some((row.count(k)?, row.count(n)?));
            return newcombe_difference(pair("k1", "n1")?, pair("k2", "n2")?, row.number("confidence")).map(side);
        }
        "effective_sample_size_ar1_finite" => {
            let rho = row.number("rho");
            return effective_count(row.number("n"), (1..).map(|k| rho.powi(k)));
        }
        "effective_sample_size_ar1_asymptotic" => {
            // The limit n (1 - rho)/(1 + rho) is what a series far longer than its memory comes to, a count at a time.
            let rho = row.number("rho");
            let long = 1e14;
            return effective_count(long, (1..400).map(|k| rho.powi(k))).map(|e| e / long * row.number("n"));
        }
        other => panic!("{}: nothing evaluates {other}", row.id),
    };
    method(row.count("k")?, row.count("n")?, row.number("confidence")).map(side)
}

fn check(name: &str, at_least: usize) {
    let rows = rows(name);
    assert!(rows.len() >= at_least, "{} rows only", rows.len());
    for row in &rows {
        let got = evaluate(row);
        if row.expected == "error" {
            assert_eq!(got, None, "{}", row.id);
            continue;
        }
        let got = got.unwrap_or_else(|| panic!("{}: no value", row.id));
        let wanted: f64 = row.expected.parse().unwrap();
        // The printed value is itself rounded to half a unit of its last digit.
        assert!(
            (got - wanted).abs() <= row.tolerance,
            "{}: {got} is not {wanted}",
            row.id
        );
    }
}

#[test]
fn published_values() {
    check("proportions.csv", 190);
}

#[test]
fn every_count_of_a_hundred() {
    check("proportions_grid_n100.csv", 600);
}
