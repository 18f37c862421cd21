//! A simulated place to walk in: path loss, correlated shadowing, fading at true positions, bursts of interference, a
//! drifting GPS.
//!
//! Metres, dBm, ten exchanges a second at 1 m/s. The misfit of a world breaks what the fit assumes.

use farpace::stats::cells::{Heard, fade_masses};
use farpace::stats::walk::binning::WalkSample;
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;
use std::f64::consts::TAU;

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Path {
    Straight,
    OutAndBack,
    Zigzag,
    PassingBy,
}

#[derive(Clone, Copy, Debug)]
pub struct World {
    /// Mean level at 1 m, dBm.
    pub near_dbm: f64,
    pub n: f64,
    pub sigma_db: f64,
    pub delta_m: f64,
    pub k_db: f64,
    pub m_dbm: f64,
    pub s_db: f64,
    pub interference: f64,
    pub gps_sd_m: f64,
    pub path: Path,
    pub length_m: f64,
    /// Fading that changes every 20 m, interference in patches, shadowing on two scales.
    pub misfit: bool,
}

pub const EXAMPLE: World = World {
    near_dbm: -32.0,
    n: 2.7,
    sigma_db: 5.0,
    delta_m: 10.0,
    k_db: 6.0,
    m_dbm: -92.0,
    s_db: 1.0,
    interference: 0.02,
    gps_sd_m: 3.0,
    path: Path::Straight,
    length_m: 220.0,
    misfit: false,
};

/// Standard deviation over 20 m stretches of K in a misfit world, dB.
const K_SD_DB: f64 = 3.0;

impl World {
    /// A world drawn from `seed`, its walk long enough to reach a delivery of one half at least half of the time.
    pub fn drawn(seed: u64, misfit: bool) -> Self {
        let mut rng = Pcg64::seed_from_u64(seed);
        let mut between = |low: f64, high: f64| low + (high - low) * rng.random::<f64>();
        let mut world = Self {
            near_dbm: between(-44.0, -30.0),
            n: between(2.0, 3.8),
            sigma_db: between(3.0, 8.0),
            delta_m: between(5.0, 20.0),
            k_db: between(-3.0, 11.0),
            m_dbm: between(-97.0, -86.0),
            s_db: between(0.6, 1.8),
            interference: between(0.0, 0.08),
            gps_sd_m: between(1.5, 4.5),
            path: Path::Straight,
            length_m: 0.0,
            misfit,
        };
        world.path = [Path::Straight, Path::OutAndBack, Path::Zigzag, Path::PassingBy][between(0.0, 4.0) as usize % 4];
        let half = 10_f64.powf(world.log10_range(0.5));
        world.length_m = (half * between(0.6, 2.0)).clamp(60.0, 600.0);
        world
    }

