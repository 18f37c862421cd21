//! How received power scatters about its local mean: Rician fading in dB on a grid.
//!
//! Rice 1945, Bell System Technical Journal 24:46-156.

use crate::stats::special::bessel_i0_scaled;

/// The fade, in dB of K, that stands for Rayleigh (no steady part).
pub const RAYLEIGH_K_DB: f64 = -20.0;

/// Step of levels and fades, dB.
pub const LEVEL_STEP_DB: f64 = 0.25;
/// Deepest fade of the grid, dB about the mean power.
pub const FADE_MIN_DB: f64 = -40.0;
/// Number of fades on the grid.
pub const FADES: usize = 209;

/// Returns the masses of a Rician fade at -40 (0.25) +12 dB about its mean power, summing to 1.
///
/// `k_db` is steady over scattered power in dB, -20 for Rayleigh, taken into -60 to 40. `spread_db` >= 0 adds a Gaussian
/// spread of that standard deviation (shadowing that changes within a cell); up to 0.2 dB it is left out, above 40 dB it is
/// taken as 40.
pub fn fade_masses(k_db: f64, spread_db: f64) -> Vec<f64> {
    let k_db = k_db.clamp(-60.0, 40.0);
    let spread_db = spread_db.min(40.0);
    let k = 10_f64.powf(k_db / 10.0);
    let mut masses: Vec<f64> = (0..FADES)
        .map(|i| {
            let power = 10_f64.powf((FADE_MIN_DB + LEVEL_STEP_DB * i as f64) / 10.0);
            let z = 2.0 * (k * (1.0 + k) * power).sqrt();
            (1.0 + k) * (-k - (1.0 + k) * power + z).exp() * bessel_i0_scaled(z) * power
        })
        .collect();
    let total: f64 = masses.iter().sum();
    for mass in &mut masses {
        *mass /= total;
    }
    if spread_db > 0.2 {
        spread(&masses, spread_db)
    } else {
        masses
    }
}

/// Convolves with a Gaussian; what would fall off an end is kept in the end's own mass.
fn spread(masses: &[f64], spread_db: f64) -> Vec<f64> {
    let reach = (3.5 * spread_db / LEVEL_STEP_DB).ceil() as i64;
    let mut kernel: Vec<f64> = (-reach..=reach)
        .map(|i| (-0.5 * (i as f64 * LEVEL_STEP_DB / spread_db).powi(2)).exp())
        .collect();
    let total: f64 = kernel.iter().sum();
    for weight in &mut kernel {
        *weight /= total;
    }
    let last = masses.len() as i64 - 1;
    let mut out = vec![0.0; masses.len()];
    for (i, mass) in masses.iter().enumerate() {
        for (shift, weight) in (-reach..=reach).zip(&kernel) {
            out[(i as i64 + shift).clamp(0, last) as usize] += mass * weight;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fade_masses_have_unit_sum_and_unit_mean_power() {
        for k_db in [RAYLEIGH_K_DB, 0.0, 6.0, 15.0, 25.0] {
            let masses = fade_masses(k_db, 0.0);
            let total: f64 = masses.iter().sum();
            let power: f64 = masses
                .iter()
                .enumerate()
                .map(|(i, m)| m * 10_f64.powf((FADE_MIN_DB + LEVEL_STEP_DB * i as f64) / 10.0))
                .sum();
            assert!((total - 1.0).abs() < 1e-12);
            assert!((power - 1.0).abs() < 2e-4, "K {k_db} dB: mean power {power}");
        }
        assert!((fade_masses(6.0, 3.0).iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn rayleigh_in_decibels() {
        // -2.5068 dB and 5.5700 dB for power without a steady part; the grid leaves out fades below -40 dB, one in 10,000.
        let masses = fade_masses(RAYLEIGH_K_DB, 0.0);
        let fade = |i: usize| FADE_MIN_DB + LEVEL_STEP_DB * i as f64;
        let mean: f64 = masses.iter().enumerate().map(|(i, m)| m * fade(i)).sum();
        let square: f64 = masses
            .iter()
            .enumerate()
            .map(|(i, m)| m * (fade(i) - mean).powi(2))
            .sum();
        assert!((mean + 2.5068).abs() < 0.006, "{mean}");
        assert!((square.sqrt() - 5.57).abs() < 0.025, "{}", square.sqrt());
    }
}
