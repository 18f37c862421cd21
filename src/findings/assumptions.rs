//! What is assumed of the node that will stand somewhere, where it is not the board as it was walked with.
//!
//! Each is worked out here, once, and named as an assumption wherever the map is shown.

use super::estimates::Estimates;
use super::side::Side;
use super::words;
use crate::propagation::{street, two_ray, woodland};
use crate::stats::boards::Effect;
use crate::stats::places::{Change, Lift};
use crate::survey::setup::Setup;
use crate::units::{Db, Megahertz, Metres};

/// Height at which a board is carried where the set-up does not say, metres: before the chest (common practice).
const CARRIED_M: f64 = 1.2;
/// Frequency where the set-up does not say, MHz: the middle of the 2.4 GHz band.
const USUAL_MHZ: f64 = 2440.0;
/// Standard deviation of the difference of two boards' needs where either is not known, dB: two receivers of a kind, each
/// some 1 dB from its type (common practice).
const NEEDS_DIFFER_DB: f64 = 1.5;
/// Share of what leaves take that is doubted, one sigma, and the least doubt in dB: paths differ by what trees they meet. In 400
/// made orchards from bare to full leaf, when the figure is right on average, twice this held 95 paths in 100; that the figure is
/// right is the surveyor's own assumption.
const LEAVES_DOUBT: (f64, f64) = (1.0 / 3.0, 1.0);
/// Share of a height's gain that is doubted, one sigma; hedges hide a part of the ground.
const HEIGHT_DOUBT: f64 = 0.5;
/// One sigma, dB, of what the waves off the ground do to the difference of two heights: P.1411 puts the loss of either between
/// bounds 20 dB apart (4.1.2), taken for four sigma, and two heights have two. Over 6000 paths of made orchards, bare and in leaf, it
/// held 95 in 100 with the share above; without it 72 to 76.
const HEIGHT_RIPPLE_DB: f64 = 7.1;
/// The least doubt about a height, one sigma in dB.
const HEIGHT_LEAST_DB: f64 = 1.0;

/// The heights, in metres, at which a node may be mounted.
pub const HEIGHTS_M: std::ops::RangeInclusive<f64> = 0.1..=30.0;
/// What leaves may take, dB.
pub const LEAVES_DB: std::ops::RangeInclusive<f64> = 0.0..=60.0;

/// What a person asks the map for, where that is not the board as it was walked with.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wanted {
    /// Another board, by its name.
    pub board: Option<String>,
    /// The height above the ground at which the node will be mounted.
    pub mounted: Option<Metres>,
    /// What leaves that are not out yet will take.
    pub leaves: Option<Db>,
}

impl Wanted {
    /// Whether nothing is asked for but the board as walked with.
    pub const fn is_nothing(&self) -> bool {
        self.board.is_none() && self.mounted.is_none() && self.leaves.is_none()
    }
}

/// What the node that will stand there differs by; each is an assumption and named as one.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumption {
    /// In a word or two, such as `leaves 6 dB`.
    pub brief: String,
    /// In words, such as `leaves will take 6 dB, give or take 2 dB`.
    pub words: String,
    /// Where it comes from.
    pub source: String,
    /// By how much it is stronger or weaker.
    pub shift: Shift,
}

/// By how much the node that will stand there is stronger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shift {
    /// The same everywhere.
    Everywhere(Change),
    /// More the farther out, as of a mounting height.
    ByDistance(Lift),
}

/// What can be assumed of what is wanted, and in words why the rest cannot.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Assumed {
    /// What is assumed.
    pub assumptions: Vec<Assumption>,
    /// What was asked for and is not assumed, each with its reason.
    pub not_assumed: Vec<String>,
}

