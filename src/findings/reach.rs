//! How far a board reaches: level by distance with its law, what it needs, and the distances at which so much arrives.

use super::side::Side;
use crate::ground::local::LocalPlane;
use crate::stats::walk::binning::{BinRules, WalkSample, bin_walk};
use crate::stats::walk::describe::RangeWording;
use crate::stats::walk::fit::{Beforehand, FitWarning, NoFit, WalkFit, fit_walk};
use crate::stats::walk::inflation::Inflation;
use crate::stats::walk::range::DELIVERIES;
use crate::stats::walk::scurve::MeasuredSCurve;
use crate::survey::sample::{Activity, Samples};
use crate::survey::setup::Setup;

/// What the walks of one board say about its reach.
#[derive(Clone, Debug)]
pub struct Reach {
    /// The board.
    pub board: String,
    /// Where its levels were read.
    pub side: Side,
    /// Exchanges of its walks that have a place.
    pub exchanges: usize,
    /// The fitted walk, or why there is none.
    pub fit: Result<WalkFit, NoReach>,
    /// What may be said of each range, by delivery: 99, 95, 90, 50 %.
    pub ranges: Vec<(f64, RangeWording)>,
    /// What the board needs, as this walk shows or as was known beforehand.
    pub need: Option<MeasuredSCurve>,
    /// Whether that was learned from this very walk.
    pub learned_here: bool,
}

/// Why nothing is said about a board's reach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoReach {
    /// The station's position is not known.
    NoStation,
    /// No exchange of a walk has a place.
    NoPlaces,
    /// The fit has none to give.
    NoFit(NoFit),
}

impl std::fmt::Display for NoReach {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoStation => {
                out.write_str("the station's position is not known: put it into survey.toml and rebuild")
            }
            Self::NoPlaces => out.write_str("no exchange of a walk has a position"),
            Self::NoFit(why) => write!(out, "{why}"),
        }
    }
}

/// Fits the walks of one board. `known` is its S-curve from earlier surveys.
pub fn reach(samples: &Samples, setup: &Setup, board: &str, known: Option<MeasuredSCurve>, side: Side) -> Reach {
    let mut reach = Reach {
        board: board.to_owned(),
        side,
        exchanges: 0,
        fit: Err(NoReach::NoStation),
        ranges: Vec::new(),
        need: known,
        learned_here: false,
    };
    let Some(station) = setup.station.position else {
        return reach;
    };
    let plane = LocalPlane::about(station);
    let walked: Vec<WalkSample> = samples
        .rows
        .iter()
        .filter(|row| row.counts() && row.activity == Activity::Walk && samples.board(row) == board)
        .filter_map(|row| {
            let offset = plane.offset(row.place?.position);
            Some(WalkSample {
                east_m: offset.east.0,
                north_m: offset.north.0,
                heard: side.heard(row),
            })
        })
        .collect();
    reach.exchanges = walked.len();
    if walked.is_empty() {
        reach.fit = Err(NoReach::NoPlaces);
        return reach;
    }
    let cells = bin_walk(&walked, &BinRules::default()).cells;
    let beforehand = known.map_or(Beforehand::Nothing, Beforehand::Curve);
    reach.fit = fit_walk(&cells, &beforehand).map_err(NoReach::NoFit);
    if let Ok(fit) = &reach.fit {
        reach.ranges = DELIVERIES
            .iter()
            .map(|share| (*share, fit.describe_range(*share, &Inflation::MEASURED)))
            .collect();
        if let Some(measured) = fit.measured_scurve(&Inflation::MEASURED) {
            reach.need = Some(measured);
            reach.learned_here = true;
        }
    }
    reach
}

impl Reach {
    /// The share of exchanges lost at any level, where the fit tells.
    pub fn interference(&self) -> Option<f64> {
        self.fit.as_ref().ok().map(|fit| fit.interference)
    }

    /// What a reader of the fit should know.
    pub fn warnings(&self) -> &[FitWarning] {
        self.fit.as_ref().map_or(&[], |fit| &fit.warnings)
    }
}
