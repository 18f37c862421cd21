//! Worlds, boards and walks drawn at random, to see how often an interval holds the truth.

use rand::RngExt;
use rand_pcg::Pcg64Mcg;

use super::boards::{Board, Sensitivity, yew};
use super::body::Body;
use super::bursts::{BurstParams, Tail};
use super::fading::FadingParams;
use super::law::Law;
use super::orchard::{WAVELENGTH, larkfield, larkfield_law};
use super::pattern::{Pattern, Pose, Shape};
use super::place::Place;
use super::receiver::ReceiverParams;
use super::scenario::{MORNING, Scenario};
use super::script::Script;
use super::seeds::{Purpose, stream};
use super::shadow::ShadowParams;
use super::world::{Patch, Station, WorldParams};

/// How far a drawn world keeps to what the usual models suppose.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// One slope, one scale of shadow, one Rician factor, bursts without memory, no body: what the models suppose.
    Plain,
    /// What they lack as well: a law with a ripple and tree rows or with a bend, two scales of shadow, heavy-tailed
    /// bursts, patches of interference, the walker's body, a receiver that thinks too well of itself, wind.
    Rough,
}

/// A world and the board walked in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// The world.
    pub params: WorldParams,
    /// The board: round pattern, limited by its own receiver, not the station's.
    pub board: Board,
}

/// The form of a walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Route {
    /// Straight away from the station.
    Straight,
    /// Straight away and back the same way.
    OutAndBack,
    /// Outward with swings to both sides.
    Zigzag,
    /// Two loops, each through the station's neighbourhood.
    Loops,
    /// Along a straight line that passes the station at a fifth of the extent.
    PassingBy,
}

impl Route {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Straight,
        Self::OutAndBack,
        Self::Zigzag,
        Self::Loops,
        Self::PassingBy,
    ];

    /// The places walked through, in order, on a bearing in degrees out to an extent in metres.
    pub fn places(self, extent: f64, bearing: f64) -> Vec<Place> {
        let at = |share: f64, off: f64| Place::out((share * extent).max(8.0), bearing + off);
        match self {
            Self::Straight => vec![at(0.0, 0.0), at(1.0, 0.0)],
            Self::OutAndBack => vec![at(0.0, 0.0), at(1.0, 0.0), at(0.0, 0.0)],
            Self::Zigzag => (0..=12)
                .map(|leg| {
                    let swing = if leg % 2 == 0 { 14.0 } else { -14.0 };
                    at(f64::from(leg) / 12.0, swing)
                })
                .collect(),
            Self::Loops => vec![
                at(0.0, 0.0),
                at(0.6, -40.0),
                at(1.0, -15.0),
                at(0.7, 5.0),
                at(0.0, 0.0),
                at(0.5, 60.0),
                at(0.9, 35.0),
                at(0.6, 15.0),
                at(0.0, 0.0),
            ],
            Self::PassingBy => {
                let nearest = Place::out(extent / 5.0, bearing + 90.0);
                vec![nearest.beside(extent, bearing + 180.0), nearest.beside(extent, bearing)]
            }
        }
    }
}

/// The world and board of a seed.
pub fn drawn(seed: u64, manner: Manner) -> Drawn {
    let mut random = stream(seed, Purpose::World);
    let rough = manner == Manner::Rough;
    let board = drawn_board(&mut random);
    let sd: f64 = random.random_range(2.5..7.5);
    let reach: f64 = random.random_range(5.0..22.0);
    let shadow = if rough {
        vec![
            ShadowParams { sd: 0.8 * sd, reach },
            ShadowParams {
                sd: 0.6 * sd,
                reach: 5.0 * reach,
            },
        ]
    } else {
        vec![ShadowParams { sd, reach }]
    };
    let tail = if rough { Tail::Heavy } else { Tail::Exponential };
    let bursts = |random: &mut Pcg64Mcg, most: f64| BurstParams {
        busy: random.random_range(0.0..most),
        mean_s: random.random_range(0.15..1.0),
        hit: random.random_range(0.5..0.95),
        tail,
    };
    let at_station = bursts(&mut random, 0.05);
    let at_board = bursts(&mut random, if rough { 0.04 } else { 0.01 });
    let patches = (0..if rough { 2 } else { 0 })
        .map(|_| Patch {
            middle: Place::out(random.random_range(20.0..150.0), random.random_range(0.0..360.0)),
            radius: random.random_range(8.0..25.0),
            hit: random.random_range(0.3..0.95),
        })
        .collect();
    let params = WorldParams {
        law: drawn_law(&mut random, manner),
        shadow,
        fading: FadingParams {
            k_db: random.random_range(-3.0..11.0),
            k_per_foliage_db: if rough { 0.5 } else { 0.0 },
            stir: if rough { 0.15 } else { 0.0 },
            wavelength: WAVELENGTH,
        },
        at_station,
        at_board,
        patches,
        body: Body {
            behind: if rough { random.random_range(3.0..10.0) } else { 0.0 },
            power: 1.4,
        },
        station: Station {
            tx: board.tx,
            gain: 2.0,
            // 8 dB better than the board: the way down decides, and the round trip keeps to one logistic curve.
            sensitivity: Sensitivity {
                half: board.sensitivity.half - 8.0,
                scale: 0.8,
            },
            meter_offset: random.random_range(-2.0..2.0),
        },
        reading_noise: random.random_range(0.5..1.2),
        receiver: ReceiverParams {
            drift: random.random_range(1.2..4.5),
            memory_s: random.random_range(25.0..90.0),
            jitter: 0.12,
            belief: if rough { random.random_range(0.6..1.1) } else { 1.0 },
        },
    };
    Drawn { params, board }
}

