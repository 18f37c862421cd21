//! How far a board reaches: level by distance with its law, what it needs, and the distances at which so much arrives.

use super::movement::without_pauses;
use super::no_link;
use super::offsets::Offsets;
use super::side::Side;
use super::silences::Silences;
use crate::ground::local::Offset;
use crate::propagation::{free_space, two_ray};
use crate::stats::stop_curve::NoCurve;
use crate::stats::walk::binning::{BinRules, WalkSample, bin_walk};
use crate::stats::walk::describe::RangeWording;
use crate::stats::walk::fit::{Beforehand, FitWarning, NoFit, WalkFit, fit_walk_over};
use crate::stats::walk::inflation::Inflation;
use crate::stats::walk::other_laws::Ripple;
use crate::stats::walk::posterior::Spread;
use crate::stats::walk::range::DELIVERIES;
use crate::stats::walk::scurve::{MeasuredSCurve, pool_scurves};
use crate::survey::sample::{Activity, Sample, Samples};
use crate::survey::setup::Setup;
use crate::units::Metres;

/// What the walks of one board say about its reach.
#[derive(Clone, Debug)]
pub struct Reach {
    /// The board.
    pub board: String,
    /// Where its levels were read.
    pub side: Side,
    /// Exchanges of its walks that have a place; silences of the station and pauses of the walker left out.
    pub exchanges: usize,
    /// Of these, left out of the fit: placed where no link goes.
    pub too_far: usize,
    /// The fitted walk, or why there is none.
    pub fit: Result<WalkFit, NoReach>,
    /// What may be said of each range, by delivery: 99, 95, 90, 50 %.
    pub ranges: Vec<(f64, RangeWording)>,
    /// What the board needs, as this survey and those before it show.
    pub need: Option<MeasuredSCurve>,
    /// What this survey alone shows of that: its walk, or where that shows nothing its points.
    pub own: Option<MeasuredSCurve>,
    /// What the board's points said of it, where no walk did; `None` where they were not asked.
    pub at_points: Option<Result<(), NoCurve>>,
}

/// Why nothing is said about a board's reach.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoReach {
    /// The station's position is not known.
    NoStation,
    /// No exchange of a walk has a place.
    NoPlaces,
    /// The station is noted farther from all of its walks than any link goes.
    StationFar(Metres),
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
            Self::StationFar(away) => out.write_str(&no_link::station_far(*away)),
            Self::NoFit(why) => write!(out, "{why}"),
        }
    }
}

/// Fits the walks of one board. `offsets` are those about the station, where its position is known; `known` is what earlier
/// surveys taught of its S-curve; `at_points` learns it at the board's points, and is asked only where its walk shows none.
///
/// What the survey itself shows is pooled with what was known, and with that the walk is fitted again; where nothing was known,
/// the fit that learned it stands.
pub fn reach(
    samples: &Samples,
    offsets: Option<&Offsets<'_>>,
    setup: &Setup,
    board: &str,
    known: &[MeasuredSCurve],
    side: Side,
    at_points: impl FnOnce() -> Result<MeasuredSCurve, NoCurve>,
) -> Reach {
    let before = pool_scurves(known);
    let mut walked = offsets.map_or(Err(NoReach::NoStation), |offsets| {
        match walked(samples, offsets, board, before, side) {
            none if none.is_empty() => Err(NoReach::NoPlaces),
            walked => Ok(walked),
        }
    });
    let exchanges = walked.as_ref().map_or(0, Vec::len);
    let ripple = ripple(setup, board);
    let in_reach = |walked: &mut Vec<WalkSample>| {
        no_link::in_reach(walked, |sample| sample.east_m.hypot(sample.north_m)).map_err(NoReach::StationFar)
    };
    let too_far = walked.as_mut().map_or(Ok(0), in_reach);
    let cells = walked.and_then(|walked| {
        too_far?;
        Ok(bin_walk(&walked, &BinRules::by_heading()).cells)
    });
    let fit = |beforehand: Beforehand| match &cells {
        Ok(cells) => fit_walk_over(cells, &beforehand, ripple.as_ref()).map_err(NoReach::NoFit),
        Err(why) => Err(*why),
    };
    let alone = fit(Beforehand::Nothing);
    let by_walk = alone
        .as_ref()
        .ok()
        .and_then(|fit| fit.measured_scurve(&Inflation::MEASURED));
    let by_points = by_walk.is_none().then(at_points);
    let own = by_walk.or_else(|| by_points.and_then(Result::ok));
    let (need, fit) = match before {
        None => (own, alone),
        Some(before) => {
            let all: Vec<MeasuredSCurve> = known.iter().copied().chain(own).collect();
            let need = pool_scurves(&all).unwrap_or(before);
            (Some(need), fit(Beforehand::Curve(need)))
        }
    };
    let ranges = fit.as_ref().map_or_else(
        |_| Vec::new(),
        |fit| DELIVERIES.iter().map(|share| (*share, range(fit, *share))).collect(),
    );
    Reach {
        board: board.to_owned(),
        side,
        exchanges,
        too_far: too_far.unwrap_or(0),
        fit,
        ranges,
        need,
        own,
        at_points: by_points.map(|found| found.map(|_| ())),
    }
}