impl Assumed {
    /// Works out what is `wanted` for a map walked with `board`, its levels read at `side`.
    pub fn of(wanted: &Wanted, setup: &Setup, estimates: &Estimates, board: &str, side: Side) -> Self {
        let mut assumed = Self::default();
        let mut take = |found: Result<Assumption, String>| match found {
            Ok(assumption) => assumed.assumptions.push(assumption),
            Err(why) => assumed.not_assumed.push(why),
        };
        if let Some(other) = wanted.board.as_deref().filter(|other| *other != board) {
            take(another_board(other, estimates, board, side));
        }
        if let Some(mounted) = wanted.mounted {
            take(height(mounted, setup, board));
        }
        if let Some(leaves) = wanted.leaves.filter(|leaves| leaves.0 != 0.0) {
            take(in_leaf(leaves, setup));
        }
        assumed
    }
}

/// The boards whose difference from the one walked with is known, by name.
pub fn measured_boards(estimates: &Estimates, walked: &str) -> Vec<String> {
    let Some(names) = estimates.comparison.as_ref().map(|boards| &boards.names) else {
        return Vec::new();
    };
    let known = |name: &&String| name.as_str() != walked && another_board(name, estimates, walked, Side::There).is_ok();
    names.iter().filter(known).cloned().collect()
}

/// Estimate and standard deviation of a board over the reference, dB; why `other` cannot be put in the place of `walked` where it
/// has none.
fn over_reference(estimates: &Estimates, name: &str, other: &str, walked: &str) -> Result<(f64, f64), String> {
    let unknown =
        || format!("how {other} differs from {walked} was not measured: measure both at the same points, turn by turn");
    let boards = estimates.comparison.as_ref().ok_or_else(unknown)?;
    let index = boards
        .names
        .iter()
        .position(|known| known == name)
        .ok_or_else(unknown)?;
    let found = boards
        .comparison
        .as_ref()
        .map_err(|why| words::no_comparison(*why).to_owned())?;
    if index == 0 {
        return Ok((0.0, 0.0));
    }
    let effect = found
        .boards
        .iter()
        .find(|effect| effect.board == index)
        .ok_or_else(unknown)?;
    match effect.effect {
        Effect::Measured {
            estimate_db,
            standard_error_db,
            ..
        } => Ok((estimate_db, standard_error_db)),
        Effect::OpenEnded { .. } => Err(format!(
            "how {name} differs is known on one side only: measure it at points where some of its messages arrive"
        )),
    }
}

fn another_board(other: &str, estimates: &Estimates, walked: &str, side: Side) -> Result<Assumption, String> {
    if side == Side::Here {
        return Err(format!(
            "levels were read at {walked}, boards are compared at the station: {other} cannot be put in its place"
        ));
    }
    let of = |name: &str| over_reference(estimates, name, other, walked);
    let (own, other_one) = (of(walked)?, of(other)?);
    let gain = other_one.0 - own.0;
    let mut variance = other_one.1.powi(2) + own.1.powi(2);
    // What a board shows anew each time it is put back, a node that is put up shows once.
    if let Some(Ok(found)) = estimates.comparison.as_ref().map(|boards| boards.comparison.as_ref()) {
        variance += found.spread_db.powi(2);
    }
    let need = |name: &str| {
        let board = estimates.boards.iter().find(|board| board.name == name)?;
        board.reach.as_ref().filter(|reach| reach.side == Side::There)?.need
    };
    let (needs, more) = if let (Some(needed), Some(before)) = (need(other), need(walked)) {
        let more = needed.curve.level90_dbm() - before.curve.level90_dbm();
        variance += needed.level90_sd_db().powi(2) + before.level90_sd_db().powi(2);
        let words = if more >= 0.0 { "more" } else { "less" };
        (format!("and needs {:.1} dB {words} at the station", more.abs()), more)
    } else {
        variance += NEEDS_DIFFER_DB.powi(2);
        let words = match need(walked) {
            Some(_) => format!("and needs what {walked} needs (taken, not measured)"),
            None => format!("and needs what is taken for {walked}, whose own need is not known"),
        };
        (words, 0.0)
    };
    let sd = variance.sqrt();
    Ok(Assumption {
        brief: format!("{other} for {walked}"),
        words: format!(
            "{other} stands there instead of {walked}: it is heard {} dB {}, {needs}; give or take {:.1} dB",
            words::minus(gain.abs(), 1),
            if gain >= 0.0 { "stronger" } else { "weaker" },
            1.96 * sd
        ),
        source: "boards compared at points of this survey".to_owned(),
        shift: Shift::Everywhere(Change { gain: gain - more, sd }),
    })
}

