//! The mean loss between station and board: what distance and trees take, before anything is left to chance.

use nalgebra::Complex;

use super::place::Place;

/// The mean loss of the path in decibels, both aerials' gains aside.
#[derive(Clone, Debug, PartialEq)]
pub enum Law {
    /// A single slope: `loss(1 m) + 10 exponent log10(d)`.
    LogDistance {
        /// Loss at one metre, dB.
        loss_1m: f64,
        /// Path-loss exponent: 2 in free space.
        exponent: f64,
    },
    /// Two slopes that meet at a bend.
    TwoSlope {
        /// Loss at one metre, dB.
        loss_1m: f64,
        /// Exponent up to the bend.
        near: f64,
        /// Exponent beyond it.
        far: f64,
        /// Distance of the bend, metres.
        bend: f64,
    },
    /// An orchard: the direct wave and the one off the grass, and rows of trees in the way.
    Orchard(Orchard),
}

/// Level ground with rows of trees that run east and west.
#[derive(Clone, Debug, PartialEq)]
pub struct Orchard {
    /// Wavelength, metres.
    pub wavelength: f64,
    /// Station's aerial above the ground, metres.
    pub station_height: f64,
    /// Board above the ground, metres.
    pub board_height: f64,
    /// Relative permittivity of the ground.
    pub permittivity: f64,
    /// Conductivity of the ground, S/m.
    pub conductivity: f64,
    /// Root-mean-square height of the grass, metres: what scatters instead of reflecting.
    pub roughness: f64,
    /// The trees.
    pub rows: Rows,
}

/// Rows of trees, all alike, along the east axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Rows {
    /// North coordinate of one row, metres.
    pub anchor: f64,
    /// From row to row, metres.
    pub spacing: f64,
    /// Width of a row's crowns, metres; below the spacing.
    pub width: f64,
    /// Height of the crowns, metres.
    pub height: f64,
    /// East coordinates of both ends, metres.
    pub from_east: f64,
    /// See `from_east`.
    pub to_east: f64,
    /// How dense they are against full foliage, 0 to 1.
    pub density: f64,
}

/// Nearer than this many metres the far-field formulas mean nothing, so the loss stops falling.
const NEAREST: f64 = 1.0;

impl Law {
    /// Loss in decibels at a place, positive, finite everywhere.
    pub fn loss(&self, place: Place) -> f64 {
        let d = place.distance().max(NEAREST);
        match self {
            Self::LogDistance { loss_1m, exponent } => loss_1m + 10.0 * exponent * d.log10(),
            Self::TwoSlope {
                loss_1m,
                near,
                far,
                bend,
            } => loss_1m + 10.0 * near * d.min(*bend).log10() + 10.0 * far * (d / bend).max(1.0).log10(),
            Self::Orchard(orchard) => orchard.two_ray_loss(d) + orchard.foliage_loss(place),
        }
    }

    /// What trees take of it, decibels; 0 where the law has none.
    pub fn foliage_loss(&self, place: Place) -> f64 {
        match self {
            Self::Orchard(orchard) => orchard.foliage_loss(place),
            Self::LogDistance { .. } | Self::TwoSlope { .. } => 0.0,
        }
    }
}

impl Orchard {
    /// Loss over `d` metres of ground by the direct wave and the one reflected, decibels.
    ///
    /// Free space (Friis 1946) for the direct wave; Fresnel's coefficient for vertical polarisation with the complex
    /// permittivity `eps - j 60 sigma lambda` (Jordan and Balmain 1968, chapter 16; from memory), lowered by Ament's
    /// factor for a rough surface, `exp(-2 (2 pi h sin(theta) / lambda)^2)` (Ament 1953, Proc. IRE 41:142).
    pub fn two_ray_loss(&self, d: f64) -> f64 {
        let d = d.max(NEAREST);
        let direct = d.hypot(self.station_height - self.board_height);
        let reflected = d.hypot(self.station_height + self.board_height);
        let sin = (self.station_height + self.board_height) / reflected;
        let wave_number = std::f64::consts::TAU / self.wavelength;
        let eps = Complex::new(self.permittivity, -60.0 * self.conductivity * self.wavelength);
        let root = (eps - (1.0 - sin * sin)).sqrt();
        let fresnel = (eps * sin - root) / (eps * sin + root);
        let rough = (-2.0 * (wave_number * self.roughness * sin).powi(2)).exp();
        let phase = Complex::from_polar(1.0, -wave_number * (reflected - direct));
        let field = Complex::new(1.0, 0.0) / direct + fresnel * rough * phase / reflected;
        // A perfect cancellation has no logarithm; 1e-9 is 180 dB below the direct wave at one metre.
        20.0 * (2.0 * wave_number).log10() - 20.0 * field.norm().max(1e-9).log10()
    }

