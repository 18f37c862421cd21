//! Fading and shadowing against published formulas evaluated by others.
//!
//! Each row of `tests/reference/fading.csv` names its source: Rec. ITU-R P.1057-7, Greenstein and others, Jakes, Gudmundson;
//! evaluated with scipy 1.16.3 and mpmath 1.4.1.

use crate::table::{Row, rows};
use farpace::stats::fading::{k_by_moments, k_of_powers, local_mean_error, mean_power_dbm, rician_below, rician_fade};
use farpace::stats::shadowing::{area_from_edge, shadow_correlation, shadow_margin_db};

const RAYLEIGH: f64 = f64::NEG_INFINITY;

/// Mean and standard deviation of a Rayleigh fade in dB, integrated from its distribution by the midpoint rule.
fn fade_in_db() -> (f64, f64) {
    const STEP: f64 = 0.01;
    let (mut mean, mut square) = (0.0, 0.0);
    for i in 0..15_000 {
        let x = STEP * (f64::from(i) + 0.5);
        let (above, below) = (
            1.0 - rician_below(x, RAYLEIGH).unwrap(),
            rician_below(-x, RAYLEIGH).unwrap(),
        );
        mean += STEP * (above - below);
        square += STEP * 2.0 * x * (above + below);
    }
    (mean, (square - mean * mean).sqrt())
}

fn evaluate(row: &Row) -> Vec<f64> {
    let re_mean = |k: f64| -rician_fade(row.number("outage"), k).unwrap();
    let re_median = |k: f64| rician_fade(0.5, k).unwrap() - rician_fade(row.number("outage"), k).unwrap();
    vec![match row.quantity.as_str() {
        "rayleigh_fade_margin_re_mean" => re_mean(RAYLEIGH),
        "rayleigh_fade_margin_re_median" => re_median(RAYLEIGH),
        "rayleigh_mean_minus_median_power" => -rician_fade(0.5, RAYLEIGH).unwrap(),
        "rician_fade_margin_re_mean" => re_mean(row.number("K_dB")),
        "rician_fade_margin_re_median" => re_median(row.number("K_dB")),
        "rician_K_moment" => k_by_moments(row.number("Ga"), row.number("Gv2")).unwrap(),
        "rician_K_from_samples" => k_of_powers(&row.list("powers")).unwrap(),
        "rician_K_from_dBm_samples" => {
            let powers: Vec<f64> = row.list("dBm").iter().map(|l| 10_f64.powf(0.1 * l)).collect();
            10.0 * k_of_powers(&powers).unwrap().log10()
        }
        "mean_power_of_dBm_samples" => mean_power_dbm(&row.list("dBm")).unwrap(),
        "rayleigh_mean_of_dB_bias" => -fade_in_db().0,
        "rayleigh_std_of_dB" => fade_in_db().1,
        "local_mean_90pct_exact_power_interval" => {
            let error = local_mean_error(row.number("n_independent") as u32, 0.90).unwrap();
            return vec![error.low, error.high];
        }
        "area_coverage_from_edge" => {
            area_from_edge(row.number("edge"), row.number("sigma_dB"), row.number("n")).unwrap()
        }
        "lognormal_shadow_margin" => shadow_margin_db(row.number("coverage_at_point"), row.number("sigma_dB")).unwrap(),
        "shadow_correlation" => shadow_correlation(row.number("d_m"), row.number("dc_m")).unwrap(),
        other => panic!("{}: nothing evaluates {other}", row.id),
    }]
}

#[test]
fn published_values() {
    let rows = rows("fading.csv");
    assert!(rows.len() >= 145, "{} rows only", rows.len());
    for row in &rows {
        let wanted: Vec<f64> = row.expected.split("..").map(|v| v.parse().unwrap()).collect();
        let got = evaluate(row);
        assert_eq!(got.len(), wanted.len());
        for (got, wanted) in got.iter().zip(wanted) {
            assert!(
                (got - wanted).abs() <= row.tolerance,
                "{} {}: {got} is not {wanted}",
                row.id,
                row.quantity
            );
        }
    }
}
