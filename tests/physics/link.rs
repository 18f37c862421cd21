//! Channel plans and example limits against the standards.

use farpace::link::channel::{
    Band, BleUse, ChannelPlan, EXAMPLE_BAND, WIDTH_DSSS, WIDTH_NARROW, WIDTH_OFDM, ble_rf_channel, ble_use,
};
use farpace::link::limits::{EXAMPLES, ExampleUse, example_conducted_ceiling, headroom};
use farpace::link::{power, wavelength};
use farpace::units::{Db, Dbm, Megahertz};

use crate::checks::{Check, Outcome, run};

fn number(check: &Check, key: &str) -> u32 {
    check.input(key) as u32
}

fn band(check: &Check, width: Megahertz) -> Outcome {
    let centre = ChannelPlan::Ieee80211.centre(number(check, "channel")).unwrap();
    let band = Band::about(centre, width);
    Outcome::Word(format!("{}..{}", band.low.0, band.high.0))
}

fn centre(check: &Check, plan: ChannelPlan, key: &str) -> Option<Megahertz> {
    plan.centre(number(check, key)).ok()
}

fn set_overlaps(check: &Check) -> bool {
    let width = Megahertz(check.input("occupied_MHz"));
    let bands: Vec<Band> = check
        .word("set")
        .split('/')
        .map(|channel| Band::about(ChannelPlan::Ieee80211.centre(channel.parse().unwrap()).unwrap(), width))
        .collect();
    bands
        .iter()
        .enumerate()
        .any(|(i, a)| bands[i + 1..].iter().any(|b| a.overlaps(*b)))
}

fn clear_of_three(check: &Check) -> bool {
    let narrow = Band::about(
        centre(check, ChannelPlan::Ieee802154, "channel").unwrap(),
        Megahertz(2.0 * check.input("zb_halfwidth_MHz")),
    );
    [1, 6, 11].into_iter().all(|wide| {
        let wide = Band::about(
            ChannelPlan::Ieee80211.centre(wide).unwrap(),
            Megahertz(2.0 * check.input("wifi_halfwidth_MHz")),
        );
        !narrow.overlaps(wide)
    })
}

#[test]
fn every_channel() {
    let counts = run(include_str!("../reference/channels.csv"), |check| {
        let frequency = |value: Option<Megahertz>| Outcome::Number(value.map(Megahertz::get));
        let wave = |at: Option<Megahertz>| Outcome::Number(at.and_then(wavelength).map(|length| length.0));
        let word = |text: &str| Outcome::Word(text.to_owned());
        match check.quantity.as_str() {
            "wifi_channel_centre" => frequency(centre(check, ChannelPlan::Ieee80211, "channel")),
            "wifi_wavelength" => wave(centre(check, ChannelPlan::Ieee80211, "channel")),
            "wifi_occupied_dsss_22MHz" => band(check, WIDTH_DSSS),
            "wifi_occupied_ofdm_20MHz" => band(check, WIDTH_OFDM),
            "wifi_frequency_to_channel" => Outcome::Number(
                ChannelPlan::Ieee80211
                    .channel_at(Megahertz(check.input("f_MHz")))
                    .map(f64::from),
            ),
            "wifi_set_overlap" => word(if set_overlaps(check) {
                "overlapping"
            } else {
                "non_overlapping"
            }),
            "ieee802154_channel_centre" => frequency(centre(check, ChannelPlan::Ieee802154, "channel")),
            "ieee802154_wavelength" => wave(centre(check, ChannelPlan::Ieee802154, "channel")),
            "ieee802154_clear_of_wifi_1_6_11" => word(if clear_of_three(check) { "yes" } else { "no" }),
            "ble_channel_centre" => frequency(centre(check, ChannelPlan::Ble, "channel_index")),
            "ble_rf_channel" => Outcome::Number(ble_rf_channel(number(check, "channel_index")).map(f64::from)),
            "ble_kind" => word(match ble_use(number(check, "channel_index")) {
                Some(BleUse::PrimaryAdvertising) => "primary_advertising",
                Some(BleUse::GeneralPurpose) => "general_purpose",
                None => "error",
            }),
            "wavelength" => wave(Some(Megahertz(check.input("f_MHz")))),
            "ism_band_edge" if check.inputs == "lower" => frequency(Some(EXAMPLE_BAND.low)),
            "ism_band_edge" => frequency(Some(EXAMPLE_BAND.high)),
            "band_edge_note" => {
                let last = Band::about(ChannelPlan::Ieee80211.centre(14).unwrap(), WIDTH_DSSS);
                assert!(!EXAMPLE_BAND.holds(last));
                Outcome::Word(format!("outside {}-{}", EXAMPLE_BAND.low.0, EXAMPLE_BAND.high.0))
            }
            other => panic!("{}: no formula for {other}", check.id),
        }
    });
    assert_eq!(counts.values().sum::<usize>(), 198);
    assert_eq!(WIDTH_NARROW, Megahertz(2.0));
}

#[test]
fn every_example_limit() {
    let counts = run(include_str!("../reference/limits.csv"), |check| {
        match check.quantity.as_str() {
            "max_conducted_power" => {
                let use_as = match check.word("mode") {
                    "point-to-multipoint" => ExampleUse::PointToMultipoint,
                    "fixed point-to-point 2.4 GHz" => ExampleUse::FixedPointToPoint,
                    other => panic!("{}: {other}", check.id),
                };
                Outcome::Number(Some(example_conducted_ceiling(Db(check.input("gain_dBi")), use_as).0))
            }
            "eirp_check" => {
                let radiated = power::eirp(
                    Dbm(check.input("tx_dBm")),
                    Db(check.input("gain_dBi")),
                    Db(check.input("loss_dB")),
                );
                let room = headroom(radiated, Dbm(check.input("limit_dBm_eirp"))).0;
                Outcome::Word(if room.abs() < 1e-9 {
                    "at limit".to_owned()
                } else if room > 0.0 {
                    format!("under by {room:.2} dB")
                } else {
                    format!("over by {:.2} dB", -room)
                })
            }
            "band_limits" => Outcome::Word(format!("{}..{}", EXAMPLE_BAND.low.0, EXAMPLE_BAND.high.0)),
            other => {
                let of = |rules: &str, what: &str| {
                    EXAMPLES
                        .iter()
                        .find(|example| example.source.contains(rules) && example.what.contains(what))
                        .map(|example| example.value)
                };
                let european = check.inputs.contains("EU/CEPT");
                Outcome::Number(match other {
                    "eirp_limit" => of("EN 300 328", "radiated power, "),
                    "psd_limit" if european => of("EN 300 328", "density"),
                    "psd_limit" => of("47 CFR", "density"),
                    "non_adaptive_medium_utilisation" => of("EN 300 328", "time in the air"),
                    "conducted_limit" => of("47 CFR", "hopping"),
                    "gain_threshold" => of("47 CFR", "gain"),
                    unknown => panic!("{}: no example for {unknown}", check.id),
                })
            }
        }
    });
    assert_eq!(counts.values().sum::<usize>(), 18);
}