    /// Loss in the crowns the path goes through, decibels.
    ///
    /// Weissberger's modified exponential decay (1982, ESD-TR-81-101; from memory), f in GHz and depth in metres:
    /// `0.45 f^0.284 depth` up to 14 m, `1.33 f^0.284 depth^0.588` up to 400 m; scaled by the rows' density.
    pub fn foliage_loss(&self, place: Place) -> f64 {
        let depth = self.depth(place).min(400.0);
        let f = (299.792_458e-3 / self.wavelength).powf(0.284);
        let full = if depth < 14.0 {
            0.45 * f * depth
        } else {
            1.33 * f * depth.powf(0.588)
        };
        self.rows.density * full
    }

    /// Metres of the straight path that lie inside crowns: only where it runs lower than the tree tops.
    fn depth(&self, place: Place) -> f64 {
        let rows = &self.rows;
        if rows.height <= self.board_height {
            return 0.0;
        }
        let low = ((rows.height - self.board_height) / (self.station_height - self.board_height).max(1e-6)).min(1.0);
        let from = Place::default().towards(place, 1.0 - low);
        let path = from.distance_to(place);
        let (west, east) = (from.east.min(place.east), from.east.max(place.east));
        let planted = if east - west > 1e-9 {
            ((east.min(rows.to_east) - west.max(rows.from_east)) / (east - west)).max(0.0)
        } else if (rows.from_east..=rows.to_east).contains(&place.east) {
            1.0
        } else {
            0.0
        };
        planted * path * rows.occupied_share(from.north, place.north)
    }
}

impl Rows {
    /// The share of a walk from one north coordinate to another that lies inside crowns.
    fn occupied_share(&self, one: f64, other: f64) -> f64 {
        let (south, north) = (one.min(other), one.max(other));
        if north - south < 1e-6 {
            let off = (south - self.anchor + self.spacing / 2.0).rem_euclid(self.spacing) - self.spacing / 2.0;
            return if off.abs() < self.width / 2.0 { 1.0 } else { 0.0 };
        }
        (self.occupied_below(north) - self.occupied_below(south)) / (north - south)
    }

    /// Metres inside crowns between the south edge of the anchor row and `north`, negative further south.
    fn occupied_below(&self, north: f64) -> f64 {
        let u = (north - self.anchor + self.width / 2.0) / self.spacing;
        u.floor() * self.width + ((u - u.floor()) * self.spacing).min(self.width)
    }
}

#[cfg(test)]
mod tests {
    use super::super::orchard::larkfield_law;
    use super::*;
    use crate::propagation::{log_distance, two_ray, woodland};
    use crate::units::{Db, Megahertz, Metres};

    fn bare() -> Orchard {
        let Law::Orchard(orchard) = larkfield_law() else {
            panic!()
        };
        orchard
    }

    #[test]
    fn a_ground_that_scatters_everything_leaves_free_space() {
        let mut orchard = bare();
        orchard.roughness = 10.0;
        // Rec. ITU-R P.525-5 (2024): 2437 MHz over 100 m of slant path is 80.1849 dB.
        let along = (100.0_f64.powi(2) - 4.8_f64.powi(2)).sqrt();
        assert!((orchard.station_height - orchard.board_height - 4.8).abs() < 1e-9);
        assert!((orchard.two_ray_loss(along) - 80.1849).abs() < 1e-3);
    }

