//! The fitted map: records, their sites, the covariance and the trend.

use super::caveat::{Caveat, caveats};
use super::compass::Covariance;
use super::goal::{Goal, Receiver, Threshold};
use super::hold_out::{HoldOut, hold_out};
use super::kriging::{Field, Kriged, NEIGHBOURS};
use super::nearest::{Nearest, Neighbour};
use super::need::{Need, Sensitivity};
use super::record::{Binned, Record};
use super::sensitivity::half_level;
use super::site::{Delivery, Site, moment_site};
use super::summary::{Summary, summarise};
use super::trend::{Trend, UNKNOWN_FACING, basis};
use super::vecchia::{CONDITIONED, Vecchia, residuals};

/// Fewest records that the covariance is fitted to; with fewer the prior stands.
pub(super) const FIT_FROM: usize = 10;
/// The most records that the covariance is fitted to.
const FIT_WITH: usize = 400;
/// Fewest records of a self-check.
const CHECK_FROM: usize = 30;
/// Variance in dB² with which an all-lost record enters the fit: none of its guessed level may shape the covariance.
pub(super) const SILENT: f64 = 1e6;
/// Metres of position error that map and world do not share, as a standard deviation.
pub(super) const POSITION_BLUR: f64 = 3.0;

/// Why there is no map.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Empty {
    /// There is no usable exchange.
    #[error("no exchange with a position yet: all ground is unwalked")]
    NoExchanges,
    /// The station's place is not a place.
    #[error("the station has no finite position: give one, or have it located from the walk")]
    NoStation,
}

/// A map of level over ground, ready to be asked about places.
#[derive(Clone, Debug)]
pub struct Model {
    pub(super) records: Vec<Record>,
    pub(super) station: (f64, f64),
    pub(super) receiver: Receiver,
    pub(super) summary: Summary,
    pub(super) points: Vec<(f64, f64)>,
    pub(super) rows: Vec<[f64; 4]>,
    pub(super) extra: Vec<f64>,
    pub(super) sites: Vec<Site>,
    pub(super) covariance: Covariance,
    pub(super) trend: Trend,
    pub(super) half_level: f64,
    pub(super) hold_out: HoldOut,
    pub(super) nearest: Nearest,
    cell: f64,
    others: Vec<Vec<Neighbour>>,
    vecchia: Vecchia<CONDITIONED>,
    likelihoods: usize,
}

/// Whether `new` is the record `old` grown on: losses that turned out to be an outage take records out of the list again.
fn continues(old: &Record, new: &Record, cell: f64) -> bool {
    new.lost() >= old.lost()
        && new.sent >= old.sent
        && (new.x - old.x).hypot(new.y - old.y) <= cell
        && (new.facing - old.facing).abs() <= 0.5
}

impl Model {
    /// Fits the map to records around a `station` at metres (x, y).
    ///
    /// From 10 records the covariance is fitted, from 30 the map checks itself; with fewer the priors stand and answers
    /// are wide.
    ///
    /// # Errors
    /// Only when there is nothing to map: no usable exchange, or a station without a finite position.
    pub fn build(binned: &Binned, station: (f64, f64), receiver: Receiver) -> Result<Self, Empty> {
        let mut model = Self::first(binned, station, receiver)?;
        let enough = model.records.len() >= FIT_FROM;
        if enough {
            model.fit(0.6);
        }
        for _ in 0..3 {
            model.sweep();
        }
        let posterior = model.full_sweep();
        if enough {
            model.fit(0.3);
        }
        model.half_level = half_level(&model.records, &posterior, &model.summary, &receiver);
        for _ in 0..2 {
            model.sweep();
        }
        model.refresh_trend();
        if model.records.len() >= CHECK_FROM {
            model.check();
        }
        Ok(model)
    }

    /// The map for records grown since this one was made, at the same cells and station.
    ///
    /// Covariance, half-delivery level, widening and the sites of records with losses are kept, so a second's new data
    /// costs a fraction of a full build; rebuild every half minute or so, and whenever the cells grew.
    ///
    /// # Errors
    /// As [`Model::build`].
    pub fn resume(&self, binned: &Binned) -> Result<Self, Empty> {
        if binned.cell != self.cell || binned.records.len() < self.records.len() {
            return Self::build(binned, self.station, self.receiver);
        }
        let mut model = Self::first(binned, self.station, self.receiver)?;
        model.covariance = self.covariance;
        model.half_level = self.half_level;
        model.hold_out = self.hold_out;
        for (i, (old, site)) in self.records.iter().zip(&self.sites).enumerate() {
            if old.lost() > 0 && continues(old, &model.records[i], self.cell) {
                model.sites[i] = *site;
            }
        }
        for _ in 0..2 {
            model.sweep();
        }
        model.refresh_trend();
        Ok(model)
    }

