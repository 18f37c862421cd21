//! Losses, noise and fading against their published formulas.

use farpace::link::power;
use farpace::propagation::weather::Polarisation;
use farpace::propagation::{
    earth_bulge, fading, free_space, fresnel, knife_edge, log_distance, noise, shadowing, street, two_ray, weather,
    woodland,
};
use farpace::units::{Db, Dbm, Megahertz, Metres};

use crate::checks::{Check, Outcome, run};

fn frequency(check: &Check) -> Megahertz {
    Megahertz(check.input("f_MHz"))
}

fn metres(check: &Check, key: &str) -> Metres {
    Metres(check.input(key))
}

fn street(check: &Check) -> street::Bounds {
    street::loss(
        frequency(check),
        metres(check, "h1_m"),
        metres(check, "h2_m"),
        metres(check, "d_m"),
    )
    .unwrap()
}

fn edge_parameter(check: &Check) -> f64 {
    knife_edge::parameter(
        frequency(check),
        metres(check, "h_m"),
        metres(check, "d1_m"),
        metres(check, "d2_m"),
    )
    .unwrap()
}

fn over_free_space(check: &Check, loss: Db) -> Db {
    loss - free_space::loss(frequency(check), metres(check, "d_m")).unwrap()
}

fn table_wood(check: &Check) -> woodland::Wood {
    woodland::mixed_forest(frequency(check)).unwrap()
}

fn answer(check: &Check) -> Option<f64> {
    let decibels = |value: Option<Db>| value.map(Db::get);
    let length = |value: Option<Metres>| value.map(Metres::get);
    match check.quantity.as_str() {
        "free_space_loss" => decibels(free_space::loss(frequency(check), metres(check, "d_m"))),
        "free_space_constant" => decibels(free_space::loss(Megahertz(1.0), Metres(1000.0))),
        "free_space_constant_f_GHz_d_km" => decibels(free_space::loss(Megahertz(1000.0), Metres(1000.0))),
        "free_space_constant_f_MHz_d_m" => decibels(free_space::loss(Megahertz(1.0), Metres(1.0))),
        "free_space_near_field_note" => length(free_space::far_field(frequency(check), metres(check, "D_m"))),
        "field_strength_free_space" => {
            free_space::field_strength_dbuv_per_m(Dbm(check.input("eirp_dBm")), metres(check, "d_m"))
        }
        "received_power" => free_space::received(
            Dbm(check.input("tx_dBm")),
            Db(check.input("gt_dBi") + check.input("gr_dBi")),
            frequency(check),
            metres(check, "d_m"),
            Db(check.input("excess_dB")),
        )
        .map(Dbm::get),
        "max_free_space_range" => length(free_space::range(frequency(check), Db(check.input("allowed_loss_dB")))),
        "fresnel_radius" => length(fresnel::radius(
            frequency(check),
            metres(check, "d1_m"),
            metres(check, "d2_m"),
            check.input("n") as u32,
        )),
        "fresnel_60pct_clearance" => length(fresnel::clearance(
            frequency(check),
            metres(check, "d1_m"),
            metres(check, "d2_m"),
        )),
        "knife_edge_J_exact" => decibels(knife_edge::loss(check.input("v"))),
        "knife_edge_J_approx" => decibels(knife_edge::approximate_loss(check.input("v"))),
        "knife_edge_Lee_piecewise" => decibels(knife_edge::lee_loss(check.input("v"))),
        "knife_edge_v" => Some(edge_parameter(check)),
        "knife_edge_loss" => decibels(knife_edge::approximate_loss(edge_parameter(check))),
        "two_ray_loss_gamma_minus1" => decibels(two_ray::loss(
            frequency(check),
            metres(check, "ht_m"),
            metres(check, "hr_m"),
            metres(check, "d_m"),
            check.input("reflection"),
        )),
        "plane_earth_far_loss" => decibels(two_ray::plane_earth_loss(
            metres(check, "ht_m"),
            metres(check, "hr_m"),
            metres(check, "d_m"),
        )),
        "breakpoint_4h1h2_over_lambda" => length(two_ray::break_point(
            frequency(check),
            metres(check, "ht_m"),
            metres(check, "hr_m"),
        )),
        "crossover_4pi_h1h2_over_lambda" => length(two_ray::crossover(
            frequency(check),
            metres(check, "ht_m"),
            metres(check, "hr_m"),
        )),
        "p1411_Rbp" => length(two_ray::break_point(
            frequency(check),
            metres(check, "h1_m"),
            metres(check, "h2_m"),
        )),
        "p1411_Lbp" => decibels(street::loss_at_break_point(
            frequency(check),
            metres(check, "h1_m"),
            metres(check, "h2_m"),
        )),
        "p1411_los_lower" => Some(street(check).lower.0),
        "p1411_los_median" => Some(street(check).median.0),
        "p1411_los_upper" => Some(street(check).upper.0),
        "p1411_lower_minus_free_space" => Some(over_free_space(check, street(check).lower).0),
        "p1411_median_minus_free_space" => Some(over_free_space(check, street(check).median).0),
        "p1411_location_correction_LoS" => decibels(street::location_correction(
            check.input("p") / 100.0,
            Db(check.input("sigma_dB")),
        )),
        "p833_table_Am" => Some(table_wood(check).most.0),
        "p833_table_specific_attenuation" => Some(table_wood(check).db_per_m),
        "p833_woodland_excess" => decibels(woodland::excess(
            woodland::Wood {
                db_per_m: check.input("gamma_dB_per_m"),
                most: Db(check.input("Am_dB")),
            },
            metres(check, "d_m"),
        )),
        "p833_Am_of_f" => decibels(woodland::most(
            Db(check.input("A1_dB")),
            check.input("alpha"),
            frequency(check),
        )),
        "weissberger_loss" => decibels(woodland::weissberger(
            Megahertz(check.input("f_GHz") * 1000.0),
            metres(check, "d_m"),
        )),
        "earth_bulge_mid" => {
            let half = Metres(check.input("d_m") / 2.0);
            let radius = Metres(check.input("a_km") * 1000.0);
            length(earth_bulge::height(half, half, check.input("k"), radius))
        }
        "dBm_to_mW" => Some(power::milliwatts(Dbm(check.input("dBm")))),
        "mW_to_dBm" => power::level_of(check.input("mW")).map(Dbm::get),
        "noise_floor_kTB" => noise::thermal(check.input("T_K"), check.input("B_Hz")).map(Dbm::get),
        "sensitivity" => Some(
            noise::sensitivity(
                Dbm(check.input("noise_floor_dBm")),
                Db(check.input("noise_figure_dB")),
                Db(check.input("required_SNR_dB")),
            )
            .0,
        ),
        "eirp" => Some(
            power::eirp(
                Dbm(check.input("tx_dBm")),
                Db(check.input("gain_dBi")),
                Db(check.input("loss_dB")),
            )
            .0,
        ),
        "erp_from_eirp" => Some(power::erp(Dbm(check.input("eirp_dBm"))).0),
        "dBd_from_dBi" => Some(power::gain_over_dipole(Db(check.input("dBi"))).0),
        "log_distance_loss" => decibels(log_distance::loss(
            check.input("n"),
            Db(check.input("L0_dB")),
            metres(check, "d0_m"),
            metres(check, "d_m"),
        )),
        "gas_specific_attenuation" => {
            weather::gas_db_per_km(Megahertz(check.input("f_GHz") * 1000.0), check.input("rho_g_m3"))
        }
        "rain_specific_attenuation" => {
            let polarisation = match check.word("polarization") {
                "vertical" => Polarisation::Vertical,
                "45 deg" => Polarisation::Slant,
                other => panic!("{}: polarisation {other}", check.id),
            };
            weather::rain_db_per_km(
                Megahertz(check.input("f_GHz") * 1000.0),
                check.input("R_mm_h"),
                polarisation,
            )
        }
        other => panic!("{}: no formula for {other}", check.id),
    }
}