    #[test]
    fn far_out_the_two_waves_give_the_fourth_power_law() {
        let mut orchard = bare();
        orchard.roughness = 0.0;
        // Past the break the loss is 40 log10 d - 20 log10(h1 h2) (plane-earth law, Bullington 1947).
        let d = 40_000.0;
        let plane = 40.0 * f64::log10(d) - 20.0 * (orchard.station_height * orchard.board_height).log10();
        assert!((orchard.two_ray_loss(d) - plane).abs() < 0.6);
        assert!(orchard.two_ray_loss(2.0 * d) - orchard.two_ray_loss(d) > 11.9);
    }

    #[test]
    fn near_in_the_loss_ripples_round_free_space() {
        let mut orchard = bare();
        orchard.roughness = 0.0;
        let free = |d: f64| 20.0 * (2.0 * std::f64::consts::TAU * d.hypot(4.8) / orchard.wavelength).log10();
        let over: Vec<f64> = (20..200)
            .map(|d| orchard.two_ray_loss(f64::from(d)) - free(f64::from(d)))
            .collect();
        assert!(over.iter().any(|x| *x > 3.0) && over.iter().any(|x| *x < -3.0));
        assert!(over.iter().all(|x| *x > -6.1));
    }

    #[test]
    fn it_agrees_with_the_formulas_the_instrument_plans_by() {
        let mut orchard = bare();
        orchard.roughness = 0.0;
        let (f, high, low) = (Megahertz(2437.0), Metres(6.0), Metres(1.2));
        // At grazing incidence any ground reflects with -1: the instrument's real coefficient is the limit of this one.
        for d in [6_000.0, 15_000.0] {
            let planned = two_ray::loss(f, high, low, Metres(d), two_ray::GRAZING).unwrap();
            assert!((orchard.two_ray_loss(d) - planned.0).abs() < 0.2, "{d} m");
        }
        orchard.rows.density = 1.0;
        for east in [60.0, 150.0, 300.0] {
            let place = Place::new(east, 40.0);
            let planned = woodland::weissberger(f, Metres(orchard.depth(place))).unwrap();
            assert!((orchard.foliage_loss(place) - planned.0).abs() < 1e-3, "{east} m");
        }
        let law = Law::LogDistance {
            loss_1m: 40.0,
            exponent: 2.7,
        };
        let planned = log_distance::loss(2.7, Db(40.0), Metres(1.0), Metres(85.0)).unwrap();
        assert!((law.loss(Place::out(85.0, 10.0)) - planned.0).abs() < 1e-9);
    }

    #[test]
    fn an_alley_is_clear_and_crossing_rows_costs() {
        let law = larkfield_law();
        assert_eq!(law.foliage_loss(Place::new(150.0, 0.0)), 0.0);
        let across = law.foliage_loss(Place::new(135.0, 24.0));
        assert!((4.0..16.0).contains(&across), "{across}");
        assert_eq!(law.foliage_loss(Place::new(8.0, 5.0)), 0.0);
    }

    #[test]
    fn crowns_are_counted_exactly() {
        let rows = bare().rows;
        let many = rows.occupied_share(-600.0, 600.0);
        assert!((many - rows.width / rows.spacing).abs() < 1e-9);
        assert_eq!(rows.occupied_share(rows.anchor - 0.1, rows.anchor + 0.1), 1.0);
    }

    #[test]
    fn slopes_meet_at_the_bend() {
        let law = Law::TwoSlope {
            loss_1m: 40.0,
            near: 2.0,
            far: 4.0,
            bend: 80.0,
        };
        let at = |d: f64| law.loss(Place::out(d, 30.0));
        assert!((at(80.0) - (40.0 + 20.0 * 80f64.log10())).abs() < 1e-9);
        assert!((at(160.0) - at(80.0) - 40.0 * 2f64.log10()).abs() < 1e-9);
        assert!(at(0.0).is_finite());
    }
}
