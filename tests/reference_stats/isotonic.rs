//! Delivery against distance, worked out apart from this program with numpy.

use crate::{close, number, numbers, reference};
use farpace::stats::isotonic::{Crossing, crossing, non_increasing};

#[test]
fn curve_and_crossings_agree() {
    let reference = reference("isotonic");
    let (ok, total) = (numbers(&reference["ok"]), numbers(&reference["total"]));
    let rates: Vec<f64> = ok.iter().zip(&total).map(|(k, n)| k / n).collect();
    let curve = non_increasing(&rates, &total).unwrap();
    let wanted = numbers(&reference["fit"]);
    assert_eq!(curve.len(), wanted.len());
    for (got, wanted) in curve.iter().zip(wanted) {
        close(*got, wanted, "curve");
    }
    let places = numbers(&reference["log10d"]);
    for (level, key) in [(0.5, "cross50"), (0.9, "cross90")] {
        let Some(Crossing::At(place)) = crossing(&places, &curve, level) else {
            panic!("no crossing at {level}")
        };
        close(place, number(&reference[key]), key);
    }
}