#[test]
fn every_published_loss() {
    let counts = run(include_str!("../reference/propagation.csv"), |check| {
        Outcome::Number(answer(check))
    });
    assert_eq!(counts.values().sum::<usize>(), 290);
    assert_eq!(counts["free_space_loss"], 41);
    assert_eq!(counts["knife_edge_J_exact"], 16);
    assert_eq!(counts["p1411_los_upper"], 16);
}

#[test]
fn every_published_fading_margin() {
    let counts = run(include_str!("../reference/fading_margins.csv"), |check| {
        let k = || fading::ratio(Db(check.input("K_dB")));
        Outcome::Number(match check.quantity.as_str() {
            "rayleigh_fade_margin_re_mean" => fading::margin(0.0, check.input("outage")).map(Db::get),
            "rayleigh_fade_margin_re_median" => fading::margin_over_median(0.0, check.input("outage")).map(Db::get),
            "rayleigh_mean_minus_median_power" => fading::margin(0.0, 0.5).map(Db::get),
            "rician_fade_margin_re_mean" => fading::margin(k(), check.input("outage")).map(Db::get),
            "rician_fade_margin_re_median" => fading::margin_over_median(k(), check.input("outage")).map(Db::get),
            "lognormal_shadow_margin" => {
                shadowing::margin(check.input("coverage_at_point"), Db(check.input("sigma_dB"))).map(Db::get)
            }
            "area_coverage_from_edge" => {
                shadowing::area_covered(check.input("edge"), Db(check.input("sigma_dB")), check.input("n"))
            }
            "gudmundson_decorrelation_distance" => {
                shadowing::decorrelation_distance(check.input("eps_D"), metres(check, "D_m")).map(Metres::get)
            }
            "shadow_correlation" => shadowing::correlation(metres(check, "dc_m"), metres(check, "d_m")),
            other => panic!("{}: no formula for {other}", check.id),
        })
    });
    assert_eq!(counts.values().sum::<usize>(), 128);
}