fn drawn_board(random: &mut Pcg64Mcg) -> Board {
    let mut board = yew();
    board.patterns = [Pattern::round(0.0), Pattern::round(0.0), Pattern::round(0.0)];
    board.sensitivity = Sensitivity {
        half: random.random_range(-97.0..-86.0),
        scale: random.random_range(0.6..1.8),
    };
    board.meter_offset = random.random_range(-3.0..3.0);
    board
}

fn drawn_law(random: &mut Pcg64Mcg, manner: Manner) -> Law {
    let loss_1m = random.random_range(36.0..48.0);
    let exponent: f64 = random.random_range(2.0..3.8);
    let (kind, bend): (u32, f64) = (random.random_range(0..3), random.random_range(30.0..140.0));
    match (manner, kind) {
        (Manner::Rough, 0) => larkfield_law(),
        (Manner::Rough, 1) => Law::TwoSlope {
            loss_1m,
            near: exponent.min(2.4),
            far: exponent.min(2.4) + 1.4,
            bend,
        },
        _ => Law::LogDistance { loss_1m, exponent },
    }
}

/// A pattern of a seed: round, one lobe, two lobes, sharp nulls or a sum of harmonics, by turns of the seed.
pub fn drawn_pattern(seed: u64) -> Pattern {
    let mut random = stream(seed, Purpose::Plan);
    let depth = random.random_range(3.0..22.0);
    let towards = random.random_range(0.0..360.0);
    let mut term = |most: f64| (random.random_range(0.0..most), random.random_range(0.0..360.0));
    let harmonics = vec![term(5.0), term(3.0), term(1.5)];
    let shape = match seed % 5 {
        0 => Shape::Round,
        1 => Shape::OneLobe { depth },
        2 => Shape::TwoLobes { depth },
        3 => Shape::SharpNulls { depth },
        _ => Shape::Harmonics(harmonics),
    };
    Pattern {
        peak: 0.0,
        towards,
        shape,
    }
}

/// A scenario that walks a route with a drawn world and board: playable like any other.
pub fn walk_scenario(drawn: &Drawn, route: Route, extent: f64, bearing: f64) -> Scenario {
    let mut places = route.places(extent, bearing).into_iter();
    let begin = Script::begin(places.next().unwrap_or_default()).stand(3.0).walking();
    let script = places.fold(begin, Script::walk).finish();
    scenario(drawn, "drawn-walk", script)
}

/// A scenario that sweeps one pose at a distance in metres, on a bearing in degrees; the board has the pattern in every
/// pose.
pub fn sweep_scenario(
    drawn: &Drawn,
    pattern: &Pattern,
    distance: f64,
    bearing: f64,
    steps: u32,
    messages: u32,
) -> Scenario {
    let mut drawn = drawn.clone();
    drawn.board.patterns = [pattern.clone(), pattern.clone(), pattern.clone()];
    let script = Script::begin(Place::out(distance, bearing))
        .stand(3.0)
        .sweep("S1", Pose::Flat, steps, messages)
        .finish();
    scenario(&drawn, "drawn-sweep", script)
}

fn scenario(drawn: &Drawn, name: &'static str, script: Script) -> Scenario {
    Scenario {
        name,
        story: "a drawn world",
        site: larkfield(),
        params: drawn.params.clone(),
        boards: vec![drawn.board.clone()],
        script,
        begins: MORNING,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seed_draws_the_same_world_and_another_seed_another() {
        for manner in [Manner::Plain, Manner::Rough] {
            assert_eq!(drawn(5, manner), drawn(5, manner));
            assert_ne!(drawn(5, manner), drawn(6, manner));
        }
        assert_eq!(drawn(5, Manner::Plain).params.body.behind, 0.0);
        assert!((0..30).any(|seed| matches!(drawn(seed, Manner::Rough).params.law, Law::Orchard(_))));
    }

    #[test]
    fn routes_reach_their_extent_and_stay_clear_of_the_station() {
        for route in Route::ALL {
            let places = route.places(200.0, 75.0);
            let farthest = places.iter().map(|place| place.distance()).fold(0.0, f64::max);
            assert!((199.0..206.0).contains(&farthest), "{route:?} {farthest}");
            let track = walk_scenario(&drawn(1, Manner::Plain), route, 200.0, 75.0);
            let nearest = (0..(track.script.seconds() as u32))
                .map(|second| track.script.track().at(f64::from(second)).person.distance())
                .fold(f64::INFINITY, f64::min);
            assert!(nearest > 5.0, "{route:?} {nearest}");
        }
    }
}