    fn first(binned: &Binned, station: (f64, f64), receiver: Receiver) -> Result<Self, Empty> {
        if binned.records.is_empty() {
            return Err(Empty::NoExchanges);
        }
        if !(station.0.is_finite() && station.1.is_finite()) {
            return Err(Empty::NoStation);
        }
        let records = binned.records.clone();
        let summary = summarise(&records, &receiver);
        let points: Vec<(f64, f64)> = records.iter().map(|record| (record.x, record.y)).collect();
        let nearest = Nearest::new(points.iter().copied());
        let others = points
            .iter()
            .enumerate()
            .map(|(i, point)| nearest.nearest(point.0, point.1, NEIGHBOURS, |other| other != i))
            .collect();
        Ok(Self {
            rows: records
                .iter()
                .map(|record| basis(record.x, record.y, record.facing, station))
                .collect(),
            extra: records.iter().map(|record| record.unknown * UNKNOWN_FACING).collect(),
            sites: records.iter().map(|record| Site::first(record, &summary)).collect(),
            covariance: Covariance::prior(),
            trend: Trend::prior(summary.level),
            half_level: receiver.half_level,
            hold_out: HoldOut::NONE,
            cell: binned.cell,
            vecchia: Vecchia::new(&points),
            likelihoods: 0,
            records,
            station,
            receiver,
            summary,
            points,
            nearest,
            others,
        })
    }

    /// Fits the covariance to at most 400 records, from where it stands.
    fn fit(&mut self, step: f64) {
        let count = self.records.len();
        let chosen: Vec<usize> = if count <= FIT_WITH {
            (0..count).collect()
        } else {
            (0..FIT_WITH).map(|i| i * count / FIT_WITH).collect()
        };
        let points: Vec<(f64, f64)> = chosen.iter().map(|i| self.points[*i]).collect();
        let rows: Vec<[f64; 4]> = chosen.iter().map(|i| self.rows[*i]).collect();
        let levels: Vec<f64> = chosen.iter().map(|i| self.sites[*i].level).collect();
        let noise: Vec<f64> = chosen
            .iter()
            .map(|i| {
                if self.records[*i].received == 0 {
                    SILENT
                } else {
                    self.sites[*i].variance + self.extra[*i]
                }
            })
            .collect();
        let residuals = residuals(&levels, &rows, self.summary.level);
        let mut vecchia = Vecchia::<CONDITIONED>::new(&points);
        let mut likelihoods = 0;
        self.covariance = self.covariance.search(step, |tried| {
            likelihoods += 1;
            let weights = vecchia.weights(tried, &noise);
            vecchia.evidence(&weights, &residuals, &rows).log_likelihood + tried.log_prior()
        });
        self.likelihoods += likelihoods;
    }

    fn refresh_trend(&mut self) {
        let levels: Vec<f64> = self.sites.iter().map(|site| site.level).collect();
        let noise: Vec<f64> = self
            .sites
            .iter()
            .zip(&self.extra)
            .map(|(s, e)| s.variance + e)
            .collect();
        let residuals = residuals(&levels, &self.rows, self.summary.level);
        let weights = self.vecchia.weights(&self.covariance, &noise);
        self.trend = self
            .vecchia
            .evidence(&weights, &residuals, &self.rows)
            .trend(self.summary.level);
    }