    /// log10 of the distance in metres at which delivery, averaged over shadowing and fading and without interference,
    /// is `p`.
    pub fn log10_range(&self, p: f64) -> f64 {
        let fades: Vec<Vec<f64>> = if self.misfit {
            (-4..=4)
                .map(|i| fade_masses((self.k_db + K_SD_DB * 0.5 * f64::from(i)).clamp(-10.0, 15.0), 0.0))
                .collect()
        } else {
            vec![fade_masses(self.k_db, 0.0)]
        };
        let shares: Vec<f64> = if self.misfit {
            let raw: Vec<f64> = (-4..=4).map(|i| (-0.5 * (0.5 * f64::from(i)).powi(2)).exp()).collect();
            let total: f64 = raw.iter().sum();
            raw.iter().map(|r| r / total).collect()
        } else {
            vec![1.0]
        };
        let spread: Vec<(f64, f64)> = (-40..=40)
            .map(|i| {
                let z = 0.1 * f64::from(i);
                (self.sigma_db * z, 0.1 * (-0.5 * z * z).exp() / TAU.sqrt())
            })
            .collect();
        let mut mix = vec![0.0; fades[0].len()];
        for (fade, share) in fades.iter().zip(&shares) {
            for (m, f) in mix.iter_mut().zip(fade) {
                *m += share * f;
            }
        }
        let delivery = |mean: f64| {
            let mut total = 0.0;
            for (shadow, w) in &spread {
                for (i, f) in mix.iter().enumerate() {
                    let level = mean + shadow - 40.0 + 0.25 * i as f64;
                    total += w * f / (1.0 + (-(level - self.m_dbm) / self.s_db).exp());
                }
            }
            total
        };
        let (mut low, mut high) = (self.m_dbm - 30.0, self.m_dbm + 80.0);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if delivery(middle) < p {
                low = middle;
            } else {
                high = middle;
            }
        }
        (self.near_dbm - 0.5 * (low + high)) / (10.0 * self.n)
    }

    /// Walks through it.
    pub fn walk(&self, seed: u64) -> Vec<WalkSample> {
        let mut rng = Pcg64::seed_from_u64(seed ^ 0x9e37_79b9_7f4a_7c15);
        let places = self.places();
        let shadow = self.shadowing(&mut rng, &places);
        let fade = self.fading(&mut rng, &places);
        let hit = self.interfered(&mut rng, &places);
        let east = drift(&mut rng, places.len(), self.gps_sd_m);
        let north = drift(&mut rng, places.len(), self.gps_sd_m);
        (0..places.len())
            .map(|i| {
                let (x, y) = places[i];
                let distance = x.hypot(y).max(1.0);
                let level = self.near_dbm - 10.0 * self.n * distance.log10() + shadow[i] + fade[i];
                let detected = rng.random::<f64>() < 1.0 / (1.0 + (-(level - self.m_dbm) / self.s_db).exp());
                let read = level + normal(&mut rng);
                WalkSample {
                    east_m: x + east[i],
                    north_m: y + north[i],
                    heard: if detected && !hit[i] {
                        Heard::At(read.round() as i32)
                    } else {
                        Heard::Lost
                    },
                }
            })
            .collect()
    }

    fn places(&self) -> Vec<(f64, f64)> {
        let steps = (self.length_m / 0.1) as usize;
        let out = |i: usize| 8.0 + 0.1 * i as f64;
        match self.path {
            Path::Straight => (0..steps).map(|i| (out(i), 0.0)).collect(),
            Path::OutAndBack => (0..steps).chain((0..steps).rev()).map(|i| (out(i), 0.0)).collect(),
            Path::Zigzag => (0..steps * 5 / 3)
                .map(|i| 8.0 + 0.06 * i as f64)
                .map(|x| (x, 25.0 * (x / 30.0).sin()))
                .collect(),
            Path::PassingBy => (0..2 * steps).map(|i| (0.1 * i as f64 - self.length_m, 30.0)).collect(),
        }
    }

    /// A Gaussian field with correlation exp(-r / delta), from 600 plane waves, looked up every half metre.
    fn shadowing(&self, rng: &mut Pcg64, places: &[(f64, f64)]) -> Vec<f64> {
        let scales: &[(f64, f64)] = if self.misfit {
            &[(0.7, 1.0), (0.3, 4.0)]
        } else {
            &[(1.0, 1.0)]
        };
        let mut out = vec![0.0; places.len()];
        for &(share, longer) in scales {
            const WAVES: usize = 600;
            let waves: Vec<(f64, f64, f64)> = (0..WAVES)
                .map(|_| {
                    let c = normal(rng).abs() * self.delta_m * longer;
                    (normal(rng) / c, normal(rng) / c, TAU * rng.random::<f64>())
                })
                .collect();
            let amplitude = self.sigma_db * share.sqrt() * (2.0 / WAVES as f64).sqrt();
            let at =
                |(x, y): (f64, f64)| amplitude * waves.iter().map(|w| (x * w.0 + y * w.1 + w.2).cos()).sum::<f64>();
            let knots: Vec<f64> = places.iter().step_by(5).map(|&p| at(p)).collect();
            for (i, o) in out.iter_mut().enumerate() {
                let (a, b) = (knots[i / 5], knots[(i / 5 + 1).min(knots.len() - 1)]);
                *o += a + (b - a) * (i % 5) as f64 / 5.0;
            }
        }
        out
    }

    /// Rician power over its mean, dB: one steady wave and 40 from all around, wavelength 12.5 cm.
    fn fading(&self, rng: &mut Pcg64, places: &[(f64, f64)]) -> Vec<f64> {
        const WAVES: usize = 40;
        let mut waves: Vec<(f64, f64, f64, f64)> = (0..WAVES)
            .map(|_| {
                let angle = TAU * rng.random::<f64>();
                let size = normal(rng).hypot(normal(rng));
                (angle.cos(), angle.sin(), TAU * rng.random::<f64>(), size)
            })
            .collect();
        let power: f64 = waves.iter().map(|w| w.3 * w.3).sum();
        for wave in &mut waves {
            wave.3 /= power.sqrt();
        }
        let (angle, phase) = (TAU * rng.random::<f64>(), TAU * rng.random::<f64>());
        let stretches: Vec<f64> = (0..=places.len() / 200)
            .map(|_| {
                if self.misfit {
                    (self.k_db + K_SD_DB * normal(rng)).clamp(-10.0, 15.0)
                } else {
                    self.k_db
                }
            })
            .collect();
        let number = TAU / 0.125;
        places
            .iter()
            .enumerate()
            .map(|(i, &(x, y))| {
                let k = 10_f64.powf(stretches[i / 200] / 10.0);
                let (steady, scattered) = ((k / (1.0 + k)).sqrt(), (1.0 / (1.0 + k)).sqrt());
                let (sin, cos) = (number * (x * angle.cos() + y * angle.sin()) + phase).sin_cos();
                let (mut re, mut im) = (steady * cos, steady * sin);
                for &(c, s, phase, size) in &waves {
                    let (sin, cos) = (number * (x * c + y * s) + phase).sin_cos();
                    re += scattered * size * cos;
                    im += scattered * size * sin;
                }
                10.0 * (re * re + im * im + 1e-12).log10()
            })
            .collect()
    }

    /// Bursts of five exchanges on average that lose 90 in 100 (E. N. Gilbert 1960, Bell System Technical Journal 39).
    fn interfered(&self, rng: &mut Pcg64, places: &[(f64, f64)]) -> Vec<bool> {
        let mut bad = rng.random::<f64>() < self.interference / 0.9;
        let mut patch = 1.0;
        (0..places.len())
            .map(|i| {
                if self.misfit && i % 400 == 0 {
                    patch = if rng.random::<f64>() < 0.4 { 2.5 } else { 0.0 };
                }
                let share = (self.interference * patch / 0.9).min(0.9);
                let turn = if bad { 0.2 } else { share / (1.0 - share) * 0.2 };
                if rng.random::<f64>() < turn {
                    bad = !bad;
                }
                bad && rng.random::<f64>() < 0.9
            })
            .collect()
    }
}

fn normal(rng: &mut Pcg64) -> f64 {
    StandardNormal.sample(rng)
}

/// First-order Markov position error with a time constant of 60 s.
fn drift(rng: &mut Pcg64, n: usize, sd: f64) -> Vec<f64> {
    let a = (-0.1_f64 / 60.0).exp();
    let mut now = sd * normal(rng);
    (0..n)
        .map(|i| {
            if i > 0 {
                now = a * now + sd * (1.0 - a * a).sqrt() * normal(rng);
            }
            now
        })
        .collect()
}