/// The exchanges of a board's walks about the station, in order of time: those that have a place, silences of the station and
/// pauses of the walker left out.
pub fn walked(
    samples: &Samples,
    offsets: &Offsets<'_>,
    board: &str,
    known: Option<MeasuredSCurve>,
    side: Side,
) -> Vec<WalkSample> {
    let silences = Silences::of(samples, board, side, known.map(|need| need.curve.m_dbm()));
    let rows: Vec<(&Sample, Offset)> = offsets
        .counted(board)
        .filter(|(row, _)| row.activity == Activity::Walk && !silences.took(row))
        .collect();
    without_pauses(samples, rows)
        .into_iter()
        .map(|(row, offset)| WalkSample {
            east_m: offset.east.0,
            north_m: offset.north.0,
            heard: side.heard(row),
        })
        .collect()
}

/// Reflection of flat ground at the small angles of a walk, as taken for the shape of its ripple: close to -1 for any ground
/// ([`two_ray::GRAZING`]), and short of it, for an entire cancellation happens on no real ground. How much of it there is, if
/// any, the walk tells.
const REFLECTION: f64 = -0.95;

/// How a wave off level ground would add to and take from the direct one, over distance; `None` where a height or the
/// frequency is not known.
fn ripple(setup: &Setup, board: &str) -> Option<Ripple> {
    let station = setup.station.height?;
    let carried = setup.boards.iter().find(|note| note.name == board)?.height?;
    let frequency = setup.radio.frequency?;
    Ripple::new(|metres| {
        let distance = Metres(metres);
        let both = two_ray::loss(frequency, station, carried, distance, REFLECTION)?;
        Some(free_space::loss(frequency, distance)?.0 - both.0)
    })
}

/// What may be said of one range.
///
/// That no distance gives a delivery is said only where interference surely takes more, 97.5 times in 100; else the range is
/// that of the signal alone, and what interference takes stands beside it.
fn range(fit: &WalkFit, share: f64) -> RangeWording {
    if share > 1.0 - fit.interference && share <= 1.0 - fit.interference_share(&Inflation::MEASURED).low {
        let mut signal_alone = fit.clone();
        signal_alone.interference = 0.0;
        return signal_alone.describe_range(share, &Inflation::MEASURED);
    }
    fit.describe_range(share, &Inflation::MEASURED)
}

impl Reach {
    /// The share of exchanges lost at any level, where the fit tells.
    pub fn interference(&self) -> Option<f64> {
        self.fit.as_ref().ok().map(|fit| fit.interference)
    }

    /// The same with its 95 % interval; a range leaves it aside, so it stands beside every range that is told.
    pub fn interference_share(&self) -> Option<Spread> {
        let fit = self.fit.as_ref().ok()?;
        Some(fit.interference_share(&Inflation::MEASURED))
    }

    /// What is surely lost at any level, 97.5 times in 100, where the fit tells; a range is called nowhere by the same.
    pub fn least_interference(&self) -> Option<f64> {
        self.interference_share().map(|share| share.low)
    }

    /// What a reader of the fit should know.
    pub fn warnings(&self) -> &[FitWarning] {
        self.fit.as_ref().map_or(&[], |fit| &fit.warnings)
    }
}
