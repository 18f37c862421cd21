//! How strongly a board radiates towards the station as it is turned.

/// How a board is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Pose {
    /// Board level, parts up.
    Flat,
    /// Board standing on its short side.
    Upright,
    /// Board standing on its long side.
    Edge,
}

impl Pose {
    /// All poses, in the order of a board's patterns.
    pub const ALL: [Self; 3] = [Self::Flat, Self::Upright, Self::Edge];

    /// The word a surveyor's record has for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Flat => "flat",
            Self::Upright => "upright",
            Self::Edge => "edge",
        }
    }
}

/// A gain by turn: the turn is the angle of the board's mark from the direction to the station, degrees, clockwise seen
/// from above.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    /// Strongest gain, dBi, losses in the board included.
    pub peak: f64,
    /// Turn of the strongest gain, degrees.
    pub towards: f64,
    /// The form round that direction.
    pub shape: Shape,
}

/// The form of a pattern, `a` being the angle from the strongest direction.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Alike all round.
    Round,
    /// One broad lobe: `-depth (1 - cos a) / 2`.
    OneLobe {
        /// Peak to weakest, dB.
        depth: f64,
    },
    /// Two lobes back to back: `-depth (1 - cos 2a) / 2`.
    TwoLobes {
        /// Peak to weakest, dB.
        depth: f64,
    },
    /// A short dipole seen broadside, with what leaks across: `10 log10(cos^2 a + floor sin^2 a)` (Balanis 2016,
    /// chapter 4; the floor is common practice for a board's stray radiation). Two sharp nulls.
    SharpNulls {
        /// Peak to null, dB.
        depth: f64,
    },
    /// A sum of harmonics, `sum amplitude_k cos(k a - phase_k)`, amplitudes in dB and phases in degrees, from k = 1;
    /// here `peak` is the mean of the gain in dB.
    Harmonics(Vec<(f64, f64)>),
}

impl Pattern {
    /// A pattern alike all round, of a gain in dBi.
    pub const fn round(peak: f64) -> Self {
        Self {
            peak,
            towards: 0.0,
            shape: Shape::Round,
        }
    }

    /// Gain in dBi at a turn in degrees.
    pub fn gain(&self, turn: f64) -> f64 {
        let a = (turn - self.towards).to_radians();
        self.peak
            + match &self.shape {
                Shape::Round => 0.0,
                Shape::OneLobe { depth } => -depth * (1.0 - a.cos()) / 2.0,
                Shape::TwoLobes { depth } => -depth * (1.0 - (2.0 * a).cos()) / 2.0,
                Shape::SharpNulls { depth } => {
                    let floor = 10_f64.powf(-depth / 10.0);
                    10.0 * (a.cos().powi(2) + floor * a.sin().powi(2)).log10()
                }
                Shape::Harmonics(terms) => terms
                    .iter()
                    .zip(1_u32..)
                    .map(|((amplitude, phase), k)| amplitude * (f64::from(k) * a - phase.to_radians()).cos())
                    .sum(),
            }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(shape: Shape) -> Pattern {
        Pattern {
            peak: 1.5,
            towards: 40.0,
            shape,
        }
    }

    #[test]
    fn each_shape_has_its_peak_and_its_depth_where_it_says() {
        assert_eq!(Pattern::round(-2.0).gain(123.0), -2.0);
        let one = of(Shape::OneLobe { depth: 10.0 });
        assert!((one.gain(40.0) - 1.5).abs() < 1e-12 && (one.gain(220.0) + 8.5).abs() < 1e-12);
        let two = of(Shape::TwoLobes { depth: 9.0 });
        assert!((two.gain(220.0) - 1.5).abs() < 1e-12 && (two.gain(130.0) + 7.5).abs() < 1e-12);
        let nulls = of(Shape::SharpNulls { depth: 22.0 });
        assert!((nulls.gain(-140.0) - 1.5).abs() < 1e-9 && (nulls.gain(310.0) + 20.5).abs() < 1e-9);
        // Half power of cos^2 lies 45 degrees off, a little more with a floor.
        assert!((nulls.gain(85.0) - 1.5 + 3.0).abs() < 0.05);
        let harmonics = of(Shape::Harmonics(vec![(3.0, 0.0), (1.0, 180.0)]));
        assert!((harmonics.gain(40.0) - 3.5).abs() < 1e-12);
    }
}
