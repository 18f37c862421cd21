//! The field at a place, from the nearest records.

use super::cholesky::{backward, factor, forward};
use super::compass::Covariance;
use super::nearest::Neighbour;
use super::site::Site;
use super::trend::{Trend, dot};

/// Records a place is told from.
pub(super) const NEIGHBOURS: usize = 24;
/// The share of the field's variance that no record can take away.
const LEAST: f64 = 0.02;

/// Everything kriging reads, gathered once for many places.
#[derive(Debug)]
pub(super) struct Field<'a> {
    points: &'a [(f64, f64)],
    rows: &'a [[f64; 4]],
    trend: &'a Trend,
    residuals: Vec<f64>,
    noise: Vec<f64>,
    sill: f64,
    length: f64,
}

/// Level at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Kriged {
    /// Mean in dBm.
    pub mean: f64,
    /// Variance in dB², without nugget.
    pub variance: f64,
    /// The share of the field's variance that records explain, 0 to 1.
    pub resolved: f64,
}

/// The records around a place, their covariance factored.
#[derive(Debug)]
pub(super) struct Around {
    /// Upper factor of the records' covariance, padded with the unit matrix.
    pub upper: [[f64; NEIGHBOURS]; NEIGHBOURS],
}

impl<'a> Field<'a> {
    /// A field through `sites` at `points` with trend `rows`; `extra` is variance in dB² for unknown facings.
    pub(super) fn new(
        points: &'a [(f64, f64)],
        rows: &'a [[f64; 4]],
        sites: &[Site],
        extra: &[f64],
        covariance: &Covariance,
        trend: &'a Trend,
    ) -> Self {
        let nugget = covariance.nugget();
        Self {
            points,
            rows,
            trend,
            residuals: sites
                .iter()
                .zip(rows)
                .map(|(site, row)| site.level - trend.level(row))
                .collect(),
            noise: sites.iter().zip(extra).map(|(s, e)| s.variance + e + nugget).collect(),
            sill: covariance.sill(),
            length: covariance.length(),
        }
    }

    /// Covariance in dB² at `distance` metres.
    pub(super) fn covariance(&self, distance: f64) -> f64 {
        self.sill * (-distance / self.length).exp()
    }

    /// Factors the covariance of `near`.
    pub(super) fn around(&self, near: &[Neighbour]) -> Around {
        let mut upper = [[0.0; NEIGHBOURS]; NEIGHBOURS];
        for (a, row) in upper.iter_mut().enumerate() {
            let Some(own) = near.get(a) else {
                row[a] = 1.0;
                continue;
            };
            let (x, y) = self.points[own.index];
            row[a] = self.sill + self.noise[own.index];
            for (value, other) in row[a + 1..].iter_mut().zip(&near[a + 1..]) {
                let (dx, dy) = (self.points[other.index].0 - x, self.points[other.index].1 - y);
                *value = self.covariance((dx * dx + dy * dy).sqrt());
            }
        }
        factor(&mut upper);
        Around { upper }
    }

    /// The level for a trend `row` from the records `near`, whose distances are blurred by `blur` metres.
    ///
    /// Kriging with a location error (Cressie & Kornak 2003, Stat. Sci. 18:436-456): the blur stands for the position
    /// error that map and world do not share.
    pub(super) fn level(&self, row: &[f64; 4], near: &[Neighbour], blur: f64) -> Kriged {
        let near = &near[..near.len().min(NEIGHBOURS)];
        let around = self.around(near);
        let mut right = [0.0; NEIGHBOURS];
        for (value, neighbour) in right.iter_mut().zip(near) {
            *value = self.covariance((neighbour.distance * neighbour.distance + blur * blur).sqrt());
        }
        forward(&around.upper, &mut right);
        let explained: f64 = right.iter().map(|z| z * z).sum();
        backward(&around.upper, &mut right);
        let mut left = *row;
        let mut mean = dot(row, &self.trend.coefficients);
        for (weight, neighbour) in right.iter().zip(near) {
            mean += weight * self.residuals[neighbour.index];
            for (own, other) in left.iter_mut().zip(&self.rows[neighbour.index]) {
                *own -= weight * other;
            }
        }
        Kriged {
            mean,
            variance: (self.sill - explained).max(LEAST * self.sill) + self.trend.variance(&left),
            resolved: explained / self.sill,
        }
    }

    /// The variance in dB² left in the field itself where records explain `explained` dB².
    pub(super) fn left(&self, explained: f64) -> f64 {
        (self.sill - explained).max(LEAST * self.sill)
    }
}
