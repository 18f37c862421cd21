//! Shadowing: what buildings, hedges and hollows add or take, alike at neighbouring places.

use std::collections::HashMap;
use std::f64::consts::TAU;

use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

use super::place::Place;
use super::seeds::{Purpose, stream};

/// A zero-mean Gaussian field in decibels over the plane, with covariance `sd^2 exp(-r / reach)`.
///
/// The exponential covariance is Gudmundson's (1991, Electron. Lett. 27:2145). The field is a sum of cosines whose wave
/// vectors are drawn from the covariance's own spectrum, in the plane a Cauchy distribution (Matern 1960), so it can be
/// read anywhere without a grid. Between lattice points [`LATTICE`] metres apart it is read bilinearly: that is the
/// field, for the truth as for the gear.
#[derive(Clone, Debug)]
pub struct Shadow {
    waves: Vec<Wave>,
}

/// One cosine of a field.
#[derive(Clone, Copy, Debug)]
struct Wave {
    /// Wave vector, radians a metre.
    east: f64,
    north: f64,
    phase: f64,
    /// Decibels.
    amplitude: f64,
}

/// How a field of shadows is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShadowParams {
    /// Standard deviation, dB; 0 for none.
    pub sd: f64,
    /// Distance at which the correlation has fallen to 1/e, metres.
    pub reach: f64,
}

/// Lattice spacing, metres: a twentieth of the usual reach, so that the reading between points loses some 2 % of the
/// variance.
pub const LATTICE: f64 = 0.5;

/// Cosines in a field: with this many the sum is Gaussian to the eye of a test with a thousand places.
const WAVES: usize = 128;

/// A cosine and a sine for each wave: all that one row or column of the lattice needs.
type Phasors = Vec<(f64, f64)>;

impl Shadow {
    /// The field that belongs to a seed: the sum of one field for each of `parts`.
    pub fn new(parts: &[ShadowParams], seed: u64) -> Self {
        let mut random = stream(seed, Purpose::Shadow);
        let mut waves = Vec::with_capacity(parts.len() * WAVES);
        for part in parts {
            for _ in 0..WAVES {
                let [x, y, z]: [f64; 3] = std::array::from_fn(|_| StandardNormal.sample(&mut random));
                // A tiny divisor is a wave far shorter than the lattice: held at one radian a millimetre.
                let scale = 1.0 / (z.abs().max(1e-6) * part.reach.max(1e-3));
                waves.push(Wave {
                    east: (x * scale).clamp(-1000.0, 1000.0),
                    north: (y * scale).clamp(-1000.0, 1000.0),
                    phase: random.random_range(0.0..TAU),
                    amplitude: part.sd * (2.0 / WAVES as f64).sqrt(),
                });
            }
        }
        Self { waves }
    }

    /// Decibels above the mean at a place.
    pub fn at(&self, place: Place) -> f64 {
        Remembered::default().at(self, place)
    }

    /// Amplitude, and cosine and sine of the phase, along a column of the lattice.
    fn column(&self, east: i32) -> Phasors {
        let x = f64::from(east) * LATTICE;
        let of = |wave: &Wave| {
            let (sin, cos) = (wave.east * x + wave.phase).sin_cos();
            (wave.amplitude * cos, wave.amplitude * sin)
        };
        self.waves.iter().map(of).collect()
    }

    fn row(&self, north: i32) -> Phasors {
        let y = f64::from(north) * LATTICE;
        let of = |wave: &Wave| {
            let (sin, cos) = (wave.north * y).sin_cos();
            (cos, sin)
        };
        self.waves.iter().map(of).collect()
    }
}

/// Remembers what a field has computed: the same values, quicker along a walk.
#[derive(Clone, Debug, Default)]
pub struct Remembered {
    columns: HashMap<i32, Phasors>,
    rows: HashMap<i32, Phasors>,
    nodes: HashMap<(i32, i32), f64>,
}

impl Remembered {
    /// Decibels above the mean at a place; equal to [`Shadow::at`].
    pub fn at(&mut self, field: &Shadow, place: Place) -> f64 {
        // A thousand kilometres out the field goes on as its edge, so that every place has a finite reading.
        let (x, y) = (
            place.east.clamp(-1e6, 1e6) / LATTICE,
            place.north.clamp(-1e6, 1e6) / LATTICE,
        );
        let (i, j) = (x.floor() as i32, y.floor() as i32);
        let (u, v) = (x - x.floor(), y - y.floor());
        let south = (1.0 - u) * self.node(field, i, j) + u * self.node(field, i + 1, j);
        let north = (1.0 - u) * self.node(field, i, j + 1) + u * self.node(field, i + 1, j + 1);
        (1.0 - v) * south + v * north
    }

    fn node(&mut self, field: &Shadow, east: i32, north: i32) -> f64 {
        if let Some(known) = self.nodes.get(&(east, north)) {
            return *known;
        }
        let column = self.columns.entry(east).or_insert_with(|| field.column(east));
        let row = self.rows.entry(north).or_insert_with(|| field.row(north));
        // The cosine of a sum of phases, by the product of their phasors.
        let value = column.iter().zip(row).map(|(a, b)| a.0 * b.0 - a.1 * b.1).sum();
        self.nodes.insert((east, north), value);
        value
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PART: ShadowParams = ShadowParams { sd: 4.0, reach: 10.0 };

    #[test]
    fn spread_and_correlation_are_those_asked_for() {
        // Fields of many seeds at the same places: an average over worlds, where one world has no sampling theory.
        let worlds = 3000;
        let (mut sum, mut squares) = (0.0, 0.0);
        let gaps = [2.0, 5.0, 10.0, 20.0, 40.0];
        let mut products = [0.0; 5];
        for seed in 0..worlds {
            let field = Shadow::new(&[PART], seed);
            let origin = Place::new(50.0, 20.0);
            let here = field.at(origin);
            sum += here;
            squares += here * here;
            for (product, gap) in products.iter_mut().zip(gaps) {
                *product += here * field.at(origin.beside(gap, 30.0));
            }
        }
        let n = worlds as f64;
        assert!((sum / n).abs() < 4.0 * 4.0 / n.sqrt(), "mean {}", sum / n);
        // Standard error of the variance of n normals: sd^2 sqrt(2/n) = 0.41; the lattice takes up to 3 %.
        let variance = squares / n;
        assert!((14.2..17.3).contains(&variance), "variance {variance}");
        for (product, gap) in products.iter().zip(gaps) {
            let found = product / n / variance;
            let wanted = (-gap / 10.0_f64).exp();
            assert!((found - wanted).abs() < 0.08, "at {gap} m: {found} for {wanted}");
        }
    }

    #[test]
    fn remembering_changes_nothing() {
        let field = Shadow::new(&[PART, ShadowParams { sd: 2.0, reach: 40.0 }], 3);
        let mut remembered = Remembered::default();
        for step in 0..200 {
            let place = Place::new(0.37 * f64::from(step), -0.11 * f64::from(step));
            assert_eq!(field.at(place), remembered.at(&field, place));
        }
        assert!(field.at(Place::new(1e18, f64::MAX)).is_finite());
    }
}
