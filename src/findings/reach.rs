//! How far a board reaches: level by distance with its law, what it needs, and the distances at which so much arrives.

use super::movement::without_pauses;
use super::side::Side;
use super::silences::Silences;
use crate::ground::Position;
use crate::ground::local::LocalPlane;
use crate::propagation::{free_space, two_ray};
use crate::stats::stop_curve::NoCurve;
use crate::stats::walk::binning::{BinRules, WalkSample, bin_walk};
use crate::stats::walk::describe::RangeWording;
use crate::stats::walk::fit::{Beforehand, FitWarning, NoFit, WalkFit, fit_walk_over};
use crate::stats::walk::inflation::Inflation;
use crate::stats::walk::other_laws::Ripple;
use crate::stats::walk::posterior::Spread;
use crate::stats::walk::range::DELIVERIES;
use crate::stats::walk::scurve::MeasuredSCurve;
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
    /// The fitted walk, or why there is none.
    pub fit: Result<WalkFit, NoReach>,
    /// What may be said of each range, by delivery: 99, 95, 90, 50 %.
    pub ranges: Vec<(f64, RangeWording)>,
    /// What the board needs, as this walk shows or as was known beforehand.
    pub need: Option<MeasuredSCurve>,
    /// Whether that was learned in this very survey.
    pub learned_here: bool,
    /// What the board's points said of it, where no walk and no earlier survey did; `None` where they were not asked.
    pub at_points: Option<Result<(), NoCurve>>,
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
        at_points: None,
    };
    let Some(station) = setup.station.position else {
        return reach;
    };
    let walked = walked(samples, station, board, known, side);
    reach.exchanges = walked.len();
    if walked.is_empty() {
        reach.fit = Err(NoReach::NoPlaces);
        return reach;
    }
    let cells = bin_walk(&walked, &BinRules::by_heading()).cells;
    let beforehand = known.map_or(Beforehand::Nothing, Beforehand::Curve);
    let ripple = ripple(setup, board);
    reach.fit = fit_walk_over(&cells, &beforehand, ripple.as_ref()).map_err(NoReach::NoFit);
    if let Ok(fit) = &reach.fit {
        reach.ranges = DELIVERIES.iter().map(|share| (*share, range(fit, *share))).collect();
        if let Some(measured) = fit.measured_scurve(&Inflation::MEASURED) {
            reach.need = Some(measured);
            reach.learned_here = true;
        }
    }
    reach
}

/// The exchanges of a board's walks about the station, in order of time: those that have a place, silences of the station and
/// pauses of the walker left out.
pub fn walked(
    samples: &Samples,
    station: Position,
    board: &str,
    known: Option<MeasuredSCurve>,
    side: Side,
) -> Vec<WalkSample> {
    let plane = LocalPlane::about(station);
    let silences = Silences::of(samples, board, side, known.map(|need| need.curve.m_dbm()));
    let rows: Vec<&Sample> = samples
        .counted(board)
        .filter(|row| row.activity == Activity::Walk)
        .filter(|row| row.place.is_some() && !silences.took(row))
        .collect();
    without_pauses(samples, rows)
        .into_iter()
        .filter_map(|row| {
            let offset = plane.offset(row.place?.position);
            Some(WalkSample {
                east_m: offset.east.0,
                north_m: offset.north.0,
                heard: side.heard(row),
            })
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
    /// Takes in what the board's points say it needs.
    pub fn learn_at_points(&mut self, found: Result<MeasuredSCurve, NoCurve>) {
        self.at_points = Some(found.map(|_| ()));
        if let Ok(need) = found {
            self.need = Some(need);
            self.learned_here = true;
        }
    }

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