    pub(super) fn field(&self) -> Field<'_> {
        Field::new(
            &self.points,
            &self.rows,
            &self.sites,
            &self.extra,
            &self.covariance,
            &self.trend,
        )
    }

    /// What the other records say of record `i`, nugget and unknown facing included.
    fn cavity(&self, field: &Field<'_>, i: usize) -> Site {
        let told = field.level(&self.rows[i], &self.others[i], 0.0);
        Site {
            level: told.mean,
            variance: told.variance + self.covariance.nugget() + self.extra[i],
        }
    }

    /// One parallel pass over the records with losses; the others' sites are exact already.
    fn sweep(&mut self) {
        self.refresh_trend();
        let cavities = self.cavities(|record| record.lost() > 0);
        self.update(&cavities);
    }

    /// A sweep that also says what surroundings and site together make of every record's level.
    fn full_sweep(&mut self) -> Vec<Site> {
        self.refresh_trend();
        let cavities = self.cavities(|_| true);
        self.update(&cavities);
        self.sites
            .iter()
            .zip(&cavities)
            .map(|(site, cavity)| cavity.map_or(*site, |cavity| site.times(cavity)))
            .collect()
    }

    /// What each record and its surroundings together say of its level.
    fn posterior(&self) -> Vec<Site> {
        self.sites
            .iter()
            .zip(self.cavities(|_| true))
            .map(|(site, cavity)| cavity.map_or(*site, |cavity| site.times(cavity)))
            .collect()
    }

    fn cavities(&self, wanted: impl Fn(&Record) -> bool) -> Vec<Option<Site>> {
        let field = self.field();
        self.records
            .iter()
            .enumerate()
            .map(|(i, record)| wanted(record).then(|| self.cavity(&field, i)))
            .collect()
    }

    fn update(&mut self, cavities: &[Option<Site>]) {
        let delivery = Delivery {
            fading: self.summary.fading_sd * self.summary.fading_sd,
            half_level: self.half_level,
            waterfall: self.receiver.waterfall,
            background_loss: self.summary.background_loss,
        };
        for ((site, record), cavity) in self.sites.iter_mut().zip(&self.records).zip(cavities) {
            if record.lost() > 0
                && let Some(cavity) = cavity
            {
                let new = moment_site(
                    *cavity,
                    record.received_weight(),
                    record.level.unwrap_or(0.0),
                    record.lost_weight(),
                    &delivery,
                );
                *site = site.damped(new);
            }
        }
    }

    fn check(&mut self) {
        self.hold_out = hold_out(
            &self.records,
            &self.sites,
            &self.extra,
            &self.field(),
            &self.nearest,
            &self.rows,
            (self.half_level, self.summary.fading_sd, self.covariance.nugget()),
        );
    }

    /// The level at metres (x, y) with nobody in the way, intervals widened by the self-check, and the nearest records.
    pub(super) fn told(&self, field: &Field<'_>, x: f64, y: f64) -> (Kriged, Vec<Neighbour>) {
        let near = self.nearest.nearest(x, y, NEIGHBOURS, |_| true);
        let row = basis(x, y, self.trend.clear_facing(), self.station);
        let mut told = field.level(&row, &near, POSITION_BLUR);
        told.variance *= self.hold_out.widening * self.hold_out.widening;
        (told, near)
    }

    /// The level a place needs for `goal`; `None` when background loss alone breaks it.
    pub fn threshold(&self, goal: &Goal) -> Option<Threshold> {
        goal.threshold(
            self.half_level,
            self.summary.fading_sd,
            self.receiver.waterfall,
            self.summary.background_loss,
        )
    }

    /// The level a `share` of deliveries needs by what the records show of fading and losses; `None` for a share or receiver
    /// that is none.
    pub fn need(&self, share: f64, receiver: &Sensitivity) -> Option<Need> {
        // A receiver that was learned elsewhere need not be held against the records, which costs a sweep.
        let levels = if receiver.learned {
            self.sites.clone()
        } else {
            self.posterior()
        };
        Need::of(share, &self.records, &levels, receiver)
    }

    /// The records the map was made from, in order of first visit.
    pub fn records(&self) -> &[Record] {
        &self.records
    }

    /// The records as the map took them: level in dBm and variance in dB², losses included.
    pub fn sites(&self) -> &[Site] {
        &self.sites
    }

    /// The station's place in metres (x, y).
    pub const fn station(&self) -> (f64, f64) {
        self.station
    }

    /// The trend with distance and body, with its covariance.
    pub const fn trend(&self) -> &Trend {
        &self.trend
    }

    /// The level of 50 % delivery in dBm, nominal or as the losses tell it.
    pub const fn half_level(&self) -> f64 {
        self.half_level
    }

    /// Small-scale fading: standard deviation in dB.
    pub const fn fading_sd(&self) -> f64 {
        self.summary.fading_sd
    }

    /// The share lost whatever the level.
    pub const fn background_loss(&self) -> f64 {
        self.summary.background_loss
    }

    /// The median level of the records in dBm, which the trend's prior is centred on.
    pub const fn reference_level(&self) -> f64 {
        self.summary.level
    }

    /// Natural logarithms of the field's standard deviation (dB), correlation length (m) and nugget (dB).
    pub const fn theta(&self) -> [f64; 3] {
        self.covariance.theta
    }

    /// How the map's check of itself went.
    pub const fn hold_out(&self) -> &HoldOut {
        &self.hold_out
    }

    /// How many likelihoods the fit took.
    pub const fn likelihoods(&self) -> usize {
        self.likelihoods
    }

    /// The side of a ground cell in metres.
    pub const fn cell(&self) -> f64 {
        self.cell
    }

    /// What an answer of this map for `goal` must be read with.
    pub fn caveats(&self, goal: &Goal) -> Vec<Caveat> {
        caveats(self, goal)
    }
}
