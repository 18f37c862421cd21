//! Fast fading: many reflected waves add up differently every few centimetres.

use std::f64::consts::TAU;

use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

use super::place::Place;
use super::seeds::{Purpose, stream};

/// A Rician field: one wave straight from the station and many from all around (Rice 1945; Clarke 1968, BSTJ 47:957).
///
/// It is read at the aerial's true position, so it stands still when nobody moves, but for what the leaves stir: each
/// reflected wave's phase swings slowly by [`FadingParams::stir`].
#[derive(Clone, Debug)]
pub struct Fading {
    waves: Vec<Wave>,
    wave_number: f64,
    params: FadingParams,
}

/// How fast fading is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FadingParams {
    /// Power of the direct wave over all others together, dB, in the open.
    pub k_db: f64,
    /// How many dB of it each dB of foliage takes.
    pub k_per_foliage_db: f64,
    /// Amplitude of the phases' slow swing in the wind, radians; 0 for still air.
    pub stir: f64,
    /// Wavelength, metres.
    pub wavelength: f64,
}

#[derive(Clone, Copy, Debug)]
struct Wave {
    east: f64,
    north: f64,
    phase: f64,
    amplitude: f64,
    swing_per_second: f64,
    swing_phase: f64,
}

/// Reflected waves: enough that their sum is complex Gaussian to within a test's resolution.
const WAVES: usize = 28;

/// No reflection is so weak that the direct wave would be all there is, nor the reverse: limits of K, dB.
const K_LIMITS: (f64, f64) = (-20.0, 20.0);

impl Fading {
    /// The field that belongs to a seed.
    pub fn new(params: FadingParams, seed: u64) -> Self {
        let mut random = stream(seed, Purpose::Fading);
        let wave_number = TAU / params.wavelength;
        let mut waves: Vec<Wave> = (0..WAVES)
            .map(|_| {
                let (sin, cos) = random.random_range(0.0..TAU).sin_cos();
                let re: f64 = StandardNormal.sample(&mut random);
                let im: f64 = StandardNormal.sample(&mut random);
                Wave {
                    east: wave_number * sin,
                    north: wave_number * cos,
                    phase: random.random_range(0.0..TAU),
                    amplitude: re.hypot(im),
                    swing_per_second: TAU / random.random_range(1.5..6.0),
                    swing_phase: random.random_range(0.0..TAU),
                }
            })
            .collect();
        // Scaled so that the mean power of this very field is 0 dB: a drawn excess would be a hidden gain.
        let power: f64 = waves.iter().map(|wave| wave.amplitude.powi(2)).sum();
        for wave in &mut waves {
            wave.amplitude /= power.sqrt();
        }
        Self {
            waves,
            wave_number,
            params,
        }
    }

    /// K in decibels where foliage takes so many.
    pub fn k_db(&self, foliage_db: f64) -> f64 {
        (self.params.k_db - self.params.k_per_foliage_db * foliage_db).clamp(K_LIMITS.0, K_LIMITS.1)
    }

    /// Decibels above the local mean power, at a place and a time in seconds, for K in decibels.
    pub fn at(&self, place: Place, at_s: f64, k_db: f64) -> f64 {
        let k = 10_f64.powf(k_db / 10.0);
        let direct = (k / (1.0 + k)).sqrt();
        let scattered = (1.0 / (1.0 + k)).sqrt();
        let (mut im, mut re) = (self.wave_number * place.distance()).sin_cos();
        re *= direct;
        im *= direct;
        for wave in &self.waves {
            let mut phase = wave.east * place.east + wave.north * place.north + wave.phase;
            if self.params.stir > 0.0 {
                phase += self.params.stir * (wave.swing_per_second * at_s + wave.swing_phase).sin();
            }
            let (sin, cos) = phase.sin_cos();
            re += scattered * wave.amplitude * cos;
            im += scattered * wave.amplitude * sin;
        }
        // A dead spot is not infinitely deep: 1e-9 is 90 dB under the mean.
        10.0 * (re * re + im * im).max(1e-9).log10()
    }
}

/// Shares of the Rician distribution of power over steps in decibels above its mean: `(dB, share)`, shares add up to 1.
///
/// Density of the normalised power p (Rice 1945): `(1+K) exp(-K-(1+K)p) I0(2 sqrt(K(1+K)p))`. Valid for K from -20 to
/// +20 dB; the steps run from -45 to +12 dB by 0.1.
pub fn rician_shares(k_db: f64) -> Vec<(f64, f64)> {
    let k = 10_f64.powf(k_db.clamp(K_LIMITS.0, K_LIMITS.1) / 10.0);
    let mut shares: Vec<(f64, f64)> = (-450..=120)
        .map(|step| {
            let db = f64::from(step) / 10.0;
            let p = 10_f64.powf(db / 10.0);
            let argument = 2.0 * (k * (1.0 + k) * p).sqrt();
            // exp and I0 are joined before either can overflow; the factor p makes it a density over decibels.
            let density = (1.0 + k) * (-k - (1.0 + k) * p + argument).exp() * scaled_i0(argument) * p;
            (db, density)
        })
        .collect();
    let total: f64 = shares.iter().map(|(_, share)| share).sum();
    for (_, share) in &mut shares {
        *share /= total;
    }
    shares
}