/// The gain of height by the median of Rec. ITU-R P.1411-12 (2023), 4.1.2: none up to the break distance 4 h1 h2 / λ, 20 log10 of
/// the heights' ratio far beyond.
fn height(mounted: Metres, setup: &Setup, board: &str) -> Result<Assumption, String> {
    if !HEIGHTS_M.contains(&mounted.0) {
        return Err(format!(
            "a mounting height of {} is not between {} and {} m",
            words::metres(mounted.0),
            HEIGHTS_M.start(),
            HEIGHTS_M.end()
        ));
    }
    let station = setup.station.height.filter(|height| height.0 > 0.0).ok_or(
        "what a mounting height changes is not known without the station's own: put height_m under [station] in survey.toml",
    )?;
    let noted = setup
        .boards
        .iter()
        .find(|note| note.name == board)
        .and_then(|note| note.height);
    let carried = noted.filter(|height| height.0 > 0.0).unwrap_or(Metres(CARRIED_M));
    let frequency = setup.radio.frequency.unwrap_or(Megahertz(USUAL_MHZ));
    let turn = |height| {
        two_ray::break_point(frequency, station, height)
            .map(|point| point.0)
            .ok_or_else(|| "heights and frequency must be above zero".to_owned())
    };
    let lift = Lift {
        from_m: turn(carried)?,
        to_m: turn(mounted)?,
        doubt: HEIGHT_DOUBT,
        ripple: HEIGHT_RIPPLE_DB,
        least_sd: HEIGHT_LEAST_DB,
    };
    let whence = if noted.is_some() {
        ""
    } else {
        " (taken: before the chest)"
    };
    Ok(Assumption {
        brief: format!("mounted {} up", words::metres(mounted.0)),
        words: format!(
            "mounted {} above the ground, not carried at {}{whence}: on average nothing changes up to {:.0} m from the station, {} dB far \
             out; give or take {:.0} dB once ground waves count, from {:.0} m on",
            words::metres(mounted.0),
            words::metres(carried.0),
            lift.from_m.min(lift.to_m),
            words::signed(20.0 * (mounted.0 / carried.0).log10(), 0),
            1.96 * HEIGHT_RIPPLE_DB,
            0.5 * lift.from_m.min(lift.to_m),
        ),
        source: format!(
            "flat ground without a wood, doubted by its own bounds; {}",
            street::PUBLISHED.source
        ),
        shift: Shift::ByDistance(lift),
    })
}

fn in_leaf(leaves: Db, setup: &Setup) -> Result<Assumption, String> {
    if !LEAVES_DB.contains(&leaves.0) {
        return Err(format!(
            "what leaves take must lie between {} and {} dB",
            LEAVES_DB.start(),
            LEAVES_DB.end()
        ));
    }
    let sd = (LEAVES_DOUBT.0 * leaves.0).max(LEAVES_DOUBT.1);
    let frequency = setup.radio.frequency.unwrap_or(Megahertz(USUAL_MHZ));
    Ok(Assumption {
        brief: format!("leaves {:.0} dB", leaves.0),
        words: format!(
            "leaves that are not out yet take {:.0} dB on average; give or take {:.0} dB from path to path",
            leaves.0,
            1.96 * sd
        ),
        source: match trees_like(leaves, frequency) {
            Some(depth) => format!(
                "your figure; as much as {depth:.0} m of forest in leaf take by {}",
                woodland::PUBLISHED.source
            ),
            None => "your figure".to_owned(),
        },
        shift: Shift::Everywhere(Change { gain: -leaves.0, sd }),
    })
}

/// How many metres of measured mixed forest take as much, by the formula turned round: `d = -(A_m/γ) ln(1 - A/A_m)`.
fn trees_like(loss: Db, frequency: Megahertz) -> Option<f64> {
    let wood = woodland::mixed_forest(frequency)?;
    let share = loss.0 / wood.most.0;
    (share < 0.98).then(|| -wood.most.0 / wood.db_per_m * (-share).ln_1p())
}
