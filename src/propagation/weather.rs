//! Air and rain: shown to be too little to matter at 2.4 GHz, so that nobody need wonder.

use super::Published;
use super::published::{not_negative, positive};
use crate::units::{Db, Megahertz, Metres};

/// The formulas and their sources.
pub const PUBLISHED: Published = Published {
    formula: "oxygen and water vapour some 0.007 dB/km, rain k R^a dB/km (R mm/h)",
    source: "Rec. ITU-R P.676 (simplified forms of 1995 and 2013, coefficients from memory) and P.838-3 (2005)",
};

/// How the signal is polarised, for rain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Polarisation {
    /// The electric field lies level.
    Horizontal,
    /// The electric field stands upright.
    Vertical,
    /// Half way between the two, and circular.
    Slant,
}

/// Loss in dry air and water vapour at sea level and 15 °C, decibels a kilometre, for 1 to 20 GHz.
///
/// `water` is grams of vapour in a cubic metre. Oxygen after Rec. ITU-R P.676-10 (2013), Annex 2; vapour after P.676-2 (1995).
/// At 2.4 GHz it is 0.007 dB/km: below 0.04 dB for any path a person walks.
pub fn gas_db_per_km(frequency: Megahertz, water: f64) -> Option<f64> {
    let f = frequency.0 / 1000.0;
    if !(1.0..=20.0).contains(&f) {
        return None;
    }
    let rho = not_negative(water)?;
    let square = f * f;
    let oxygen = 7.2 / (square + 0.34) + 0.62 / ((54.0 - f).powf(1.16) + 0.83);
    let vapour = 0.050
        + 0.0021 * rho
        + 3.6 / ((f - 22.2).powi(2) + 8.5)
        + 10.6 / ((f - 183.3).powi(2) + 9.0)
        + 8.9 / ((f - 325.4).powi(2) + 26.3);
    Some(oxygen * square * 1e-3 + vapour * square * rho * 1e-4)
}

/// Loss in rain, decibels a kilometre, k R^α, for 1 to 1000 GHz on a level path; `rate` in millimetres an hour.
///
/// Rec. ITU-R P.838-3 (2005). At 2.4 GHz a cloudburst of 100 mm/h costs 0.014 dB/km upright and 0.023 level. Wet leaves and wet aerials cost more than
/// that, and no formula here covers them.
pub fn rain_db_per_km(frequency: Megahertz, rate: f64, polarisation: Polarisation) -> Option<f64> {
    let f = frequency.0 / 1000.0;
    if !(1.0..=1000.0).contains(&f) {
        return None;
    }
    let rate = not_negative(rate)?;
    let log = f.log10();
    let (kh, kv) = (10f64.powf(K_HORIZONTAL.at(log)), 10f64.powf(K_VERTICAL.at(log)));
    let (ah, av) = (ALPHA_HORIZONTAL.at(log), ALPHA_VERTICAL.at(log));
    let (k, alpha) = match polarisation {
        Polarisation::Horizontal => (kh, ah),
        Polarisation::Vertical => (kv, av),
        Polarisation::Slant => (f64::midpoint(kh, kv), (kh * ah + kv * av) / (kh + kv)),
    };
    Some(k * rate.powf(alpha))
}

/// What air with 7.5 g/m³ of vapour and a cloudburst of 100 mm/h together take from a path: the most that needs be allowed.
pub fn worst_loss(frequency: Megahertz, distance: Metres) -> Option<Db> {
    let per_km = gas_db_per_km(frequency, 7.5)? + rain_db_per_km(frequency, 100.0, Polarisation::Horizontal)?;
    Some(Db(per_km * positive(distance.0)? / 1000.0))
}

/// A sum of bells and a line over log10 of the frequency in GHz: Σ aⱼ exp(-((x - bⱼ) / cⱼ)²) + m x + c.
struct Curve {
    bells: &'static [(f64, f64, f64)],
    slope: f64,
    offset: f64,
}

impl Curve {
    fn at(&self, x: f64) -> f64 {
        let bells: f64 = self
            .bells
            .iter()
            .map(|&(a, b, c)| a * (-((x - b) / c).powi(2)).exp())
            .sum();
        bells + self.slope * x + self.offset
    }
}

/// Rec. ITU-R P.838-3 (2005), Table 1.
const K_HORIZONTAL: Curve = Curve {
    bells: &[
        (-5.33980, -0.10008, 1.13098),
        (-0.35351, 1.26970, 0.45400),
        (-0.23789, 0.86036, 0.15354),
        (-0.94158, 0.64552, 0.16817),
    ],
    slope: -0.18961,
    offset: 0.71147,
};

/// Rec. ITU-R P.838-3 (2005), Table 2.
const K_VERTICAL: Curve = Curve {
    bells: &[
        (-3.80595, 0.56934, 0.81061),
        (-3.44965, -0.22911, 0.51059),
        (-0.39902, 0.73042, 0.11899),
        (0.50167, 1.07319, 0.27195),
    ],
    slope: -0.16398,
    offset: 0.63297,
};

/// Rec. ITU-R P.838-3 (2005), Table 3.
const ALPHA_HORIZONTAL: Curve = Curve {
    bells: &[
        (-0.14318, 1.82442, -0.55187),
        (0.29591, 0.77564, 0.19822),
        (0.32177, 0.63773, 0.13164),
        (-5.37610, -0.96230, 1.47828),
        (16.1721, -3.29980, 3.43990),
    ],
    slope: 0.67849,
    offset: -1.95537,
};

/// Rec. ITU-R P.838-3 (2005), Table 4.
const ALPHA_VERTICAL: Curve = Curve {
    bells: &[
        (-0.07771, 2.33840, -0.76284),
        (0.56727, 0.95545, 0.54039),
        (-0.20238, 1.14520, 0.26809),
        (-48.2991, 0.791_669, 0.116_226),
        (48.5833, 0.791_459, 0.116_479),
    ],
    slope: -0.053_739,
    offset: 0.83433,
};

#[cfg(test)]
mod tests {
    use super::*;

    /// Rec. ITU-R P.838-3 (2005), Table 5, the rows of 2 and 10 GHz (from memory).
    #[test]
    fn rain_coefficients_are_those_printed() {
        for (ghz, kh, ah, kv, av) in [
            (2.0f64, 0.000_084_7, 1.0664, 0.000_099_8, 0.9490),
            (10.0, 0.01217, 1.2571, 0.01129, 1.2156),
        ] {
            let x = ghz.log10();
            assert!((10f64.powf(K_HORIZONTAL.at(x)) / kh - 1.0).abs() < 2e-3, "kH at {ghz}");
            assert!((10f64.powf(K_VERTICAL.at(x)) / kv - 1.0).abs() < 2e-3, "kV at {ghz}");
            assert!((ALPHA_HORIZONTAL.at(x) - ah).abs() < 2e-4, "aH at {ghz}");
            assert!((ALPHA_VERTICAL.at(x) - av).abs() < 2e-4, "aV at {ghz}");
        }
    }

    #[test]
    fn the_worst_weather_costs_less_than_a_display_digit() {
        assert!(worst_loss(Megahertz(2437.0), Metres(2000.0)).unwrap().0 < 0.1);
        assert_eq!(gas_db_per_km(Megahertz(60_000.0), 7.5), None);
        assert_eq!(rain_db_per_km(Megahertz(2437.0), -1.0, Polarisation::Slant), None);
    }
}