/// `exp(-x) I0(x)` for x at or above 0: Abramowitz and Stegun (1964) 9.8.1 and 9.8.2, good to 2e-7.
fn scaled_i0(x: f64) -> f64 {
    let sum = |t: f64, terms: &[f64]| terms.iter().rev().fold(0.0, |sum, term| sum * t + term);
    if x < 3.75 {
        let t = (x / 3.75).powi(2);
        (-x).exp()
            * sum(
                t,
                &[
                    1.0,
                    3.515_622_9,
                    3.089_942_4,
                    1.206_749_2,
                    0.265_973_2,
                    0.036_076_8,
                    0.004_581_3,
                ],
            )
    } else {
        let t = 3.75 / x;
        sum(
            t,
            &[
                0.398_942_28,
                0.013_285_92,
                0.002_253_19,
                -0.001_575_65,
                0.009_162_81,
                -0.020_577_06,
                0.026_355_37,
                -0.016_476_33,
                0.003_923_77,
            ],
        ) / x.sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::propagation::fading::{outage, ratio};
    use crate::units::Db;

    fn still(k_db: f64) -> FadingParams {
        FadingParams {
            k_db,
            k_per_foliage_db: 0.0,
            stir: 0.0,
            wavelength: 0.123,
        }
    }

    /// K by moments: with the variance of power v over the squared mean, K = sqrt(1-v)/(1-sqrt(1-v)) (Abdi, Tepedelenlioglu,
    /// Kaveh and Giannakis 2001, IEEE Commun. Lett. 5:92).
    #[test]
    fn the_field_has_the_k_asked_for() {
        for k_db in [0.0, 4.0, 8.0] {
            let (mut n, mut sum, mut squares) = (0.0, 0.0, 0.0);
            for seed in 0..60 {
                let fading = Fading::new(still(k_db), seed);
                for step in 0..400 {
                    let place = Place::new(40.0 + 0.19 * f64::from(step), 3.0 + 0.07 * f64::from(step));
                    let p = 10_f64.powf(fading.at(place, 0.0, k_db) / 10.0);
                    n += 1.0;
                    sum += p;
                    squares += p * p;
                }
            }
            let mean = sum / n;
            let v = squares / n / (mean * mean) - 1.0;
            let root = (1.0 - v).max(0.0).sqrt();
            let found = 10.0 * (root / (1.0 - root)).log10();
            assert!((mean - 1.0).abs() < 0.03, "mean power {mean}");
            assert!((found - k_db).abs() < 1.0, "K {found} dB for {k_db}");
        }
    }

    #[test]
    fn it_stands_still_when_nobody_moves_and_changes_within_half_a_wavelength() {
        let fading = Fading::new(still(0.0), 5);
        let place = Place::new(60.0, 12.0);
        assert_eq!(fading.at(place, 0.0, 0.0), fading.at(place, 90.0, 0.0));
        let moved: Vec<f64> = (0..10)
            .map(|step| fading.at(place.beside(0.0615 * f64::from(step), 100.0), 0.0, 0.0))
            .collect();
        let low = moved.iter().copied().fold(f64::INFINITY, f64::min);
        let high = moved.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        assert!(high - low > 3.0, "{moved:?}");
        let wind = Fading::new(
            FadingParams {
                stir: 0.2,
                ..still(0.0)
            },
            5,
        );
        assert_ne!(wind.at(place, 0.0, 0.0), wind.at(place, 2.0, 0.0));
    }

    #[test]
    fn shares_match_published_rayleigh_depths() {
        // Rayleigh, Rec. ITU-R P.1057-7 (2022): 10 % of places lie 9.7732 dB below the mean, 1 % 19.978 dB (that is
        // -10 log10(-ln(1-q))).
        let shares = rician_shares(-20.0);
        let below = |db: f64| {
            shares
                .iter()
                .filter(|(x, _)| *x < db)
                .map(|(_, share)| share)
                .sum::<f64>()
        };
        assert!((below(-9.7732) - 0.10).abs() < 0.002, "{}", below(-9.7732));
        assert!((below(-19.978) - 0.01).abs() < 0.0005, "{}", below(-19.978));
        // The instrument's own Rice distribution, which is computed another way; asked at the steps' edges.
        for (k_db, margin) in [(0.0, 10.05), (6.0, 8.05), (12.0, 4.05)] {
            let planned = outage(ratio(Db(k_db)), Db(margin)).unwrap();
            let found: f64 = rician_shares(k_db)
                .iter()
                .filter(|(x, _)| *x < -margin)
                .map(|(_, share)| share)
                .sum();
            assert!((found / planned - 1.0).abs() < 0.002, "K {k_db}: {found} for {planned}");
        }
        for k_db in [-20.0, 0.0, 6.0, 15.0, 20.0] {
            let mean: f64 = rician_shares(k_db)
                .iter()
                .map(|(db, share)| 10_f64.powf(db / 10.0) * share)
                .sum();
            assert!((mean - 1.0).abs() < 1e-3, "K {k_db}: {mean}");
        }
    }

    #[test]
    fn the_bessel_function_matches_its_table() {
        // Abramowitz and Stegun (1964) table 9.8: e^-x I0(x) is 0.4657596077 at 1, 0.1835408126 at 5, 0.1278333372 at 10.
        for (x, wanted) in [
            (0.0, 1.0),
            (1.0, 0.465_759_608),
            (5.0, 0.183_540_813),
            (10.0, 0.127_833_337),
        ] {
            assert!((scaled_i0(x) - wanted).abs() < 3e-7, "{x}");
        }
    }
}
